//! The words in the picture of readings that are added and taken away.

use crate::{
    light::{
        measure::readings::{Combined, ReadingPart},
        quantity::{FNumber, marks::Step, nominal::Nominal},
    },
    wording::format::{asked, digits, rounded_stops, signed_stops},
};

/// The title.
pub const TITLE: &str = "Readings together";
/// The axis.
pub const AXIS: &str = "light, % of what was added";
/// The line of what a meter reads.
pub const READS: &str = "A meter reads";
/// The line of the guide number.
pub const GUIDE_NUMBER: &str = "Guide number";
/// The line of the aperture to set.
pub const APERTURE: &str = "Aperture";
/// The line where too much is taken away.
pub const TOO_MUCH: &str = "Taken away beyond what there is";
/// The bar of a reading, in the legend.
pub const ADDED: &str = "added, each from where the last one ends";
/// The bar of what is taken away, in the legend.
pub const TAKEN: &str = "taken away";
/// The bar of the whole, in the legend.
pub const LEFT: &str = "what is left";
/// The last row.
pub const WHOLE: &str = "together";

/// A reading, as it is written in the unit of the answer.
pub fn reading(part: &ReadingPart, is_guide: bool, step: Step) -> String {
    let sign = if part.part < 0.0 { "− " } else { "" };
    let value = if is_guide {
        format!("GN {} m", digits(part.value, 3))
    } else {
        asked(&Nominal::f_number(FNumber::new_unchecked(part.value), step))
    };
    format!("{sign}{value}")
}

/// A part of all the light, with its stops.
pub fn part(part: &ReadingPart) -> String {
    format!("{} ({})", percent(part.part.abs()), signed_stops(part.stops.get()))
}

/// `67 %`.
pub fn percent(part: f64) -> String {
    format!("{} %", digits(100.0 * part, 2))
}

/// The details of the whole: the change against the first reading.
pub fn against_first(answer: &Combined) -> String {
    let than = |stops: f64| if stops < 0.0 { "less" } else { "more" };
    answer.stops.map_or_else(String::new, |stops| {
        format!("{} {} light than the first", rounded_stops(stops.get()), than(stops.get()))
    })
}

/// The readings that are drawn as one bar.
pub fn more(more: usize) -> String {
    format!("{more} more")
}
