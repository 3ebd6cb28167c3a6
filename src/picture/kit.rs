//! Settings by shot: what each unit is set to, and what it has to spare or lacks.

use super::{
    axis::Axis,
    legend::Legend,
    notes, paragraph,
    sheet::{Anchor, FAINT, GREY, HATCHED, INK, PAPER, Pen, Picture, RIGHT, SMALL, Spot, Type, USUAL, WRONG},
    text::{self, hundredths, number},
};
use crate::light::{
    dialled::stops_said,
    kit::{KitCheck, Missing, Question, RoleResult, Shot, ShotResult},
    marks::Step,
    quantity::Stops,
};

const WIDTH: f64 = 760.0;
/// Where columns begin, px.
const ROLE: f64 = 32.0;
const UNIT: f64 = 160.0;
const MOVED: f64 = 290.0;
const SETTING: f64 = 332.0;
const BARS: [f64; 2] = [446.0, 588.0];
const WORDS: f64 = 624.0;
const RIGHT_EDGE: f64 = WIDTH - 20.0;
/// Heights, px.
const HEADING: f64 = 30.0;
const ROW: f64 = 22.0;
const BAR: f64 = 5.5;
const AFTER_SHOT: f64 = 12.0;
/// Stops that bars and whiskers show at the most, to the left and to the right; the words tell all.
const MOST: [f64; 2] = [4.0, 6.0];
/// Lights, shots and remedies that are told in words.
const TOLD: usize = 6;
const REMEDIES: usize = 2;
/// Lights that are told one by one in the description.
const DESCRIBED: usize = 40;

const WHISKER: Pen = Pen::new(INK, 1.5);

/// Draws an answer of `kit/check`.
pub fn draw(question: &Question, answer: &KitCheck) -> Picture {
    let mut picture = Picture::new(WIDTH, "Settings by shot", &described(question, answer));
    let style = Type::new(USUAL).uncleared();
    let mut y = paragraph::write(&mut picture, [20.0, 56.0], style, WIDTH - 40.0, 18.0, &answer.summary);
    y = legend(&mut picture, answer, y + 4.0) + 18.0;
    let axis = axis(answer);
    let head = Type::new(SMALL).in_colour(GREY).uncleared();
    for (x, said) in [(ROLE, "role"), (UNIT, "unit"), (SETTING, "setting")] {
        picture.text([x, y], head, said);
    }
    let zero = at(&axis, 0.0);
    picture.text([zero - 6.0, y], head.at(Anchor::End), "lacks");
    picture.text([zero + 6.0, y], head, "to spare, stops");
    y += 8.0;
    for (shot, told) in question.shots.iter().zip(&answer.shots) {
        heading(&mut picture, &axis, y, shot, told, question.step);
        y += HEADING;
        let rows = told.lights.len() as f64 * ROW;
        for (value, _) in axis.ticks() {
            let x = at(&axis, *value);
            picture.line([x, y], [x, y + rows], Pen::new(FAINT, 1.0));
        }
        for light in &told.lights {
            row(&mut picture, &axis, y + ROW / 2.0, light);
            y += ROW;
        }
        picture.line([zero, y - rows], [zero, y], Pen::new(INK, 1.5));
        y += AFTER_SHOT;
    }
    y = foot(&mut picture, answer, y + 14.0);
    notes::end(&mut picture, y, answer.warnings.iter().chain(&answer.cautions));
    picture
}

/// The axis of what is to spare, to the right, and of what is lacking, to the left.
fn axis(answer: &KitCheck) -> Axis {
    let lights = answer.shots.iter().flat_map(|shot| &shot.lights);
    let ends = lights.flat_map(|light| {
        let whisker = whisker(light).unwrap_or_default();
        let bar = stands(light).unwrap_or_default();
        [bar, whisker[0], whisker[1]]
    });
    let ends = ends.map(|stops| stops.clamp(-MOST[0], MOST[1]));
    // Whole stops at the least, with the place of what is lacking.
    Axis::of_stops("", ends.chain([-1.0, 2.0]), 6)
}

/// Where stops stand, to the right; at an end if beyond.
fn at(axis: &Axis, stops: f64) -> f64 {
    BARS[0] + (BARS[1] - BARS[0]) * axis.part(stops).clamp(0.0, 1.0)
}

/// Where the end of a light's bar is, stops.
fn stands(light: &RoleResult) -> Option<f64> {
    light.headroom_stops.map(Stops::get).or(light.shortfall_stops.map(|short| -short.get()))
}

/// From where to where it may be, stops.
fn whisker(light: &RoleResult) -> Option<[f64; 2]> {
    let (end, spread) = (stands(light)?, light.uncertainty_stops?);
    let [low, high] = [spread.low, spread.high].map(Stops::get);
    Some(if too_strong(light) { [end - high, end - low] } else { [end + low, end + high] })
}

/// Whether it misses because it cannot go low enough.
fn too_strong(light: &RoleResult) -> bool {
    light.shortfall_stops.is_some() && light.error_stops.is_some_and(|error| error.get() > 0.0)
}

/// What a light has to spare, or lacks, in words.
fn worded(light: &RoleResult) -> String {
    match (light.headroom_stops, light.shortfall_stops) {
        (Some(spare), _) => format!("{} to spare", hundredths(spare.get())),
        (None, Some(short)) if too_strong(light) => format!("{} too strong", hundredths(short.get())),
        (None, Some(short)) => format!("lacks {}", stops_said(short.get())),
        (None, None) => "no unit left".to_owned(),
    }
}

/// What bars and marks mean. How far down that reaches.
fn legend(picture: &mut Picture, answer: &KitCheck, y: f64) -> f64 {
    let lights = || answer.shots.iter().flat_map(|shot| &shot.lights);
    let mut legend = Legend::new([20.0, y], RIGHT_EDGE);
    legend.swatch(picture, "to spare at full power", BAR, RIGHT, Pen::new(INK, 1.0));
    if !answer.feasible {
        legend.swatch(picture, "lacks light, or has too much", BAR, HATCHED, Pen::new(WRONG, 1.5));
        legend.add(picture, "is not reached", missed);
    }
    if lights().any(|light| whisker(light).is_some()) {
        legend.whisker(picture, WHISKER);
    }
    if lights().any(|light| light.moved) {
        legend.say(picture, "moved: elsewhere, or not used, in the shot before");
    }
    legend.bottom()
}

fn missed(picture: &mut Picture, at: Spot) {
    picture.cross(at, 5.0, Pen::new(WRONG, 2.5));
}

/// The row of a shot: its name, its exposure, whether it is reached, and the ticks of its bars.
fn heading(picture: &mut Picture, axis: &Axis, top: f64, shot: &Shot, told: &ShotResult, step: Step) {
    picture.line([20.0, top], [RIGHT_EDGE, top], Pen::new(INK, 1.0));
    let base = top + 19.0;
    let name = Type::new(USUAL).bold().uncleared();
    picture.fitted([20.0, base], name, &told.name, MOVED - 32.0);
    let exposure = shot.exposure.said(None, step);
    let aside = Type::new(SMALL).in_colour(GREY).uncleared();
    picture.fitted([MOVED, base], aside, &exposure, BARS[0] - MOVED - 12.0);
    for (value, said) in axis.ticks() {
        picture.text([at(axis, *value), top + 24.0], aside.at(Anchor::Middle), said);
    }
    let verdict = Type::new(SMALL).bold().uncleared();
    if told.feasible {
        picture.text([WORDS, base], verdict, "reached");
    } else {
        let short = told.lights.iter().filter(|light| light.headroom_stops.is_none()).count();
        missed(picture, [WORDS - 11.0, base - 4.0]);
        let said = format!("short: {short} of {}", told.lights.len());
        picture.text([WORDS, base], verdict.in_colour(WRONG), &said);
    }
}

/// The row of a light, by its middle.
fn row(picture: &mut Picture, axis: &Axis, middle: f64, light: &RoleResult) {
    let base = middle + 4.5;
    let usual = Type::new(USUAL).uncleared();
    picture.fitted([ROLE, base], usual, &light.role, UNIT - ROLE - 8.0);
    let unit = light.unit.as_deref().unwrap_or("none");
    let style = if light.unit.is_some() { usual } else { usual.in_colour(WRONG) };
    picture.fitted([UNIT, base], style, unit, MOVED - UNIT - 8.0);
    if light.moved {
        picture.text([MOVED, base], Type::new(SMALL).in_colour(GREY).uncleared(), "moved");
    }
    if let Some(setting) = &light.setting {
        // As large as there is room for: it is what is dialled.
        let room = BARS[0] - SETTING - 8.0;
        let sizes = [15.0, USUAL, SMALL].map(|size| Type::new(size).bold().uncleared());
        let fits = sizes.into_iter().find(|style| style.width(&setting.label) <= room);
        picture.fitted([SETTING, base + 0.5], fits.unwrap_or(sizes[2]), &setting.label, room);
    }
    if let Some(stops) = stands(light) {
        bar(picture, axis, middle, stops);
    }
    if let Some(ends) = whisker(light) {
        picture.whisker(ends.map(|stops| (at(axis, stops), axis.holds(stops))), middle, WHISKER);
    }
    let style = Type::new(SMALL).uncleared();
    if light.headroom_stops.is_some() {
        picture.text([WORDS, base], style, &worded(light));
    } else {
        missed(picture, [WORDS - 11.0, middle]);
        picture.text([WORDS, base], style.bold().in_colour(WRONG), &worded(light));
    }
}

/// A bar from zero; beyond the axis it ends in an arrow.
fn bar(picture: &mut Picture, axis: &Axis, y: f64, stops: f64) {
    let (zero, end) = (at(axis, 0.0), at(axis, stops));
    let (fill, pen, towards) =
        if stops < 0.0 { (HATCHED, Pen::new(WRONG, 1.5), -1.0) } else { (RIGHT, Pen::new(INK, 1.0), 1.0) };
    picture.rectangle([zero, y - BAR], [end, y + BAR], fill, pen);
    if !axis.holds(stops) {
        picture.rectangle([end, y - BAR], [end - towards * 11.0, y + BAR], PAPER, pen);
        picture.arrow_head([end - towards, y], [towards, 0.0], pen.colour);
    }
}

/// What is missing, and what would do it, in words: the first few. Where the next line stands.
fn foot(picture: &mut Picture, answer: &KitCheck, top: f64) -> f64 {
    let missing: Vec<String> = answer.missing.iter().take(TOLD).map(lacked).collect();
    let y = notes::under(picture, top, "What is missing", &missing, answer.missing.len() - missing.len());
    let remedied = || answer.shots.iter().filter(|shot| !shot.remedies.is_empty());
    let remedies = remedied().take(TOLD).flat_map(|shot| {
        let told = shot.remedies.iter().take(REMEDIES);
        told.map(|remedy| format!("In \"{}\": {}", shot.name, remedy.detail))
    });
    let told: Vec<String> = remedies.collect();
    let more = remedied().map(|shot| shot.remedies.len()).sum::<usize>() - told.len();
    notes::under(picture, y, "One of these would do it, for each shot", &told, more)
}

fn lacked(missing: &Missing) -> String {
    let short = missing
        .shortfall_stops
        .map_or_else(|| "no unit is left".to_owned(), |short| format!("lacks {}", stops_said(short.get())));
    let energy = missing.energy_j.map(|energy| format!("a unit of {} J", number(energy.get())));
    let guide = missing.guide_number_m.map(|guide| {
        let feet =
            missing.guide_number_ft.map_or_else(String::new, |feet| format!(" ({} ft)", number(feet.get())));
        format!("guide number {} m{feet}", number(guide.get()))
    });
    let would = [energy, guide].into_iter().flatten().collect::<Vec<_>>().join(", or ");
    let would = if would.is_empty() { would } else { format!("; {would} would do") };
    format!("\"{}\" in \"{}\": {short}{would}.", missing.role, missing.shot)
}

/// The same for those who do not see it.
fn described(question: &Question, answer: &KitCheck) -> String {
    let lights = answer.shots.iter().zip(&question.shots).flat_map(|(told, shot)| {
        let exposure = shot.exposure.said(None, question.step);
        told.lights.iter().map(move |light| {
            let dialled = match (&light.unit, &light.setting) {
                (Some(unit), Some(setting)) => format!("{unit} at {}, ", setting.label),
                _ => String::new(),
            };
            format!("{} in {} ({exposure}): {dialled}{}", light.role, told.name, worded(light))
        })
    });
    let lights: Vec<String> = lights.collect();
    format!("{} Lights: {}.", answer.summary, text::listed(lights.into_iter(), DESCRIBED))
}
