//! The picture of motion: the blur by setting, the flash over time with the shutter's window, and a train of flashes.

mod blur;

use crate::{
    drawing::canvas::{
        axis::Axis,
        colour::{Colour, Fill},
        labels::Labels,
        legend::{self, Legend},
        marks::Mark,
        notes,
        panel::{self, BELOW, Panel},
        paragraph,
        ruler::Ruler,
        sheet::{NORMAL, Pen, Picture, SMALL, TextStyle},
        todo,
    },
    light::{
        measure::{
            motion::{Freeze, FreezeQuestion},
            train::Train,
        },
        quantity::{Number, Seconds},
    },
    wording::{
        phrases::{self, motion_picture as words},
        summary::Summary,
    },
};

const HEIGHT: f64 = 220.0;
/// How far the axis of time goes on after the longer duration, as a part of it.
const AFTER: f64 = 1.3;
/// The most flashes of a train that are drawn one by one.
const MOST_FLASHES: u32 = 60;
const STRIP: f64 = 40.0;
/// The height of the strip where the shutter is closed, px.
const CLOSED: f64 = 14.0;

const CURVE: Pen = Pen::new(Colour::Data, 2.5);
const DURATION: Pen = Pen::new(Colour::Ink, 1.5);
const MISSED: Pen = Pen::new(Colour::Wrong, 2.0).dashed("4 3");
const NO_EDGE: Pen = Pen::new(Colour::Tolerance, 0.0);

/// Draws an answer of `motion/freeze`. `decay` has the light of the flash after its peak, as time in seconds and part of the
/// peak.
pub fn draw(question: &FreezeQuestion, answer: &Freeze, decay: &[[f64; 2]], width: f64) -> Picture {
    let summary = answer.summary();
    let description = words::description(&summary, question, answer);
    let mut picture = Picture::new(width, words::TITLE, &description);
    let y = paragraph::headline(&mut picture, &summary) + 4.0;
    let mut y = todo::draw(&mut picture, y, &what_to_do(question, answer)) + 10.0;
    y = blur::draw(&mut picture, y, question, answer);
    if let Some(longest) = answer.t0_1_s {
        y = flash(&mut picture, y, question, answer, decay, longest);
    }
    if let Some(train) = &answer.train {
        y = train_strip(&mut picture, y, question, train);
    }
    notes::finish(&mut picture, y, phrases::remarks(&answer.warnings, &answer.cautions));
    picture
}

/// The verdict, and what would be sharp.
fn what_to_do(question: &FreezeQuestion, answer: &Freeze) -> Vec<todo::Line> {
    let line = |mark: Mark, name: &str, value: String, details: String| todo::Line {
        mark,
        name: name.to_owned(),
        value,
        details,
    };
    let in_pixels = question.pixel_m.is_some();
    let sharpness = &answer.sharpness;
    let needed = answer.train.as_ref().and_then(|train| train.needed_exposure_time.as_ref());
    let is_short = answer.train.as_ref().is_some_and(|train| train.long_enough != Some(true));
    let needed = needed.filter(|_| is_short);
    let needed =
        needed.map(|time| line(Mark::Go, words::EXPOSURE_TIME, time.label(), words::AT_LEAST.to_owned()));
    let blur = blur::in_unit(sharpness, in_pixels).map(|blur| {
        let mark = match sharpness.sharp {
            Some(true) => Mark::Check,
            Some(false) => Mark::Cross,
            None => Mark::Dot,
        };
        let allowed = blur::allowed(question).map(|allowed| words::blur(allowed, in_pixels));
        let at_subject = sharpness.blur_m.map(Number::get).filter(|_| in_pixels);
        line(mark, words::BLURRED, words::blur(blur, in_pixels), words::blur_details(allowed, at_subject))
    });
    let is_missed = sharpness.sharp != Some(true);
    let longest = answer.longest_t0_1_s.filter(|_| is_missed);
    let longest = longest.map(|time| {
        line(Mark::Go, words::LONGEST_T0_1, words::short_time(time.get()), words::AT_MOST.to_owned())
    });
    let fastest = sharpness.fastest_subject_m_s;
    let fastest =
        fastest.map(|speed| line(Mark::Dot, words::FASTEST, words::speed(speed.get()), String::new()));
    let lit = answer.frame_share.filter(|share| share.get() < 1.0);
    let lit = lit.map(|share| line(Mark::Cross, words::LIT, words::percent(share.get()), String::new()));
    let apart = answer.train.as_ref().and_then(|train| train.spacing_m);
    let apart =
        apart.map(|spacing| line(Mark::Dot, words::APART, words::metres(spacing.get()), String::new()));
    [needed, blur, longest, fastest, lit, apart].into_iter().flatten().collect()
}

/// Draws the flash over time, from `top` down. Returns the position of the next line.
fn flash(
    picture: &mut Picture,
    top: f64,
    question: &FreezeQuestion,
    answer: &Freeze,
    decay: &[[f64; 2]],
    longest: Seconds,
) -> f64 {
    const MS: f64 = 1000.0;
    let end = longest.get() * AFTER;
    let open = question.exposure_time.filter(|_| question.train.is_none());
    let mut legend = Legend::new([picture.left(), top + 12.0], picture.right());
    if decay.is_empty() {
        legend.text(picture, words::FORM_UNKNOWN);
    } else {
        legend.line(picture, words::CURVE, CURVE);
    }
    let is_closed = open.is_some_and(|open| open.get() < end);
    if let Some(open) = open {
        legend.swatch(picture, &words::open(open), 6.0, Colour::Tolerance, NO_EDGE);
        if is_closed {
            legend.add(picture, words::CUT, |picture, at| {
                legend::swatch(picture, at, 6.0, Fill::Missing, Pen::new(Colour::Wrong, 0.0));
            });
        }
    }
    let corners = panel::across(picture, legend.bottom() + 10.0, HEIGHT);
    let [from, to] = corners;
    // The label of the longer duration is to the right of its mark.
    let room = TextStyle::new(NORMAL).width(&words::duration("t0.1", longest)) + 24.0;
    let ticks = words::PARTS.map(|(part, label)| (part, label.to_owned()));
    let x = Axis::linear(words::TIME_AXIS, [0.0, end * MS].into_iter(), Panel::ticks(corners, 64.0))
        .with_room_after(longest.get() * MS, room / (to[0] - from[0]));
    let y = Axis::with_ticks(words::LIGHT_AXIS, ticks.into()).with_room_after(1.0, 0.08);
    let panel = Panel { from, to, x, y, above: 0.0 };
    let [_, last] = panel.x.range();
    if let Some(open) = open {
        let closes = (open.get() * MS).min(last);
        let edge = panel.to_sheet(closes, 0.0);
        picture.rectangle([from[0], from[1]], edge, Colour::Tolerance, NO_EDGE);
        if closes < last {
            // Labels stand below this strip.
            let strip = [to[0], from[1] + CLOSED];
            picture.rectangle([edge[0], from[1]], strip, Fill::Missing, Pen::new(Colour::Wrong, 0.0));
            picture.line([edge[0], from[1]], [edge[0], to[1]], Pen::new(Colour::Wrong, 1.5));
        }
    }
    panel.draw(picture);
    let scaled: Vec<[f64; 2]> = decay.iter().map(|[time, part]| [time * MS, *part]).collect();
    let mut labels = Labels::default();
    if !scaled.is_empty() {
        labels.reserve_path(&panel.curve(picture, &scaled, CURVE));
    }
    for (name, part, time) in [("t0.5", 0.5, answer.t0_5_s), ("t0.1", 0.1, answer.t0_1_s)] {
        let Some(time) = time else { continue };
        let [right, y] = panel.to_sheet(time.get() * MS, part);
        picture.error_bar([(from[0], false), (right, true)], y, DURATION);
        Mark::Diamond.draw(picture, [right, y], 4.0);
        labels.reserve([right, y], [6.0, 6.0]);
        let label = words::duration(name, time);
        labels.beside(picture, [right, y], 9.0, TextStyle::new(NORMAL), &label, [from, to]);
    }
    let mut y = to[1] + BELOW + 16.0;
    if let Some(lost) = words::lost(answer) {
        picture.describe(&lost);
        y = paragraph::body(picture, y, TextStyle::new(NORMAL), &lost) + 4.0;
    }
    y
}

/// Draws the flashes of a train over time, from `top` down. Returns the position of the next line.
fn train_strip(picture: &mut Picture, top: f64, question: &FreezeQuestion, train: &Train) -> f64 {
    let said = words::train(train);
    picture.describe(&said);
    let top = paragraph::body(picture, top + 8.0, TextStyle::new(NORMAL), &said);
    let (Some(interval), Some(span)) = (train.interval_s, train.span_s) else { return top + 6.0 };
    let grey = TextStyle::new(SMALL).in_colour(Colour::Grey);
    let labels = paragraph::body(picture, top + 4.0, grey, words::TRAIN_AXIS) + 4.0;
    let margin = Ruler::ARROW + 8.0;
    let ends = [picture.left() + margin, picture.right() - margin];
    let open = question.exposure_time.map(Seconds::get);
    let values = [0.0, span.get(), open.unwrap_or(0.0).min(2.0 * span.get())];
    let ruler =
        Ruler { axis: Axis::linear("", values.into_iter(), ((ends[1] - ends[0]) / 64.0) as usize), ends };
    let middle = labels + 12.0 + STRIP / 2.0;
    if let Some(open) = open {
        ruler.bar(picture, middle, STRIP / 2.0, [0.0, open], Colour::Tolerance, Pen::new(Colour::Data, 0.75));
    }
    ruler.grid(picture, [labels + 6.0, middle + STRIP / 2.0]);
    ruler.labels(picture, labels);
    let at = |flash: u32| f64::from(flash) * interval.get();
    let is_many = train.pops > MOST_FLASHES;
    if is_many {
        let last = at(train.images.saturating_sub(1));
        ruler.range(picture, middle, STRIP / 4.0, [0.0, last], Fill::Hatch(0), CURVE);
        if train.images < train.pops {
            ruler.range(picture, middle, STRIP / 4.0, [last, span.get()], Fill::Missing, MISSED);
        }
    } else {
        for flash in 0..train.pops {
            let x = ruler.x(at(flash));
            let pen = if flash < train.images { CURVE } else { MISSED };
            picture.line([x, middle - STRIP / 2.0 + 4.0], [x, middle + STRIP / 2.0 - 4.0], pen);
        }
    }
    let mut legend = Legend::new([picture.left(), middle + STRIP / 2.0 + 18.0], picture.right());
    let upright = |pen: Pen| {
        move |picture: &mut Picture, [x, y]: [f64; 2]| picture.line([x, y - 8.0], [x, y + 8.0], pen)
    };
    legend.add(picture, words::FLASH, upright(CURVE));
    if train.images < train.pops {
        legend.add(picture, words::MISSED, upright(MISSED));
    }
    if let Some(open) = question.exposure_time {
        legend.swatch(picture, &words::open(open), 6.0, Colour::Tolerance, Pen::new(Colour::Data, 0.75));
    }
    legend.bottom() + 20.0
}
