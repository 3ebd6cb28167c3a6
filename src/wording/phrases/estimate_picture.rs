//! The words in pictures of one estimated value: one light, a guide number, an energy; and how sure a value is.

use crate::{
    light::{
        assumption::AssumptionKind,
        quantity::{
            Estimate, GuideFeet, GuideMetres, Joules, Metres, Stops, kind::Kind, marks::Step,
            nominal::Nominal, units::Units,
        },
        uncertainty::{Cause, Uncertainty},
        unit::reflectors::Reflector,
    },
    wording::format::{digits, number, rounded_stops, short_number, signed, with_stops},
};

/// The title of the picture of one light.
pub const ONE_LIGHT: &str = "One light";
/// The title of the picture of an energy.
pub const ENERGY: &str = "Energy of a flash";
/// The title of the picture of a guide number.
pub const GUIDE_NUMBER: &str = "Guide number of a flash";
/// The line of the aperture.
pub const APERTURE: &str = "Aperture";
/// The line of the distance.
pub const DISTANCE: &str = "Distance";
/// The line of the setting.
pub const SETTING: &str = "Setting";
/// The line of an estimate.
pub const FULL_POWER: &str = "at full power";
/// The axis of apertures.
pub const APERTURE_AXIS: &str = "aperture that the light is right for, a stop from line to line";
/// The axis of energies.
pub const ENERGY_AXIS: &str = "energy, J (logarithmic)";
/// The axis of guide numbers.
pub const GUIDE_AXIS: &str = "guide number, m (logarithmic)";
/// The mark of the typical value, in the legend.
pub const TYPICAL: &str = "typical";
/// The bar, in the legend.
pub const LIKELY: &str = "likely, 95 %";
/// The line of the aperture that is set, in the legend.
pub const WANTED: &str = "the aperture you set";
/// The short lines, in the legend.
pub const MARKS: &str = "marks of the series";
/// The row of the whole, above those of usual reflectors.
pub const ANY_REFLECTOR: &str = "any of them";
/// The most causes that are named.
const MOST_CAUSES: usize = 3;
/// A smaller share of the variance is not worth a word.
const LEAST_SHARE: f64 = 0.05;

/// The axis of distances.
pub fn distance_axis(units: Units) -> String {
    format!("distance, {} (logarithmic)", units.unit())
}

/// `±0.55 stop: mostly the rating, then the meter`.
pub fn how_sure(uncertainty: &Uncertainty) -> String {
    let [low, high] = uncertainty.ends();
    let within = if (low + high).abs() < 0.005 {
        format!("±{}", rounded_stops(high))
    } else {
        format!("{} to {} stops", signed(low), signed(high))
    };
    let causes = uncertainty.causes.iter().filter(|it| it.share.get() >= LEAST_SHARE);
    let causes: Vec<&str> = causes.take(MOST_CAUSES).map(|it| cause(it.cause)).collect();
    if causes.is_empty() { within } else { format!("{within}: {}", mostly(&causes)) }
}

fn mostly<T: AsRef<str>>(causes: &[T]) -> String {
    let causes: Vec<&str> = causes.iter().map(AsRef::as_ref).collect();
    format!("mostly {}", causes.join(", then "))
}

const fn cause(cause: Cause) -> &'static str {
    match cause {
        Cause::Rating => "the rating",
        Cause::Modifier => "the modifier",
        Cause::Setting => "the setting",
        Cause::Repeatability => "one flash to the next",
        Cause::Distance => "the distance",
        Cause::Angle => "the angle",
        Cause::Filter => "the filter",
        Cause::Pack => "the pack",
        Cause::Reflectance => "the board",
        Cause::Ambient => "the ambient light",
        Cause::Meter => "the meter",
        Cause::HighSpeedSync => "high-speed sync",
        Cause::Room => "light off the walls",
        Cause::Comparison => "the comparison",
        Cause::Reading => "the reading",
        Cause::Other => "the rest",
    }
}

/// A verdict where the light is not right: what is wrong, and by how much.
pub fn missed(error: Stops) -> [String; 2] {
    let side = if error.get() < 0.0 { "Too weak by" } else { "Too strong by" };
    [side.to_owned(), rounded_stops(error.get())]
}

/// A verdict where all was given and is right.
pub fn right(error: Stops) -> [String; 2] {
    ["The light is right".to_owned(), with_stops(&signed(error.get()))]
}

/// A distance as the summary writes it.
pub fn distance(distance: Metres, units: Units) -> String {
    format!("{} {}", short_number(units.length(distance)), units.unit())
}

/// An aperture between marks as a meter shows it, given in stops from f/1.
pub fn aperture(stops: f64) -> String {
    let nominal = Nominal::new(Kind::FNumber, Kind::FNumber.value_at(-stops), Step::Third);
    nominal.meter.clone().unwrap_or_else(|| nominal.label())
}

/// The likely ends of what was found.
pub fn ends([low, high]: [&str; 2]) -> String {
    format!("Likely, 95 %: {low} to {high}.")
}

/// An energy as the summary writes it.
pub fn energy(energy: Joules) -> String {
    format!("{} J", digits(energy.get(), 2))
}

/// A guide number as the summary writes it.
pub fn guide_number(metres: GuideMetres) -> String {
    format!("{} m", digits(metres.get(), 2))
}

/// The same in feet.
pub fn guide_feet(feet: GuideFeet) -> String {
    format!("{} ft", digits(feet.get(), 2))
}

/// What a line or a row says of an estimate: `49 to 190 J`, nothing for an exact one.
pub fn range<T: Copy>(estimate: Estimate<T>, write: impl Fn(T) -> String) -> String {
    let [low, high] = [estimate.low, estimate.high].map(write);
    if low == high { String::new() } else { format!("between {low} and {high}") }
}

/// The name of a usual reflector.
pub const fn reflector(reflector: Reflector) -> &'static str {
    match reflector {
        Reflector::BareBulb => "bare bulb",
        Reflector::Wide => "reflector for 35 mm",
        Reflector::Normal => "reflector for 50 mm",
        Reflector::Long => "reflector for 105 mm",
    }
}

/// What makes an estimate wide, as a sentence; empty if nothing does. `None` stands for the value that was given.
pub fn why_wide(causes: &[(Option<&AssumptionKind>, f64)]) -> String {
    let words: Vec<String> =
        causes.iter().filter_map(|(kind, half_width)| cause_in_words(*kind, *half_width)).collect();
    if words.is_empty() { String::new() } else { format!("Not known better by: {}.", mostly(&words)) }
}

fn cause_in_words(kind: Option<&AssumptionKind>, half_width: f64) -> Option<String> {
    let between = |estimate: &Estimate<f64>| format!("{} to {}", number(estimate.low), number(estimate.high));
    Some(match kind {
        None => format!("the value you gave (±{})", rounded_stops(half_width)),
        Some(AssumptionKind::UsualReflectors) => "the coverage, which is not stated".to_owned(),
        Some(AssumptionKind::Efficacy { lm_per_j } | AssumptionKind::EfficacyStated { lm_per_j }) => {
            format!("the luminous efficacy ({} lm·s per J)", between(lm_per_j))
        }
        Some(
            AssumptionKind::LightInCoverage { share }
            | AssumptionKind::LightInCoverageStated { share }
            | AssumptionKind::LightInCoverageDerived { share },
        ) => format!("the share of the light inside the coverage ({})", between(share)),
        Some(_) => return None,
    })
}
