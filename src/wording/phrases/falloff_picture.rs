//! The words in the picture of falloff: heading, legend, notes, and the description.

use crate::{
    light::{
        quantity::{Metres, units::Units},
        set::{
            falloff::{Depth, Falloff, FalloffQuestion, Row},
            modifier::Modifier,
            placement::Source,
        },
    },
    wording::format::{format_length, format_stops, listed, signed, with_stops},
};

/// The title.
pub const TITLE: &str = "Light by distance";
/// The title of the axis of light.
pub const LIGHT_AXIS: &str = "light, stops";
/// The curve of a source of finite size.
pub const SOURCE: &str = "this source";
/// The curve of the inverse square law, beside that of a source.
pub const INVERSE_SQUARE: &str = "inverse square (a point)";
/// The curve of a source that is a point.
pub const POINT_SOURCE: &str = "this source, a point: the inverse square";

/// The source, its modifier, and the distance that stops are relative to.
pub fn heading(question: &FalloffQuestion, reference: Metres) -> String {
    let against = format_length(reference, question.units);
    format!("{}; stops against {against}", source_and_modifier(question))
}

/// The label of the line at the reference distance.
pub fn reference(distance: Metres, units: Units) -> String {
    format!("reference, {}", format_length(distance, units))
}

/// The title of the axis of distances.
pub fn distance_axis(units: Units, is_logarithmic: bool) -> String {
    let equal = if is_logarithmic { " (logarithmic)" } else { "" };
    format!("distance, {}{equal}", units.unit())
}

/// The label of a row.
pub fn row(row: &Row) -> String {
    format!("{}{}", signed(row.stops.get()), aperture(row))
}

/// A note that only some of the rows are labelled.
pub fn not_all_labelled(labelled: usize, all: usize) -> String {
    format!("{labelled} of {all} distances are labelled; the answer as JSON or text has all.")
}

/// The label of the depth: its loss of light.
pub fn depth(depth: &Depth, units: Units) -> String {
    let from_front = signed(depth.front_to_back_stops.get());
    format!("depth of {}: {from_front} to its back", format_length(depth.depth_m, units))
}

/// The distances at which the light is even over the depth, as a sentence.
pub fn evenness(depth: &Depth, units: Units) -> Option<String> {
    let even = even_from(depth, units)?;
    Some(format!("Within {} over the depth {even}.", format_stops(depth.within_stops.get())))
}

/// The description for screen readers, with at most this many rows.
pub fn description(summary: &str, question: &FalloffQuestion, answer: &Falloff, most: usize) -> String {
    let units = question.units;
    let rows = answer.rows.iter().map(|each| {
        let point = signed(each.inverse_square_stops.get());
        format!("{} at {} ({point} by the inverse square)", row(each), format_length(each.distance_m, units))
    });
    let against = format_length(answer.reference_distance_m, units);
    let mut text = format!("{summary} {}. Stops against {against}", source_and_modifier(question));
    if !answer.rows.is_empty() {
        text = format!("{text}: {}", listed(rows, most));
    }
    if let Some(depth) = &answer.depth {
        let (deep, to_back) = (format_length(depth.depth_m, units), signed(depth.front_to_back_stops.get()));
        text = format!("{text}. Over a depth of {deep} {to_back} to its back");
        if let Some(even) = even_from(depth, units) {
            let within = format_stops(depth.within_stops.get());
            text = format!("{text}; within {within} {even}");
        }
    }
    format!("{text}.")
}

/// The aperture of a row, after a comma; empty if the row has none.
fn aperture(row: &Row) -> String {
    row.f_number.as_ref().map_or_else(String::new, |f_number| format!(", {}", f_number.label()))
}

fn source_and_modifier(question: &FalloffQuestion) -> String {
    format!("{}{}", source(question.source, question.units), modifier(question))
}

fn source(source: Option<Source>, units: Units) -> String {
    let length = |length| format_length(length, units);
    match source {
        None => "A point".to_owned(),
        Some(Source::Disc { diameter }) => format!("A round face of {}", length(diameter)),
        Some(Source::Rectangle { width, height }) => {
            format!("A face of {} by {}", length(width), length(height))
        }
    }
}

/// The loss in the modifier, if the answer has apertures and so includes it.
fn modifier(question: &FalloffQuestion) -> String {
    let stated = question.modifier.filter(|_| question.output.is_some());
    let stops = |modifier: Modifier| with_stops(&signed(modifier.stops().typical.get()));
    stated.map_or_else(String::new, |modifier| match modifier.kind() {
        Some(kind) => format!(", {} (about {})", kind.kind.0.replace('_', " "), stops(modifier)),
        None => format!(", modifier {}", stops(modifier)),
    })
}

/// The distances at which the light is even over the depth.
fn even_from(depth: &Depth, units: Units) -> Option<String> {
    let from = depth.distance_for_evenness_m?;
    let is_everywhere = from.get() <= 0.0;
    Some(if is_everywhere {
        "at every distance".to_owned()
    } else {
        format!("from {} on", format_length(from, units))
    })
}
