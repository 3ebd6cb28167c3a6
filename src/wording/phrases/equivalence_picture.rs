//! The words in the picture of a swap: labels, lines of what to set, and the description.

use crate::{
    light::{equivalence::Match, uncertainty::Uncertainty},
    wording::{
        format::{below_full, rounded_stops, signed_stops},
        phrases,
    },
};

/// The title.
pub const TITLE: &str = "Units for the same light";
/// What the axis shows.
pub const AXIS: &str = "Light at the subject, in stops. 0 is the light that is needed.";
/// The meaning of a bar.
pub const RANGE: &str = "what the unit can give";
/// The meaning of the lines in a bar.
pub const CLICKS: &str = "its clicks";
/// The same, where clicks are too close to be drawn.
pub const WHOLE_STOPS: &str = "whole stops";
/// The meaning of the line across all bars.
pub const NEEDED: &str = "the light that is needed";
/// The meaning of the band around it.
pub const BAND: &str = "± of unit against reference";
/// The meaning of the mark of a setting.
pub const CHOSEN: &str = "the setting to use";
/// The meaning of the mark of the reference.
pub const REFERENCE: &str = "as it was";
/// The meaning of missing light.
pub const SHORT: &str = "light that is missing";
/// The meaning of light that is too much.
pub const EXCESS: &str = "light that is too much";

/// The name of the reference.
pub fn reference(name: Option<String>) -> String {
    name.map_or_else(|| "the reference".to_owned(), |name| format!("{name} (the reference)"))
}

/// The name of a candidate, by its place.
pub fn name(candidate: &Match, index: usize) -> String {
    candidate.name.clone().unwrap_or_else(|| format!("candidate {}", index + 1))
}

/// The setting of the reference.
pub fn as_it_was(label: &str) -> String {
    format!("{}, as it was", below_full(label))
}

/// What to set.
pub fn setting(candidate: &Match) -> String {
    let label = below_full(&candidate.setting.label);
    match candidate.pops {
        1 => label.into_owned(),
        2 => format!("{label}, fired twice"),
        pops => format!("{label}, fired {pops} times"),
    }
}

/// What to set, and how much light is then missing or too much.
pub fn setting_and_gap(candidate: &Match) -> String {
    let gap = gap(candidate).map_or_else(String::new, |gap| format!(": {gap}"));
    format!("{}{gap}", setting(candidate))
}

/// How much light is missing or too much; `None` if the candidate can replace the reference.
fn gap(candidate: &Match) -> Option<String> {
    let stops = rounded_stops(candidate.error_stops.get());
    let side = if candidate.error_stops.get() < 0.0 { "short" } else { "too strong" };
    (!candidate.feasible).then(|| format!("{stops} {side}"))
}

/// What there is to say of a candidate beside its setting.
pub fn details(candidate: &Match) -> String {
    let error = signed_stops(candidate.error_stops.get());
    let off = (candidate.feasible && error != signed_stops(0.0)).then(|| format!("{error} off"));
    let spare = candidate.headroom_stops.get();
    let spare = candidate.feasible.then(|| match spare {
        ..0.005 => "at its most light".to_owned(),
        spare => format!("{} to spare", rounded_stops(spare)),
    });
    let sure = candidate.uncertainty.as_ref().map(plus_minus);
    let facts: Vec<String> = [off, spare, sure].into_iter().flatten().collect();
    let remedy = candidate.remedies.first().filter(|_| !candidate.feasible).map(phrases::remedy);
    match (facts.is_empty(), remedy) {
        (true, remedy) => remedy.unwrap_or_default(),
        (false, None) => format!("{}.", facts.join(", ")),
        (false, Some(remedy)) => format!("{remedy} {}.", facts.join(", ")),
    }
}

/// The uncertainty, and its causes in order.
fn plus_minus(uncertainty: &Uncertainty) -> String {
    let mut causes: Vec<String> = Vec::new();
    for share in &uncertainty.causes {
        let cause = share.cause.text().replace('_', " ");
        if !causes.contains(&cause) {
            causes.push(cause);
        }
    }
    format!("±{} by {}", rounded_stops(uncertainty.longer_end()), causes.join(", "))
}

/// The candidates that are not drawn.
pub fn others(all: usize, able: usize) -> String {
    let (candidates, are) = if all == 1 { ("candidate", "is") } else { ("candidates", "are") };
    format!(
        "And {all} more {candidates}, of which {able} can replace it, {are} in the answer as JSON or text."
    )
}

/// A candidate in the description.
pub fn described(candidate: &Match, index: usize) -> String {
    let details = details(candidate);
    let details = if details.is_empty() { details } else { format!(" ({})", details.trim_end_matches('.')) };
    format!("{} at {}{details}", name(candidate, index), setting_and_gap(candidate))
}

/// The description for screen readers.
pub fn description(summary: &str, candidates: &str) -> String {
    format!("{summary} Settings: {candidates}.")
}
