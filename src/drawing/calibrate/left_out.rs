//! Readings that were left out, misfires and such as are too bright: where they stand, and what is said of them.

use crate::{
    drawing::{
        calibrate::{BROKEN, LABELLED, STRIP},
        canvas::{
            labels::Labels,
            panel::Panel,
            paragraph,
            sheet::{Anchor, GREY, INK, Pen, Picture, SMALL, SheetPoint, Type, WRONG},
            text::{number, with_stops},
        },
    },
    light::{
        measure::calibrate::{Outlier, Readings},
        remark::listed,
    },
};

/// What marks one.
pub fn mark(picture: &mut Picture, at: SheetPoint) {
    picture.cross(at, 4.5, Pen::new(WRONG, 2.0));
}

/// Which reading it is, as people count.
fn counted(outlier: Outlier) -> u32 {
    outlier.index + 1
}

/// How far off the rest it is; light so far off needs no more than tenths of a stop.
fn off(outlier: Outlier) -> String {
    tenths(outlier.off_by_stops.get().abs())
}

/// To which side.
fn side(outlier: Outlier) -> &'static str {
    if outlier.off_by_stops.get() > 0.0 { "above" } else { "below" }
}

fn tenths(stops: f64) -> String {
    number((stops * 10.0).round() / 10.0)
}

/// Crosses for them at their light, those beyond the panel in a strip of their own, each with what it is. Whether all
/// could be labelled.
pub fn draw(
    picture: &mut Picture,
    panel: &Panel,
    readings: &Readings,
    outliers: &[Outlier],
    labels: &mut Labels,
) -> bool {
    let ([left, top], [right, bottom]) = (panel.from, panel.to);
    let under = [[left, bottom + BROKEN], [right, bottom + BROKEN + STRIP]];
    let over = [[left, top - BROKEN - STRIP], [right, top - BROKEN]];
    let shown: Vec<(SheetPoint, String, [SheetPoint; 2])> = outliers
        .iter()
        .filter_map(|told| Some((*told, readings.each.get(told.index as usize)?)))
        .map(|(told, reading)| {
            let said = format!("reading {}: {} {} the rest", counted(told), off(told), side(told));
            let [x, y] = panel.at(reading.set.get(), reading.measured.get());
            if (top..=bottom).contains(&y) {
                return ([x, y], said, [panel.from, panel.to]);
            }
            let said = format!("{said}, at {}", tenths(reading.measured.get()));
            let strip = if y > bottom { under } else { over };
            ([x, f64::midpoint(strip[0][1], strip[1][1])], said, strip)
        })
        .collect();
    for (strip, side, breaks) in [(under, "below", [-BROKEN, 0.0]), (over, "above", [STRIP, STRIP + BROKEN])]
    {
        if shown.iter().any(|(.., within)| *within == strip) {
            broken_off(picture, strip, side, breaks);
        }
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

/// The strip, and the strokes that say that the axis is broken there, so far down from its top.
fn broken_off(picture: &mut Picture, [from, to]: [SheetPoint; 2], side: &str, breaks: [f64; 2]) {
    picture.rectangle(from, to, "none", Pen::new(INK, 1.0));
    for x in [from[0], to[0]] {
        for y in breaks.map(|down| from[1] + down) {
            picture.line([x - 5.0, y + 3.0], [x + 5.0, y - 3.0], Pen::new(INK, 1.2));
        }
    }
    let style = Type::new(SMALL).in_colour(GREY).at(Anchor::End);
    let middle = f64::midpoint(from[1], to[1]);
    picture.text([from[0] - 7.0, middle - 2.0], style, "far");
    picture.text([from[0] - 7.0, middle + 11.0], style, side);
}

/// Writes them all in lines; answers where the next line stands.
pub fn list(picture: &mut Picture, top: f64, outliers: &[Outlier]) -> f64 {
    let style = Type::new(SMALL).in_colour(GREY);
    let mut y = top;
    for (what, of) in [("Misfires", "below"), ("Too bright", "above")] {
        // A space that no line breaks at keeps both numbers together.
        let told = outliers.iter().filter(|told| side(**told) == of);
        let told = told.map(|told| format!("{}\u{a0}by\u{a0}{}", counted(*told), off(*told)));
        let told = told.collect::<Vec<_>>().join("; ");
        if !told.is_empty() {
            let told = format!(
                "{what}, readings counted from 1, and by how many stops each is {of} the rest: {told}."
            );
            y = paragraph::write(picture, [20.0, y], style, picture.width() - 40.0, 16.0, &told);
        }
    }
    y
}

/// The same for those who do not see it, with their place in the request.
pub fn described(outliers: &[Outlier]) -> String {
    let all = [("Misfires", "below"), ("Readings that are too bright", "above")].map(|(what, of)| {
        let told: Vec<Outlier> = outliers.iter().copied().filter(|told| side(*told) == of).collect();
        let each = told.iter().map(|told| {
            let (place, off) = (told.index, with_stops(&off(*told)));
            format!("reading {} (/readings/{place}), {off} {of} the rest", counted(*told))
        });
        if told.is_empty() {
            return String::new();
        }
        format!("{what}, counted from 1, in the request from 0: {}.", listed(each, LABELLED))
    });
    let said: Vec<String> = all.into_iter().filter(|said| !said.is_empty()).collect();
    if said.is_empty() { "No misfires.".to_owned() } else { said.join(" ") }
}
