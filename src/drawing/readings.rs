//! The picture of readings that are added and taken away: each as its part of the light, from where the last one ends.

use crate::{
    drawing::canvas::{
        axis::Axis,
        colour::{Colour, Fill},
        legend::{self, Legend},
        marks::Mark,
        notes, paragraph,
        ruler::Ruler,
        sheet::{Anchor, NORMAL, Pen, Picture, SMALL, TextStyle},
        todo,
    },
    light::{
        measure::readings::{Combined, ReadingPart},
        quantity::marks::Step,
    },
    wording::{
        format::{digits, rounded_stops},
        phrases::readings_picture as words,
        summary::Summary,
    },
};

const ROW: f64 = 44.0;
const HALF_BAR: f64 = 8.0;
/// The most readings that have a bar of their own: the strongest.
const MOST: usize = 12;
const ADDED: Pen = Pen::new(Colour::Data, 1.0);
const TAKEN: Pen = Pen::new(Colour::Wrong, 1.0);
const LEFT: Pen = Pen::new(Colour::Ink, 1.0);

/// A bar, from one part of the light to another.
struct Bar {
    name: String,
    value: String,
    part: f64,
}

/// Draws an answer of `readings/combine`, with the part of each reading.
pub fn draw(answer: &Combined, parts: &[ReadingPart], is_guide: bool, step: Step, width: f64) -> Picture {
    let summary = answer.summary();
    let mut picture = Picture::new(width, words::TITLE, &summary);
    let y = paragraph::headline(&mut picture, &summary) + 4.0;
    let y = todo::draw(&mut picture, y, &results(answer)) + 10.0;
    let bars = bars(parts, is_guide, step);
    let left: f64 = parts.iter().map(|part| part.part).sum();

    let ends = bars.iter().scan(0.0, |at, bar| {
        *at += bar.part;
        Some(100.0 * *at)
    });
    let ends: Vec<f64> = ends.collect();
    let axis = Axis::linear("", ends.iter().copied().chain([0.0, 100.0]), (picture.room() / 50.0) as usize);
    let margin = Ruler::ARROW + 8.0;
    let ruler = Ruler { axis, ends: [picture.left() + margin, picture.right() - margin] };
    let grey = TextStyle::new(SMALL).in_colour(Colour::Grey);
    let labels = paragraph::body(&mut picture, y + 14.0, grey, words::AXIS) + 4.0;
    let first = labels + 10.0;
    let bottom = first + ROW * (bars.len() + usize::from(answer.feasible)) as f64;
    ruler.grid(&mut picture, [labels + 6.0, bottom]);
    ruler.labels(&mut picture, labels);
    let mut y = first;
    let mut from = 0.0;
    for (bar, to) in bars.iter().zip(&ends) {
        let is_taken = bar.part < 0.0;
        let (fill, pen) = if is_taken { (Fill::Missing, TAKEN) } else { (Fill::from(Colour::Data), ADDED) };
        row(&mut picture, y, &bar.name, &bar.value);
        picture.describe(&format!("{}: {}.", bar.name, bar.value));
        ruler.range(&mut picture, y + ROW - HALF_BAR - 6.0, HALF_BAR, [from, *to], fill, pen);
        (y, from) = (y + ROW, *to);
    }
    let is_taken = bars.iter().any(|bar| bar.part < 0.0);
    let whole = if is_taken { words::LEFT } else { words::WHOLE };
    if answer.feasible {
        row(&mut picture, y, whole, &words::percent(left.max(0.0)));
        ruler.range(&mut picture, y + ROW - HALF_BAR - 6.0, HALF_BAR, [0.0, 100.0 * left], Colour::Ink, LEFT);
    }
    let mut legend = Legend::new([picture.left(), bottom + 18.0], picture.right());
    legend.swatch(&mut picture, words::ADDED, 6.0, Colour::Data, ADDED);
    if is_taken {
        legend.add(&mut picture, words::TAKEN, |picture, at| {
            legend::swatch(picture, at, 6.0, Fill::Missing, TAKEN);
        });
    }
    if answer.feasible {
        legend.swatch(&mut picture, whole, 6.0, Colour::Ink, LEFT);
    }
    notes::finish(&mut picture, legend.bottom() + 8.0, []);
    picture
}

/// What the whole reads, or how much too much is taken away.
fn results(answer: &Combined) -> Vec<todo::Line> {
    let line = |mark: Mark, name: &str, value: String, details: String| todo::Line {
        mark,
        name: name.to_owned(),
        value,
        details,
    };
    if !answer.feasible {
        let shortfall = rounded_stops(answer.shortfall_stops.get());
        return vec![line(Mark::Cross, words::TOO_MUCH, shortfall, String::new())];
    }
    let details = words::against_first(answer);
    let f_number = answer.f_number.as_ref().into_iter().flat_map(|f_number| {
        let reads = f_number.meter.clone().unwrap_or_else(|| f_number.label());
        let is_mark = reads == f_number.label();
        let aperture = line(Mark::Go, words::APERTURE, f_number.label(), String::new());
        let reads = line(Mark::Check, words::READS, reads, details.clone());
        std::iter::once(reads).chain((!is_mark).then_some(aperture))
    });
    let guide = answer.guide_number_m.map(|guide| {
        let value = format!("{} m", digits(guide.get(), 3));
        line(Mark::Check, words::GUIDE_NUMBER, value, details.clone())
    });
    f_number.chain(guide).collect()
}

/// A bar for each of the strongest readings, in their order, and one for the rest of either kind.
fn bars(parts: &[ReadingPart], is_guide: bool, step: Step) -> Vec<Bar> {
    let mut order: Vec<usize> = (0..parts.len()).collect();
    order.sort_by(|a, b| parts[*b].part.abs().total_cmp(&parts[*a].part.abs()));
    let shown = &order[..order.len().min(MOST)];
    let one_side = |is_added: bool| {
        let side = parts.iter().enumerate().filter(move |(_, part)| (part.part > 0.0) == is_added);
        let (drawn, rest): (Vec<_>, Vec<_>) = side.partition(|(index, _)| shown.contains(index));
        let all: f64 = rest.iter().map(|(_, part)| part.part).sum();
        let rest = (!rest.is_empty()).then(|| Bar {
            name: words::more(rest.len()),
            value: words::percent(all.abs()),
            part: all,
        });
        let drawn = drawn.into_iter().map(|(_, part)| Bar {
            name: words::reading(part, is_guide, step),
            value: words::part(part),
            part: part.part,
        });
        drawn.chain(rest).collect::<Vec<_>>()
    };
    let [mut added, taken] = [true, false].map(one_side);
    added.extend(taken);
    added
}

fn row(picture: &mut Picture, y: f64, name: &str, value: &str) {
    let style = TextStyle::new(NORMAL);
    picture.text([picture.left(), y + 14.0], style, name);
    picture.text([picture.right(), y + 14.0], style.anchored(Anchor::End), value);
}
