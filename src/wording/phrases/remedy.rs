//! The sentences of remedies.

use crate::{
    light::{
        error::{Field, Part, ShotPart},
        quantity::{GuideFeet, Metres, Stops, units::Units},
        remedy::{Afterwards, Change, Edit, Named, Remedy, Subject, Then, To},
    },
    wording::format::{at_least, below_full, format_length, format_stops, over_or_under, rounded_stops},
};

/// The sentence of a remedy: what is done, what is set afterwards, and what comes of it.
pub fn remedy(remedy: &Remedy) -> String {
    let what: Vec<String> = remedy.changes.iter().map(change).collect();
    let what = match what.as_slice() {
        [first @ .., last] if !first.is_empty() => format!("{}, and {last}", first.join(", ")),
        all => all.concat(),
    };
    let (first, rest) = what.split_at(1);
    let afterwards = match &remedy.afterwards {
        Afterwards::Nothing => String::new(),
        Afterwards::Lights => ", then reset the lights".to_owned(),
        Afterwards::Units => ", then choose units and settings again".to_owned(),
        Afterwards::Unit { label, .. } if fires(remedy) => format!(", then set it to {}", below_full(label)),
        Afterwards::Unit { label, pops: 1 } => format!(", then set it to {}", below_full(label)),
        Afterwards::Unit { label, pops } => format!(", then fire it {pops} times at {}", below_full(label)),
    };
    let then = match remedy.then {
        Then::WorstError(error) if is_nothing(error) => "Every error is then 0".to_owned(),
        Then::WorstError(error) => format!("Every error is then at most {}", rounded_stops(error.get())),
        Then::Error(error) if is_nothing(error) => "It is then on target".to_owned(),
        Then::Error(error) => format!("It is then {}", over_or_under(error.get())),
        Then::Brightening(stops) => {
            format!("Ambient light then brightens the picture by {}", rounded_stops(stops.get()))
        }
    };
    let targets = if moves_targets(remedy) { " What you ask for as an f-number moves with it." } else { "" };
    format!("{}{rest}{afterwards}.{targets} {then}.", first.to_uppercase())
}

/// Whether a change says how often a unit is fired.
fn fires(remedy: &Remedy) -> bool {
    remedy.changes.iter().any(|change| matches!(change.to, To::Pops(_)))
}

/// Whether targets in f-numbers are changed, so that they stay as bright in the picture.
fn moves_targets(remedy: &Remedy) -> bool {
    let is_target = |edit: &Edit| {
        matches!(edit.part, Part::TargetFNumber(_) | Part::Shot(_, ShotPart::Role(_, Field::FNumber)))
    };
    remedy.patch.edits.iter().any(is_target)
}

/// Whether an error shows as 0.
fn is_nothing(error: Stops) -> bool {
    rounded_stops(error.get()) == rounded_stops(0.0)
}

/// One change, with a small first letter.
fn change(Change { subject, by_stops, to }: &Change) -> String {
    let stops = by_stops.map_or(0.0, Stops::get);
    let by = format_stops(stops);
    let is_brighter = stops > 0.0;
    match to {
        To::FNumber(mark) => {
            format!("{} the lens {by}, to {}", if is_brighter { "open" } else { "close" }, mark.label())
        }
        To::Iso(mark) => {
            let verb = if is_brighter { "raise" } else { "lower" };
            format!("{verb} the ISO speed {by}, to {}", mark.label())
        }
        To::ExposureTime(mark) if by_stops.is_none() => format!("set the exposure time to {}", mark.label()),
        To::ExposureTime(mark) => {
            let verb = if is_brighter { "lengthen" } else { "shorten" };
            format!("{verb} the exposure time {by}, to {}", mark.label())
        }
        To::Filter(filter) => format!("put {} ({by}) on {}", filter.mark(), what(subject, "the lens")),
        To::Setting { to, held_at } => {
            let turn = if is_brighter { "up" } else { "down" };
            format!(
                "turn {} {turn} to {} (you hold it at {})",
                what(subject, "the light"),
                below_full(&to.label),
                below_full(&held_at.label)
            )
        }
        To::Flash(reads) => {
            format!("turn the flash up {by}, until a meter reads {} of it alone", reads.label())
        }
        To::Distance { from, to, point, has_others, units } => {
            let from_point =
                point.as_ref().map_or_else(String::new, |point| format!(" from {}", name(point)));
            let others = if *has_others { ", its other distances in proportion" } else { "" };
            let light = what(subject, "the light");
            format!(
                "move {light} from {} to {}{from_point}{others}",
                length(*from, *units),
                length(*to, *units)
            )
        }
        To::Position { from, distance, to, point, units } => {
            let start = point.as_ref().map_or_else(|| "its aim".to_owned(), name);
            let [x, y, z] = to.0;
            format!(
                "move {} along its line from {start}, from {} to {}: to the position [{x}, {y}, {z}] m",
                what(subject, "the light"),
                format_length(*from, *units),
                format_length(*distance, *units)
            )
        }
        To::Pops(2) => format!("fire {} twice in one exposure", what(subject, "it")),
        To::Pops(pops) => format!("fire {} {pops} times in one exposure", what(subject, "it")),
        To::Ratio { ratio, counting } => format!("ask for {ratio}:1 counted by {counting}"),
        To::Energy { energy, like, replaces } => {
            let like = like.as_ref().map_or_else(|| "it".to_owned(), |like| format!("\"{like}\""));
            let verb = if *replaces { "use" } else { "borrow" };
            format!("{verb} a unit like {like} of at least {} J{}", at_least(energy.get()), for_whom(subject))
        }
        To::Guide { guide, replaces } => {
            let verb = if *replaces { "use" } else { "borrow" };
            let [metres, feet] = [guide.get(), GuideFeet::of(*guide).get()].map(at_least);
            format!("{verb} a unit of at least guide number {metres} m ({feet} ft){}", for_whom(subject))
        }
        To::Off => format!("switch {} off", what(subject, "the light")),
    }
}

/// What is changed, with quotes; `whole` for the camera and what belongs to it.
fn what(subject: &Subject, whole: &str) -> String {
    match subject {
        Subject::Whole | Subject::Shot(_) => whole.to_owned(),
        Subject::Light(Named { name: None, .. }) => "the light".to_owned(),
        Subject::Light(it) | Subject::Pack(it) => name(it),
        Subject::Candidate(candidate) => {
            candidate.name.as_ref().map_or_else(|| "the unit".to_owned(), |name| format!("\"{name}\""))
        }
        Subject::Role { role, .. } => format!("the light of {}", name(role)),
    }
}

fn for_whom(subject: &Subject) -> String {
    match subject {
        Subject::Light(Named { name: None, .. }) => String::new(),
        Subject::Light(it) | Subject::Role { role: it, .. } => format!(" for {}", name(it)),
        _ => String::new(),
    }
}

fn name(named: &Named) -> String {
    format!("\"{}\"", named.name.as_deref().unwrap_or_default())
}

fn length(length: Metres, units: Units) -> String {
    units.measured(length)
}
