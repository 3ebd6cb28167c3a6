//! A unit's settings against the light that was measured, and how far each strays.

mod left_out;

use crate::{
    drawing::canvas::{
        axis::Axis,
        labels::Labels,
        legend::Legend,
        notes,
        panel::{BELOW, LEFT, Panel},
        paragraph,
        sheet::{Anchor, BLUE, GREY, INK, PAPER, Pen, Picture, RIGHT, SMALL, SheetPoint, Type, USUAL},
        text::{digits, hundredths, signed, with_stops},
    },
    light::{
        measure::calibrate::{Calibration, Outlier, Question, Readings},
        quantity::Stops,
        remark::listed,
    },
};

const WIDTH: f64 = 760.0;
const UPPER: f64 = 300.0;
const LOWER: f64 = 170.0;
/// Between the panels, px.
const BETWEEN: f64 = 26.0;
/// What a setting may stray and is still near: half a third of a stop, a line to read by.
const NEAR: f64 = 1.0 / 6.0;
/// How far under or over all other readings one that was left out still stands on the panel, as a part of their span, so
/// that these keep more than half of it where there are such to one side; farther ones stand in a strip of their own.
const ROOM_BEYOND: f64 = 0.8;
/// The strip under or over the upper panel, and what parts them, px.
const STRIP: f64 = 44.0;
const BROKEN: f64 = 8.0;
/// What panels are longer than their values, as a part of these.
const MARGIN: f64 = 0.04;
/// Settings that are told one by one in the description.
const LABELLED: usize = 24;

const TRUE: Pen = Pen::new(GREY, 1.2).dashed("6 4");
const FITTED: Pen = Pen::new(BLUE, 1.5);

/// Draws an answer of `units/calibrate`.
pub fn draw(question: &Question, answer: &Calibration) -> Picture {
    let mut picture = Picture::new(WIDTH, "Set against measured", &described(question, answer));
    let rated = answer.offset_stops.is_some();
    let against = if rated { "the rating" } else { "the line through the readings" };
    let head = format!("Light against {against} of {}", question.unit.called());
    picture.fitted([20.0, 54.0], Type::new(USUAL).in_colour(GREY), &head, WIDTH - 40.0);
    let mut y = 76.0;
    for words in said(answer) {
        y = paragraph::write(&mut picture, [20.0, y], Type::new(SMALL), WIDTH - 40.0, 16.0, &words);
    }

    let readings = Readings::of(question, answer);
    let left_out = answer.left_out();
    let under = legend(&mut picture, &left_out, &readings, y + 2.0);
    // The labels of the settings stand above the upper panel, and above the strip over it.
    let top = under + 44.0;
    let (upper, lower) = panels(&readings, top);
    upper.draw(&mut picture);
    let [low, high] = upper.x.range();
    let mut labels = Labels::default();
    if let Some(drawn) = upper.straight(&mut picture, [[low, low], [high, high]], TRUE) {
        labels.keep_line_free(drawn);
    }
    if let Some(ends) = by_the_line(&readings, [low, high])
        && let Some(drawn) = upper.straight(&mut picture, ends, FITTED)
    {
        labels.keep_line_free(drawn);
    }
    settings(&mut picture, &upper, top, answer);
    for reading in readings.kept() {
        let at = upper.at(reading.set.get(), reading.measured.get());
        dot(&mut picture, at);
        labels.keep_free(at, [4.0, 4.0]);
    }
    let all_labelled = left_out::draw(&mut picture, &upper, &readings, &left_out, &mut labels);
    strayed(&mut picture, &lower, answer, &readings);

    let mut y = lower.to[1] + BELOW + 22.0;
    if !all_labelled {
        y = left_out::list(&mut picture, y, &left_out) + 4.0;
    }
    notes::end(&mut picture, y, &answer.warnings);
    picture
}

/// The panels of set against measured, and of how far settings stray.
fn panels(readings: &Readings, top: f64) -> (Panel, Panel) {
    let set = || readings.each.iter().map(|reading| reading.set.get());
    let x = Axis::of_stops("set, stops against full power", set().chain([-1.0, 0.0]), 8).with_margin(MARGIN);

    let light = || readings.kept().map(|reading| reading.measured.get()).chain(set()).chain([0.0]);
    let (least, most) = light().fold((0.0_f64, 0.0_f64), |(low, high), y| (low.min(y), high.max(y)));
    let room = (ROOM_BEYOND * (most - least)).max(1.0);
    let shown = [least - room, most + room];
    let left_out = readings.each.iter().filter(|reading| reading.is_left_out);
    let (near, beyond): (Vec<f64>, Vec<f64>) = left_out
        .map(|reading| reading.measured.get())
        .partition(|measured| (shown[0]..=shown[1]).contains(measured));
    let y = Axis::of_stops("measured, stops", light().chain(near), 9).with_margin(MARGIN);

    let strays = readings.kept().map(|reading| reading.deviation.get());
    let strays = strays.chain([-1.2 * NEAR, 1.2 * NEAR]);
    let (left, right) = (LEFT + 10.0, WIDTH - 24.0);
    let strip = |is_there: bool| if is_there { BROKEN + STRIP } else { 0.0 };
    let top = top + strip(beyond.iter().any(|measured| *measured > shown[1]));
    let middle = top + UPPER + strip(beyond.iter().any(|measured| *measured < shown[0])) + BETWEEN;
    (
        Panel { from: [left, top], to: [right, top + UPPER], x: x.unsaid(), y },
        Panel {
            from: [left, middle],
            to: [right, middle + LOWER],
            x,
            y: Axis::of_stops("deviation, stops", strays, 6),
        },
    )
}

fn by_the_line(readings: &Readings, ends: [f64; 2]) -> Option<[[f64; 2]; 2]> {
    let at = |set: f64| readings.by_the_line(Stops::new_unchecked(set)).map(|light| [set, light.get()]);
    Some([at(ends[0])?, at(ends[1])?])
}

/// What marks and lines mean. How far down that reaches.
fn legend(picture: &mut Picture, left_out: &[Outlier], readings: &Readings, y: f64) -> f64 {
    let mut legend = Legend::new([20.0, y], WIDTH - 20.0);
    legend.add(picture, "reading", dot);
    legend.add(picture, "setting", setting);
    legend.line(picture, "a true scale", TRUE);
    if readings.by_the_line(Stops::ZERO).is_some() {
        legend.line(picture, "line of the readings", FITTED);
    }
    legend.line(picture, "within 1/6 stop", Pen::new(RIGHT, 10.0));
    let sides = [-1.0, 1.0].map(|side| left_out.iter().any(|told| told.off_by_stops.get() * side > 0.0));
    let said = match sides {
        [false, false] => None,
        [true, false] => Some("misfire, left out; stops below the rest, readings counted from 1"),
        [false, true] => Some("too bright, left out; stops above the rest, readings counted from 1"),
        [true, true] => {
            Some("misfire or too bright, left out; stops below or above the rest, readings counted from 1")
        }
    };
    if let Some(said) = said {
        legend.add(picture, said, left_out::mark);
    }
    legend.bottom()
}

fn dot(picture: &mut Picture, at: SheetPoint) {
    picture.circle(at, 3.0, PAPER, Pen::new(INK, 1.2));
}

fn setting(picture: &mut Picture, [x, y]: SheetPoint) {
    let corners = [[x, y - 6.0], [x + 6.0, y], [x, y + 6.0], [x - 6.0, y]];
    picture.shape(&corners, BLUE, Pen::new(PAPER, 1.0));
}

/// The labels of the unit's scale above the panel, those for which there is room, full power first.
fn settings(picture: &mut Picture, panel: &Panel, top: f64, answer: &Calibration) {
    const APART: f64 = 8.0;
    let style = Type::new(SMALL).at(Anchor::Middle);
    let mut free = f64::INFINITY;
    for told in &answer.settings {
        let [x, _] = panel.at(-told.stops_below_full.get(), 0.0);
        picture.line([x, top], [x, top - 4.0], Pen::new(INK, 1.0));
        let half = style.width(&told.setting) / 2.0;
        if x + half < free {
            picture.text([x, top - 8.0], style, &told.setting);
            free = x - half - APART;
        }
    }
    let title = Type::new(USUAL).at(Anchor::Middle);
    picture.text([f64::midpoint(panel.from[0], panel.to[0]), top - 26.0], title, "setting of the unit");
}

/// The lower panel: each setting against a true scale, its readings around it.
fn strayed(picture: &mut Picture, panel: &Panel, answer: &Calibration, readings: &Readings) {
    let [low, high] = panel.x.range();
    picture.rectangle(panel.at(low, NEAR), panel.at(high, -NEAR), RIGHT, Pen::new(RIGHT, 0.0));
    panel.draw(picture);
    let mut labels = Labels::default();
    if let Some(drawn) = panel.straight(picture, [[low, 0.0], [high, 0.0]], TRUE) {
        labels.keep_line_free(drawn);
    }
    let middles: Vec<[f64; 2]> = answer
        .settings
        .iter()
        .map(|told| [-told.stops_below_full.get(), told.deviation_stops.get()])
        .collect();
    labels.keep_path_free(&panel.curve(picture, &middles, Pen::new(BLUE, 1.2)));
    for reading in readings.kept() {
        let at = panel.at(reading.set.get(), reading.deviation.get());
        dot(picture, at);
        labels.keep_free(at, [4.0, 4.0]);
    }
    for [set, strays] in &middles {
        let at = panel.at(*set, *strays);
        setting(picture, at);
        labels.keep_free(at, [6.0, 6.0]);
    }
    for [set, strays] in &middles {
        let at = panel.at(*set, *strays);
        labels.beside(picture, at, 9.0, Type::new(SMALL), &signed(*strays), [panel.from, panel.to]);
    }
}

/// What the answer says as a whole.
fn said(answer: &Calibration) -> Vec<String> {
    let range = |range: Option<[Stops; 2]>, told: fn(f64) -> String| {
        range.map_or_else(String::new, |[low, high]| {
            let [low, high] = [low, high].map(|end| told(end.get()));
            if low == high {
                return " (95 %: the same to the hundredth)".to_owned();
            }
            format!(" (95 %: {low} to {high})")
        })
    };
    let offset = answer.offset_stops.map(|offset| {
        let range = range(answer.offset_stops_range, signed);
        format!("Light at full power against the rating: {}{range}.", with_stops(&signed(offset.get())))
    });
    let tracking = answer.tracking.map(|tracking| {
        let range = range(answer.tracking_range, hundredths);
        let measured = with_stops(&hundredths(tracking.get()));
        format!("Tracking: {measured} measured for a stop set{range}; 1 is true.")
    });
    let guide = answer.guide_number_m.map(|guide| {
        let feet = answer.guide_number_ft;
        let feet = feet.map_or_else(String::new, |feet| format!(" ({} ft)", digits(feet.get(), 3)));
        format!("Guide number as measured: {} m{feet} at ISO 100.", digits(guide.get(), 3))
    });
    let repeats = answer.repeatability_stops.map(|spread| match hundredths(spread.get()).as_str() {
        "0" => "Repeats at one setting: standard deviation less than 0.01 stop.".to_owned(),
        told => format!("Repeats at one setting: standard deviation {told} stop."),
    });
    [offset, tracking, guide, repeats].into_iter().flatten().collect()
}

/// The same for those who do not see it.
fn described(question: &Question, answer: &Calibration) -> String {
    let settings = answer.settings.iter();
    let settings = settings
        .map(|told| format!("{} by {}", told.setting, with_stops(&signed(told.deviation_stops.get()))));
    format!(
        "{} readings of {} at {} settings. {} Settings stray from a true scale: {}. {}",
        question.samples.len(),
        question.unit.called(),
        answer.settings.len(),
        said(answer).join(" "),
        listed(settings, LABELLED),
        left_out::described(&answer.left_out())
    )
}
