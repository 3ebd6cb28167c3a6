//! The picture of a kit check: by shot, the setting of each unit and its headroom or shortfall.

mod bars;
mod lists;

use self::bars::Bars;
use crate::{
    drawing::canvas::{
        colour::Colour,
        legend::Legend,
        notes, paragraph,
        sheet::{Anchor, NORMAL, Pen, Picture, SMALL, SheetPoint, TextStyle},
    },
    light::{
        kit::{KitCheck, KitQuestion, RoleResult, Shot, ShotResult},
        quantity::marks::Step,
    },
    wording::{
        format,
        phrases::{self, kit_picture},
        summary::Summary,
    },
};

/// The width that the layout is made for, px.
const WIDTH: f64 = 900.0;
const LEFT: f64 = 20.0;
const RIGHT_EDGE: f64 = WIDTH - 20.0;
/// The left edges of columns, px. The mark of a unit that moved is to the left of its name.
const ROLE: f64 = 28.0;
const UNIT: f64 = 194.0;
const EXPOSURE: f64 = 300.0;
const SETTING: f64 = 350.0;
const BARS: [f64; 2] = [470.0, 622.0];
const WORDS: f64 = 668.0;
/// The position of verdict marks, before the text, px.
const VERDICT: f64 = WORDS - 11.0;
const MOVED: f64 = UNIT - 12.0;
/// The gap between columns, px.
const GAP: f64 = 8.0;
/// Heights, px. A row is taller if a name or the text needs two lines.
const HEADING: f64 = 36.0;
const ROW: f64 = 28.0;
const TALL: f64 = 42.0;
const AFTER_SHOT: f64 = 12.0;
/// The tick labels are repeated after this height, px, so that they are near every shot of a long list.
const TICKS_APART: f64 = 480.0;

const NAME: TextStyle = TextStyle::new(NORMAL).without_halo();
const WORD: TextStyle = TextStyle::new(SMALL).without_halo();

/// Draws an answer of `kit/check`.
pub fn draw(question: &KitQuestion, answer: &KitCheck, width: f64) -> Picture {
    let summary = answer.summary();
    let mut picture =
        Picture::new(width.max(WIDTH), kit_picture::TITLE, &lists::description(&summary, question, answer));
    let mut y = paragraph::headline(&mut picture, &summary);
    for line in lists::shot_lists(answer) {
        picture.describe(&line);
        y = paragraph::body(&mut picture, y, WORD, &line);
    }
    let bars = Bars::new(answer, BARS);
    y = legend(&mut picture, answer, y + 4.0) + 18.0;
    let head = WORD.in_colour(Colour::Grey);
    y = bars.head(&mut picture, y, head);
    for (x, label) in [ROLE, UNIT, SETTING, WORDS].into_iter().zip(kit_picture::COLUMNS) {
        picture.text([x, y], head, label);
    }
    y += 8.0;
    let mut ticks = f64::MIN;
    for (shot, result) in question.shots.iter().zip(&answer.shots) {
        heading(&mut picture, y, shot, result, question.rules.step);
        if y - ticks >= TICKS_APART {
            bars.ticks(&mut picture, y + 24.0, head);
            ticks = y;
        }
        y += HEADING;
        let height_px = result.lights.iter().map(height).sum::<f64>();
        bars.grid(&mut picture, [y, y + height_px]);
        for light in &result.lights {
            let height_px = height(light);
            row(&mut picture, &bars, y + height_px / 2.0, light);
            y += height_px;
        }
        bars.zero(&mut picture, [y - height_px, y]);
        y += AFTER_SHOT;
    }
    y = foot(&mut picture, answer, y + 14.0);
    // Warnings that the summary already contains are not repeated.
    let remarks = answer.warnings.iter().filter(|remark| !answer.summary.mind.contains(remark));
    notes::finish(
        &mut picture,
        y,
        remarks.map(phrases::remark).chain(answer.cautions.iter().map(phrases::remark)),
    );
    picture
}

/// Draws the legend of the bars and marks in use. Returns its lower edge.
fn legend(picture: &mut Picture, answer: &KitCheck, y: f64) -> f64 {
    let any = |is: &dyn Fn(&RoleResult) -> bool| answer.shots.iter().flat_map(|shot| &shot.lights).any(is);
    let mut legend = Legend::new([LEFT, y], RIGHT_EDGE);
    bars::legend(&mut legend, picture, any);
    if any(&RoleResult::is_missed) {
        legend.add(picture, kit_picture::NOT_REACHED, missed);
    }
    if any(&RoleResult::is_doubtful) {
        legend.add(picture, kit_picture::PERHAPS_NOT_REACHED, doubted);
    }
    if any(&|light| light.moved) {
        legend.add(picture, kit_picture::MOVED, moved);
    }
    legend.bottom()
}

fn missed(picture: &mut Picture, at: SheetPoint) {
    picture.cross(at, 5.0, Pen::new(Colour::Wrong, 2.5));
}

fn doubted(picture: &mut Picture, [x, y]: SheetPoint) {
    picture.text([x, y + 4.5], NAME.bold().anchored(Anchor::Middle), "?");
}

fn moved(picture: &mut Picture, [x, y]: SheetPoint) {
    picture.line([x - 7.0, y], [x, y], Pen::new(Colour::Grey, 1.5));
    picture.arrow_head([x + 7.0, y], [1.0, 0.0], Colour::Grey);
}

/// Draws the heading of a shot: its name, its exposure, and whether it is reached.
fn heading(picture: &mut Picture, top: f64, shot: &Shot, result: &ShotResult, step: Step) {
    picture.line([LEFT, top], [RIGHT_EDGE, top], Pen::new(Colour::Ink, 1.0));
    let middle = top + 18.0;
    paragraph::name(picture, [LEFT, middle], NAME.bold(), &result.name, EXPOSURE - LEFT - GAP);
    let exposure = format::exposure(shot.exposure, None, step);
    picture.shortened(
        [EXPOSURE, middle + 5.0],
        WORD.in_colour(Colour::Grey),
        &exposure,
        BARS[0] - EXPOSURE - GAP,
    );
    let colour = if result.feasible { Colour::Ink } else { Colour::Wrong };
    picture.text([WORDS, middle + 5.0], WORD.bold().in_colour(colour), &kit_picture::verdict(result));
    if !result.feasible {
        missed(picture, [VERDICT, middle]);
    } else if result.is_doubtful() {
        doubted(picture, [VERDICT, middle]);
    }
}

fn unit(light: &RoleResult) -> &str {
    light.unit.as_deref().unwrap_or(kit_picture::NO_UNIT)
}

/// The width available for a role and a unit, px.
const NAMES: [f64; 2] = [MOVED - 7.0 - GAP - ROLE, SETTING - UNIT - GAP];

/// The height of a light's row, px.
fn height(light: &RoleResult) -> f64 {
    let names = [light.role.as_str(), unit(light)];
    let is_long = names.into_iter().zip(NAMES).any(|(name, room)| NAME.width(name) > room);
    if is_long || bars::error_bar(light).is_some() { TALL } else { ROW }
}

/// Draws the row of a light around its vertical centre.
fn row(picture: &mut Picture, bars: &Bars, middle: f64, light: &RoleResult) {
    paragraph::name(picture, [ROLE, middle], NAME, &light.role, NAMES[0]);
    let style = if light.unit.is_some() { NAME } else { NAME.in_colour(Colour::Wrong) };
    paragraph::name(picture, [UNIT, middle], style, unit(light), NAMES[1]);
    if light.moved {
        moved(picture, [MOVED, middle]);
    }
    if let Some(setting) = &light.setting {
        // In the largest size that fits, because this is the value to set on the unit.
        let room = BARS[0] - SETTING - GAP;
        let sizes = [18.0, NORMAL, SMALL].map(|size| TextStyle::new(size).bold().without_halo());
        let fits = sizes.into_iter().find(|style| style.width(&setting.label) <= room);
        picture.shortened([SETTING, middle + 5.0], fits.unwrap_or(sizes[2]), &setting.label, room);
    }
    bars.draw(picture, middle, light);
    let style = if light.is_missed() { WORD.bold().in_colour(Colour::Wrong) } else { WORD };
    let range = bars::error_bar(light).map(kit_picture::margin_range);
    let base = middle + if range.is_some() { -3.0 } else { 5.0 };
    picture.text([WORDS, base], style, &kit_picture::margin(light));
    picture.text([WORDS, middle + 14.0], WORD.in_colour(Colour::Grey), &range.unwrap_or_default());
    if light.is_missed() {
        missed(picture, [VERDICT, middle]);
    } else if light.is_doubtful() {
        doubted(picture, [VERDICT, middle]);
    }
}

/// Lists missing and excess light and the remedies, each list shortened. Returns the position of the next line.
fn foot(picture: &mut Picture, answer: &KitCheck, top: f64) -> f64 {
    lists::problem_lists(answer).into_iter().fold(top, |y, lists::TextList { heading, lines, more }| {
        notes::list(picture, y, heading, &lines, more)
    })
}
