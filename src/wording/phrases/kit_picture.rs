//! The words in the picture of a kit check: labels, lines of lists, and the description.

use crate::{
    light::{
        kit::{Miss, Missing, RoleResult, ShotResult},
        quantity::Stops,
        remedy::Remedy,
        unit::Setting,
    },
    wording::{
        format::{at_least, fixed, format_stops, with_sign, with_stops},
        phrases,
    },
};

/// The title.
pub const TITLE: &str = "Settings by shot";
/// The headings of the columns.
pub const COLUMNS: [&str; 4] = ["role", "unit", "setting", "stops"];
/// A role without a unit.
pub const NO_UNIT: &str = "none";
/// The mark of a role that is not reached.
pub const NOT_REACHED: &str = "not reached";
/// The mark of a role that may not be reached.
pub const PERHAPS_NOT_REACHED: &str = "perhaps not reached";
/// The mark of a unit that moved.
pub const MOVED: &str = "was elsewhere, or not used, in the shot before";
/// The heading of bars for headroom.
pub const SPARE: &str = "to spare";
/// The meaning of these bars, in the legend.
pub const SPARE_MEANING: &str = "to spare at full power";
/// The heading of bars for a shortfall.
pub const LACKS: &str = "lacks";
/// The meaning of these bars, in the legend.
pub const LACKS_MEANING: &str = "lacks light at full power";
/// The heading of bars for an excess.
pub const EXCESS: &str = "too strong";
/// The meaning of these bars, in the legend.
pub const EXCESS_MEANING: &str = "too strong at its least setting";
/// The heading of the list of missing lights.
pub const MISSING: &str = "What is missing";
/// The heading of the list of lights that are too strong.
pub const TOO_STRONG: &str = "What is too strong";
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

/// Whether a shot is reached.
pub fn verdict(shot: &ShotResult) -> String {
    let missed = shot.lights.iter().filter(|light| light.is_missed()).count();
    if missed > 0 {
        return format!("not reached: {missed} of {}", shot.lights.len());
    }
    if shot.is_doubtful() { "reached, perhaps not" } else { "reached" }.to_owned()
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

/// A light that is too strong.
pub fn too_strong_line(shot: &str, light: &RoleResult, setting: &Setting) -> String {
    format!(
        "\"{}\" in \"{shot}\": {} too strong at {}, {}.",
        light.role,
        with_stops(&fixed(light.excess_stops.get())),
        phrases::too_strong_at(light.is_set_by_pack()),
        setting.label
    )
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
