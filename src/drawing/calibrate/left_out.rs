//! Outliers, which were left out of the calibration: misfires and readings that are too bright.

use crate::{
    drawing::{
        calibrate::{STRIP, STRIP_GAP},
        canvas::{
            colour::{Colour, Fill},
            labels::Labels,
            panel::Panel,
            paragraph,
            sheet::{Anchor, Pen, Picture, SMALL, SheetPoint, TextStyle},
        },
    },
    light::measure::calibrate::{Outlier, Readings},
    wording::phrases::calibrate_picture::{self as words, Side},
};

/// Draws the mark of an outlier.
pub fn mark(picture: &mut Picture, at: SheetPoint) {
    picture.cross(at, 4.5, Pen::new(Colour::Wrong, 2.0));
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
            let [x, y] = panel.to_sheet(reading.set.get(), reading.measured.get());
            if (top..=bottom).contains(&y) {
                return ([x, y], words::outlier(outlier, None), [panel.from, panel.to]);
            }
            let label = words::outlier(outlier, Some(reading.measured));
            let strip = if y > bottom { under } else { over };
            ([x, f64::midpoint(strip[0][1], strip[1][1])], label, strip)
        })
        .collect();
    for (strip, side, breaks) in
        [(under, Side::Below, [-STRIP_GAP, 0.0]), (over, Side::Above, [STRIP, STRIP + STRIP_GAP])]
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
fn draw_strip(picture: &mut Picture, [from, to]: [SheetPoint; 2], side: Side, breaks: [f64; 2]) {
    picture.rectangle(from, to, Fill::None, Pen::new(Colour::Ink, 1.0));
    for x in [from[0], to[0]] {
        for y in breaks.map(|down| from[1] + down) {
            picture.line([x - 5.0, y + 3.0], [x + 5.0, y - 3.0], Pen::new(Colour::Ink, 1.2));
        }
    }
    let style = TextStyle::new(SMALL).in_colour(Colour::Grey).anchored(Anchor::End);
    let middle = f64::midpoint(from[1], to[1]);
    picture.text([from[0] - 7.0, middle - 4.0], style, words::FAR);
    picture.text([from[0] - 7.0, middle + 13.0], style, side.word());
}

/// Lists all outliers. Returns the position of the next line.
pub fn list(picture: &mut Picture, top: f64, outliers: &[Outlier]) -> f64 {
    let style = TextStyle::new(SMALL).in_colour(Colour::Grey);
    words::outlier_lists(outliers).iter().fold(top, |y, text| paragraph::body(picture, y, style, text))
}
