//! Misfires: where they stand, and what is said of them.

use super::{BROKEN, LABELLED, STRIP};
use crate::light::{
    calibrate::{Misfire, Readings},
    remark::listed,
};
use crate::picture::{
    labels::Labels,
    panel::Panel,
    paragraph,
    sheet::{Anchor, GREY, INK, Pen, Picture, SMALL, Spot, Type, WRONG},
    text::{number, with_stops},
};

/// What marks one.
pub fn mark(picture: &mut Picture, at: Spot) {
    picture.cross(at, 4.5, Pen::new(WRONG, 2.0));
}

/// Which reading it is, as people count.
fn counted(misfire: &Misfire) -> u32 {
    misfire.index + 1
}

/// How far below the rest it is; lost light needs no more than tenths of a stop.
fn below(misfire: &Misfire) -> String {
    tenths(-misfire.off_by_stops.get())
}

fn tenths(stops: f64) -> String {
    number((stops * 10.0).round() / 10.0)
}

/// Crosses for the misfires at their light, those under the panel in a strip of their own, each with what it is.
/// Whether all could be labelled.
pub fn draw(
    picture: &mut Picture,
    panel: &Panel,
    readings: &Readings,
    misfires: &[Misfire],
    labels: &mut Labels,
) -> bool {
    let [left, bottom] = [panel.from[0], panel.to[1]];
    let strip = [[left, bottom + BROKEN], [panel.to[0], bottom + BROKEN + STRIP]];
    let shown: Vec<(Spot, String, [Spot; 2])> = misfires
        .iter()
        .filter_map(|told| Some((told, readings.each.get(told.index as usize)?)))
        .map(|(told, reading)| {
            let said = format!("reading {}: {} below the rest", counted(told), below(told));
            let [x, y] = panel.at(reading.set.get(), reading.measured.get());
            if y <= bottom {
                return ([x, y], said, [panel.from, panel.to]);
            }
            let said = format!("{said}, at {}", tenths(reading.measured.get()));
            ([x, bottom + BROKEN + STRIP / 2.0], said, strip)
        })
        .collect();
    if shown.iter().any(|(.., within)| *within == strip) {
        broken_off(picture, strip);
    }
    for (at, ..) in &shown {
        mark(picture, *at);
        labels.mark(*at, 6.0);
    }
    let style = Type::new(SMALL).bold();
    let mut all = true;
    for (at, said, within) in &shown {
        all &= labels.beside(picture, *at, 8.0, style, said, *within);
    }
    all
}

/// The strip, and the strokes that say that the axis is broken there.
fn broken_off(picture: &mut Picture, [from, to]: [Spot; 2]) {
    picture.rectangle(from, to, "none", Pen::new(INK, 1.0));
    for x in [from[0], to[0]] {
        for y in [from[1] - BROKEN, from[1]] {
            picture.line([x - 5.0, y + 3.0], [x + 5.0, y - 3.0], Pen::new(INK, 1.2));
        }
    }
    let style = Type::new(SMALL).in_colour(GREY).at(Anchor::End);
    let middle = f64::midpoint(from[1], to[1]);
    picture.text([from[0] - 7.0, middle - 2.0], style, "far");
    picture.text([from[0] - 7.0, middle + 11.0], style, "below");
}

/// Writes them all in lines; answers where the next line stands.
pub fn list(picture: &mut Picture, top: f64, misfires: &[Misfire]) -> f64 {
    // A space that no line breaks at keeps both numbers together.
    let told = misfires.iter().map(|told| format!("{}\u{a0}by\u{a0}{}", counted(told), below(told)));
    let told = told.collect::<Vec<_>>().join("; ");
    let told =
        format!("Misfires, readings counted from 1, and by how many stops each is below the rest: {told}.");
    let style = Type::new(SMALL).in_colour(GREY);
    paragraph::write(picture, [20.0, top], style, picture.width() - 40.0, 16.0, &told)
}

/// The same for those who do not see it, with their place in the request.
pub fn described(misfires: &[Misfire]) -> String {
    if misfires.is_empty() {
        return "No misfires.".to_owned();
    }
    let told = misfires.iter().map(|told| {
        format!(
            "reading {} (/readings/{}), {} below the rest",
            counted(told),
            told.index,
            with_stops(&below(told))
        )
    });
    format!("Misfires, counted from 1, in the request from 0: {}.", listed(told, LABELLED))
}
