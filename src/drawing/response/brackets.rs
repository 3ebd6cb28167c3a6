//! Pairs of levels as dimension lines above the panel, with lines down to the curve.

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
pub const ROW: f64 = 32.0;
/// The clearance between a label and a line that passes it, px.
const CLEARANCE: f64 = 4.0;

/// A pair of levels with its position on the sheet.
struct Bracket<'a> {
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
        .map(|between| Bracket {
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
    for Bracket { between, y, ends } in &all {
        for ((x, is_shown), level) in ends.iter().zip([between.from, between.to]) {
            if *is_shown {
                let on_curve = panel.to_sheet(0.0, level.get())[1];
                picture.line([*x, on_curve], [*x, *y], Pen::new(Colour::Grey, 1.0).dashed("1 3"));
                labels.reserve_line([[*x, on_curve], [*x, *y]]);
            }
        }
    }
    for (row, bracket) in all.iter().enumerate() {
        let above = all[row + 1..].iter().flat_map(|bracket| bracket.ends);
        let passing: Vec<f64> = above.filter(|(_, is_shown)| *is_shown).map(|(x, _)| x).collect();
        dimension(picture, bracket, &passing, [left, right]);
    }
}

/// Draws a dimension line, with its label clear of lines that pass.
fn dimension(picture: &mut Picture, bracket: &Bracket, passing: &[f64], [left, right]: [f64; 2]) {
    let Bracket { between, y, ends } = bracket;
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
    let label = response_picture::pair(between);
    let style = TextStyle::new(SMALL).anchored(Anchor::Middle);
    let half = (style.width(&label) / 2.0).min((right - left) / 2.0);
    let middle = f64::midpoint(from, to).clamp(left + half, right - half);
    let free = free_middle(middle, half + CLEARANCE, passing, [left + half, right - half]);
    if free.is_none() {
        // There is no free position: the lines are interrupted at the label.
        picture.rectangle(
            [middle - half, y - 20.0],
            [middle + half, y - 3.0],
            Colour::Paper,
            Pen::new(Colour::Paper, 0.0),
        );
    }
    picture.text([free.unwrap_or(middle), y - 6.0], style, &label);
}

/// The position nearest to the one wanted with no line within `half` of it, or `None`.
fn free_middle(wanted: f64, half: f64, lines: &[f64], [least, most]: [f64; 2]) -> Option<f64> {
    let beside = lines.iter().flat_map(|x| [x - half, x + half]);
    std::iter::once(wanted)
        .chain(beside)
        .filter(|middle| (least..=most).contains(middle))
        .filter(|middle| lines.iter().all(|x| (x - middle).abs() >= half - 1e-6))
        .min_by(|a, b| (a - wanted).abs().total_cmp(&(b - wanted).abs()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_avoid_lines_that_pass() {
        let ends = [0.0, 100.0];
        assert_eq!(free_middle(50.0, 10.0, &[], ends), Some(50.0));
        assert_eq!(free_middle(50.0, 10.0, &[45.0], ends), Some(55.0));
        assert_eq!(free_middle(50.0, 10.0, &[45.0, 60.0], ends), Some(35.0));
        assert_eq!(free_middle(50.0, 10.0, &[5.0, 20.0, 35.0, 50.0, 65.0, 80.0, 95.0], [10.0, 90.0]), None);
    }
}
