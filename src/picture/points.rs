//! The light at each point: who gives it, and how far it is from what is wanted.

use super::{
    axis::Axis,
    lights::{self, BARE, filling, letter},
    set::{MARGIN, Part, Set, WIDTH},
    sheet::{Anchor, BLUE, FAINT, GREY, INK, PAPER, Pen, Picture, RIGHT, SMALL, Type, USUAL},
    text,
};

const ROW: f64 = 30.0;
/// Columns: names, parts, stops, what is said.
const PARTS: [f64; 2] = [190.0, 470.0];
const STOPS: [f64; 2] = [500.0, 735.0];
const SAID: f64 = 748.0;
/// Stops farther from the working exposure than this stand at the edge.
const FARTHEST: f64 = 8.0;

/// Draws the points from `top` down; answers where they end.
pub fn draw(picture: &mut Picture, set: &Set<'_>, top: f64) -> f64 {
    let clamp = |stops: f64| stops.clamp(-FARTHEST, FARTHEST);
    let tolerance = set.tolerance.unwrap_or_default();
    let shown = set.points.iter().flat_map(|point| {
        let ends = point.target.into_iter().flat_map(move |target| [target - tolerance, target + tolerance]);
        let achieved = point.stops.into_iter().flat_map(|stops| {
            let spread = point.uncertainty.map_or([0.0, 0.0], |spread| [spread.low.get(), spread.high.get()]);
            [stops, stops + spread[0], stops + spread[1]]
        });
        ends.chain(achieved)
    });
    let axis = Axis::of_stops("", shown.chain([0.0]).map(clamp), 6);
    let x = |stops: f64| STOPS[0] + (STOPS[1] - STOPS[0]) * axis.part(clamp(stops)).clamp(0.0, 1.0);

    let head = Type::new(SMALL).in_colour(GREY);
    picture.text([MARGIN, top + 12.0], head, "point");
    picture.text([PARTS[0], top + 12.0], head, "whose light it is, %");
    picture.text([STOPS[0], top + 12.0], head, "stops against the working exposure");
    picture.text([SAID, top + 12.0], head, "metered, stops");
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
        picture.line([MARGIN, y], [WIDTH - MARGIN, y], Pen::new(FAINT, 0.5));
        let name = format!("{}  {}", number + 1, point.name);
        picture.fitted([MARGIN, middle + 4.0], Type::new(USUAL), &name, PARTS[0] - MARGIN - 10.0);
        bar(picture, &point.parts, set.scene.lamps.len(), middle);
        if let Some(target) = point.target {
            let (low, high) = (x(target - tolerance), x(target + tolerance));
            picture.rectangle([low, middle - 10.0], [high, middle + 10.0], RIGHT, Pen::new(BLUE, 0.75));
            picture.line([x(target), middle - 10.0], [x(target), middle + 10.0], Pen::new(BLUE, 2.0));
        }
        if let Some(stops) = point.stops {
            if let Some(spread) = point.uncertainty {
                let (low, high) = (x(stops + spread.low.get()), x(stops + spread.high.get()));
                let pen = Pen::new(INK, 1.0);
                picture.line([low, middle], [high, middle], pen);
                picture.line([low, middle - 4.0], [low, middle + 4.0], pen);
                picture.line([high, middle - 4.0], [high, middle + 4.0], pen);
            }
            let misses = point.target.is_some_and(|target| (stops - target).abs() > tolerance + 1e-9);
            if misses {
                picture.cross([x(stops), middle], 5.0, Pen::new(INK, 2.5));
            } else {
                picture.circle([x(stops), middle], 4.5, INK, Pen::new(PAPER, 1.0));
            }
            if stops.abs() > FARTHEST {
                let way = stops.signum();
                let tip = x(stops) + way * 10.0;
                picture.shape(
                    [[tip, middle], [tip - way * 6.0, middle - 4.0], [tip - way * 6.0, middle + 4.0]]
                        .as_ref(),
                    INK,
                    Pen::new(INK, 0.0),
                );
            }
        }
        picture.text([SAID, middle + 4.0], Type::new(USUAL), &point.said);
    }
    picture.line([MARGIN, last], [WIDTH - MARGIN, last], Pen::new(FAINT, 0.5));
    key(picture, set, last + 18.0)
}

/// Whose light it is, from left to right in the order of the lights.
fn bar(picture: &mut Picture, parts: &[Part], lamps: usize, middle: f64) {
    let (top, bottom) = (middle - 9.0, middle + 9.0);
    let mut x = PARTS[0];
    for (index, part) in parts.iter().enumerate().filter(|(_, part)| part.percent > 0.0) {
        let end = x + (PARTS[1] - PARTS[0]) * part.percent / 100.0;
        let fill = if index < lamps { filling(index) } else { BARE };
        picture.rectangle([x, top], [end, bottom], fill, Pen::new(INK, 0.75));
        let name = if index < lamps { letter(index) } else { "ambient".to_owned() };
        let long = format!("{name} {}", part.percent.round());
        let style = Type::new(SMALL).at(Anchor::Middle);
        if let Some(said) = [long, name].into_iter().find(|said| text::width(said, SMALL) + 4.0 < end - x) {
            picture.text([f64::midpoint(x, end), middle + 4.0], style, &said);
        }
        x = end;
    }
}

/// What the marks mean.
fn key(picture: &mut Picture, set: &Set<'_>, y: f64) -> f64 {
    let style = Type::new(SMALL).in_colour(GREY);
    let mut x = STOPS[0];
    let mut said = |picture: &mut Picture, width: f64, words: &str| {
        picture.text([x + width, y + 4.0], style, words);
        x += width + text::width(words, SMALL) + 14.0;
        x
    };
    if set.points.iter().any(|point| point.parts.len() > set.scene.lamps.len()) {
        picture.rectangle([PARTS[0], y - 6.0], [PARTS[0] + 18.0, y + 6.0], BARE, Pen::new(INK, 0.75));
        picture.text([PARTS[0] + 24.0, y + 4.0], style, "ambient light");
    }
    picture.circle([STOPS[0] + 5.0, y], 4.5, INK, Pen::new(PAPER, 1.0));
    let mut next = said(picture, 14.0, "achieved");
    if let Some(tolerance) = set.tolerance {
        picture.cross([next + 5.0, y], 5.0, Pen::new(INK, 2.5));
        next = said(picture, 14.0, "missed");
        picture.rectangle([next, y - 6.0], [next + 18.0, y + 6.0], RIGHT, Pen::new(BLUE, 0.75));
        picture.line([next + 9.0, y - 6.0], [next + 9.0, y + 6.0], Pen::new(BLUE, 2.0));
        next = said(picture, 24.0, &format!("wanted, within {}", text::stops(tolerance)));
    }
    if set.points.iter().any(|point| point.uncertainty.is_some()) {
        picture.line([next, y], [next + 18.0, y], Pen::new(INK, 1.0));
        said(picture, 24.0, "may be so far off");
    }
    lights::LINE.mul_add(0.5, y)
}
