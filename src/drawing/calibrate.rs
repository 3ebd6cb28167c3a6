//! The picture of a calibration: how far the light at each setting is off its scale, and the readings that were left out.

use crate::{
    drawing::canvas::{
        axis::Axis,
        colour::Colour,
        legend::Legend,
        marks::Mark,
        notes, paragraph,
        ruler::Ruler,
        sheet::{Anchor, NORMAL, Pen, Picture, SMALL, SheetPoint, TextStyle},
    },
    light::{
        measure::calibrate::{CalibrateQuestion, Calibration, Readings, SettingDeviation},
        quantity::Stops,
    },
    wording::{
        format::signed,
        phrases::{self, calibrate_picture as words},
        summary::Summary,
    },
};

/// Half the width of the shaded band, stops: half of a third of a stop, as a guide for the eye.
const HALF_BAND: f64 = 1.0 / 6.0;
/// The most settings that are drawn: those that are off the most.
const MOST: usize = 24;
/// The most settings or outliers in the description.
const LABELLED: usize = 24;
const ROW: f64 = 32.0;
const HALF_BAR: f64 = 6.0;
/// The height of the strip of readings, px.
const STRIP: f64 = 20.0;
/// More readings than this have smaller marks in the strip.
const CLOSE: f64 = 40.0;
const NO_EDGE: Pen = Pen::new(Colour::Tolerance, 0.0);

/// Draws an answer of `units/calibrate`.
pub fn draw(question: &CalibrateQuestion, answer: &Calibration, width: f64) -> Picture {
    let summary = answer.summary();
    let description = words::description(&summary, question, answer, LABELLED);
    let mut picture = Picture::new(width, words::TITLE, &description);
    let y = paragraph::headline(&mut picture, &summary);
    let mut y = paragraph::details(&mut picture, y, &words::heading(question, answer));
    let readings = Readings::of(question, answer);
    y = deviations(&mut picture, y, answer, &readings);
    y = left_out(&mut picture, y, answer, &readings);
    for sentence in words::results(answer) {
        y = paragraph::body(&mut picture, y, TextStyle::new(NORMAL), &sentence);
    }
    notes::finish(&mut picture, y + 6.0, phrases::remarks(&answer.warnings, &[]));
    picture
}

/// Draws the deviation of each setting from a true scale, from `top` down. Returns the position of the next line.
fn deviations(picture: &mut Picture, top: f64, answer: &Calibration, readings: &Readings) -> f64 {
    let settings = farthest_off(&answer.settings);
    let half_width = answer.unit.dial().map_or(0.0, Stops::get);
    let readings_of = |setting: &SettingDeviation| {
        let set = -setting.stops_below_full.get();
        let same = readings.kept().filter(move |reading| (reading.set.get() - set).abs() < 1e-9);
        same.map(|reading| reading.deviation.get()).collect::<Vec<f64>>()
    };
    let rows: Vec<(&SettingDeviation, Vec<f64>)> =
        settings.iter().map(|setting| (*setting, readings_of(setting))).collect();
    let values = rows.iter().flat_map(|(setting, readings)| {
        let deviation = setting.deviation_stops.get();
        readings.iter().copied().chain([deviation - half_width, deviation + half_width])
    });
    let style = TextStyle::new(NORMAL);
    let widest = |text: &dyn Fn(&SettingDeviation) -> String| {
        settings.iter().map(|setting| style.bold().width(&text(setting))).fold(0.0, f64::max)
    };
    let name = |setting: &SettingDeviation| setting.setting.clone();
    let value = |setting: &SettingDeviation| signed(setting.deviation_stops.get());
    let names = widest(&name).min(picture.room() * 0.3);
    let ends =
        [picture.left() + names + Ruler::ARROW + 8.0, picture.right() - widest(&value) - Ruler::ARROW - 8.0];
    let ticks = ((ends[1] - ends[0]) / 44.0) as usize;
    let axis = Axis::stops("", values.chain([-1.2 * HALF_BAND, 1.2 * HALF_BAND]), ticks);
    let ruler = Ruler { axis, ends };
    let grey = TextStyle::new(SMALL).in_colour(Colour::Grey);
    let labels = paragraph::body(picture, top + 12.0, grey, words::DEVIATION_AXIS) + 4.0;
    let (first, height) = (labels + 8.0, ROW * rows.len() as f64);
    let middle = first + height / 2.0;
    ruler.range(picture, middle, height / 2.0, [-HALF_BAND, HALF_BAND], Colour::Tolerance, NO_EDGE);
    ruler.grid(picture, [labels + 5.0, first + height]);
    ruler.labels(picture, labels);
    for (row, (setting, readings)) in rows.iter().enumerate() {
        let y = first + ROW * (row as f64 + 0.5);
        let deviation = setting.deviation_stops.get();
        picture.shortened([picture.left(), y + 5.0], style, &name(setting), names);
        picture.text([picture.right(), y + 5.0], style.bold().anchored(Anchor::End), &value(setting));
        ruler.bar(picture, y, HALF_BAR, [0.0, deviation], Colour::Data, Pen::new(Colour::Data, 0.75));
        let [low, high] = [deviation - half_width, deviation + half_width];
        ruler.likely(picture, y, [low, deviation, high], Mark::Diamond);
        for reading in readings {
            dot(picture, [ruler.x(*reading), y]);
        }
    }
    let mut legend = Legend::new([picture.left(), first + height + 18.0], picture.right());
    legend.add(picture, words::SETTING, |picture, at| Mark::Diamond.draw(picture, at, 5.0));
    legend.add(picture, words::READING, dot);
    if half_width > 0.0 {
        legend.error_bar(picture, Pen::new(Colour::Ink, 1.5));
    }
    legend.swatch(picture, words::BAND, 6.0, Colour::Tolerance, NO_EDGE);
    let mut y = legend.bottom() + 18.0;
    let more = answer.settings.len() - settings.len();
    if more > 0 {
        let drawn = settings.iter().map(|setting| setting.deviation_stops.get().abs());
        let text = words::more_settings(more, drawn.fold(f64::MAX, f64::min));
        y = paragraph::body(picture, y, grey, &text) + 4.0;
    }
    y
}

/// The settings that are drawn, from full power down: of too many, those that are off the most.
fn farthest_off(settings: &[SettingDeviation]) -> Vec<&SettingDeviation> {
    let off = |index: usize| settings[index].deviation_stops.get().abs();
    let mut order: Vec<usize> = (0..settings.len()).collect();
    order.sort_by(|a, b| off(*b).total_cmp(&off(*a)));
    order.truncate(MOST);
    order.sort_unstable();
    order.into_iter().map(|index| &settings[index]).collect()
}

fn dot(picture: &mut Picture, at: SheetPoint) {
    picture.circle(at, 3.0, Colour::Paper, Pen::new(Colour::Ink, 1.2));
}

/// Draws the readings in their order, with a cross for each that was left out, and lists these. Returns the position of the
/// next line.
fn left_out(picture: &mut Picture, top: f64, answer: &Calibration, readings: &Readings) -> f64 {
    let left_out = answer.left_out();
    if left_out.is_empty() {
        return top;
    }
    let grey = TextStyle::new(SMALL).in_colour(Colour::Grey);
    let labels = paragraph::body(picture, top + 8.0, grey, words::ORDER_AXIS) + 4.0;
    let margin = Ruler::ARROW + 8.0;
    let ends = [picture.left() + margin, picture.right() - margin];
    let count = readings.each.len() as f64;
    let ruler = Ruler { axis: Axis::linear("", [1.0, count].into_iter(), 8), ends };
    let middle = labels + 10.0 + STRIP / 2.0;
    ruler.labels(picture, labels);
    for (number, reading) in (1_u32..).zip(&readings.each) {
        if !reading.is_left_out {
            let x = ruler.x(f64::from(number));
            picture.line([x, middle - 5.0], [x, middle + 5.0], Pen::new(Colour::Grey, 1.0));
        }
    }
    for outlier in &left_out {
        let radius = if count > CLOSE { 3.0 } else { 5.0 };
        Mark::Cross.draw(picture, [ruler.x(f64::from(outlier.index + 1)), middle], radius);
    }
    let y = middle + STRIP / 2.0 + 18.0;
    let style = TextStyle::new(SMALL);
    words::outlier_lists(&left_out).iter().fold(y, |y, text| paragraph::body(picture, y, style, text)) + 6.0
}
