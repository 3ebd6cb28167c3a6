//! Lists, numbers, plurals, units, exposures and quoted names in sentences.

use std::{borrow::Cow, fmt::Write as _};

use crate::{
    light::{
        measure::space::Space,
        quantity::{
            Estimate, Metres, Number, Seconds, kind::Kind, marks::Step, nominal::Nominal, rounded_up,
            significant, units::Units,
        },
        set::exposure::FlashExposure,
    },
    server::problem::shortened,
};

/// Joins the first `most` items with semicolons, then counts the rest: `a; b; and 3 more`.
pub fn listed(all: impl ExactSizeIterator<Item = String>, most: usize) -> String {
    let more = all.len().saturating_sub(most);
    let more = (more > 0).then(|| format!("and {more} more"));
    all.take(most).chain(more).collect::<Vec<_>>().join("; ")
}

/// The number of names shown of a longer list.
const NAMES_SHOWN: usize = 8;
/// The total length of these names in bytes, escaped as in JSON; long names are shortened.
const NAMES_BYTES: usize = 320;

/// Joins names for a sentence: `a, b`. After eight, only counts: `a, b, c, d, e, f, g, h and 24 more`.
pub fn names<N: AsRef<str>>(names: &[N]) -> String {
    let shown = &names[..names.len().min(NAMES_SHOWN)];
    let bytes = NAMES_BYTES / shown.len().max(1);
    let mut text = String::new();
    for (index, name) in shown.iter().enumerate() {
        text.push_str(if index > 0 { ", " } else { "" });
        text.push_str(&shortened(name.as_ref(), bytes));
    }
    if names.len() > shown.len() {
        // Writing to a String cannot fail.
        let _ = write!(text, " and {} more", names.len() - shown.len());
    }
    text
}

/// The name of a unit, which need not have one.
pub fn unit_name(name: Option<&str>) -> &str {
    name.unwrap_or("the unit")
}

/// A phrase for all shots, with a small first letter.
pub fn every_shot(shots: usize) -> String {
    match shots {
        1 => "the shot".to_owned(),
        2 => "both shots".to_owned(),
        shots => format!("all {shots} shots"),
    }
}

/// A requirement as text, rounded up so that it suffices.
pub fn at_least(need: f64) -> String {
    rounded_up(need).to_string()
}

/// Two different numbers, with the fewest digits that still show which is greater.
pub fn distinct(value: f64, limit: f64) -> [String; 2] {
    let digits = |value: f64, places: usize| {
        let text = format!("{value:.places$e}");
        text.parse().unwrap_or(value)
    };
    let shown = (1..6).map(|places| [digits(value, places), digits(limit, places)]);
    let shown = shown.into_iter().find(|[a, b]| (a - b) * (value - limit) > 0.0);
    shown.unwrap_or([value, limit]).map(|number| number.to_string())
}

/// Stops in words, without their sign: `1 2/3 stops`, `1/2 stop`, `1 stop`, `0.27 stop`.
///
/// ```
/// use stopwright::wording::format::format_stops;
/// assert_eq!([5.0 / 3.0, 0.5, 1.5, 1.0, 0.27].map(format_stops), ["1 2/3 stops", "1/2 stop", "1 1/2 stops", "1 stop", "0.27 stop"]);
/// ```
pub fn format_stops(stops: f64) -> String {
    let number = fraction(stops.abs());
    if stops.abs() > 1.0 { format!("{number} stops") } else { format!("{number} stop") }
}

/// A number of stops as people write it: `1 2/3`, `−1/2`, `0.27`.
pub fn fraction(stops: f64) -> String {
    let sign = if hundredths(stops).starts_with('−') { "−" } else { "" };
    let stops = stops.abs();
    let in_parts = |parts: f64| {
        let count = (stops * parts).round();
        let (whole, part) = ((count / parts).floor(), count % parts);
        ((stops * parts - count).abs() < 1e-6).then(|| match (whole, part) {
            (whole, 0.0) => format!("{whole}"),
            (0.0, part) => format!("{part}/{parts}"),
            (whole, part) => format!("{whole} {part}/{parts}"),
        })
    };
    let number = in_parts(3.0).or_else(|| in_parts(2.0)).unwrap_or_else(|| {
        let number = format!("{stops:.2}");
        number.trim_end_matches('0').trim_end_matches('.').to_owned()
    });
    format!("{sign}{number}")
}

/// A length in a sentence, to the centimetre or the hundredth of a foot: `2.12 m`, `6.96 ft`.
///
/// ```
/// use stopwright::{light::quantity::{Metres, units::Units}, wording::format::format_length};
/// assert_eq!(format_length(Metres::new_unchecked(-0.3), Units::Imperial), "-0.98 ft");
/// ```
pub fn format_length(length: Metres, units: Units) -> String {
    format!("{} {}", units.rounded_value(length), units.unit())
}

/// An exposure, with the exposure time if it is given: `f/8, 1/125 s, ISO 160`.
pub fn exposure(flash: FlashExposure, time: Option<Seconds>, step: Step) -> String {
    let time = time.map(|time| Nominal::new(Kind::ExposureTime, time.get(), step));
    let all = [
        Some(Nominal::f_number(flash.f_number, step)),
        time,
        Some(Nominal::new(Kind::Iso, flash.iso.get(), step)),
    ];
    all.iter().flatten().map(Nominal::exact_label).collect::<Vec<_>>().join(", ")
}

/// An aperture as it is asked for: by its mark, or as a meter shows it if that is exact, or by its number.
pub fn asked(f_number: &Nominal) -> String {
    let (kind, value) = (f_number.kind, f_number.value.get());
    let tenths = 10.0 * kind.exposure_stops(value);
    let is_mark = Step::ALL
        .into_iter()
        .any(|step| kind.mark_for(value, step).is_some_and(|(_, off)| off.abs() < 0.005));
    let meter = f_number.meter.clone().filter(|_| !is_mark && (tenths - tenths.round()).abs() < 0.05);
    meter.unwrap_or_else(|| f_number.exact_label())
}

/// The name that a colour space has in its standard.
pub const fn space_name(space: Space) -> &'static str {
    match space {
        Space::Srgb => "sRGB",
        Space::AdobeRgb1998 => "Adobe RGB (1998)",
        Space::DisplayP3 => "Display P3",
        Space::Romm => "ROMM RGB",
        Space::Linear => "linear light",
    }
}

/// A number rounded for reading: to two decimals, from 100 on to one, and to no more significant digits than the
/// answer has. Numbers below 0.1 keep their significant digits.
pub fn number(value: f64) -> String {
    let exact = significant(value);
    let parts = if exact.abs() >= 100.0 { 10.0 } else { 100.0 };
    let rounded = (exact * parts).round() / parts;
    let shown = if exact.abs() >= 0.1 || (rounded - exact).abs() < 1e-9 { rounded } else { exact };
    minus(&(if shown == 0.0 { 0.0 } else { shown }).to_string())
}

/// The same with four significant digits below 0.1: a length or a magnification.
pub fn short_number(value: f64) -> String {
    if value.abs() < 0.1 { digits(value, 4) } else { number(value) }
}

/// A number rounded to as many significant digits as the measurement supports: with three `45.6`, `594`, `12300`.
pub fn digits(value: f64, digits: usize) -> String {
    let least = digits.saturating_sub(1);
    number(format!("{value:.least$e}").parse().unwrap_or(value))
}

/// A formatted number of stops with its unit: `1 stop`, `−0.5 stop`, `0 stops`.
pub fn with_stops(text: &str) -> String {
    let is_one =
        text.trim_start_matches(['+', '−', '±']).parse().is_ok_and(|stops: f64| stops > 0.0 && stops <= 1.0);
    format!("{text} {}", if is_one { "stop" } else { "stops" })
}

/// Stops rounded to the hundredth: `1.33`, `0.5`, `0`.
pub fn hundredths(stops: f64) -> String {
    let rounded = (stops * 100.0).round() / 100.0;
    // Most are; it need not be rounded again.
    if rounded.abs() < 100.0 { minus(&(rounded + 0.0).to_string()) } else { number(rounded) }
}

/// Stops with their sign: `+1.33`, `−0.5`, `0`.
pub fn signed(stops: f64) -> String {
    with_sign(hundredths(stops))
}

/// Stops to a hundredth with their unit and without sign: `1.33 stops`, `1 stop`, `0 stops`.
///
/// ```
/// use stopwright::wording::format::{rounded_stops, signed_stops};
/// assert_eq!([-1.333, 1.0, 0.004].map(rounded_stops), ["1.33 stops", "1 stop", "0 stops"]);
/// assert_eq!([-1.333, 0.5, -0.004].map(signed_stops), ["−1.33 stops", "+0.5 stop", "0 stops"]);
/// ```
pub fn rounded_stops(stops: f64) -> String {
    with_stops(&hundredths(stops.abs()))
}

/// The same with its sign: `+1.33 stops`, `−0.5 stop`, `0 stops`.
pub fn signed_stops(stops: f64) -> String {
    with_stops(&signed(stops))
}

/// Stops with exactly two decimals, so that columns align.
pub fn fixed(stops: f64) -> String {
    let rounded = (stops * 100.0).round() / 100.0;
    minus(&format!("{:.2}", if rounded == 0.0 { 0.0 } else { rounded }))
}

/// A formatted number, with a plus if it is positive.
pub fn with_sign(text: String) -> String {
    let is_zero = text.chars().all(|c| matches!(c, '0' | '.'));
    if is_zero || text.starts_with('−') { text } else { format!("+{text}") }
}

/// A chance in whole percent; one that is almost certain is `over 99 %`.
pub fn chance_percent(chance: Number) -> String {
    match chance.get() {
        almost if almost > 0.99 => "over 99 %".to_owned(),
        chance => format!("{:.0} %", 100.0 * chance),
    }
}

/// Stops with their side: `0.85 stop over`.
pub fn over_or_under(stops: f64) -> String {
    format!("{} {}", rounded_stops(stops), if stops < 0.0 { "under" } else { "over" })
}

/// An exposure error: `0.33 under`, `1.20 over`.
pub fn off(stops: f64) -> String {
    let text = fixed(stops.abs());
    match text.as_str() {
        "0.00" => text,
        _ if stops < 0.0 => format!("{text} under"),
        _ => format!("{text} over"),
    }
}

/// A length in a sentence, with a typographic minus sign.
pub fn minus_length(length: Metres, units: Units) -> String {
    minus(&format_length(length, units))
}

/// Replaces hyphens by minus signs.
pub fn minus(number: &str) -> String {
    number.replace('-', "−")
}

/// The label of a setting as people say it: `1 stop below full` of a unit without a scale, whose label is `-1 stops`.
///
/// ```
/// use stopwright::wording::format::below_full;
/// assert_eq!(["-0.5 stops", "1/4", "62 %"].map(below_full), ["0.5 stop below full", "1/4", "62 %"]);
/// ```
pub fn below_full(label: &str) -> Cow<'_, str> {
    match label.strip_prefix('-').and_then(|below| below.strip_suffix(" stops")) {
        Some(below) => format!("{} below full", with_stops(below)).into(),
        None => label.into(),
    }
}

/// A time in seconds, a short one as a fraction: `1/301 s`.
pub fn short_time(seconds: f64, per_second: impl Fn(f64) -> String) -> String {
    if seconds > 0.3 {
        format!("{} s", digits(seconds, 2))
    } else {
        format!("1/{} s", per_second(1.0 / seconds))
    }
}

/// An estimate with its range: `low 15, typical 40, high 50`.
pub fn range(estimate: Estimate<f64>) -> String {
    let Estimate { low, typical, high } = estimate.map(|value| minus(&significant(value).to_string()));
    format!("low {low}, typical {typical}, high {high}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_list_of_names_is_cut_after_eight() {
        let all: Vec<String> = (1..=32).map(|k| format!("n{k}")).collect();
        assert_eq!(names(&all[..1]), "n1");
        assert_eq!(names(&all[..8]), "n1, n2, n3, n4, n5, n6, n7, n8");
        assert_eq!(names(&all[..9]), "n1, n2, n3, n4, n5, n6, n7, n8 and 1 more");
        assert_eq!(names(&all), "n1, n2, n3, n4, n5, n6, n7, n8 and 24 more");
        assert_eq!(names::<&str>(&[]), "");
    }

    #[test]
    fn long_names_do_not_make_long_lists() {
        let long = "\u{1f4a1}".repeat(64);
        let text = names(&vec![long.as_str(); 32]);
        assert!(text.len() < 440 && text.matches('…').count() == 8, "{text}");
        assert_eq!(names(&[long.as_str()]), long, "one alone has room");
    }

    #[test]
    fn a_requirement_is_rounded_up() {
        let cases = [
            (181.02, "182"),
            (128.0, "128"),
            (90.51, "90.6"),
            (1.415, "1.42"),
            (6144.0 * (1.0 + 1e-12), "6144"),
            (6144.1, "6145"),
            (0.001_234_5, "0.00124"),
        ];
        for (need, rounded) in cases {
            assert_eq!(at_least(need), rounded, "{need}");
        }
    }

    #[test]
    fn signs_and_decimals_are_formatted() {
        assert_eq!([1.333_333, -0.5, 0.0, -0.001].map(signed), ["+1.33", "−0.5", "0", "0"]);
        assert_eq!([2.0, 197.926, 0.012_345].map(number), ["2", "197.9", "0.012345"]);
        assert_eq!([166_103.21, 16_610.321, 2621.441].map(number), ["166103", "16610.3", "2621.4"]);
        assert_eq!([2.0, 0.012_345, -0.001].map(hundredths), ["2", "0.01", "0"]);
        assert_eq!([0.077_524_3, 0.5, 0.125, 2.438_4].map(short_number), ["0.07752", "0.5", "0.13", "2.44"]);
        assert_eq!([-0.5, -0.0003, -4.0 / 3.0, 0.0].map(fraction), ["−1/2", "0", "−1 1/3", "0"]);
        let range = range(Estimate { low: -3.0, typical: -1.5, high: -0.0 });
        assert_eq!(range, "low −3, typical −1.5, high 0");
    }

    #[test]
    fn digits_are_significant_and_one_stop_is_singular() {
        assert_eq!(
            [45.64, 593.9, 12_345.6, 0.0, 9.996].map(|value| digits(value, 3)),
            ["45.6", "594", "12300", "0", "10"]
        );
        assert_eq!(
            ["1", "+1", "−1", "1.5", "0"].map(with_stops),
            ["1 stop", "+1 stop", "−1 stop", "1.5 stops", "0 stops"]
        );
    }

    #[test]
    fn errors_are_over_or_under() {
        assert_eq!(
            [1.333_333, -0.5, 0.004, -0.004, 0.0].map(off),
            ["1.33 over", "0.50 under", "0.00", "0.00", "0.00"]
        );
    }
}
