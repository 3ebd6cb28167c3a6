//! The words in the plan of a set.

use crate::{
    light::quantity::{Metres, units::Units},
    wording::format::{format_length, short_number},
};

/// The title of the plan.
pub const PLAN: &str = "The set from above";
/// A beam from above.
pub const BEAM: &str = "beam, to half its strength";
/// The face of a light from above.
pub const FACE: &str = "face of a light, to size";
/// A metering point in the plan.
pub const POINT_THERE: &str = "point";
/// The camera.
pub const CAMERA: &str = "camera";
/// A board that reflects.
pub const BOARD: &str = "board";
/// A board that lies level.
pub const CEILING: &str = "ceiling, or level board";
/// What hides lights.
pub const BLOCKER: &str = "hides what is behind it";
/// The arrow of a light's aim or of the direction that a point faces.
pub const AIM: &str = "aim, or facing";

/// A length on the scale bar of the plan.
pub fn scale(length: f64, units: Units) -> String {
    format!("{} {}", short_number(length), units.unit())
}

/// How the plan lies.
pub const PLAN_WAY: &str = "x to the right, y up the sheet";

/// The room, of which only the size is known.
pub fn room(size: [Metres; 3], units: Units) -> String {
    let [width, depth, height] = size.map(|side| format_length(side, units));
    format!("in a room of {width} by {depth}, {height} high")
}

/// A light in the plan.
pub fn light_and_setting(name: &str, setting: &str) -> String {
    format!("{name} {setting}")
}

/// The positions of lights that the plan leaves out.
pub fn more_positions(more: usize) -> String {
    format!("and {more} more positions of lights")
}
