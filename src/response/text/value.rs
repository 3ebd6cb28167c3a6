//! A value on one line, as photographers write it.

use serde_json::{Map, Number, Value};

use super::name::{in_words, is_flash_duration, unit};
use crate::wording::format::{
    below_full, digits, hundredths, minus, number, rounded_stops, short_number, short_time, signed,
    with_stops,
};

/// Stops that are an amount and have no side. All other stops have a sign.
const AMOUNTS: [&str; 20] = [
    "ambient_below_flash_stops",
    "brightening_stops",
    "excess_stops",
    "expected_worst_stops",
    "footroom_stops",
    "headroom_stops",
    "lost_flash_stops",
    "lower_bound_stops",
    "repeatability_stops",
    "shortfall_stops",
    "still_stops",
    "stops_below_full",
    "tightest_headroom_stops",
    "within_stops",
    "worst_error_stops",
    "worst_excess_stops",
    "worst_now_stops",
    "worst_shortfall_stops",
    "worst_then_stops",
    "worst_weighted_error_stops",
];
/// Fields whose texts are words of the interface.
const WORDS: [&str; 8] =
    ["bounded_by", "cause", "compared_by", "coverage", "optimality", "reason", "solved_for", "target_side"];
/// A cause with a smaller share is not named.
const MIN_SHARE: f64 = 0.1;
/// Ends that differ by less are one number, stops.
const SAME_ENDS: f64 = 0.05;

/// A value with its unit on one line. `None` if it is null or needs more lines.
pub fn cell(name: &str, value: &Value) -> Option<String> {
    if let (Some(width), Some(height)) = (value.get("width"), value.get("height")) {
        let [width, height] = [cell(name, width)?, cell(name, height)?];
        return Some(if width == height { width } else { format!("{width} by {height}") });
    }
    let text = plain(name, value)?;
    let unit = unit(name).filter(|_| !matches!(value, Value::String(_) | Value::Bool(_)));
    Some(match unit {
        _ if is_uncertainty(value) => text,
        Some("°") => format!("{text}°"),
        Some("stops") => with_stops(&text),
        Some(unit) => format!("{text} {unit}"),
        None => text,
    })
}

/// A value without its unit in a table that is too wide for all of it: the longer end of an uncertainty, the label of a
/// setting.
pub fn short(name: &str, value: &Value) -> Option<String> {
    if let Some([low, high]) = ends(value) {
        return Some(format!("±{}", longer(low, high)));
    }
    if let (Some(achieved), Some(_)) = (value.get("achieved"), value.get("target")) {
        return plain("achieved", achieved);
    }
    let label = value.get("label").and_then(Value::as_str);
    label.map(|label| below_full(label).into_owned()).or_else(|| plain(name, value))
}

/// The same, and of a value with a mark the mark alone.
pub fn brief(name: &str, value: &Value) -> Option<String> {
    let mark = value.get("off_by_stops").and(value.get("mark")).and_then(Value::as_str);
    mark.map(str::to_owned).or_else(|| short(name, value))
}

/// A value on one line without its unit. `None` if it is null or needs more lines.
pub fn plain(name: &str, value: &Value) -> Option<String> {
    match value {
        Value::Null => None,
        Value::Bool(is) => Some(if *is { "yes" } else { "no" }.to_owned()),
        Value::Number(number) => Some(format_number(name, number)),
        Value::String(text) if WORDS.contains(&name) || text == "did_not_fire" => Some(in_words(text)),
        Value::String(text) if name.contains("setting") => Some(below_full(text).into_owned()),
        Value::String(text) => Some(text.clone()),
        Value::Array(items) => match items.as_slice() {
            [] => None,
            items if items.iter().all(|item| item.is_number() || item.is_string()) => {
                let texts: Vec<String> = items.iter().filter_map(|item| plain(name, item)).collect();
                Some(texts.join(", "))
            }
            items => {
                items.iter().map(name_alone).collect::<Option<Vec<&str>>>().map(|names| names.join(", "))
            }
        },
        Value::Object(_) if is_uncertainty(value) => uncertainty(value),
        Value::Object(fields) if name.ends_with("_range") => {
            Some(bounds(name, [&fields["low"], &fields["high"]]))
        }
        Value::Object(fields) => marked_value(name, fields)
            .or_else(|| setting(fields))
            .or_else(|| estimate(name, fields))
            .or_else(|| ratio(fields))
            .or_else(|| optimality(fields)),
    }
}

/// The name of an item that has nothing else, such as a unit on a circuit.
fn name_alone(item: &Value) -> Option<&str> {
    let mut fields = item.as_object()?.iter().filter(|(name, _)| *name != "id" && !name.ends_with("_id"));
    let (name, value) = fields.next()?;
    value.as_str().filter(|_| name == "name" && fields.next().is_none())
}

/// A number as the sentences have it: hundredths of a stop, shares in percent, times as cameras write them, lengths to the
/// centimetre, else three significant digits.
fn format_number(name: &str, value: &Number) -> String {
    let base = name.strip_suffix("_range").unwrap_or(name);
    let Some(exact) = value.as_f64() else { return value.to_string() };
    // Programs count from 0, people from 1.
    if matches!(base, "index" | "round") {
        return (exact + 1.0).to_string();
    }
    if !value.is_f64() {
        return minus(&value.to_string());
    }
    match unit(base) {
        _ if base.ends_with("plus_minus_stops") || base == "known_before_stops" => {
            format!("±{}", hundredths(exact))
        }
        Some("stops") if AMOUNTS.contains(&base) => hundredths(unrounded(exact)),
        Some("stops") => signed(unrounded(exact)),
        Some("mired") => signed_number(exact),
        Some("m" | "ft") if !base.starts_with("guide_number") => short_number(exact),
        Some("px") => digits(exact, 2),
        Some("lx" | "lx s") => digits(exact, 3),
        None if matches!(base, "blur_m" | "penumbra_m" | "length_m") => short_length(exact),
        None if base.ends_with("f_number") => format!("f/{}", digits(exact, 3)),
        None if is_flash_duration(base) => short_time(exact, |per_second| digits(per_second, 3)),
        None if is_share(base) => percent(exact),
        None if base.ends_with("level") && exact > 255.0 => format!("{exact:.0}"),
        None if matches!(base, "achieved" | "target" | "sides" | "lights") => {
            format!("{}:1", digits(exact, 3))
        }
        _ if exact.fract() == 0.0 => minus(&format!("{}", exact + 0.0)),
        _ => digits(exact, 3),
    }
}

/// Answers have four decimals. 3:1 is 1.58496 stops and stands there as 1.585, but is 1.58 in two decimals.
fn unrounded(stops: f64) -> f64 {
    let is_three_to_one = (stops.abs().fract() - 0.585).abs() < 1e-9;
    if is_three_to_one { stops - 4e-5 * stops.signum() } else { stops }
}

/// A blur, or the edge of a shadow: `6.6 mm`, `0.32 m`.
fn short_length(metres: f64) -> String {
    if metres.abs() < 0.1 {
        format!("{} mm", digits(1000.0 * metres, 2))
    } else {
        format!("{} m", short_number(metres))
    }
}

/// Whether a field is a share, 0 to 1.
fn is_share(name: &str) -> bool {
    name == "share"
        || name.ends_with("_share")
        || name.starts_with("chance")
        || matches!(name, "confidence" | "reserve" | "reflectance" | "light_in_coverage")
}

/// A share in percent: `29 %`, `under 1 %`.
fn percent(share: f64) -> String {
    match 100.0 * share {
        small if small > 0.0 && small < 1.0 => "under 1 %".to_owned(),
        large if large > 99.0 && large < 100.0 => "over 99 %".to_owned(),
        share => format!("{} %", digits(share, 2)),
    }
}

fn signed_number(value: f64) -> String {
    crate::wording::format::with_sign(number(value))
}

/// `f/11`, `f/10 (meter f/8 +0.5)`, `1/30 s (0.29 stop darker than 1/26 s)`: the mark to set, and what it stands for if it
/// is off.
fn marked_value(name: &str, fields: &Map<String, Value>) -> Option<String> {
    let value = fields.get("value")?.as_f64()?;
    let mark = fields.get("mark")?.as_str();
    let is_time = name.ends_with("exposure_time");
    let feet =
        fields.get("value_ft").and_then(Value::as_f64).map(|feet| format!("{} ft", short_number(feet)));
    let written = fields.get("written").and_then(Value::as_str).map(str::to_owned);
    let exact = written.or(feet).unwrap_or_else(|| match mark {
        _ if is_time => short_time(value, |per_second| digits(per_second, 3)),
        Some(mark) => format!("{}{}", prefix(mark), short_number(value)),
        None => short_number(value),
    });
    let Some(mark) = mark else { return Some(exact) };
    let meter = fields.get("meter").and_then(Value::as_str);
    let off = fields.get("off_by_stops").and_then(Value::as_f64).unwrap_or_default();
    let side = if off > 0.0 { "brighter" } else { "darker" };
    Some(match meter {
        // The marks of times are rounded: 1/60 s is 1/64 s. To say how far a near one is off would confuse.
        _ if off.abs() < if is_time { 0.1 } else { 5e-3 } || meter == Some(mark) || exact == mark => {
            mark.to_owned()
        }
        Some(meter) => format!("{mark} (meter {meter})"),
        _ => format!("{mark} ({} {side} than {exact})", rounded_stops(off)),
    })
}

/// What stands before the number of a mark: `f/`, `ISO `.
fn prefix(mark: &str) -> &str {
    mark.find(|c: char| c.is_ascii_digit()).map_or("", |start| &mark[..start])
}

/// `6.4 (99 J, 2.6 stops below full)`: the label to set. What the label says itself is not said twice.
fn setting(fields: &Map<String, Value>) -> Option<String> {
    let label = fields.get("label")?.as_str()?;
    let below = fields.get("stops_below_full")?.as_f64()?;
    let is_dial = label.chars().all(|c| c.is_ascii_digit() || "+-.".contains(c));
    let energy =
        fields.get("energy_j").and_then(Value::as_f64).map(|energy| format!("{} J", digits(energy, 3)));
    let stops = is_dial.then(|| match rounded_stops(below) {
        full if full == rounded_stops(0.0) => "full".to_owned(),
        stops => format!("{stops} below full"),
    });
    let known: Vec<String> = energy.into_iter().filter(|_| !label.ends_with(" J")).chain(stops).collect();
    let label = below_full(label);
    Some(if known.is_empty() { label.into_owned() } else { format!("{label} ({})", known.join(", ")) })
}

/// `68.9 (42.9 to 257)`.
fn estimate(name: &str, fields: &Map<String, Value>) -> Option<String> {
    let number = |end| match fields.get(end)? {
        Value::Number(number) if is_rough(name) => Some(digits(number.as_f64()?, 2)),
        Value::Number(number) if !matches!(unit(name), None | Some("stops")) => {
            Some(digits(number.as_f64()?, 3))
        }
        Value::Number(number) => Some(format_number(name, number)),
        _ => None,
    };
    let (low, high) = (number("low")?, number("high")?);
    Some(match (number("typical"), fields.len()) {
        _ if low == high => low,
        (Some(typical), 3) => format!("{typical} ({low} to {high})"),
        (None, 2) => format!("{low} to {high}"),
        _ => return None,
    })
}

/// `2.93:1 to face (asked for 3:1)`.
fn ratio(fields: &Map<String, Value>) -> Option<String> {
    let to_one = |name: &str| plain(name, fields.get(name)?);
    let (Some(target), achieved) = (to_one("target"), fields.get("achieved")?) else { return None };
    let achieved = plain("achieved", achieved).unwrap_or_else(|| "none".to_owned());
    let to = fields.get("to").and_then(Value::as_str).map_or_else(String::new, |to| format!(" to {to}"));
    Some(format!("{achieved}{to} (asked for {target})"))
}

/// What is proven about the settings of a balance.
fn optimality(fields: &Map<String, Value>) -> Option<String> {
    let is_proven = fields.get("proven")?.as_bool()?;
    let bound = fields.iter().find(|(name, _)| name.starts_with("lower_bound"));
    Some(match fields.get("ties_proven").and_then(Value::as_bool) {
        Some(true) if is_proven => "no better setting exists".to_owned(),
        _ if is_proven => "no setting has a smaller worst error".to_owned(),
        _ => {
            let bound = bound.and_then(|(name, value)| cell(name, value));
            bound.map_or_else(
                || "better settings may exist".to_owned(),
                |bound| format!("better settings may exist, down to a worst error of {bound}"),
            )
        }
    })
}

/// Whether an estimate is known to two digits at best, as sentences say it.
fn is_rough(name: &str) -> bool {
    name.starts_with("guide_number") || name == "energy_j"
}

/// A range with a lower bound, an upper bound, both or neither.
pub fn bounds(name: &str, ends: [&Value; 2]) -> String {
    match ends.map(|end| plain(name, end)) {
        [Some(low), Some(high)] if low == high => low,
        [Some(low), Some(high)] => format!("{low} to {high}"),
        [Some(low), None] => format!("{low} or more"),
        [None, Some(high)] => format!("{high} or less"),
        [None, None] => "not known".to_owned(),
    }
}

/// Whether a value is an uncertainty.
pub fn is_uncertainty(value: &Value) -> bool {
    value.get("low_stops").is_some() && value.get("causes").is_some()
}

/// The ends of an uncertainty, stops.
fn ends(value: &Value) -> Option<[f64; 2]> {
    is_uncertainty(value).then_some(())?;
    Some([value["low_stops"].as_f64()?, value["high_stops"].as_f64()?])
}

fn is_even([low, high]: [f64; 2]) -> bool {
    (low + high).abs() < SAME_ENDS
}

fn longer(low: f64, high: f64) -> String {
    hundredths(high.max(-low))
}

/// `±0.4 stop (mostly the meter, then the modifier)`.
fn uncertainty(value: &Value) -> Option<String> {
    let [low, high] = ends(value)?;
    let within = if is_even([low, high]) {
        with_stops(&format!("±{}", longer(low, high)))
    } else {
        format!("{} to {} stops", signed(low), signed(high))
    };
    let mut causes: Vec<(String, f64)> = Vec::new();
    for cause in value["causes"].as_array().into_iter().flatten() {
        let word = match cause["cause"].as_str()? {
            "ambient" => "ambient light".to_owned(),
            "room" => "light off the walls".to_owned(),
            word => in_words(word),
        };
        let share = cause["share"].as_f64()?;
        match causes.iter_mut().find(|(known, _)| *known == word) {
            Some((_, all)) => *all += share,
            None => causes.push((word, share)),
        }
    }
    causes.sort_by(|(_, a), (_, b)| b.total_cmp(a));
    let named: Vec<String> = causes
        .iter()
        .take(2)
        .filter(|(word, share)| *share >= MIN_SHARE && word != "other")
        .map(|(word, _)| format!("the {word}"))
        .collect();
    Some(match named.as_slice() {
        [] => within,
        [only] => format!("{within} (mostly {only})"),
        all if causes[0].1 < 0.5 => format!("{within} ({})", all.join(" and ")),
        all => format!("{within} (mostly {})", all.join(", then ")),
    })
}
