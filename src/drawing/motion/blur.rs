//! The blur at each setting against what is allowed.

use crate::{
    drawing::canvas::{
        axis::Axis,
        colour::{Colour, Fill},
        legend::{self, Legend},
        paragraph,
        ruler::Ruler,
        sheet::{Anchor, NORMAL, Pen, Picture, SMALL, TextStyle},
    },
    light::{
        measure::motion::{Freeze, FreezeQuestion, Sharpness},
        quantity::Number,
    },
    wording::phrases::motion_picture as words,
};

const ROW: f64 = 46.0;
const HALF_BAR: f64 = 8.0;
/// The most settings that are drawn: those nearest to the limit.
const MOST: usize = 12;
/// The ratio of the greatest to the least value above which the axis is logarithmic.
const WIDE: f64 = 20.0;
const LIMIT: Pen = Pen::new(Colour::Second, 2.5).dashed("7 3");
const SHARP: Pen = Pen::new(Colour::Data, 1.0);
const BLURRED: Pen = Pen::new(Colour::Wrong, 1.0);

/// The blur in pixels, or in millimetres at the subject.
pub fn in_unit(sharpness: &Sharpness, in_pixels: bool) -> Option<f64> {
    if in_pixels { sharpness.blur_px.map(Number::get) } else { sharpness.blur_m.map(|it| 1000.0 * it.get()) }
}

/// The blur that is allowed, in the same unit.
pub fn allowed(question: &FreezeQuestion) -> Option<f64> {
    question.allowed_m.map(|allowed| question.pixel_m.map_or(1000.0 * allowed, |pixel| allowed / pixel))
}

/// Draws the blur of this flash and at other settings, from `top` down. Returns the position of the next line.
pub fn draw(picture: &mut Picture, top: f64, question: &FreezeQuestion, answer: &Freeze) -> f64 {
    let in_pixels = question.pixel_m.is_some();
    let this = [(words::THIS, &answer.sharpness)];
    let by_setting = answer.by_setting.iter().map(|row| (row.setting.as_str(), &row.sharpness));
    let rows = this.into_iter().chain(by_setting);
    let all: Vec<(&str, f64, Option<bool>)> =
        rows.filter_map(|(name, it)| Some((name, in_unit(it, in_pixels)?, it.sharp))).collect();
    let limit = allowed(question);
    // A single value is in the lines above.
    if limit.is_none() && all.iter().all(|(_, blur, _)| (blur - all[0].1).abs() < 1e-9) || all.is_empty() {
        return top;
    }
    let rows = nearest(&all, limit);
    let values = || rows.iter().map(|(_, blur, _)| *blur).chain(limit);
    let [least, most] = [values().fold(f64::MAX, f64::min), values().fold(0.0, f64::max)];
    let is_logarithmic = most > WIDE * least;
    let title = words::blur_axis(in_pixels, is_logarithmic);
    let ticks = (picture.room() / 60.0) as usize;
    let axis = if is_logarithmic {
        Axis::logarithmic("", values().chain([least / 2.0]), ticks)
    } else {
        Axis::linear("", values().chain([0.0]), ticks)
    };
    let grey = TextStyle::new(SMALL).in_colour(Colour::Grey);
    let labels = paragraph::body(picture, top + 14.0, grey, &title) + 4.0;
    let margin = Ruler::ARROW + 8.0;
    let ruler = Ruler { axis, ends: [picture.left() + margin, picture.right() - margin] };
    let (first, bottom) = (labels + 10.0, labels + 10.0 + ROW * rows.len() as f64);
    ruler.grid(picture, [labels + 6.0, bottom]);
    ruler.labels(picture, labels);
    let [low, _] = ruler.axis.range();
    for (row, (name, blur, sharp)) in rows.iter().enumerate() {
        let y = first + ROW * row as f64;
        let value = TextStyle::new(NORMAL).bold().anchored(Anchor::End);
        let is_blurred = *sharp == Some(false);
        let value = if is_blurred { value.in_colour(Colour::Wrong) } else { value };
        let text = words::blur(*blur, in_pixels);
        let room = picture.room() - value.width(&text) - 12.0;
        picture.shortened([picture.left(), y + 14.0], TextStyle::new(NORMAL), name, room);
        picture.text([picture.right(), y + 14.0], value, &text);
        let middle = y + ROW - HALF_BAR - 6.0;
        if is_blurred {
            ruler.range(picture, middle, HALF_BAR, [low, *blur], Fill::Missing, BLURRED);
        } else {
            ruler.range(picture, middle, HALF_BAR, [low, *blur], Colour::Data, SHARP);
        }
        picture.describe(&format!("{name}: {text}."));
    }
    if let Some(limit) = limit {
        let x = ruler.x(limit);
        picture.line([x, labels + 6.0], [x, bottom], LIMIT);
    }
    let mut y = legend(picture, bottom + 18.0, &rows, limit.map(|limit| words::blur(limit, in_pixels)));
    if rows.len() < all.len() {
        let more = words::more_settings(all.len() - rows.len());
        picture.describe(&more);
        y = paragraph::body(picture, y + 4.0, grey, &more);
    }
    y
}

/// The rows that are drawn, in their order: of too many, those nearest to the limit, where sharp ends.
fn nearest<'a>(
    all: &[(&'a str, f64, Option<bool>)],
    limit: Option<f64>,
) -> Vec<(&'a str, f64, Option<bool>)> {
    let off = |blur: f64| limit.map_or(0.0, |limit| (blur / limit).ln().abs());
    let mut order: Vec<usize> = (0..all.len()).collect();
    order.sort_by(|a, b| off(all[*a].1).total_cmp(&off(all[*b].1)));
    order.truncate(MOST);
    order.sort_unstable();
    order.into_iter().map(|index| all[index]).collect()
}

/// Draws the legend. Returns the position of the next line.
fn legend(picture: &mut Picture, y: f64, rows: &[(&str, f64, Option<bool>)], limit: Option<String>) -> f64 {
    let mut legend = Legend::new([picture.left(), y], picture.right());
    if let Some(limit) = limit {
        let label = format!("{}, {limit}", words::LIMIT);
        legend.add(picture, &label, |picture, [x, y]| picture.line([x, y - 9.0], [x, y + 9.0], LIMIT));
    }
    if rows.iter().any(|(.., sharp)| *sharp != Some(false)) {
        legend.swatch(picture, words::BLUR, 6.0, Colour::Data, SHARP);
    }
    if rows.iter().any(|(.., sharp)| *sharp == Some(false)) {
        legend.add(picture, words::NOT_SHARP, |picture, at| {
            legend::swatch(picture, at, 6.0, Fill::Missing, BLURRED);
        });
    }
    legend.bottom() + 16.0
}
