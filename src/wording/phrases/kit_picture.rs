//! The words in the picture of a kit check: labels, lines of lists, and the description.

use crate::{
    light::{
        kit::{Miss, Missing, RoleResult},
        quantity::{Number, Stops},
        remedy::Remedy,
    },
    wording::{
        format::{at_least, digits, fixed, format_stops, hundredths, signed, with_sign, with_stops},
        phrases,
    },
};

/// The title.
pub const TITLE: &str = "Settings by shot";
/// What the grid shows.
pub const GRID: &str = "Shots by roles: the stops to spare, then the unit and its setting.";
/// A role without a unit, in a cell.
pub const NO_UNIT: &str = "no unit";
/// The same where the name of a unit would stand.
pub const NONE_LEFT: &str = "no unit left";
/// The mark of a unit that moved.
pub const MOVED: &str = "→ was elsewhere, or not used, in the shot before";
/// The meaning of a cell with a shortfall.
pub const SHORT_MEANING: &str = "− too weak by so much";
/// The meaning of a cell with an excess.
pub const STRONG_MEANING: &str = "↑ too strong by so much";
/// The meaning of a cell without a unit.
pub const NO_UNIT_MEANING: &str = "no unit is left for it";
/// The meaning of a cell with little to spare.
pub const TIGHT_MEANING: &str = "reached, with under a third of a stop to spare";
/// The meaning of a question mark in a cell.
pub const DOUBTFUL_MEANING: &str = "? perhaps not reached";
/// The meaning of a cell with enough to spare.
pub const FINE_MEANING: &str = "+ reached, with so much to spare";
/// The heading of the rows in detail.
pub const DETAIL: &str = "What is short or tight, the worst first";
/// The meaning of bars for headroom.
pub const SPARE_MEANING: &str = "to spare at full power";
/// The meaning of bars for a shortfall.
pub const LACKS_MEANING: &str = "lacks light at full power";
/// The meaning of bars for an excess.
pub const EXCESS_MEANING: &str = "too strong at its least setting";
/// The heading of the list of missing lights.
pub const MISSING: &str = "What is missing";
/// The heading of the list of remedies.
pub const REMEDIES: &str = "One of these would do it, for each shot";
/// The heading of the list of shots without a remedy.
pub const NO_REMEDY: &str = "No single change that would do it was found within the limits";

/// A light's headroom, shortfall or excess.
pub fn margin(light: &RoleResult) -> String {
    match light.reason {
        None => format!("{} to spare", fixed(light.headroom_stops.map_or(0.0, Stops::get))),
        Some(Miss::NoUnitLeft) => "no unit left".to_owned(),
        Some(Miss::TooStrong) => format!("{} too strong", fixed(light.excess_stops.get())),
        Some(Miss::TooWeak) => format!("lacks {}", fixed(light.shortfall_stops.get())),
    }
}

/// The range of that.
pub fn margin_range([low, high]: [f64; 2]) -> String {
    format!("{} to {}", with_sign(fixed(low)), with_sign(fixed(high)))
}

/// Stops to spare, in a cell.
pub fn spare_cell(stops: f64) -> String {
    signed(stops)
}

/// The same, where the light is perhaps not reached.
pub fn doubtful_cell(stops: f64) -> String {
    format!("{} ?", signed(stops))
}

/// Stops that are too many, in a cell.
pub fn strong_cell(stops: f64) -> String {
    format!("↑ {}", hundredths(stops))
}

/// Stops that are missing, in a cell.
pub fn short_cell(stops: f64) -> String {
    signed(-stops)
}

/// A unit by its letter, with its setting and whether it moved, in a cell.
pub fn unit_and_setting(letter: Option<&str>, light: &RoleResult) -> String {
    let (Some(letter), Some(setting)) = (letter, &light.setting) else { return String::new() };
    let moved = if light.moved { "→" } else { "" };
    format!("{moved}{letter} {}", setting.label)
}

/// The exposure of a shot, and the chance of a light where it is not sure.
pub fn exposure_and_chance(exposure: &str, light: &RoleResult) -> String {
    match light.chance_reached.map(Number::get) {
        Some(chance) if (0.01..0.95).contains(&chance) => {
            format!("chance {} %, {exposure}", digits(chance * 100.0, 2))
        }
        _ => exposure.to_owned(),
    }
}

/// The lights that are not in the grid.
pub fn more_lights(lights: usize) -> Option<String> {
    match lights {
        0 => None,
        1 => Some("And 1 more light, in the answer as JSON or text.".to_owned()),
        lights => Some(format!("And {lights} more lights, in the answer as JSON or text.")),
    }
}

/// The lights that are short or tight and have no row.
pub fn more_tight(lights: usize) -> Option<String> {
    let plural = if lights == 1 { "light is" } else { "lights are" };
    (lights > 0).then(|| format!("And {lights} more {plural} short or tight, none worse than these."))
}

/// The lights with enough to spare, of which one has the least.
pub fn fine(lights: usize, is_all: bool, least: Option<f64>) -> Option<String> {
    let least = with_stops(&hundredths(least?));
    Some(match (lights, is_all) {
        (1, true) => format!("The light has {least} to spare."),
        (lights, true) => format!("All {lights} lights have at least {least} to spare."),
        (1, false) => format!("The other light has {least} to spare."),
        (lights, false) => format!("The other {lights} lights have at least {least} to spare."),
    })
}

/// The shots that are not reached.
pub fn not_reached(names: &str) -> String {
    format!("Not reached: {names}.")
}

/// The shots that are perhaps not reached; `None` if that is any of them.
pub fn perhaps_not_reached(names: Option<&str>, all: usize) -> String {
    let which = names.map_or_else(|| format!("any of the {all} shots"), str::to_owned);
    format!("Perhaps not reached: {which}.")
}

/// A light that is missing, and what would do.
pub fn missing_line(missing: &Missing) -> String {
    let short = if missing.has_unit {
        format!("lacks {}", format_stops(missing.shortfall_stops.get()))
    } else {
        "no unit is left".to_owned()
    };
    let energy = missing.energy_j.map(|energy| format!("a unit of {} J", at_least(energy.get())));
    let guide = missing.guide_number_m.map(|guide| {
        let feet = missing
            .guide_number_ft
            .map_or_else(String::new, |feet| format!(" ({} ft)", at_least(feet.get())));
        format!("guide number {} m{feet}", at_least(guide.get()))
    });
    let enough = [energy, guide].into_iter().flatten().collect::<Vec<_>>().join(", or ");
    let enough = if enough.is_empty() { enough } else { format!("; {enough} would do") };
    format!("\"{}\" in \"{}\": {short}{enough}.", missing.role, missing.shot)
}

/// A remedy of a shot.
pub fn remedy_line(shot: &str, remedy: &Remedy) -> String {
    format!("In \"{shot}\": {}", phrases::remedy(remedy))
}

/// A light in the description, with the range of its margin.
pub fn light_line(shot: &str, light: &RoleResult, exposure: &str, range: Option<[f64; 2]>) -> String {
    let setting = match (&light.unit, &light.setting) {
        (Some(unit), Some(setting)) => format!("{unit} at {}, ", setting.label),
        _ => String::new(),
    };
    let range = range.map_or_else(String::new, |range| format!(" ({})", margin_range(range)));
    let perhaps = if light.is_doubtful() { ", perhaps not reached" } else { "" };
    let moved = if light.moved { ", moved here" } else { "" };
    format!("{} in {shot} ({exposure}): {setting}{}{range}{perhaps}{moved}", light.role, margin(light))
}

/// The names of shots as a line of a list.
pub fn shots_line(names: &str) -> String {
    format!("{names}.")
}

/// The description for screen readers.
pub fn description(summary: &str, lights: &str) -> String {
    format!("{summary} Lights: {lights}.")
}
