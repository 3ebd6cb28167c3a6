//! Pairs of levels as numbered dimension lines above the panel, with lines down to the curve. What each is, is listed under
//! the panel, where there is room for it.

use crate::{
    drawing::canvas::{
        colour::Colour,
        labels::Labels,
        panel::Panel,
        sheet::{Anchor, Pen, Picture, SMALL, TextStyle},
    },
    light::measure::response::{Between, Fit},
    wording::phrases::response_picture,
};

/// The height of a row of brackets, px.
pub const ROW: f64 = 26.0;
/// A pair of levels with its position on the sheet.
struct Bracket<'a> {
    /// Its place in the answer, from 0.
    index: usize,
    between: &'a Between,
    y: f64,
    /// The horizontal position of each end, limited to the panel, and whether the end lies on the panel.
    ends: [(f64, bool); 2],
}

/// Draws the brackets above the panel. The narrowest is lowest, so that the lines of wider ones pass outside it.
pub fn draw(picture: &mut Picture, panel: &Panel, answer: &Fit, pairs: &[Between], labels: &mut Labels) {
    let [left, right] = [panel.from[0], panel.to[0]];
    let curve = &answer.response.curve;
    let end = |level: f64| {
        let stops = curve.at(level);
        (panel.to_sheet(stops, 0.0)[0].clamp(left, right), panel.x.contains(stops))
    };
    let mut all: Vec<Bracket> = pairs
        .iter()
        .enumerate()
        .map(|(index, between)| Bracket {
            index,
            between,
            y: 0.0,
            ends: [between.from, between.to].map(|level| end(level.get())),
        })
        .collect();
    let width = |bracket: &Bracket| (bracket.ends[0].0 - bracket.ends[1].0).abs();
    all.sort_by(|a, b| width(a).total_cmp(&width(b)));
    for (row, bracket) in (1_u32..).zip(&mut all) {
        bracket.y = panel.from[1] + 18.0 - ROW * f64::from(row);
    }
    for Bracket { between, y, ends, .. } in &all {
        for ((x, is_shown), level) in ends.iter().zip([between.from, between.to]) {
            if *is_shown {
                let on_curve = panel.to_sheet(0.0, level.get())[1];
                picture.line([*x, on_curve], [*x, *y], Pen::new(Colour::Grey, 1.0).dashed("1 3"));
                labels.reserve_line([[*x, on_curve], [*x, *y]]);
            }
        }
    }
    let left = panel.from[0];
    for bracket in &all {
        dimension(picture, bracket, left);
    }
}

/// Draws a dimension line with its number.
fn dimension(picture: &mut Picture, bracket: &Bracket, left: f64) {
    let Bracket { index, between, y, ends } = bracket;
    let pen = Pen::new(Colour::Ink, 1.0);
    let pen = if between.extrapolated { pen.dashed("4 3") } else { pen };
    for (x, is_shown) in *ends {
        if is_shown {
            // The oblique tick of a dimension line.
            picture.line([x - 3.0, y + 3.0], [x + 3.0, y - 3.0], Pen::new(Colour::Ink, 1.2));
        } else {
            picture.arrow_head([x, *y], [if x > left { 1.0 } else { -1.0 }, 0.0], Colour::Ink);
        }
    }
    let [(from, _), (to, _)] = *ends;
    picture.line([from, *y], [to, *y], pen);
    let number = TextStyle::new(SMALL).bold().anchored(Anchor::Middle);
    picture.text([f64::midpoint(from, to), y - 6.0], number, &response_picture::number_of(*index));
}
