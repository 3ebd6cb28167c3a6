//! The table of points: the share of each light, and the error against the target.

use crate::{
    drawing::{
        canvas::{
            axis::Axis,
            colour::{Colour, Fill},
            legend::{Legend, swatch},
            paragraph,
            sheet::{Anchor, NORMAL, Pen, Picture, SMALL, SheetPoint, TextStyle},
            text,
        },
        set::{
            MARGIN, Point, Set, Share, WIDTH,
            lights::{AMBIENT_FILL, fill, letter},
        },
    },
    light::{quantity::Stops, set::target::TargetSide},
    wording::phrases::set_picture as words,
};

const ROW: f64 = 42.0;
/// Columns, px: shares, stops, meter reading and error, after the names.
const SHARES: [f64; 2] = [190.0, 456.0];
const STOPS: [f64; 2] = [480.0, 660.0];
const READS: f64 = 678.0;
const OFF: f64 = 772.0;
/// Values farther from the working exposure than this, in stops, are drawn at the edge.
const MAX_STOPS: f64 = 8.0;
const ERROR_BAR: Pen = Pen::new(Colour::Ink, 1.0);
/// The fill of shares that are too small for a letter.
const OTHERS: Fill = Fill::Colour(Colour::Faint);

/// Draws the table from `top` down. Returns its lower edge.
pub fn draw(picture: &mut Picture, set: &Set<'_>, top: f64) -> f64 {
    let clamp = |stops: f64| stops.clamp(-MAX_STOPS, MAX_STOPS);
    let tolerance = set.tolerance.map_or(0.0, Stops::get);
    let shown = set.points.iter().flat_map(|point| {
        let ends = point.target.into_iter().flat_map(move |target| [target - tolerance, target + tolerance]);
        let achieved = point.stops.into_iter().flat_map(|stops| {
            let spread = point.uncertainty.unwrap_or_default();
            [stops, stops + spread[0], stops + spread[1]]
        });
        ends.chain(achieved)
    });
    // At least one stop to each side, so that small errors look small.
    let axis = Axis::stops("", shown.chain([-1.0, 1.0]).map(clamp), 6);
    // Values beyond the axis are drawn at its end, with an arrow.
    let x = |stops: f64| STOPS[0] + (STOPS[1] - STOPS[0]) * axis.fraction(stops).clamp(0.0, 1.0);

    let head = TextStyle::new(SMALL).in_colour(Colour::Grey);
    picture.text([MARGIN, top + 12.0], head, words::POINT);
    picture.text([SHARES[0], top + 12.0], head, words::SHARES);
    paragraph::name(picture, [STOPS[0], top + 16.0], head, words::STOPS, READS - STOPS[0] - 8.0);
    picture.text([READS, top + 12.0], head, words::METER_READS[0]);
    picture.text([READS, top + 28.0], head, words::METER_READS[1]);
    picture.text([OFF, top + 12.0], head, words::OFF);
    let first = top + 52.0;
    let last = first + ROW * set.points.len() as f64;
    for (value, _) in axis.ticks() {
        let pen = if value.abs() < 1e-9 { Pen::new(Colour::Grey, 1.0) } else { Pen::new(Colour::Faint, 1.0) };
        picture.line([x(*value), first - 2.0], [x(*value), last], pen);
    }
    axis.label_ticks(x, SMALL, |at, label| {
        picture.text([at, first - 7.0], head.anchored(Anchor::Middle), label);
    });
    for (number, point) in set.points.iter().enumerate() {
        let y = first + ROW * number as f64;
        let middle = y + ROW / 2.0;
        let gap = point.miss(set.tolerance);
        picture.line([MARGIN, y], [WIDTH - MARGIN, y], Pen::new(Colour::Faint, 0.5));
        let name = format!("{}  {}", number + 1, point.name);
        paragraph::name(picture, [MARGIN, middle], TextStyle::new(NORMAL), &name, SHARES[0] - MARGIN - 10.0);
        bar(picture, &point.shares, set.scene.lights.len(), middle);
        if let Some(target) = point.target {
            let [low, high] = point.wanted(target, tolerance).map(x);
            picture.rectangle(
                [low, middle - 10.0],
                [high, middle + 10.0],
                Colour::Tolerance,
                Pen::new(Colour::Data, 0.75),
            );
            target_mark(picture, [x(target), middle]);
            // The arrow at the end of the axis says that all further on is wanted too.
            if let Some(way) = free_way(point) {
                let end = if way < 0.0 { low } else { high };
                picture.arrow_head([end + way * 11.0, middle], [way, 0.0], Colour::Data);
            }
            beyond(picture, &axis, target, [x(target), middle], Colour::Data);
        }
        if let Some(stops) = point.stops {
            if let Some(ends) = point.uncertainty {
                let ends = ends.map(|off| stops + off);
                picture.error_bar(ends.map(|end| (x(end), axis.contains(end))), middle, ERROR_BAR);
            }
            if let Some(gap) = gap {
                let [from, to] = gap.map(x);
                gap_bar(picture, [from.min(to), from.max(to)], middle);
                missed(picture, [x(stops), middle]);
            } else {
                achieved(picture, [x(stops), middle]);
            }
            let colour = if gap.is_some() { Colour::Wrong } else { Colour::Ink };
            beyond(picture, &axis, stops, [x(stops), middle], colour);
        }
        let usual = TextStyle::new(NORMAL).without_halo();
        picture.shortened([READS, middle + 5.0], usual, &point.reads, OFF - READS - 6.0);
        let style = if gap.is_some() { usual.bold().in_colour(Colour::Wrong) } else { usual };
        picture.shortened([OFF, middle + 5.0], style, &words::off(point.error), WIDTH - OFF - 4.0);
    }
    picture.line([MARGIN, last], [WIDTH - MARGIN, last], Pen::new(Colour::Faint, 0.5));
    draw_legend(picture, set, last + 18.0)
}

/// Draws an arrow if the value lies beyond the axis.
fn beyond(picture: &mut Picture, axis: &Axis, stops: f64, [x, y]: SheetPoint, colour: Colour) {
    if !axis.contains(stops) {
        let way = if axis.fraction(stops) < 0.5 { -1.0 } else { 1.0 };
        picture.arrow_head([x + way * 11.0, y], [way, 0.0], colour);
    }
}

/// The way on which a one-sided target is free: -1 to the left, 1 to the right.
fn free_way(point: &Point<'_>) -> Option<f64> {
    match point.side {
        TargetSide::Both => None,
        TargetSide::AtMost => Some(-1.0),
        TargetSide::AtLeast => Some(1.0),
    }
}

fn achieved(picture: &mut Picture, at: SheetPoint) {
    picture.circle(at, 4.5, Colour::Ink, Pen::new(Colour::Paper, 1.0));
}

fn missed(picture: &mut Picture, at: SheetPoint) {
    picture.cross(at, 5.0, Pen::new(Colour::Wrong, 2.5));
}

/// Draws the gap between the tolerance range and the achieved value.
fn gap_bar(picture: &mut Picture, [from, to]: [f64; 2], middle: f64) {
    picture.rectangle([from, middle - 5.0], [to, middle + 5.0], Fill::Missing, Pen::new(Colour::Wrong, 1.0));
}

fn target_mark(picture: &mut Picture, [x, y]: SheetPoint) {
    picture.line([x, y - 10.0], [x, y + 10.0], Pen::new(Colour::Data, 2.0));
}

/// The width of a share, px.
fn width_px(share: &Share) -> f64 {
    (SHARES[1] - SHARES[0]) * share.percent / 100.0
}

/// Whether a text fits into a share of this width.
fn fits(label: &str, width: f64) -> bool {
    text::width(label, SMALL) + 3.0 < width
}

/// Whether a share is too small for the letter of its light.
fn is_small(light: usize, share: &Share) -> bool {
    !fits(&letter(light), width_px(share))
}

/// The sum of the shares that are too small for a letter, or `None` if it is too small to see.
fn small_shares(shares: &[Share], lights: usize) -> Option<Share> {
    let few = shares.iter().take(lights).enumerate().filter(|(light, share)| is_small(*light, share));
    let all = Share { percent: few.map(|(_, share)| share.percent).sum(), stops: None };
    (width_px(&all) >= 1.0).then_some(all)
}

/// Draws the share of each light, from left to right in the order of the lights, then those that are too small for a
/// letter as one.
fn bar(picture: &mut Picture, shares: &[Share], lights: usize, middle: f64) {
    let mut x = SHARES[0];
    let mut piece = |fill: Fill, name: &str, share: &Share| {
        let (from, to) = (x, x + width_px(share));
        picture.rectangle([from, middle - 9.0], [to, middle + 9.0], fill, Pen::new(Colour::Ink, 0.75));
        let long = words::share(name, share.percent);
        if let Some(label) = [long.as_str(), name].into_iter().find(|label| fits(label, width_px(share))) {
            let style = TextStyle::new(SMALL).anchored(Anchor::Middle);
            picture.text([f64::midpoint(from, to), middle + 5.0], style, label);
        }
        x = to;
    };
    for (index, share) in shares.iter().enumerate().filter(|(_, share)| share.percent > 0.0) {
        // Ambient light has no letter.
        if index >= lights {
            piece(AMBIENT_FILL, words::AMBIENT, share);
        } else if !is_small(index, share) {
            piece(fill(index), &letter(index), share);
        }
    }
    if let Some(small_shares) = small_shares(shares, lights) {
        piece(OTHERS, words::OTHERS, &small_shares);
    }
}

/// Draws the legend. Returns its lower edge.
fn draw_legend(picture: &mut Picture, set: &Set<'_>, y: f64) -> f64 {
    const HALF: f64 = 6.0;
    let lights = set.scene.lights.len();
    let mut legend = Legend::new([MARGIN, y], WIDTH - MARGIN);
    if set.points.iter().any(|point| point.shares.len() > lights) {
        legend.swatch(picture, words::AMBIENT_LIGHT, HALF, AMBIENT_FILL, Pen::new(Colour::Ink, 0.75));
    }
    if set.points.iter().any(|point| small_shares(&point.shares, lights).is_some()) {
        legend.swatch(picture, words::SMALL_SHARES, HALF, OTHERS, Pen::new(Colour::Ink, 0.75));
    }
    let miss = |point: &Point<'_>| point.miss(set.tolerance).is_some();
    if set.points.iter().any(|point| point.stops.is_some() && !miss(point)) {
        legend.add(
            picture,
            if set.tolerance.is_some() { words::ACHIEVED } else { words::LIGHT_THERE },
            achieved,
        );
    }
    if set.points.iter().any(miss) {
        legend.add(picture, words::MISSED, |picture, at| {
            gap_bar(picture, [at[0] - 14.0, at[0]], at[1]);
            missed(picture, at);
        });
    }
    if let Some(tolerance) = set.tolerance {
        legend.add(picture, &words::wanted(tolerance), |picture, at| {
            swatch(picture, at, HALF, Colour::Tolerance, Pen::new(Colour::Data, 0.75));
            target_mark(picture, at);
        });
    }
    if set.points.iter().any(|point| free_way(point).is_some()) {
        legend.add(picture, words::ONE_SIDED, |picture, [x, y]| {
            swatch(picture, [x, y], HALF, Colour::Tolerance, Pen::new(Colour::Data, 0.75));
            target_mark(picture, [x - HALF, y]);
            picture.arrow_head([x + HALF + 8.0, y], [1.0, 0.0], Colour::Data);
        });
    }
    if set.points.iter().any(|point| point.uncertainty.is_some()) {
        legend.error_bar(picture, ERROR_BAR);
    }
    legend.bottom()
}
