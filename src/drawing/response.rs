//! The picture of a response curve: levels by exposure, with the frames and the stops between pairs of levels.

mod brackets;

use crate::{
    drawing::canvas::{
        axis::Axis,
        colour::Colour,
        labels::Labels,
        legend::Legend,
        notes,
        panel::{self, BELOW, Panel},
        paragraph,
        sheet::{Pen, Picture, SMALL, SheetPoint, TextStyle},
    },
    light::{
        measure::response::{Between, Fit, FrameFit, ResponseQuestion},
        quantity::Number,
    },
    wording::{
        format::number,
        phrases::{self, response_picture as words},
        summary::Summary,
    },
};

const HEIGHT: f64 = 360.0;
/// The least number of points of a curve.
const SPOTS: usize = 160;
/// The most frames in the description.
const LABELLED: usize = 24;
/// The most frames for which labels give the levels per stop.
const MAX_WITH_SLOPES: usize = 12;
/// The most pairs of levels that are drawn.
const MAX_BRACKETS: usize = 6;
/// The most pairs of levels that are listed.
const MAX_LISTED: usize = 12;
/// The level axis shows the full range, unless the levels span less than this fraction of it.
const MIN_FRACTION: f64 = 0.2;

const CURVE: Pen = Pen::new(Colour::Data, 2.0);
const STRAIGHT: Pen = Pen::new(Colour::Data, 1.5).dashed("6 4");

/// Draws an answer of `patches/response`.
pub fn draw(question: &ResponseQuestion, answer: &Fit, width: f64) -> Picture {
    let encoding = question.encoding;
    let summary = answer.summary();
    let description = words::description(&summary, question, answer, LABELLED);
    let mut picture = Picture::new(width, words::TITLE, &description);
    let y = paragraph::headline(&mut picture, &summary);
    let heading = words::heading(question, answer);
    let y = paragraph::details(&mut picture, y, &heading);
    let legend_bottom = legend(&mut picture, answer, y + 2.0);

    let brackets = &answer.between[..answer.between.len().min(MAX_BRACKETS)];
    let above = brackets::ROW * brackets.len() as f64;
    let top = legend_bottom + 12.0 + above;
    let corners = panel::across(&picture, top, HEIGHT);
    let [from, to] = corners;
    let x = exposures(answer, brackets, Panel::ticks(corners, 64.0));
    let panel = Panel { from, to, x, y: levels(question, answer), above };
    panel.draw(&mut picture);
    let mut labels = Labels::default();
    curve(&mut picture, &panel, answer, encoding.greatest(), &mut labels);
    brackets::draw(&mut picture, &panel, answer, brackets, &mut labels);
    frames(&mut picture, &panel, answer, &mut labels);
    let mut y = to[1] + BELOW + 22.0;
    let pairs: Vec<String> =
        answer.between.iter().enumerate().map(|(index, it)| words::numbered(index, it)).collect();
    let listed = pairs.len().min(MAX_LISTED);
    y = notes::list(&mut picture, y, words::PAIRS, &pairs[..listed], pairs.len() - listed);
    notes::finish(&mut picture, y, phrases::remarks(&answer.warnings, &[]));
    picture
}

/// Draws the legend. Returns its lower edge.
fn legend(picture: &mut Picture, answer: &Fit, y: f64) -> f64 {
    let mut legend = Legend::new([picture.left(), y], picture.right());
    legend.add(picture, words::frame_mark(has_slopes(answer)), frame);
    if answer.frames.iter().any(|frame| frame.clipped) {
        legend.add(picture, words::CLIPPED, clipped);
    }
    legend.line(picture, words::CURVE, CURVE);
    legend.line(picture, words::STRAIGHT, STRAIGHT);
    if pooled(answer).next().is_some() {
        legend.add(picture, words::MEAN, mean);
    }
    legend.bottom()
}

fn frame(picture: &mut Picture, at: SheetPoint) {
    picture.circle(at, 4.0, Colour::Ink, Pen::new(Colour::Paper, 1.0));
}

fn clipped(picture: &mut Picture, at: SheetPoint) {
    picture.circle(at, 5.0, Colour::Paper, Pen::new(Colour::Ink, 1.2));
    picture.cross(at, 3.5, Pen::new(Colour::Ink, 1.2));
}

fn mean(picture: &mut Picture, [x, y]: SheetPoint) {
    let corners = [[x, y - 6.0], [x + 6.0, y], [x, y + 6.0], [x - 6.0, y]];
    picture.shape(&corners, Colour::Paper, Pen::new(Colour::Data, 1.5));
}

/// Points of the curve, level and stops, that are means of several frames and not frames themselves.
fn pooled(answer: &Fit) -> impl Iterator<Item = [f64; 2]> {
    let is_frame = |[level, stops]: [f64; 2]| {
        let near = |frame: &FrameFit| {
            (frame.level.get() - level).abs() < 1e-9 && (frame.stops.get() - stops).abs() < 1e-9
        };
        answer.frames.iter().any(|frame| !frame.clipped && near(frame))
    };
    answer.response.curve.points().iter().copied().filter(move |point| !is_frame(*point))
}

/// The exposure axis: contains all frames, and the levels of pairs unless these lie far outside.
fn exposures(answer: &Fit, brackets: &[Between], max_ticks: usize) -> Axis {
    let frames = || answer.frames.iter().map(|frame| frame.stops.get());
    let (least, most) = frames().fold((0.0_f64, 0.0_f64), |(low, high), x| (low.min(x), high.max(x)));
    let beyond = (0.5 * (most - least)).max(0.5);
    let curve = &answer.response.curve;
    let ends = brackets.iter().flat_map(|between| [between.from, between.to]);
    let ends = ends.map(|level| curve.at(level.get()).clamp(least - beyond, most + beyond));
    Axis::stops(words::EXPOSURE_AXIS, frames().chain(ends), max_ticks).with_margin(0.02)
}

/// The level axis.
fn levels(question: &ResponseQuestion, answer: &Fit) -> Axis {
    const PARTS: u32 = 8;
    let greatest = question.encoding.greatest();
    let title = words::level_axis(greatest);
    let between = answer.between.iter().take(MAX_BRACKETS).flat_map(|between| [between.from, between.to]);
    let levels = || answer.frames.iter().map(|frame| frame.level).chain(between.clone());
    let (least, most) = levels()
        .fold((greatest, 0.0_f64), |(low, high), level| (low.min(level.get()), high.max(level.get())));
    if most - least < MIN_FRACTION * greatest {
        return Axis::linear(title, levels().map(Number::get), 8);
    }
    // Eighths of the range: 0, 32, 64 … 255.
    let tick = |part: u32| ((greatest + 1.0) * f64::from(part) / f64::from(PARTS)).min(greatest);
    Axis::with_ticks(title, (0..=PARTS).map(tick).map(|level| (level, number(level))).collect())
}

/// Draws the curve, extrapolated as dashed straight lines.
fn curve(picture: &mut Picture, panel: &Panel, answer: &Fit, greatest: f64, labels: &mut Labels) {
    let curve = &answer.response.curve;
    let points = curve.points();
    let point = |level: f64| [curve.at(level), level];
    let each = SPOTS.div_ceil(points.len().max(2) - 1);
    let pieces = points.windows(2).flat_map(|pair| {
        let [from, to] = [pair[0][0], pair[1][0]];
        (0..each).map(move |step| from + (to - from) * step as f64 / each as f64)
    });
    let ends = points.first().zip(points.last()).map(|(first, last)| [first[0], last[0]]);
    let within: Vec<[f64; 2]> = pieces.chain(ends.map(|[_, last]| last)).map(point).collect();
    for [from, to] in ends.into_iter().flat_map(|[first, last]| [[first, 0.0], [last, greatest]]) {
        if let Some(drawn) = panel.straight(picture, [point(from), point(to)], STRAIGHT) {
            labels.reserve_line(drawn);
        }
    }
    labels.reserve_path(&panel.curve(picture, &within, CURVE));
}

fn frames(picture: &mut Picture, panel: &Panel, answer: &Fit, labels: &mut Labels) {
    let position = |frame: &FrameFit| panel.to_sheet(frame.stops.get(), frame.level.get());
    for [level, stops] in pooled(answer) {
        let at = panel.to_sheet(stops, level);
        mean(picture, at);
        labels.reserve(at, [6.0, 6.0]);
    }
    for each in &answer.frames {
        let mark = if each.clipped { clipped } else { frame };
        mark(picture, position(each));
        labels.reserve(position(each), [5.0, 5.0]);
    }
    // The brightest first, at the top. Clipped frames lie at the ends of the axis, whose ticks give their level.
    let mut by_level: Vec<&FrameFit> = answer.frames.iter().filter(|frame| !frame.clipped).collect();
    by_level.sort_by(|a, b| b.level.get().total_cmp(&a.level.get()));
    for frame in by_level {
        let label = words::frame(frame, has_slopes(answer));
        // With few frames, a label may also be farther away if there is no room nearby.
        let within = [panel.from, panel.to];
        let mut beside =
            |away| labels.beside(picture, position(frame), away, TextStyle::new(SMALL), &label, within);
        let is_written = beside(8.0) || (has_slopes(answer) && beside(20.0));
        if !is_written && has_slopes(answer) {
            labels.with_leader(picture, position(frame), TextStyle::new(SMALL), &label, within);
        }
    }
}

/// Whether there is room for the levels per stop in each frame's label.
fn has_slopes(answer: &Fit) -> bool {
    answer.frames.len() <= MAX_WITH_SLOPES
}
