//! The words in the picture of a correction.

use crate::{light::quantity::Stops, wording::format::signed};

/// The title.
pub const TITLE: &str = "The set put right";
/// The heading of the column of lights.
pub const LIGHT: &str = "light";
/// The heading of the column of settings.
pub const SET_TO: &str = "set to";
/// The heading of the errors of lights.
pub const LIGHT_OFF: &str = "stronger (+) or weaker than expected, stops";
/// The heading of the column of points.
pub const POINT: &str = "point";
/// The heading of the column of meter readings.
pub const READS: &str = "a meter will read";
/// The heading of the errors of points.
pub const POINT_OFF: &str = "off its target, stops";
/// A light that is off.
pub const OFF: &str = "off";
/// The band, in the legend.
pub const BAND: &str = "expected of a light, wanted at a point";
/// The mark of what was, in the legend.
pub const BEFORE: &str = "before";
/// The mark of what is, in the legend.
pub const AFTER: &str = "as corrected";

/// A setting before and after.
pub fn from_to(was: &str, is: &str) -> String {
    format!("{was} → {is}")
}

/// A value with its half-width.
pub fn value(stops: Stops, half_width: f64) -> String {
    format!("{} ±{half_width:.2}", signed((stops.get() * 100.0).round() / 100.0))
}
