//! The picture of a correction: per light how far off it was thought to be and is, and what to set; per point where it was
//! and where it comes to.

use crate::{
    drawing::canvas::{
        axis::Axis,
        colour::Colour,
        legend::Legend,
        notes, paragraph,
        sheet::{Anchor, NORMAL, Pen, Picture, SMALL, SheetPoint, TextStyle},
    },
    light::{
        balance::LightSetting,
        correct::{CorrectedLight, CorrectedPoint, Correction, question::CorrectQuestion},
        quantity::{Metres, Stops},
        set::placement::Placement,
        unit::Setting,
    },
    wording::{
        phrases::{self, correct_picture as words, set_picture},
        summary::Summary,
    },
};

/// The width that the layout is made for, px.
const WIDTH: f64 = 900.0;
const LEFT: f64 = 20.0;
const RIGHT_EDGE: f64 = WIDTH - 20.0;
/// The left edges of columns, px.
const SETTINGS: f64 = 230.0;
const BARS: [f64; 2] = [410.0, 690.0];
const VALUES: f64 = 712.0;
const ROW: f64 = 44.0;
const ERROR_BAR: Pen = Pen::new(Colour::Ink, 1.5);
/// The longest bar, stops, in either direction.
const MAX_STOPS: f64 = 6.0;
/// The most distances that are listed for a light, nearest first.
const MAX_DISTANCES: usize = 2;

/// Draws an answer of `sets/correct`, with the computed placements: index of the point, index of the light, placement.
pub fn draw(
    question: &CorrectQuestion,
    answer: &Correction,
    placements: &[(usize, usize, Placement)],
    width: f64,
) -> Picture {
    let summary = answer.summary();
    let mut picture = Picture::new(width.max(WIDTH), words::TITLE, &summary);
    let mut y = paragraph::headline(&mut picture, &summary) + 8.0;
    let lights: Vec<Row> = answer
        .lights
        .iter()
        .zip(&answer.settings)
        .enumerate()
        .map(|(index, (light, setting))| {
            Row::of_light(light, setting, &distances(question, index, placements))
        })
        .collect();
    y = table(&mut picture, y, [words::LIGHT, words::SET_TO, words::LIGHT_OFF], &lights);
    let tolerance = question.balance.tolerance;
    let points: Vec<Row> = answer.points.iter().map(|point| Row::of_point(point, tolerance)).collect();
    y = table(&mut picture, y + 22.0, [words::POINT, words::READS, words::POINT_OFF], &points);
    y = legend(&mut picture, y + 18.0) + 22.0;
    notes::finish(&mut picture, y, phrases::remarks(&answer.warnings, &answer.cautions));
    picture
}

/// The distances of a light from the nearest points.
fn distances(question: &CorrectQuestion, light: usize, placements: &[(usize, usize, Placement)]) -> String {
    let scene = &question.balance.scene;
    let own = placements.iter().filter(|(_, of, _)| *of == light);
    let mut own: Vec<(String, Option<Metres>)> = own
        .map(|(point, _, placement)| (format!("{}:", scene.points[*point].name), Some(placement.distance)))
        .collect();
    own.sort_by(|a, b| a.1.map_or(0.0, Metres::get).total_cmp(&b.1.map_or(0.0, Metres::get)));
    set_picture::distances(&own, question.balance.rules.units, MAX_DISTANCES)
}

/// A row of a table: a band of what was known or is wanted, a mark of what was, a bar of what is.
struct Row {
    name: String,
    detail: String,
    setting: String,
    band: Option<[f64; 2]>,
    before: Option<f64>,
    after: Option<f64>,
    ends: Option<[f64; 2]>,
    value: String,
    is_wrong: bool,
}

impl Row {
    fn of_light(light: &CorrectedLight, setting: &LightSetting, distances: &str) -> Self {
        let known = light.known_before_stops.get();
        let label = |setting: Option<&Setting>| {
            setting.map_or_else(|| words::OFF.to_owned(), |setting| setting.label.clone())
        };
        let [was, is] = [label(light.setting_before.as_ref()), label(setting.setting.as_ref())];
        Self {
            name: light.light.clone(),
            detail: distances.to_owned(),
            setting: if was == is { is } else { words::from_to(&was, &is) },
            band: Some([-known, known]),
            before: Some(0.0),
            after: Some(light.error_stops.get()),
            ends: Some([light.low_stops.get(), light.high_stops.get()]),
            value: words::value(light.error_stops, light.high_stops.get() - light.error_stops.get()),
            is_wrong: false,
        }
    }

    fn of_point(point: &CorrectedPoint, tolerance: Stops) -> Self {
        let target = point.target_stops.map_or(0.0, Stops::get);
        let against = |stops: Option<Stops>| stops.map(|stops| stops.get() - target);
        let after = against(point.achieved_stops);
        let ends = point.uncertainty.as_ref().map(crate::light::uncertainty::Uncertainty::ends);
        let tolerance = tolerance.get();
        Self {
            name: point.name.clone(),
            detail: String::new(),
            setting: point.f_number.as_ref().and_then(|nominal| nominal.meter.clone()).unwrap_or_default(),
            band: point.target_stops.map(|_| [-tolerance, tolerance]),
            before: against(point.before_stops),
            after,
            ends: after.zip(ends).map(|(at, ends)| ends.map(|end| at + end)),
            value: after.map_or_else(String::new, |at| {
                words::value(Stops::new_unchecked(at), ends.map_or(0.0, |[_, high]| high))
            }),
            is_wrong: point.shortfall_stops.get() + point.excess_stops.get() > 0.0,
        }
    }

    fn values(&self) -> impl Iterator<Item = f64> {
        let marks = self.before.into_iter().chain(self.after);
        marks.chain(self.band.into_iter().flatten()).chain(self.ends.into_iter().flatten())
    }
}

/// Draws a table from `top` down. Returns its lower edge.
fn table(picture: &mut Picture, top: f64, [name, setting, value]: [&str; 3], rows: &[Row]) -> f64 {
    let shown = rows.iter().flat_map(Row::values).map(|stops| stops.clamp(-MAX_STOPS, MAX_STOPS));
    let axis = Axis::stops("", shown.chain([-0.5, 0.5]), 6);
    let x = |stops: f64| BARS[0] + (BARS[1] - BARS[0]) * axis.fraction(stops).clamp(0.0, 1.0);
    let head = TextStyle::new(SMALL).in_colour(Colour::Grey);
    picture.text([LEFT, top + 12.0], head, name);
    picture.text([SETTINGS, top + 12.0], head, setting);
    picture.text([BARS[0], top + 12.0], head, value);
    let first = top + 40.0;
    let last = first + ROW * rows.len() as f64;
    for (value, _) in axis.ticks() {
        let pen = if value.abs() < 1e-9 { Pen::new(Colour::Grey, 1.0) } else { Pen::new(Colour::Faint, 1.0) };
        picture.line([x(*value), first - 2.0], [x(*value), last], pen);
    }
    axis.label_ticks(x, SMALL, |at, label| {
        picture.text([at, first - 6.0], head.anchored(Anchor::Middle), label);
    });
    for (number, row) in rows.iter().enumerate() {
        let y = first + ROW * number as f64;
        let middle = y + ROW / 2.0;
        picture.line([LEFT, y], [RIGHT_EDGE, y], Pen::new(Colour::Faint, 0.5));
        let (name, small) = (TextStyle::new(NORMAL), TextStyle::new(SMALL));
        let room = SETTINGS - LEFT - 10.0;
        if row.detail.is_empty() {
            paragraph::name(picture, [LEFT, middle], name, &row.name, room);
        } else {
            picture.shortened([LEFT, middle - 3.0], name, &row.name, room);
            picture.shortened([LEFT, middle + 15.0], small.in_colour(Colour::Grey), &row.detail, room);
        }
        picture.shortened([SETTINGS, middle + 5.0], name.bold(), &row.setting, BARS[0] - SETTINGS - 10.0);
        if let Some(band) = row.band {
            let [low, high] = band.map(x);
            picture.rectangle(
                [low, middle - 10.0],
                [high, middle + 10.0],
                Colour::Tolerance,
                Pen::new(Colour::Data, 0.75),
            );
        }
        if let Some(at) = row.before {
            before(picture, [x(at), middle]);
        }
        if let Some(ends) = row.ends {
            picture.error_bar(ends.map(|end| (x(end), axis.contains(end))), middle, ERROR_BAR);
        }
        if let Some(at) = row.after {
            let mark = if row.is_wrong { missed } else { after };
            mark(picture, [x(at), middle]);
        }
        let style = if row.is_wrong { name.bold().in_colour(Colour::Wrong) } else { name };
        picture.shortened([VALUES, middle + 5.0], style, &row.value, RIGHT_EDGE - VALUES);
    }
    picture.line([LEFT, last], [RIGHT_EDGE, last], Pen::new(Colour::Faint, 0.5));
    last
}

fn before(picture: &mut Picture, at: SheetPoint) {
    picture.circle(at, 5.5, Colour::Paper, Pen::new(Colour::Grey, 1.5));
}

fn after(picture: &mut Picture, at: SheetPoint) {
    picture.circle(at, 4.5, Colour::Ink, Pen::new(Colour::Paper, 1.0));
}

fn missed(picture: &mut Picture, at: SheetPoint) {
    picture.cross(at, 5.0, Pen::new(Colour::Wrong, 2.5));
}

/// Draws the legend. Returns its lower edge.
fn legend(picture: &mut Picture, y: f64) -> f64 {
    let mut legend = Legend::new([LEFT, y], RIGHT_EDGE);
    legend.swatch(picture, words::BAND, 6.0, Colour::Tolerance, Pen::new(Colour::Data, 0.75));
    legend.add(picture, words::BEFORE, before);
    legend.add(picture, words::AFTER, after);
    legend.error_bar(picture, ERROR_BAR);
    legend.bottom()
}
