//! The lights of a kit check that are short or tight, each with its setting and a bar; the rest in a line.

use crate::{
    drawing::{
        canvas::{
            colour::Colour,
            legend::Legend,
            marks::Mark,
            paragraph,
            ruler::Ruler,
            sheet::{Anchor, LARGE, NORMAL, Pen, Picture, SMALL, TextStyle},
        },
        kit::{bars, outcome::Outcome},
    },
    light::kit::{KitCheck, KitQuestion, RoleResult, ShotResult},
    wording::{format, phrases::kit_picture as words},
};

/// The most rows, on a narrow and on a wide sheet.
const MOST: [usize; 2] = [6, 12];
/// The heights of rows, px.
const TALL: f64 = 134.0;
const LOW: f64 = 74.0;
/// Where the columns of a wide sheet begin, px from the left.
const SETTING: f64 = 250.0;
const BARS: f64 = 420.0;
/// The room for words beside the bars, px.
const WORDS: f64 = 250.0;
/// The room for a mark, px.
const MARK: f64 = 20.0;
const GREY: TextStyle = TextStyle::new(SMALL).in_colour(Colour::Grey).without_halo();

/// A light with its shot.
struct Item<'a> {
    shot: &'a ShotResult,
    exposure: String,
    light: &'a RoleResult,
    outcome: Outcome,
}

/// Draws the rows, the worst first. Returns the position of the next line.
pub fn draw(picture: &mut Picture, top: f64, question: &KitQuestion, answer: &KitCheck) -> f64 {
    let all = answer.shots.iter().zip(&question.shots).flat_map(|(result, shot)| {
        result.lights.iter().map(move |light| (result, shot, light, Outcome::of_role(light)))
    });
    let (fine, mut rest): (Vec<_>, Vec<_>) = all.partition(|(.., outcome)| outcome.is_fine());
    rest.sort_by(|a, b| a.3.spare().total_cmp(&b.3.spare()));
    let least = fine.iter().filter_map(|(_, _, light, _)| bars::value(light)).reduce(f64::min);
    let most = MOST[usize::from(!picture.is_narrow())];
    let (shown, more) = (rest.len().min(most), rest.len().saturating_sub(most));
    let items = rest.into_iter().take(shown).map(|(result, shot, light, outcome)| {
        let exposure = format::exposure(shot.exposure, None, question.rules.step);
        Item { shot: result, exposure, light, outcome }
    });
    let items: Vec<Item<'_>> = items.collect();
    let mut y = top;
    if !items.is_empty() {
        y = rows(picture, y + 12.0, &items);
    }
    let rest = [words::more_tight(more), words::fine(fine.len(), items.is_empty(), least)];
    for text in rest.into_iter().flatten() {
        picture.describe(&text);
        y = paragraph::details(picture, y + 6.0, &text);
    }
    y
}

fn rows(picture: &mut Picture, top: f64, items: &[Item<'_>]) -> f64 {
    let lights: Vec<&RoleResult> = items.iter().map(|item| item.light).collect();
    let narrow = picture.is_narrow();
    let y = paragraph::body(picture, top, TextStyle::new(LARGE).bold(), words::DETAIL);
    let mut legend = Legend::new([picture.left(), y], picture.right());
    bars::legend(&mut legend, picture, &lights);
    let left = picture.left() + if narrow { 0.0 } else { BARS };
    let right = picture.right() - if narrow { 0.0 } else { WORDS };
    let ruler = bars::ruler(&lights, [left + Ruler::ARROW + 8.0, right - Ruler::ARROW - 8.0]);
    let first = legend.bottom() + 24.0;
    let height = if narrow { TALL } else { LOW };
    let bottom = first + height * items.len() as f64;
    ruler.labels(picture, first - 4.0);
    // A wide sheet has a column of bars; on a narrow one text is between them.
    if !narrow {
        ruler.grid(picture, [first, bottom]);
    }
    for (index, item) in items.iter().enumerate() {
        let y = first + height * index as f64;
        picture.line([picture.left(), y], [picture.right(), y], Pen::new(Colour::Faint, 1.0));
        row(picture, &ruler, y, item);
    }
    bottom + 20.0
}

/// Draws a row from `top` down.
fn row(picture: &mut Picture, ruler: &Ruler, top: f64, item: &Item<'_>) {
    let narrow = picture.is_narrow();
    let (left, right) = (picture.left() + MARK, picture.right());
    let mark = if item.outcome.is_missed() {
        Mark::Cross
    } else if item.light.is_doubtful() {
        Mark::Doubt
    } else {
        Mark::Tight
    };
    let middle = top + if narrow { 20.0 } else { LOW / 2.0 };
    mark.draw(picture, [picture.left() + 8.0, middle], 6.0);
    let setting = item.light.setting.as_ref().map_or("", |setting| setting.label.as_str());
    let unit = item.light.unit.as_deref().unwrap_or(words::NONE_LEFT);
    let bold = TextStyle::new(LARGE).bold().without_halo();
    let name = TextStyle::new(NORMAL).bold().without_halo();
    let shot = &item.shot.name;
    if narrow {
        let end = bold.anchored(Anchor::End);
        let taken = end.width(setting).min(110.0);
        picture.shortened([right, top + 24.0], end, setting, 110.0);
        paragraph::name(picture, [left, top + 20.0], name, &item.light.role, right - left - taken - 10.0);
        let half = (right - left) / 2.0 - 6.0;
        picture.shortened([right, top + 50.0], GREY.anchored(Anchor::End), unit, half);
        picture.shortened([left, top + 50.0], GREY, shot, half);
    } else {
        let room = SETTING - MARK - 12.0;
        paragraph::name(picture, [left, middle - 14.0], name, &item.light.role, room);
        picture.shortened([left, middle + 24.0], GREY, shot, room);
        let x = picture.left() + SETTING;
        picture.shortened([x, middle - 5.0], bold, setting, BARS - SETTING - 12.0);
        picture.shortened([x, middle + 16.0], GREY, unit, BARS - SETTING - 12.0);
    }
    let bar = if narrow { top + 68.0 } else { middle };
    if narrow {
        ruler.grid(picture, [bar - 10.0, bar + 10.0]);
    }
    bars::draw(picture, ruler, bar, item.light);
    let colour = if item.outcome.is_missed() { Colour::Wrong } else { Colour::Ink };
    let margin = words::margin(item.light);
    let range = bars::error_bar(item.light).map(words::margin_range).unwrap_or_default();
    let chance = words::exposure_and_chance(&item.exposure, item.light);
    let style = TextStyle::new(SMALL).bold().in_colour(colour).without_halo();
    if narrow {
        picture.text([left, top + 98.0], style, &margin);
        let used = style.width(&margin) + 12.0;
        picture.shortened([left + used, top + 98.0], GREY, &range, right - left - used);
        picture.shortened([left, top + 119.0], GREY, &chance, right - left);
    } else {
        let x = picture.right() - WORDS + 20.0;
        picture.text([x, middle - 15.0], style, &margin);
        picture.text([x, middle + 5.0], GREY, &range);
        picture.shortened([x, middle + 24.0], GREY, &chance, WORDS - 20.0);
    }
}
