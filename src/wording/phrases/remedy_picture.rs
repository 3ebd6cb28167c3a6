//! The first remedy of an answer as lines of what to do, for pictures: what is changed, to what, and by how much.

use crate::{
    light::{
        quantity::{GuideFeet, Stops},
        remedy::{Afterwards, Change, Named, Remedy, Subject, To},
    },
    wording::format::{at_least, below_full, format_length, format_stops},
};

/// The heading of other remedies, each of which would do instead.
pub const OTHERS: &str = "Or, instead";

/// Each change of a remedy: its name, its value, and details.
pub fn lines(remedy: &Remedy) -> Vec<[String; 3]> {
    let afterwards = match &remedy.afterwards {
        Afterwards::Unit { label, .. } => {
            Some(["Then set it to".to_owned(), below_full(label).into_owned(), String::new()])
        }
        _ => None,
    };
    remedy.changes.iter().map(change).chain(afterwards).collect()
}

fn change(Change { subject, by_stops, to }: &Change) -> [String; 3] {
    let stops = by_stops.map_or(0.0, Stops::get);
    let by = |brighter: &str, darker: &str| {
        let way = if stops > 0.0 { brighter } else { darker };
        if stops == 0.0 { String::new() } else { format!("{} {way}", format_stops(stops)) }
    };
    let line = |name: &str, value: String, details: String| [name.to_owned(), value, details];
    match to {
        To::FNumber(mark) => line("Aperture", mark.label(), by("opened", "closed")),
        To::Iso(mark) => line("ISO speed", mark.label(), by("up", "down")),
        To::ExposureTime(mark) => line("Exposure time", mark.label(), by("longer", "shorter")),
        To::Filter(filter) => {
            line(&format!("Filter on {}", whole(subject, "the lens")), filter.mark(), format_stops(stops))
        }
        To::Flash(reads) => line("Flash, metered alone", reads.label(), by("up", "down")),
        To::Setting { to, held_at } => line(
            "Setting",
            below_full(&to.label).into_owned(),
            format!("you hold it at {}", below_full(&held_at.label)),
        ),
        To::Distance { from, to, units, .. } => {
            line("Distance", units.measured(*to), format!("now {}", units.measured(*from)))
        }
        To::Position { from, distance, units, .. } => {
            let [from, distance] = [from, distance].map(|length| format_length(*length, *units));
            line("Distance along its line", distance, format!("now {from}"))
        }
        To::Pops(pops) => line("Flashes in one exposure", pops.to_string(), String::new()),
        To::Ratio { ratio, counting } => {
            line("Ratio", format!("{ratio}:1"), format!("counted by {counting}"))
        }
        To::Energy { energy, .. } => {
            line("A unit of at least", format!("{} J", at_least(energy.get())), String::new())
        }
        To::Guide { guide, .. } => {
            let [metres, feet] = [guide.get(), GuideFeet::of(*guide).get()].map(at_least);
            line("A unit of at least", format!("guide number {metres} m"), format!("{feet} ft"))
        }
        To::Off => line(&format!("Switch {} off", whole(subject, "the light")), String::new(), String::new()),
    }
}

/// What is changed; `lens` for the camera.
fn whole(subject: &Subject, lens: &str) -> String {
    match subject {
        Subject::Light(Named { name: Some(name), .. }) => format!("\"{name}\""),
        Subject::Light(_) => "the light".to_owned(),
        _ => lens.to_owned(),
    }
}
