//! Outliers, which were left out of the calibration: misfires and readings that are too bright.

use crate::{
    drawing::{
        calibrate::{LABELLED, STRIP, STRIP_GAP},
        canvas::{
            labels::Labels,
            panel::Panel,
            paragraph,
            sheet::{Anchor, GREY, INK, Pen, Picture, SMALL, SheetPoint, TextStyle, WRONG},
        },
    },
    light::measure::calibrate::{Outlier, Readings},
    wording::format::{listed, number, with_stops},
};

/// Draws the mark of an outlier.
pub fn mark(picture: &mut Picture, at: SheetPoint) {
    picture.cross(at, 4.5, Pen::new(WRONG, 2.0));
}

/// The number of its reading, counted from 1.
fn reading_number(outlier: Outlier) -> u32 {
    outlier.index + 1
}

/// Its distance from the other readings, in tenths of a stop, which is fine enough for an outlier.
fn off(outlier: Outlier) -> String {
    tenths(outlier.off_by_stops.get().abs())
}

/// Whether it is above or below the other readings.
fn side(outlier: Outlier) -> &'static str {
    if outlier.off_by_stops.get() > 0.0 { "above" } else { "below" }
}

fn tenths(stops: f64) -> String {
    number((stops * 10.0).round() / 10.0)
}

/// Draws a labelled cross for each outlier, in a strip of its own if it lies outside the panel. Returns whether all
/// could be labelled.
pub fn draw(
    picture: &mut Picture,
    panel: &Panel,
    readings: &Readings,
    outliers: &[Outlier],
    labels: &mut Labels,
) -> bool {
    let ([left, top], [right, bottom]) = (panel.from, panel.to);
    let under = [[left, bottom + STRIP_GAP], [right, bottom + STRIP_GAP + STRIP]];
    let over = [[left, top - STRIP_GAP - STRIP], [right, top - STRIP_GAP]];
    let shown: Vec<(SheetPoint, String, [SheetPoint; 2])> = outliers
        .iter()
        .filter_map(|outlier| Some((*outlier, readings.each.get(outlier.index as usize)?)))
        .map(|(outlier, reading)| {
            let label =
                format!("reading {}: {} {} the rest", reading_number(outlier), off(outlier), side(outlier));
            let [x, y] = panel.to_sheet(reading.set.get(), reading.measured.get());
            if (top..=bottom).contains(&y) {
                return ([x, y], label, [panel.from, panel.to]);
            }
            let label = format!("{label}, at {}", tenths(reading.measured.get()));
            let strip = if y > bottom { under } else { over };
            ([x, f64::midpoint(strip[0][1], strip[1][1])], label, strip)
        })
        .collect();
    for (strip, side, breaks) in
        [(under, "below", [-STRIP_GAP, 0.0]), (over, "above", [STRIP, STRIP + STRIP_GAP])]
    {
        if shown.iter().any(|(.., within)| *within == strip) {
            draw_strip(picture, strip, side, breaks);
        }
    }
    for (at, ..) in &shown {
        mark(picture, *at);
        labels.mark(*at, 6.0);
    }
    let style = TextStyle::new(SMALL).bold();
    let mut all = true;
    for (at, label, within) in &shown {
        all &= labels.beside(picture, *at, 8.0, style, label, *within);
    }
    all
}

/// Draws a strip, and the axis break marks at these distances from its top, px.
fn draw_strip(picture: &mut Picture, [from, to]: [SheetPoint; 2], side: &str, breaks: [f64; 2]) {
    picture.rectangle(from, to, "none", Pen::new(INK, 1.0));
    for x in [from[0], to[0]] {
        for y in breaks.map(|down| from[1] + down) {
            picture.line([x - 5.0, y + 3.0], [x + 5.0, y - 3.0], Pen::new(INK, 1.2));
        }
    }
    let style = TextStyle::new(SMALL).in_colour(GREY).anchored(Anchor::End);
    let middle = f64::midpoint(from[1], to[1]);
    picture.text([from[0] - 7.0, middle - 2.0], style, "far");
    picture.text([from[0] - 7.0, middle + 11.0], style, side);
}

/// Lists all outliers. Returns the position of the next line.
pub fn list(picture: &mut Picture, top: f64, outliers: &[Outlier]) -> f64 {
    let style = TextStyle::new(SMALL).in_colour(GREY);
    let mut y = top;
    for (what, direction) in [("Misfires", "below"), ("Too bright", "above")] {
        // No-break spaces keep both numbers on one line.
        let selected = outliers.iter().filter(|outlier| side(**outlier) == direction);
        let entries =
            selected.map(|outlier| format!("{}\u{a0}by\u{a0}{}", reading_number(*outlier), off(*outlier)));
        let text = entries.collect::<Vec<_>>().join("; ");
        if !text.is_empty() {
            let text = format!(
                "{what}, readings counted from 1, and by how many stops each is {direction} the rest: {text}."
            );
            y = paragraph::write(picture, [20.0, y], style, picture.width() - 40.0, 16.0, &text);
        }
    }
    y
}

/// The description for screen readers, with the location of each outlier in the request.
pub fn description(outliers: &[Outlier]) -> String {
    let all = [("Misfires", "below"), ("Readings that are too bright", "above")].map(|(what, direction)| {
        let selected: Vec<Outlier> =
            outliers.iter().copied().filter(|outlier| side(*outlier) == direction).collect();
        let each = selected.iter().map(|outlier| {
            let (place, off) = (outlier.index, with_stops(&off(*outlier)));
            format!("reading {} (/readings/{place}), {off} {direction} the rest", reading_number(*outlier))
        });
        if selected.is_empty() {
            return String::new();
        }
        format!("{what}, counted from 1, in the request from 0: {}.", listed(each, LABELLED))
    });
    let sentences: Vec<String> = all.into_iter().filter(|sentence| !sentence.is_empty()).collect();
    if sentences.is_empty() { "No misfires.".to_owned() } else { sentences.join(" ") }
}
