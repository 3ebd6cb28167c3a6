//! The picture of a correction: what to dial now and what to look at; per light how far off it was thought to be and is; per
//! point where it was and where it comes to; and the next reading.

use crate::{
    drawing::{
        canvas::{
            colour::Colour,
            legend::Legend,
            marks::{Mark, letter},
            notes, paragraph,
            sheet::{NORMAL, Pen, Picture, TextStyle},
            todo,
        },
        set::{
            lights::{self, Dial},
            rows::{self, Headings, Row, WANTED},
        },
    },
    light::{
        balance::LightSetting,
        correct::{CorrectedLight, CorrectedPoint, Correction, question::CorrectQuestion},
        quantity::Stops,
        uncertainty::Uncertainty,
        unit::Setting,
    },
    wording::{
        format::below_full,
        phrases::{self, correct_picture as words, set_picture},
        summary::Summary,
    },
};

/// The most lights, and the most points, that are drawn.
const MAX_ROWS: usize = 16;

/// Draws an answer of `sets/correct`.
pub fn draw(question: &CorrectQuestion, answer: &Correction, width: f64) -> Picture {
    let summary = answer.summary();
    let dials = dials(answer);
    let points = answer.points.iter().map(|point| of_point(point, question.balance.tolerance));
    let points: Vec<Row> = points.collect();
    let mut picture = Picture::new(width, words::TITLE, &description(&summary, &dials, &points));
    let mut y = paragraph::headline(&mut picture, &summary) - 6.0;
    y = lights::dials(&mut picture, y, &dials) + 22.0;
    let style = TextStyle::new(NORMAL);
    for group in &answer.inseparable {
        y = paragraph::body(&mut picture, y, style, &words::inseparable(group));
    }
    let lights = answer.lights.iter().enumerate().map(|(index, light)| of_light(index, light)).collect();
    let of_lights = [words::LIGHT, "", words::LIGHT_OFF];
    y = table(&mut picture, y - 10.0, of_lights, worst_first(lights), words::more_lights);
    let of_points = [words::POINT, words::READS, words::POINT_OFF];
    y = table(&mut picture, y + 16.0, of_points, worst_first(points), words::more_points);
    y = legend(&mut picture, answer, y + 18.0) + 12.0;
    if let Some(next) = &answer.next_reading {
        let line = todo::Line {
            mark: Mark::Go,
            name: words::next(&next.light, &next.point),
            value: String::new(),
            details: words::worth(next.worst_now_stops, next.worst_then_stops),
        };
        y = todo::draw(&mut picture, y, &[line]) + 14.0;
    }
    notes::finish(&mut picture, y + 12.0, phrases::remarks(&answer.warnings, &answer.cautions));
    picture
}

/// What to dial at each light: its setting before and now.
fn dials(answer: &Correction) -> Vec<Dial> {
    let all = answer.lights.iter().zip(&answer.settings).enumerate();
    all.map(|(index, (light, setting))| {
        let suspect = answer.suspects.iter().find(|suspect| suspect.light == light.light);
        let note = match suspect {
            Some(suspect) => words::did_not_fire(suspect.chance),
            None if light.is_far_off() => words::far_off(light.error_stops),
            None => String::new(),
        };
        Dial {
            mark: if note.is_empty() { Mark::Light(index, setting.setting.is_none()) } else { Mark::Doubt },
            name: light.light.clone(),
            value: to_dial(light, setting),
            note,
            details: change(light, setting),
        }
    })
    .collect()
}

/// How much more or less light that is; nothing where it stays, or one of the two is off.
fn change(light: &CorrectedLight, setting: &LightSetting) -> String {
    let below = |setting: Option<&Setting>| setting.map(|setting| setting.stops_below_full.get());
    let [was, is] = [light.setting_before.as_ref(), setting.setting.as_ref()].map(below);
    was.zip(is).map_or_else(String::new, |(was, is)| words::turned(was - is))
}

fn to_dial(light: &CorrectedLight, setting: &LightSetting) -> String {
    let label = |setting: Option<&Setting>| setting.map(|setting| below_full(&setting.label).into_owned());
    let [was, is] = [light.setting_before.as_ref(), setting.setting.as_ref()].map(label);
    let off = || words::OFF.to_owned();
    if was == is {
        words::leave(&is.unwrap_or_else(off))
    } else {
        words::from_to(&was.unwrap_or_else(off), &is.unwrap_or_else(off))
    }
}

fn of_light(index: usize, light: &CorrectedLight) -> Row {
    let known = light.known_before_stops.get();
    let [low, off, high] = [light.low_stops, light.error_stops, light.high_stops].map(Stops::get);
    Row {
        name: words::lettered(&letter(index), &light.light),
        known: Some([-known, known]),
        off: Some([low, off, high]),
        value: words::value(light.error_stops, high - off),
        ..Row::default()
    }
}

fn of_point(point: &CorrectedPoint, tolerance: Stops) -> Row {
    let target = point.target_stops.map_or(0.0, Stops::get);
    let against = |stops: Option<Stops>| stops.map(|stops| stops.get() - target);
    let off = against(point.achieved_stops);
    let ends = point.uncertainty.as_ref().map(Uncertainty::ends);
    let [low, high] = ends.unwrap_or_default();
    let wanted = point.target_stops.map(|_| point.target_side.within(tolerance.get()));
    Row {
        name: point.name.clone(),
        detail: point
            .target_stops
            .map_or_else(String::new, |target| set_picture::target(target, point.target_side)),
        reads: point.f_number.as_ref().map_or_else(String::new, set_picture::reads),
        spread: ends.map_or_else(String::new, set_picture::spread),
        wanted,
        before: against(point.before_stops),
        off: off.map(|off| [off + low, off, off + high]),
        value: set_picture::off(point.error_stops.map(Stops::get).or(off)),
        ..Row::default()
    }
}

/// All rows in their order, or those that are off most if they are many; and the rest.
fn worst_first(mut rows: Vec<Row>) -> (Vec<Row>, Vec<Row>) {
    if rows.len() > MAX_ROWS {
        let off = |row: &Row| row.off.map_or(f64::INFINITY, |[_, off, _]| off.abs());
        rows.sort_by(|a, b| off(b).total_cmp(&off(a)));
    }
    let rest = rows.split_off(rows.len().min(MAX_ROWS));
    (rows, rest)
}

/// Draws a table from `top` down. Returns its lower edge.
fn table(
    picture: &mut Picture,
    top: f64,
    [name, reads, off]: [&str; 3],
    (rows, rest): (Vec<Row>, Vec<Row>),
    more: fn(usize, f64) -> String,
) -> f64 {
    let y = rows::draw(picture, top, Headings { name, reads, off, shares: "" }, &rows);
    let Some(worst) = rest.first().and_then(|row| row.off) else { return y };
    let text = more(rest.len(), worst[1].abs());
    picture.describe(&text);
    paragraph::body(picture, y + 20.0, TextStyle::new(NORMAL), &text) - 14.0
}

/// Draws the legend. Returns its lower edge.
fn legend(picture: &mut Picture, answer: &Correction, y: f64) -> f64 {
    let mut legend = Legend::new([picture.left(), y], picture.right());
    legend.swatch(picture, words::KNOWN, 6.0, Colour::Faint, rows::KNOWN);
    if answer.points.iter().any(|point| point.target_stops.is_some()) {
        legend.swatch(picture, words::WANTED, 6.0, Colour::Tolerance, WANTED);
    }
    if answer.points.iter().any(|point| point.before_stops.is_some()) {
        legend.add(picture, words::BEFORE, |picture, at| Mark::Ring.draw(picture, at, 7.0));
    }
    legend.add(picture, words::AFTER, |picture, at| Mark::Dot.draw(picture, at, 5.0));
    if answer.points.iter().any(|point| point.shortfall_stops.get() + point.excess_stops.get() > 0.0) {
        legend.add(picture, set_picture::MISSED, |picture, at| Mark::Cross.draw(picture, at, 5.0));
    }
    legend.error_bar(picture, Pen::new(Colour::Ink, 1.5));
    legend.bottom()
}

/// The description for screen readers.
fn description(summary: &str, dials: &[Dial], points: &[Row]) -> String {
    let dials = dials.iter().map(|dial| words::described(&dial.name, &dial.value, &dial.note));
    let points = points.iter().map(|row| words::described(&row.name, &row.reads, &row.value));
    words::description(summary, &dials.collect::<Vec<_>>(), &points.collect::<Vec<_>>())
}
