//! The words in the picture of a correction.

use crate::{
    light::quantity::{Number, Stops},
    wording::format::{chance_percent, hundredths, rounded_stops, signed, signed_stops},
};

/// The title.
pub const TITLE: &str = "The set put right";
/// The heading of the column of lights.
pub const LIGHT: &str = "light";
/// The heading of the errors of lights.
pub const LIGHT_OFF: &str = "stronger (+) or weaker (−) than expected, stops";
/// The heading of the column of points.
pub const POINT: &str = "point";
/// The heading of the column of meter readings.
pub const READS: &str = "a meter will read";
/// The heading of the errors of points.
pub const POINT_OFF: &str = "stops off the target, or the working exposure";
/// A light that is off.
pub const OFF: &str = "off";
/// What was known of a light, in the legend.
pub const KNOWN: &str = "how well a light was known before";
/// What is wanted at a point, in the legend.
pub const WANTED: &str = "wanted at a point";
/// The mark of what was, in the legend.
pub const BEFORE: &str = "before";
/// The mark of what is, in the legend.
pub const AFTER: &str = "by these readings";

/// A setting before and after.
pub fn from_to(was: &str, is: &str) -> String {
    format!("{was} → {is}")
}

/// How much a light is turned up, stops; nothing if not.
pub fn turned(stops: f64) -> String {
    match stops {
        up if up > 0.005 => format!("up {}", rounded_stops(up)),
        down if down < -0.005 => format!("down {}", rounded_stops(-down)),
        _ => String::new(),
    }
}

/// A setting that stays.
pub fn leave(setting: &str) -> String {
    format!("leave it at {setting}")
}

/// A light with its letter.
pub fn lettered(letter: &str, name: &str) -> String {
    format!("{letter}  {name}")
}

/// What to look at where a light probably did not fire.
pub fn did_not_fire(chance: Number) -> String {
    format!("check that it fired: {} that it did not", chance_percent(chance))
}

/// What to look at where a light is off by far more than it was known to be.
pub fn far_off(stops: Stops) -> String {
    format!("check its setting and its reading: {} off", signed_stops(stops.get()))
}

/// Lights that the readings cannot tell apart.
pub fn inseparable(lights: &[String]) -> String {
    let lights: Vec<String> = lights.iter().map(|light| format!("\"{light}\"")).collect();
    format!("These readings cannot tell {} apart.", lights.join(", "))
}

/// The next reading.
pub fn next(light: &str, point: &str) -> String {
    format!("Next: meter \"{light}\" alone at \"{point}\"")
}

/// What the next reading is worth.
pub fn worth(now: Stops, then: Stops) -> String {
    let [now, then] = [now, then].map(|stops| rounded_stops(stops.get()));
    format!("the expected worst error then falls from {now} to {then}")
}

/// The lights that are not drawn, and the greatest error of them.
pub fn more_lights(more: usize, worst: f64) -> String {
    format!("And {more} more, none off by more than {}.", rounded_stops(worst))
}

/// The points that are not drawn, and the greatest error of them.
pub fn more_points(more: usize, worst: f64) -> String {
    format!("And {more} more, none more than {} off.", rounded_stops(worst))
}

/// A value with its half-width.
pub fn value(stops: Stops, half_width: f64) -> String {
    format!("{} ±{}", signed(stops.get()), hundredths(half_width))
}

/// A light or a point in the description.
pub fn described(name: &str, value: &str, note: &str) -> String {
    let parts = [value, note].into_iter().filter(|part| !part.is_empty());
    format!("{name}: {}", parts.collect::<Vec<_>>().join(", "))
}

/// The description for screen readers.
pub fn description(summary: &str, lights: &[String], points: &[String]) -> String {
    format!("{summary} Lights: {}. Points: {}.", lights.join("; "), points.join("; "))
}
