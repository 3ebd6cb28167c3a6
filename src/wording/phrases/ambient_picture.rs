//! The words in the picture of ambient light against the flash.

use crate::{
    light::{measure::ambient::Check, quantity::Stops},
    wording::format::{number, rounded_stops, signed},
};

/// The title.
pub const TITLE: &str = "Ambient light and flash";
/// The axis.
pub const AXIS: &str = "light against the flash, stops";
/// The row of the flash.
pub const FLASH: &str = "flash";
/// The row of the ambient light.
pub const AMBIENT: &str = "ambient light";
/// The line of a time that was found.
pub const EXPOSURE_TIME: &str = "Exposure time";
/// The line of the longest time.
pub const LONGEST_TIME: &str = "Longest time";
/// The line of the time for what is wanted.
pub const TIME_WANTED: &str = "Exposure time";
/// The line where there is no ambient light.
pub const NO_AMBIENT: &str = "Ambient light";
/// Its value.
pub const NONE: &str = "none";
/// The line of the verdict.
pub const BRIGHTER: &str = "Brighter by";
/// The light below the limit, in the legend.
pub const STAYS_OUT: &str = "stays out";
/// The gap above the limit, in the legend.
pub const TOO_MUCH: &str = "too much";
/// The gap below what is wanted, in the legend.
pub const TOO_LITTLE: &str = "too little";
/// The line of the wanted level, in the legend.
pub const WANTED: &str = "wanted";

/// What is allowed.
pub fn allowed(allowed: Stops) -> String {
    format!("{} is allowed", rounded_stops(allowed.get()))
}

/// The name of the line of the limit.
pub fn limit(stops: Stops) -> String {
    format!("limit, {}", signed(stops.get()))
}

/// What the longest time is.
pub const KEEPS_OUT: &str = "that keeps ambient light out";
/// The same, where the sync time does not allow it.
pub const SYNC_TOO_LONG: &str = "that keeps ambient light out; the sync time does not allow it";
/// What the time for the ambient light that is wanted does.
pub const AS_WANTED: &str = "for the ambient light that you want";

/// The line of the frame with the flash off: its level, and that at the limit.
pub fn test_frame(check: &Check) -> [String; 3] {
    let [level, limit] =
        [check.darkest_level, check.allowed_level].map(|level| number((level.get() * 10.0).round() / 10.0));
    ["Grey card, flash off".to_owned(), format!("level {level}"), format!("of 255; {limit} at the limit")]
}

/// How far ambient light is from the limit or from what is wanted.
pub fn gap(stops: f64, is_wanted: bool) -> String {
    let amount = rounded_stops(stops);
    match (is_wanted, stops > 0.0) {
        _ if amount == rounded_stops(0.0) => "just there".to_owned(),
        (true, true) => format!("{amount} over what you want"),
        (true, false) => format!("{amount} under what you want"),
        (false, true) => format!("{amount} too much"),
        (false, false) => format!("{amount} to spare"),
    }
}
