//! The light at each point: who gives it, and how far it is from what is wanted.

use crate::{
    drawing::{
        canvas::{
            axis::Axis,
            hatches::HATCHED,
            legend::{Legend, swatch},
            paragraph,
            sheet::{
                Anchor, BLUE, FAINT, GREY, INK, PAPER, Pen, Picture, RIGHT, SMALL, SheetPoint, Type, USUAL,
                WRONG,
            },
            text,
        },
        set::{
            MARGIN, Part, Point, Set, WIDTH,
            lights::{BARE, filling, letter},
        },
    },
    light::quantity::{Stops, nominal::stops_said},
};

const ROW: f64 = 30.0;
/// Columns: names, parts, stops, what a meter reads, how far off that is.
const PARTS: [f64; 2] = [190.0, 470.0];
const STOPS: [f64; 2] = [500.0, 706.0];
const READS: f64 = 722.0;
const OFF: f64 = 788.0;
/// Stops farther from the working exposure than this stand at the edge.
const FARTHEST: f64 = 8.0;
const WHISKER: Pen = Pen::new(INK, 1.0);
/// How shares too small for a letter are filled.
const OTHERS: &str = FAINT;

/// Draws the points from `top` down; answers where they end.
pub fn draw(picture: &mut Picture, set: &Set<'_>, top: f64) -> f64 {
    let clamp = |stops: f64| stops.clamp(-FARTHEST, FARTHEST);
    let tolerance = set.tolerance.map_or(0.0, Stops::get);
    let shown = set.points.iter().flat_map(|point| {
        let ends = point.target.into_iter().flat_map(move |target| [target - tolerance, target + tolerance]);
        let achieved = point.stops.into_iter().flat_map(|stops| {
            let spread = point.uncertainty.map_or([0.0, 0.0], |spread| [spread.low.get(), spread.high.get()]);
            [stops, stops + spread[0], stops + spread[1]]
        });
        ends.chain(achieved)
    });
    // A stop to each side at the least, so that little looks little.
    let axis = Axis::of_stops("", shown.chain([-1.0, 1.0]).map(clamp), 6);
    // What is beyond the axis stands at its end, with an arrow.
    let x = |stops: f64| STOPS[0] + (STOPS[1] - STOPS[0]) * axis.part(stops).clamp(0.0, 1.0);

    let head = Type::new(SMALL).in_colour(GREY);
    picture.text([MARGIN, top + 12.0], head, "point");
    picture.text([PARTS[0], top + 12.0], head, "whose light it is, %");
    picture.text([STOPS[0], top + 12.0], head, "stops against the working exposure");
    picture.text([READS, top + 12.0], head, "a meter");
    picture.text([READS, top + 25.0], head, "reads about");
    picture.text([OFF, top + 12.0], head, "off, stops");
    let first = top + 36.0;
    let last = first + ROW * set.points.len() as f64;
    for (value, _) in axis.ticks() {
        let pen = if value.abs() < 1e-9 { Pen::new(GREY, 1.0) } else { Pen::new(FAINT, 1.0) };
        picture.line([x(*value), first - 2.0], [x(*value), last], pen);
    }
    axis.along(x, SMALL, |at, said| picture.text([at, first - 7.0], head.at(Anchor::Middle), said));
    for (number, point) in set.points.iter().enumerate() {
        let y = first + ROW * number as f64;
        let middle = y + ROW / 2.0;
        let gap = point.misses(set.tolerance);
        picture.line([MARGIN, y], [WIDTH - MARGIN, y], Pen::new(FAINT, 0.5));
        let name = format!("{}  {}", number + 1, point.name);
        paragraph::name(picture, [MARGIN, middle], Type::new(USUAL), &name, PARTS[0] - MARGIN - 10.0);
        bar(picture, &point.parts, set.scene.lamps.len(), middle);
        if let Some(target) = point.target {
            let (low, high) = (x(target - tolerance), x(target + tolerance));
            picture.rectangle([low, middle - 10.0], [high, middle + 10.0], RIGHT, Pen::new(BLUE, 0.75));
            wanted(picture, [x(target), middle]);
            beyond(picture, &axis, target, [x(target), middle], BLUE);
        }
        if let Some(stops) = point.stops {
            if let Some(spread) = point.uncertainty {
                let ends = [spread.low, spread.high].map(|spread| stops + spread.get());
                picture.whisker(ends.map(|end| (x(end), axis.holds(end))), middle, WHISKER);
            }
            if let Some(gap) = gap {
                let [from, to] = gap.map(x);
                lacking(picture, [from.min(to), from.max(to)], middle);
                missed(picture, [x(stops), middle]);
            } else {
                achieved(picture, [x(stops), middle]);
            }
            let colour = if gap.is_some() { WRONG } else { INK };
            beyond(picture, &axis, stops, [x(stops), middle], colour);
        }
        let usual = Type::new(USUAL).uncleared();
        picture.fitted([READS, middle + 4.0], usual, &point.reads, OFF - READS - 6.0);
        let style = if gap.is_some() { usual.bold().in_colour(WRONG) } else { usual };
        picture.fitted([OFF, middle + 4.0], style, &point.off(), WIDTH - OFF - 4.0);
    }
    picture.line([MARGIN, last], [WIDTH - MARGIN, last], Pen::new(FAINT, 0.5));
    key(picture, set, last + 18.0)
}

/// An arrow to what is beyond the axis.
fn beyond(picture: &mut Picture, axis: &Axis, stops: f64, [x, y]: SheetPoint, colour: &'static str) {
    if !axis.holds(stops) {
        let way = if axis.part(stops) < 0.5 { -1.0 } else { 1.0 };
        picture.arrow_head([x + way * 11.0, y], [way, 0.0], colour);
    }
}

fn achieved(picture: &mut Picture, at: SheetPoint) {
    picture.circle(at, 4.5, INK, Pen::new(PAPER, 1.0));
}

fn missed(picture: &mut Picture, at: SheetPoint) {
    picture.cross(at, 5.0, Pen::new(WRONG, 2.5));
}

/// What is between the light that is right and the light that there is.
fn lacking(picture: &mut Picture, [from, to]: [f64; 2], middle: f64) {
    picture.rectangle([from, middle - 5.0], [to, middle + 5.0], HATCHED, Pen::new(WRONG, 1.0));
}

fn wanted(picture: &mut Picture, [x, y]: SheetPoint) {
    picture.line([x, y - 10.0], [x, y + 10.0], Pen::new(BLUE, 2.0));
}

/// How wide a part of the light is drawn.
fn wide(part: &Part) -> f64 {
    (PARTS[1] - PARTS[0]) * part.percent / 100.0
}

/// Whether a text fits into a part of so much width.
fn fits(said: &str, width: f64) -> bool {
    text::width(said, SMALL) + 3.0 < width
}

/// Whether a light's part is too little for its letter.
fn is_little(lamp: usize, part: &Part) -> bool {
    !fits(&letter(lamp), wide(part))
}

/// What is too little for a letter, together; none where that cannot be seen.
fn little(parts: &[Part], lamps: usize) -> Option<Part> {
    let few = parts.iter().take(lamps).enumerate().filter(|(lamp, part)| is_little(*lamp, part));
    let all = Part { percent: few.map(|(_, part)| part.percent).sum(), stops: None };
    (wide(&all) >= 1.0).then_some(all)
}

/// Whose light it is, from left to right in the order of the lights; what is too little for a letter together at the
/// end.
fn bar(picture: &mut Picture, parts: &[Part], lamps: usize, middle: f64) {
    let mut x = PARTS[0];
    let mut piece = |fill: &str, name: &str, part: &Part| {
        let (from, to) = (x, x + wide(part));
        picture.rectangle([from, middle - 9.0], [to, middle + 9.0], fill, Pen::new(INK, 0.75));
        let long = format!("{name} {}", part.percent.round());
        if let Some(said) = [long.as_str(), name].into_iter().find(|said| fits(said, wide(part))) {
            let style = Type::new(SMALL).at(Anchor::Middle);
            picture.text([f64::midpoint(from, to), middle + 4.0], style, said);
        }
        x = to;
    };
    for (index, part) in parts.iter().enumerate().filter(|(_, part)| part.percent > 0.0) {
        // Ambient light is told apart without a letter.
        if index >= lamps {
            piece(BARE, "ambient", part);
        } else if !is_little(index, part) {
            piece(filling(index), &letter(index), part);
        }
    }
    if let Some(little) = little(parts, lamps) {
        piece(OTHERS, "others", &little);
    }
}

/// What the marks mean. How far down that reaches.
fn key(picture: &mut Picture, set: &Set<'_>, y: f64) -> f64 {
    const HALF: f64 = 6.0;
    let lamps = set.scene.lamps.len();
    let mut legend = Legend::new([MARGIN, y], WIDTH - MARGIN);
    if set.points.iter().any(|point| point.parts.len() > lamps) {
        legend.swatch(picture, "ambient light", HALF, BARE, Pen::new(INK, 0.75));
    }
    if set.points.iter().any(|point| little(&point.parts, lamps).is_some()) {
        legend.swatch(picture, "others, each too little for a letter", HALF, OTHERS, Pen::new(INK, 0.75));
    }
    let misses = |point: &Point<'_>| point.misses(set.tolerance).is_some();
    if set.points.iter().any(|point| point.stops.is_some() && !misses(point)) {
        legend.add(picture, if set.tolerance.is_some() { "achieved" } else { "the light there" }, achieved);
    }
    if set.points.iter().any(misses) {
        legend.add(picture, "missed", |picture, at| {
            lacking(picture, [at[0] - 14.0, at[0]], at[1]);
            missed(picture, at);
        });
    }
    if let Some(tolerance) = set.tolerance {
        legend.add(picture, &format!("wanted, within {}", stops_said(tolerance.get())), |picture, at| {
            swatch(picture, at, HALF, RIGHT, Pen::new(BLUE, 0.75));
            wanted(picture, at);
        });
    }
    if set.points.iter().any(|point| point.uncertainty.is_some()) {
        legend.whisker(picture, WHISKER);
    }
    legend.bottom()
}
