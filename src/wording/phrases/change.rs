//! The codes and sentences of single changes, of which remedies consist.

use crate::wording::phrase::Phrase;

/// All changes. Their params are in the change: those of its `to`, as the mark or the label where it has one, and as
/// `subject` the light, the role or the candidate that it names; where it names none, the lens.
pub const CHANGES: [Phrase; 10] = [
    change("aperture", "Set the aperture to {f_number}.", &["f_number"]),
    change("iso", "Set the ISO speed to {iso}.", &["iso"]),
    change("exposure_time", "Set the exposure time to {exposure_time}.", &["exposure_time"]),
    change("filter", "Put the filter {filter} on {subject}.", &["filter", "subject"]),
    change("setting", "Set {subject} to {setting}.", &["subject", "setting"]),
    change("distance", "Place {subject} {distance_m} m away.", &["subject", "distance_m"]),
    change("pops", "Fire {subject} {pops} times in one exposure.", &["subject", "pops"]),
    change("ratio", "Ask for the ratio {ratio}:1.", &["ratio"]),
    change("unit", "Use a unit of at least {energy_j} J for {subject}.", &["energy_j", "subject"]),
    change("off", "Switch {subject} off.", &["subject"]),
];

const fn change(code: &'static str, template: &'static str, params: &'static [&'static str]) -> Phrase {
    Phrase::new(code, None, [template, ""], None, params)
}
