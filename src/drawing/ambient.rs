//! The picture of ambient light: its level against the flash, the limit or what is wanted, and what to do.

use crate::{
    drawing::{
        canvas::{
            axis::Axis,
            colour::{Colour, Fill},
            legend::{self, Legend},
            marks::Mark,
            notes, paragraph,
            ruler::Ruler,
            sheet::{Anchor, NORMAL, Pen, Picture, SMALL, TextStyle},
            todo,
        },
        estimate::{fix, others},
    },
    light::{
        measure::ambient::{AmbientQuestion, Check},
        quantity::Stops,
        uncertainty::Uncertainty,
    },
    wording::{
        format::rounded_stops,
        phrases::{self, ambient_picture as words, estimate_picture::how_sure},
        summary::Summary,
    },
};

const ROW: f64 = 46.0;
const HALF_BAR: f64 = 9.0;
/// How far the axis goes below the limit, stops, so that the room to spare is seen.
const BELOW: f64 = 1.5;
/// The widest axis, stops; what lies beyond it has an arrow.
const WIDEST: f64 = 16.0;
const LINE: Pen = Pen::new(Colour::Second, 2.5).dashed("7 3");
const EDGE: Pen = Pen::new(Colour::Wrong, 1.0);

/// Draws an answer of `ambient/check`; `limit` is the most that is allowed, stops against the flash.
pub fn draw(question: &AmbientQuestion, answer: &Check, limit: Stops, width: f64) -> Picture {
    let summary = answer.summary();
    let mut picture = Picture::new(width, words::TITLE, &summary);
    let mut y = paragraph::headline(&mut picture, &summary) + 4.0;
    if let Some(below) = answer.ambient_below_flash_stops {
        let sure = answer.uncertainty.as_ref();
        y = todo::draw(&mut picture, y, &what_to_do(question, answer)) + 10.0;
        y = scale(&mut picture, y, question, limit, below, sure);
        if let Some(sure) = sure.map(how_sure) {
            picture.describe(&sure);
            y = paragraph::body(&mut picture, y, TextStyle::new(NORMAL), &sure) + 6.0;
        }
        y = others(&mut picture, y, &answer.remedies);
    } else {
        let none = line(Mark::Check, words::NO_AMBIENT, words::NONE.to_owned(), String::new());
        y = todo::draw(&mut picture, y, &[none]) + 20.0;
    }
    notes::finish(&mut picture, y, phrases::remarks(&answer.warnings, &[]));
    picture
}

fn line(mark: Mark, name: &str, value: String, details: String) -> todo::Line {
    todo::Line { mark, name: name.to_owned(), value, details }
}

/// The verdict, then the time or the changes that do it.
fn what_to_do(question: &AmbientQuestion, answer: &Check) -> Vec<todo::Line> {
    let found = answer.set_exposure_time.as_ref();
    let found = found.map(|time| line(Mark::Go, words::EXPOSURE_TIME, time.label(), String::new()));
    let wanted = answer.exposure_time.as_ref();
    let wanted =
        wanted.map(|time| line(Mark::Go, words::TIME_WANTED, time.label(), words::AS_WANTED.to_owned()));
    let longest = answer.longest_exposure_time.as_ref().filter(|_| question.wanted.is_none());
    let longest = longest.map(|time| {
        let is_refused = answer.sync_allows == Some(false);
        let mark = if is_refused { Mark::Cross } else { Mark::Go };
        let details = if is_refused { words::SYNC_TOO_LONG } else { words::KEEPS_OUT };
        line(mark, words::LONGEST_TIME, time.label(), details.to_owned())
    });
    let verdict = question.wanted.is_none().then(|| {
        let mark = if answer.clean { Mark::Check } else { Mark::Cross };
        let brighter = rounded_stops(answer.brightening_stops.get());
        line(mark, words::BRIGHTER, brighter, words::allowed(question.allowed))
    });
    let time = if found.is_some() { found } else { wanted.or(longest) };
    let [name, value, details] = words::test_frame(answer);
    let test = line(Mark::Dot, &name, value, details);
    // A remedy sets the time too, where that changes.
    if answer.remedies.is_empty() {
        verdict.into_iter().chain(time).chain([test]).collect()
    } else {
        let time = time.filter(|line| line.mark != Mark::Go || question.exposure_time.is_some());
        verdict.into_iter().chain(fix(&answer.remedies)).chain(time).chain([test]).collect()
    }
}

/// Draws flash and ambient light on one axis, from `top` down. Returns the position of the next line.
fn scale(
    picture: &mut Picture,
    top: f64,
    question: &AmbientQuestion,
    limit: Stops,
    below: Stops,
    uncertainty: Option<&Uncertainty>,
) -> f64 {
    let level = -below.get();
    // What is more below the flash is less.
    let [low, high] = uncertainty.map_or([0.0; 2], |it| it.ends().map(|off| -off));
    let [low, high] = [high, low].map(|off| level + off);
    let (target, is_wanted) = question.wanted.map_or((limit, false), |wanted| (wanted, true));
    let target = target.get();
    let values =
        [0.0, 0.5, low, high, target, target - BELOW].map(|stops| stops.clamp(target - WIDEST, WIDEST));
    let axis = Axis::stops(words::AXIS, values.into_iter(), if picture.is_narrow() { 7 } else { 12 });
    let names = if picture.is_narrow() { 0.0 } else { 130.0 };
    let margin = Ruler::ARROW + 8.0;
    let ends = [picture.left() + names + margin, picture.right() - margin];
    let ruler = Ruler { axis, ends };
    let grey = TextStyle::new(SMALL).in_colour(Colour::Grey);
    let labels = paragraph::body(picture, top + 14.0, grey, words::AXIS) + 4.0;
    let rows = labels + 8.0;
    let bottom = rows + 2.0 * ROW;
    let [least, _] = ruler.axis.range();
    if !is_wanted {
        ruler.range(
            picture,
            rows + ROW,
            ROW,
            [least, target],
            Colour::Tolerance,
            Pen::new(Colour::Tolerance, 0.0),
        );
    }
    ruler.grid(picture, [labels + 6.0, bottom]);
    ruler.labels(picture, labels);
    let x = ruler.x(target);
    picture.line([x, labels + 6.0], [x, bottom], LINE);
    let name = |picture: &mut Picture, row: f64, name: &str| {
        let y = if names > 0.0 { rows + row * ROW + 30.0 } else { rows + row * ROW + 14.0 };
        picture.text([picture.left(), y], TextStyle::new(NORMAL), name);
    };
    name(picture, 0.0, words::FLASH);
    name(picture, 1.0, words::AMBIENT);
    let middle = |row: f64| rows + row * ROW + if names > 0.0 { 25.0 } else { 32.0 };
    ruler.mark(picture, middle(0.0), 0.0, Mark::Diamond);
    let gap = level - target;
    let is_missed = if is_wanted { gap.abs() > question.tolerance() } else { gap > 1e-6 };
    if is_missed {
        ruler.range(
            picture,
            middle(1.0),
            HALF_BAR,
            [target.min(level), target.max(level)],
            Fill::Missing,
            EDGE,
        );
    }
    let mark = if is_missed { Mark::Cross } else { Mark::Dot };
    ruler.likely(picture, middle(1.0), [low, level, high], mark);
    let said = words::gap(gap, is_wanted);
    picture.describe(&format!("{}: {said}.", words::limit(Stops::new_unchecked(target))));
    let style = TextStyle::new(NORMAL).bold().in_colour(mark.colour()).anchored(Anchor::End);
    let next = bottom + 20.0;
    picture.text([picture.right(), next], style, &said);
    let mut legend = Legend::new([picture.left(), next + 20.0], picture.right());
    let target_name = if is_wanted { words::WANTED.to_owned() } else { words::limit(limit) };
    legend.add(picture, &target_name, |picture, [x, y]| picture.line([x, y - 9.0], [x, y + 9.0], LINE));
    if !is_wanted {
        legend.swatch(picture, words::STAYS_OUT, 6.0, Colour::Tolerance, Pen::new(Colour::Tolerance, 0.0));
    }
    if is_missed {
        let label = if gap > 0.0 { words::TOO_MUCH } else { words::TOO_LITTLE };
        legend.add(picture, label, |picture, at| legend::swatch(picture, at, 6.0, Fill::Missing, EDGE));
    }
    if high > low {
        legend.error_bar(picture, Pen::new(Colour::Ink, 1.5));
    }
    legend.bottom() + 20.0
}
