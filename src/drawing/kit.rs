//! Settings by shot: what each unit is set to, and what it has to spare or how it misses.

mod bars;
mod told;

use self::bars::Bars;
use crate::{
    drawing::canvas::{
        legend::Legend,
        notes, paragraph,
        sheet::{Anchor, GREY, INK, Pen, Picture, SMALL, SheetPoint, Type, USUAL, WRONG},
    },
    light::{
        kit::{KitCheck, Question, RoleResult, Shot, ShotResult},
        quantity::marks::Step,
    },
};

const WIDTH: f64 = 760.0;
const LEFT: f64 = 20.0;
const RIGHT_EDGE: f64 = WIDTH - 20.0;
/// Where columns begin, px; the mark of what moved stands before the unit.
const ROLE: f64 = 28.0;
const UNIT: f64 = 166.0;
const EXPOSURE: f64 = 264.0;
const SETTING: f64 = 304.0;
const BARS: [f64; 2] = [412.0, 552.0];
const WORDS: f64 = 590.0;
/// Marks of verdicts, before the words.
const VERDICT: f64 = WORDS - 11.0;
const MOVED: f64 = UNIT - 12.0;
/// Between columns.
const GAP: f64 = 8.0;
/// Heights, px; a row is taller where a name or what is said takes two lines.
const HEADING: f64 = 30.0;
const ROW: f64 = 22.0;
const TALL: f64 = 32.0;
const AFTER_SHOT: f64 = 12.0;
/// The ticks are told again so far down: with few shots once, with many wherever one looks.
const TICKS_APART: f64 = 480.0;

const NAME: Type = Type::new(USUAL).uncleared();
const WORD: Type = Type::new(SMALL).uncleared();

/// Draws an answer of `kit/check`.
pub fn draw(question: &Question, answer: &KitCheck) -> Picture {
    let mut picture = Picture::new(WIDTH, "Settings by shot", &told::description(question, answer));
    let mut y = paragraph::write(&mut picture, [LEFT, 56.0], NAME, WIDTH - 40.0, 18.0, &answer.summary);
    for line in told::indices(answer) {
        picture.describe(&line);
        y = paragraph::write(&mut picture, [LEFT, y], WORD, WIDTH - 40.0, 16.0, &line);
    }
    let bars = Bars::of(answer, BARS);
    y = legend(&mut picture, answer, y + 4.0) + 18.0;
    let head = WORD.in_colour(GREY);
    y = bars.head(&mut picture, y, head);
    for (x, said) in [(ROLE, "role"), (UNIT, "unit"), (SETTING, "setting"), (WORDS, "stops")] {
        picture.text([x, y], head, said);
    }
    y += 8.0;
    let mut ticks = f64::MIN;
    for (shot, told) in question.shots.iter().zip(&answer.shots) {
        heading(&mut picture, y, shot, told, question.step);
        if y - ticks >= TICKS_APART {
            bars.ticks(&mut picture, y + 24.0, head);
            ticks = y;
        }
        y += HEADING;
        let high = told.lights.iter().map(height).sum::<f64>();
        bars.grid(&mut picture, [y, y + high]);
        for light in &told.lights {
            let high = height(light);
            row(&mut picture, &bars, y + high / 2.0, light);
            y += high;
        }
        bars.zero(&mut picture, [y - high, y]);
        y += AFTER_SHOT;
    }
    y = foot(&mut picture, answer, y + 14.0);
    // What the sentences above the shots tell is not told twice.
    let remarks = answer.warnings.iter().filter(|remark| !answer.summary.contains(&remark.text));
    notes::end(&mut picture, y, remarks.chain(&answer.cautions));
    picture
}

/// What bars and marks mean, of those that are there. How far down that reaches.
fn legend(picture: &mut Picture, answer: &KitCheck, y: f64) -> f64 {
    let any = |is: &dyn Fn(&RoleResult) -> bool| answer.shots.iter().flat_map(|shot| &shot.lights).any(is);
    let mut legend = Legend::new([LEFT, y], RIGHT_EDGE);
    bars::legend(&mut legend, picture, any);
    if any(&RoleResult::is_missed) {
        legend.add(picture, "not reached", missed);
    }
    if any(&|light| light.may_lack().is_some()) {
        legend.add(picture, "perhaps not reached", doubted);
    }
    if any(&|light| light.moved) {
        legend.add(picture, "was elsewhere, or not used, in the shot before", moved);
    }
    legend.bottom()
}

fn missed(picture: &mut Picture, at: SheetPoint) {
    picture.cross(at, 5.0, Pen::new(WRONG, 2.5));
}

fn doubted(picture: &mut Picture, [x, y]: SheetPoint) {
    picture.text([x, y + 4.5], NAME.bold().at(Anchor::Middle), "?");
}

fn moved(picture: &mut Picture, [x, y]: SheetPoint) {
    picture.line([x - 7.0, y], [x, y], Pen::new(GREY, 1.5));
    picture.arrow_head([x + 7.0, y], [1.0, 0.0], GREY);
}

/// The row of a shot: its name, its exposure, and whether it is reached.
fn heading(picture: &mut Picture, top: f64, shot: &Shot, told: &ShotResult, step: Step) {
    picture.line([LEFT, top], [RIGHT_EDGE, top], Pen::new(INK, 1.0));
    let middle = top + 15.0;
    paragraph::name(picture, [LEFT, middle], NAME.bold(), &told.name, EXPOSURE - LEFT - GAP);
    let exposure = shot.exposure.said(None, step);
    picture.fitted([EXPOSURE, middle + 4.0], WORD.in_colour(GREY), &exposure, BARS[0] - EXPOSURE - GAP);
    let colour = if told.feasible { INK } else { WRONG };
    picture.text([WORDS, middle + 4.0], WORD.bold().in_colour(colour), &told::verdict(told));
    if !told.feasible {
        missed(picture, [VERDICT, middle]);
    } else if told.is_doubtful() {
        doubted(picture, [VERDICT, middle]);
    }
}

fn unit(light: &RoleResult) -> &str {
    light.unit.as_deref().unwrap_or("none")
}

/// Room for a role and a unit, px.
const NAMES: [f64; 2] = [MOVED - 7.0 - GAP - ROLE, SETTING - UNIT - GAP];

/// How tall the row of a light is.
fn height(light: &RoleResult) -> f64 {
    let names = [light.role.as_str(), unit(light)];
    let is_long = names.into_iter().zip(NAMES).any(|(name, room)| NAME.width(name) > room);
    if is_long || told::range(light).is_some() { TALL } else { ROW }
}

/// The row of a light, by its middle.
fn row(picture: &mut Picture, bars: &Bars, middle: f64, light: &RoleResult) {
    paragraph::name(picture, [ROLE, middle], NAME, &light.role, NAMES[0]);
    let style = if light.unit.is_some() { NAME } else { NAME.in_colour(WRONG) };
    paragraph::name(picture, [UNIT, middle], style, unit(light), NAMES[1]);
    if light.moved {
        moved(picture, [MOVED, middle]);
    }
    if let Some(setting) = &light.setting {
        // As large as there is room for: it is what is dialled.
        let room = BARS[0] - SETTING - GAP;
        let sizes = [15.0, USUAL, SMALL].map(|size| Type::new(size).bold().uncleared());
        let fits = sizes.into_iter().find(|style| style.width(&setting.label) <= room);
        picture.fitted([SETTING, middle + 5.0], fits.unwrap_or(sizes[2]), &setting.label, room);
    }
    bars.draw(picture, middle, light);
    let style = if light.is_missed() { WORD.bold().in_colour(WRONG) } else { WORD };
    let range = told::range(light);
    let base = middle + if range.is_some() { -2.0 } else { 4.0 };
    picture.text([WORDS, base], style, &told::worded(light));
    picture.text([WORDS, middle + 10.0], WORD.in_colour(GREY), &range.unwrap_or_default());
    if light.is_missed() {
        missed(picture, [VERDICT, middle]);
    } else if light.may_lack().is_some() {
        doubted(picture, [VERDICT, middle]);
    }
}

/// What is missing or too much, and what would do it, in words: the first few. Where the next line stands.
fn foot(picture: &mut Picture, answer: &KitCheck, top: f64) -> f64 {
    told::faults(answer)
        .into_iter()
        .fold(top, |y, told::Few { heading, told, more }| notes::under(picture, y, heading, &told, more))
}
