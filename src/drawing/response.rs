//! Levels of a file by exposure: the frames, the curve through them, and what lies between levels.

mod brackets;

use crate::{
    drawing::canvas::{
        axis::Axis,
        labels::Labels,
        legend::Legend,
        notes,
        panel::{BELOW, LEFT, Panel},
        sheet::{BLUE, GREY, INK, PAPER, Pen, Picture, SMALL, SheetPoint, Type, USUAL},
        text::{digits, number, signed, with_stops},
    },
    light::{
        measure::response::{Between, Fit, FrameFit, Question},
        quantity::Number,
        remark::listed,
    },
};

const WIDTH: f64 = 760.0;
const HEIGHT: f64 = 360.0;
/// Spots of a curve.
const SPOTS: usize = 160;
/// Frames that are told one by one in the description.
const LABELLED: usize = 24;
/// Frames, at the most, whose labels tell what a stop is there.
const WITH_SLOPES: usize = 12;
/// Pairs of levels that are drawn.
const BRACKETS: usize = 6;
/// Levels are drawn over the whole of their range, unless they take less than this part of it.
const LEAST_PART: f64 = 0.2;

const CURVE: Pen = Pen::new(BLUE, 2.0);
const STRAIGHT: Pen = Pen::new(BLUE, 1.5).dashed("6 4");

/// Draws an answer of `patches/response`.
pub fn draw(question: &Question, answer: &Fit) -> Picture {
    let encoding = question.encoding;
    let mut picture = Picture::new(WIDTH, "Level by exposure", &described(question, answer));
    let of = format!(
        "One patch in {} frames; levels of {} bits, {}; exposure against the first frame",
        answer.frames.len(),
        encoding.bits,
        encoding.space.said()
    );
    picture.text([20.0, 54.0], Type::new(USUAL).in_colour(GREY), &of);
    let under = legend(&mut picture, answer);

    let brackets = &answer.between[..answer.between.len().min(BRACKETS)];
    let top = under + 12.0 + brackets::ROW * brackets.len() as f64;
    let panel = Panel {
        from: [LEFT + 10.0, top],
        to: [WIDTH - 24.0, top + HEIGHT],
        x: exposures(answer, brackets),
        y: levels(question, answer),
    };
    panel.draw(&mut picture);
    let mut labels = Labels::default();
    curve(&mut picture, &panel, answer, encoding.greatest(), &mut labels);
    brackets::draw(&mut picture, &panel, answer, brackets, &mut labels);
    frames(&mut picture, &panel, answer, &mut labels);
    let mut y = top + HEIGHT + BELOW + 22.0;
    if answer.between.len() > BRACKETS {
        let more = format!(
            "{} more pairs of levels stand in the answer as JSON or text.",
            answer.between.len() - BRACKETS
        );
        picture.text([20.0, y], Type::new(SMALL).in_colour(GREY), &more);
        y += 20.0;
    }
    notes::end(&mut picture, y, &answer.warnings);
    picture
}

/// What marks and lines mean. How far down that reaches.
fn legend(picture: &mut Picture, answer: &Fit) -> f64 {
    let mut legend = Legend::new([20.0, 78.0], WIDTH - 20.0);
    let told = if has_slopes(answer) { "frame: its level, levels a stop there" } else { "frame: its level" };
    legend.add(picture, told, frame);
    if answer.frames.iter().any(|frame| frame.clipped) {
        legend.add(picture, "clipped, left out", clipped);
    }
    legend.line(picture, "fitted curve", CURVE);
    legend.line(picture, "straight beyond the frames", STRAIGHT);
    if pooled(answer).next().is_some() {
        legend.add(picture, "mean of frames taken together", mean);
    }
    legend.bottom()
}

fn frame(picture: &mut Picture, at: SheetPoint) {
    picture.circle(at, 4.0, INK, Pen::new(PAPER, 1.0));
}

fn clipped(picture: &mut Picture, at: SheetPoint) {
    picture.circle(at, 5.0, PAPER, Pen::new(INK, 1.2));
    picture.cross(at, 3.5, Pen::new(INK, 1.2));
}

fn mean(picture: &mut Picture, [x, y]: SheetPoint) {
    let corners = [[x, y - 6.0], [x + 6.0, y], [x, y + 6.0], [x - 6.0, y]];
    picture.shape(&corners, PAPER, Pen::new(BLUE, 1.5));
}

/// Points of the curve, level and stops, that are no frame's own.
fn pooled(answer: &Fit) -> impl Iterator<Item = [f64; 2]> {
    let is_frame = |[level, stops]: [f64; 2]| {
        let near = |frame: &FrameFit| {
            (frame.level.get() - level).abs() < 1e-9 && (frame.stops.get() - stops).abs() < 1e-9
        };
        answer.frames.iter().any(|frame| !frame.clipped && near(frame))
    };
    answer.response.curve.points().iter().copied().filter(move |point| !is_frame(*point))
}

/// The axis of exposures: it holds all frames, and the levels of pairs unless these lie far beyond.
fn exposures(answer: &Fit, brackets: &[Between]) -> Axis {
    let frames = || answer.frames.iter().map(|frame| frame.stops.get());
    let (least, most) = frames().fold((0.0_f64, 0.0_f64), |(low, high), x| (low.min(x), high.max(x)));
    let beyond = (0.5 * (most - least)).max(0.5);
    let curve = &answer.response.curve;
    let ends = brackets.iter().flat_map(|between| [between.from, between.to]);
    let ends = ends.map(|level| curve.at(level.get()).clamp(least - beyond, most + beyond));
    Axis::of_stops("exposure against the first frame, stops", frames().chain(ends), 10).with_margin(0.02)
}

/// The axis of levels.
fn levels(question: &Question, answer: &Fit) -> Axis {
    const PARTS: u32 = 8;
    let greatest = question.encoding.greatest();
    let title = format!("level (of 0 to {})", number(greatest));
    let between = answer.between.iter().take(BRACKETS).flat_map(|between| [between.from, between.to]);
    let levels = || answer.frames.iter().map(|frame| frame.level).chain(between.clone());
    let (least, most) = levels()
        .fold((greatest, 0.0_f64), |(low, high), level| (low.min(level.get()), high.max(level.get())));
    if most - least < LEAST_PART * greatest {
        return Axis::of_numbers(title, levels().map(Number::get), 8);
    }
    // Eighths of the range: 0, 32, 64 … 255.
    let tick = |part: u32| ((greatest + 1.0) * f64::from(part) / f64::from(PARTS)).min(greatest);
    Axis::of_names(title, (0..=PARTS).map(tick).map(|level| (level, number(level))).collect())
}

/// The curve, straight and dashed beyond its points.
fn curve(picture: &mut Picture, panel: &Panel, answer: &Fit, greatest: f64, labels: &mut Labels) {
    let curve = &answer.response.curve;
    let points = curve.points();
    let stands = |level: f64| [curve.at(level), level];
    let each = SPOTS.div_ceil(points.len().max(2) - 1);
    let pieces = points.windows(2).flat_map(|pair| {
        let [from, to] = [pair[0][0], pair[1][0]];
        (0..each).map(move |spot| from + (to - from) * spot as f64 / each as f64)
    });
    let ends = points.first().zip(points.last()).map(|(first, last)| [first[0], last[0]]);
    let within: Vec<[f64; 2]> = pieces.chain(ends.map(|[_, last]| last)).map(stands).collect();
    for [from, to] in ends.into_iter().flat_map(|[first, last]| [[first, 0.0], [last, greatest]]) {
        if let Some(drawn) = panel.straight(picture, [stands(from), stands(to)], STRAIGHT) {
            labels.keep_line_free(drawn);
        }
    }
    labels.keep_path_free(&panel.curve(picture, &within, CURVE));
}

fn frames(picture: &mut Picture, panel: &Panel, answer: &Fit, labels: &mut Labels) {
    let spot = |frame: &FrameFit| panel.at(frame.stops.get(), frame.level.get());
    for [level, stops] in pooled(answer) {
        let at = panel.at(stops, level);
        mean(picture, at);
        labels.keep_free(at, [6.0, 6.0]);
    }
    for told in &answer.frames {
        let mark = if told.clipped { clipped } else { frame };
        mark(picture, spot(told));
        labels.keep_free(spot(told), [5.0, 5.0]);
    }
    // The brighter first, above: clipped ones stand at the ends of the axis, which say their level.
    let mut told: Vec<&FrameFit> = answer.frames.iter().filter(|frame| !frame.clipped).collect();
    told.sort_by(|a, b| b.level.get().total_cmp(&a.level.get()));
    for frame in told {
        let mut said = number(frame.level.get());
        if let Some(slope) = frame.slope_levels_per_stop.filter(|_| has_slopes(answer)) {
            said = format!("{said}, {} a stop", slope_said(slope));
        }
        // Of few frames also farther away, where there is no room near.
        let within = [panel.from, panel.to];
        let mut beside = |away| labels.beside(picture, spot(frame), away, Type::new(SMALL), &said, within);
        let _ = beside(8.0) || (has_slopes(answer) && beside(20.0));
    }
}

/// Levels a stop: no finer than the levels that it comes from.
fn slope_said(slope: Number) -> String {
    digits(slope.get(), if slope.get() < 100.0 { 2 } else { 3 })
}

/// Whether there is room to tell of each frame what a stop is there.
fn has_slopes(answer: &Fit) -> bool {
    answer.frames.len() <= WITH_SLOPES
}

fn said(between: &Between) -> String {
    let [from, to] = [between.from, between.to].map(|level| number(level.get()));
    let how = if between.extrapolated { ", extrapolated" } else { "" };
    format!("{from} to {to}: {}{how}", with_stops(&signed(between.stops.get())))
}

/// The same for those who do not see it.
fn described(question: &Question, answer: &Fit) -> String {
    let frame = |frame: &FrameFit| {
        let (level, stops) = (number(frame.level.get()), with_stops(&signed(frame.stops.get())));
        let slope = frame.slope_levels_per_stop.map(|slope| format!(", {} levels a stop", slope_said(slope)));
        let how = if frame.clipped { ", clipped".to_owned() } else { slope.unwrap_or_default() };
        format!("level {level} at {stops}{how}")
    };
    let pairs: Vec<String> = answer.between.iter().take(LABELLED).map(said).collect();
    let pairs =
        if pairs.is_empty() { String::new() } else { format!(" Between levels: {}.", pairs.join("; ")) };
    format!(
        "A rising curve through {} frames of one patch, levels of {} bits. Frames: {}.{pairs}",
        answer.frames.len(),
        question.encoding.bits,
        listed(answer.frames.iter().map(frame), LABELLED)
    )
}
