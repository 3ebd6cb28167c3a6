//! The picture of a calibration: measured light against the settings of a unit, and the deviation of each setting.

mod left_out;

use crate::{
    drawing::canvas::{
        axis::Axis,
        colour::Colour,
        labels::Labels,
        legend::Legend,
        notes,
        panel::{self, BELOW, Panel},
        paragraph,
        sheet::{Anchor, NORMAL, Pen, Picture, SMALL, SheetPoint, TextStyle},
    },
    light::{
        measure::calibrate::{CalibrateQuestion, Calibration, Outlier, Readings},
        quantity::Stops,
    },
    wording::{
        format::signed,
        phrases::{self, calibrate_picture as words},
        summary::Summary,
    },
};

/// The least width that the layout has room for, px.
const LEAST_WIDTH: f64 = 760.0;
const UPPER: f64 = 300.0;
const LOWER: f64 = 170.0;
/// The gap between the panels, px.
const PANEL_GAP: f64 = 26.0;
/// Half the width of the shaded band, stops: half of a third of a stop, as a guide for the eye.
const HALF_BAND: f64 = 1.0 / 6.0;
/// How far below or above all other readings an outlier is still drawn on the panel, as a fraction of their span. The
/// other readings keep more than half of the panel if outliers lie to one side; farther outliers are drawn in a strip
/// of their own.
const ROOM_BEYOND: f64 = 0.8;
/// The height of the strip below or above the upper panel, and its gap to the panel, px.
const STRIP: f64 = 44.0;
const STRIP_GAP: f64 = 8.0;
/// Extra length at each end of an axis, as a fraction of its length.
const MARGIN: f64 = 0.04;
/// The most settings or outliers in the description.
const LABELLED: usize = 24;

const TRUE: Pen = Pen::new(Colour::Grey, 1.2).dashed("6 4");
const FITTED: Pen = Pen::new(Colour::Data, 1.5);

/// Draws an answer of `units/calibrate`.
pub fn draw(question: &CalibrateQuestion, answer: &Calibration, width: f64) -> Picture {
    let summary = answer.summary();
    let description = words::description(&summary, question, answer, LABELLED);
    let mut picture = Picture::new(width.max(LEAST_WIDTH), words::TITLE, &description);
    let mut y = paragraph::headline(&mut picture, &summary);
    let heading = words::heading(question, answer);
    y = paragraph::details(&mut picture, y, &heading);
    for sentence in words::results(answer) {
        y = paragraph::body(&mut picture, y, TextStyle::new(SMALL), &sentence);
    }

    let readings = Readings::of(question, answer);
    let left_out = answer.left_out();
    let legend_bottom = legend(&mut picture, &left_out, &readings, y + 2.0);
    // The labels of the settings are above the upper panel, and above the strip over it.
    let top = legend_bottom + 50.0;
    let (upper, lower) = panels(&picture, &readings, top);
    upper.draw(&mut picture);
    let [low, high] = upper.x.range();
    let mut labels = Labels::default();
    if let Some(drawn) = upper.straight(&mut picture, [[low, low], [high, high]], TRUE) {
        labels.reserve_line(drawn);
    }
    if let Some(ends) = fitted_line(&readings, [low, high])
        && let Some(drawn) = upper.straight(&mut picture, ends, FITTED)
    {
        labels.reserve_line(drawn);
    }
    settings(&mut picture, &upper, top, answer);
    for reading in readings.kept() {
        let at = upper.to_sheet(reading.set.get(), reading.measured.get());
        dot(&mut picture, at);
        labels.reserve(at, [4.0, 4.0]);
    }
    let all_labelled = left_out::draw(&mut picture, &upper, &readings, &left_out, &mut labels);
    deviations(&mut picture, &lower, answer, &readings);

    let mut y = lower.to[1] + BELOW + 22.0;
    if !all_labelled {
        y = left_out::list(&mut picture, y, &left_out) + 4.0;
    }
    notes::finish(&mut picture, y, phrases::remarks(&answer.warnings, &[]));
    picture
}

/// The upper panel, measured against set, and the lower panel, deviations.
fn panels(picture: &Picture, readings: &Readings, top: f64) -> (Panel, Panel) {
    let set = || readings.each.iter().map(|reading| reading.set.get());
    let x = Axis::stops(words::SET_AXIS, set().chain([-1.0, 0.0]), 8).with_margin(MARGIN);

    let light = || readings.kept().map(|reading| reading.measured.get()).chain(set()).chain([0.0]);
    let (least, most) = light().fold((0.0_f64, 0.0_f64), |(low, high), y| (low.min(y), high.max(y)));
    let room = (ROOM_BEYOND * (most - least)).max(1.0);
    let shown = [least - room, most + room];
    let left_out = readings.each.iter().filter(|reading| reading.is_left_out);
    let (near, beyond): (Vec<f64>, Vec<f64>) = left_out
        .map(|reading| reading.measured.get())
        .partition(|measured| (shown[0]..=shown[1]).contains(measured));
    let y = Axis::stops(words::MEASURED_AXIS, light().chain(near), 9).with_margin(MARGIN);

    let deviations = readings.kept().map(|reading| reading.deviation.get());
    let deviations = deviations.chain([-1.2 * HALF_BAND, 1.2 * HALF_BAND]);
    let [[left, _], [right, _]] = panel::across(picture, top, UPPER);
    let strip = |is_there: bool| if is_there { STRIP_GAP + STRIP } else { 0.0 };
    let top = top + strip(beyond.iter().any(|measured| *measured > shown[1]));
    let middle = top + UPPER + strip(beyond.iter().any(|measured| *measured < shown[0])) + PANEL_GAP;
    (
        Panel { from: [left, top], to: [right, top + UPPER], x: x.without_labels(), y, above: 0.0 },
        Panel {
            from: [left, middle],
            to: [right, middle + LOWER],
            x,
            y: Axis::stops(words::DEVIATION_AXIS, deviations, 6),
            above: 0.0,
        },
    )
}

fn fitted_line(readings: &Readings, ends: [f64; 2]) -> Option<[[f64; 2]; 2]> {
    let at = |set: f64| readings.by_the_line(Stops::new_unchecked(set)).map(|light| [set, light.get()]);
    Some([at(ends[0])?, at(ends[1])?])
}

/// Draws the legend. Returns its lower edge.
fn legend(picture: &mut Picture, left_out: &[Outlier], readings: &Readings, y: f64) -> f64 {
    let mut legend = Legend::new([picture.left(), y], picture.right());
    legend.add(picture, words::READING, dot);
    legend.add(picture, words::SETTING, setting);
    legend.line(picture, words::TRUE_SCALE, TRUE);
    if readings.by_the_line(Stops::ZERO).is_some() {
        legend.line(picture, words::FITTED_LINE, FITTED);
    }
    legend.line(picture, words::BAND, Pen::new(Colour::Tolerance, 10.0));
    if let Some(label) = words::outlier_mark(left_out) {
        legend.add(picture, label, left_out::mark);
    }
    legend.bottom()
}

fn dot(picture: &mut Picture, at: SheetPoint) {
    picture.circle(at, 3.0, Colour::Paper, Pen::new(Colour::Ink, 1.2));
}

fn setting(picture: &mut Picture, [x, y]: SheetPoint) {
    let corners = [[x, y - 6.0], [x + 6.0, y], [x, y + 6.0], [x - 6.0, y]];
    picture.shape(&corners, Colour::Data, Pen::new(Colour::Paper, 1.0));
}

/// Draws the labels of the unit's scale above the panel, where there is room, from full power down.
fn settings(picture: &mut Picture, panel: &Panel, top: f64, answer: &Calibration) {
    const SPACING: f64 = 8.0;
    let style = TextStyle::new(SMALL).anchored(Anchor::Middle);
    let mut free = f64::INFINITY;
    for each in &answer.settings {
        let [x, _] = panel.to_sheet(-each.stops_below_full.get(), 0.0);
        picture.line([x, top], [x, top - 4.0], Pen::new(Colour::Ink, 1.0));
        let half = style.width(&each.setting) / 2.0;
        if x + half < free {
            picture.text([x, top - 8.0], style, &each.setting);
            free = x - half - SPACING;
        }
    }
    let title = TextStyle::new(NORMAL).anchored(Anchor::Middle);
    picture.text([f64::midpoint(panel.from[0], panel.to[0]), top - 30.0], title, words::SETTING_AXIS);
}

/// Draws the lower panel: the deviation of each setting from a true scale, with its readings.
fn deviations(picture: &mut Picture, panel: &Panel, answer: &Calibration, readings: &Readings) {
    let [low, high] = panel.x.range();
    picture.rectangle(
        panel.to_sheet(low, HALF_BAND),
        panel.to_sheet(high, -HALF_BAND),
        Colour::Tolerance,
        Pen::new(Colour::Tolerance, 0.0),
    );
    panel.draw(picture);
    let mut labels = Labels::default();
    if let Some(drawn) = panel.straight(picture, [[low, 0.0], [high, 0.0]], TRUE) {
        labels.reserve_line(drawn);
    }
    let middles: Vec<[f64; 2]> = answer
        .settings
        .iter()
        .map(|each| [-each.stops_below_full.get(), each.deviation_stops.get()])
        .collect();
    labels.reserve_path(&panel.curve(picture, &middles, Pen::new(Colour::Data, 1.2)));
    for reading in readings.kept() {
        let at = panel.to_sheet(reading.set.get(), reading.deviation.get());
        dot(picture, at);
        labels.reserve(at, [4.0, 4.0]);
    }
    for [set, deviation] in &middles {
        let at = panel.to_sheet(*set, *deviation);
        setting(picture, at);
        labels.reserve(at, [6.0, 6.0]);
    }
    for [set, deviation] in &middles {
        let at = panel.to_sheet(*set, *deviation);
        labels.beside(picture, at, 9.0, TextStyle::new(SMALL), &signed(*deviation), [panel.from, panel.to]);
    }
}
