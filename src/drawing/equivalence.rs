//! The picture of a swap: what each unit can give, against the light that is needed.

use crate::{
    drawing::canvas::{
        axis::Axis,
        colour::{Colour, Fill},
        legend::Legend,
        marks::Mark,
        notes, paragraph,
        ruler::Ruler,
        sheet::{Anchor, NORMAL, Pen, Picture, SheetPoint, TextStyle},
        todo,
    },
    light::{
        equivalence::{Equivalence, EquivalenceQuestion, Match, Reach},
        kit::TIGHT_STOPS,
    },
    wording::{format::listed, phrases, phrases::equivalence_picture as words, summary::Summary},
};

/// The most candidates that are drawn, and the most in the description.
const MAX_DRAWN: usize = 8;
const MAX_DESCRIBED: usize = 40;
/// The farthest light that is drawn, stops from what is needed.
const MAX_STOPS: f64 = 12.0;
/// Clicks are drawn if they are at least this far apart, px.
const CLICKS_APART: f64 = 4.0;
/// The room for names beside the bars of a wide sheet, px.
const NAMES: f64 = 230.0;
const HALF: f64 = 9.0;
/// Half the height of the band and the line across a bar, px.
const ACROSS: f64 = 14.0;

const LIMIT: Pen = Pen::new(Colour::Ink, 2.0);
const BAND: Pen = Pen::new(Colour::Ink, 1.0).dashed("3 3");
const BAR: Pen = Pen::new(Colour::Data, 1.5);
const CLICK: Pen = Pen::new(Colour::Data, 1.0);
const GAP: Pen = Pen::new(Colour::Wrong, 1.5);

/// A bar with what is beside it.
struct Row<'a> {
    name: String,
    label: String,
    reach: &'a Reach,
    /// `None` for the reference.
    found: Option<&'a Match>,
}

impl Row<'_> {
    /// The mark of its setting.
    fn mark(&self) -> Mark {
        match self.found {
            None => Mark::Ring,
            Some(found) if found.feasible => Mark::Diamond,
            Some(_) => Mark::Cross,
        }
    }

    /// Between which light of the candidate the needed light may lie, stops.
    fn band(&self) -> Option<[f64; 2]> {
        let [low, high] = self.found?.uncertainty.as_ref()?.ends();
        Some([-high, -low])
    }

    /// The light that is missing, or too much; `None` if it can replace the reference.
    fn gap(&self) -> Option<([f64; 2], Fill)> {
        let found = self.found.filter(|found| !found.feasible)?;
        let fill = if found.error_stops.get() < 0.0 { Fill::Missing } else { Fill::Colour(Colour::Wrong) };
        Some(([0.0_f64.min(self.reach.used), 0.0_f64.max(self.reach.used)], fill))
    }
}

/// Draws an answer of `energy/equivalence`. `reach` has the reference before the candidates.
pub fn draw(question: &EquivalenceQuestion, answer: &Equivalence, reach: &[Reach], width: f64) -> Picture {
    let summary = answer.summary();
    let all = || answer.candidates.iter().enumerate();
    let described = listed(all().map(|(index, found)| words::described(found, index)), MAX_DESCRIBED);
    let mut picture = Picture::new(width, words::TITLE, &words::description(&summary, &described));
    let mut y = paragraph::headline(&mut picture, &summary);
    let mut shown: Vec<(usize, &Match)> = all().collect();
    if shown.len() > MAX_DRAWN {
        let nearest = |a: &Match, b: &Match| a.error_stops.get().abs().total_cmp(&b.error_stops.get().abs());
        shown.sort_by(|(_, a), (_, b)| b.feasible.cmp(&a.feasible).then(nearest(a, b)));
    }
    let others = shown.split_off(shown.len().min(MAX_DRAWN));
    y = todo::draw(&mut picture, y, &shown.iter().map(line).collect::<Vec<_>>());
    if !others.is_empty() {
        let able = others.iter().filter(|(_, found)| found.feasible).count();
        y = paragraph::details(&mut picture, y + 24.0, &words::others(others.len(), able));
    }
    y = paragraph::details(&mut picture, y + 28.0, words::AXIS);
    let rows: Vec<Row<'_>> = rows(question, answer, &shown, reach).collect();
    y = bars(&mut picture, y + 2.0, &rows);
    notes::finish(
        &mut picture,
        y + 16.0,
        answer
            .candidates
            .iter()
            .flat_map(|found| &found.warnings)
            .chain(&answer.warnings)
            .map(phrases::remark)
            .fold(Vec::new(), |mut all: Vec<String>, text| {
                if !all.contains(&text) {
                    all.push(text);
                }
                all
            })
            .into_iter()
            .chain(answer.cautions.iter().map(phrases::remark)),
    );
    picture
}

/// What to set a candidate to.
fn line((index, found): &(usize, &Match)) -> todo::Line {
    let mark = match found {
        found if !found.feasible => Mark::Cross,
        found if found.headroom_stops.get() < TIGHT_STOPS => Mark::Tight,
        _ => Mark::Go,
    };
    todo::Line {
        mark,
        name: words::name(found, *index),
        value: words::setting_and_gap(found),
        details: words::details(found),
    }
}

/// The rows: the reference, then the candidates.
fn rows<'a>(
    question: &EquivalenceQuestion,
    answer: &Equivalence,
    shown: &'a [(usize, &Match)],
    reach: &'a [Reach],
) -> impl Iterator<Item = Row<'a>> {
    let reference = reach.first().map(|reach| Row {
        name: words::reference(question.reference.name()),
        label: words::as_it_was(&answer.reference.label),
        reach,
        found: None,
    });
    let candidate = |(index, found): &(usize, &'a Match)| {
        let (name, label) = (words::name(found, *index), words::setting_and_gap(found));
        Some(Row { name, label, reach: reach.get(index + 1)?, found: Some(*found) })
    };
    reference.into_iter().chain(shown.iter().filter_map(candidate))
}

/// Draws the rows over their axis, and the legend. Returns the lower edge.
fn bars(picture: &mut Picture, top: f64, rows: &[Row<'_>]) -> f64 {
    let narrow = picture.is_narrow();
    let names = if narrow { 0.0 } else { NAMES };
    let ends = [picture.left() + names + Ruler::ARROW + 3.0, picture.right() - Ruler::ARROW - 3.0];
    let lights = rows.iter().flat_map(|row| {
        row.reach.ends.into_iter().chain([row.reach.used, 0.0]).chain(row.band().into_iter().flatten())
    });
    let lights = lights.map(|stops| stops.clamp(-MAX_STOPS, MAX_STOPS));
    let ruler = Ruler { axis: Axis::stops("", lights, if narrow { 6 } else { 12 }), ends };
    let height = if narrow { 82.0 } else { 60.0 };
    let bottom = top + 6.0 + height * rows.len() as f64;
    ruler.grid(picture, [top + 4.0, bottom]);
    picture.line([ruler.x(0.0), top + 4.0], [ruler.x(0.0), bottom], LIMIT);
    ruler.labels(picture, top);
    let mut has_clicks = [false; 2];
    for (index, row) in rows.iter().enumerate() {
        let y = top + 6.0 + height * index as f64;
        let style = TextStyle::new(NORMAL).bold();
        if narrow {
            let (at, room) = ([picture.left(), y + 19.0], style.width(&row.name).min(picture.room()));
            clear(picture, at, room);
            picture.shortened(at, style, &row.name, room + 1.0);
        } else {
            paragraph::name(picture, [picture.left(), y + height / 2.0], style, &row.name, NAMES - 10.0);
        }
        let clicks = bar(picture, &ruler, y + height - 22.0, row);
        has_clicks[0] |= clicks == Some(true);
        has_clicks[1] |= clicks == Some(false);
    }
    legend(picture, bottom + 18.0, rows, has_clicks)
}

/// Draws a row around the middle of its bar. Returns whether all of its clicks are drawn, or only whole stops; `None` if it
/// has no clicks.
fn bar(picture: &mut Picture, ruler: &Ruler, y: f64, row: &Row<'_>) -> Option<bool> {
    let [most, least] = row.reach.ends;
    ruler.bar(picture, y, HALF, [least, most], Colour::Tolerance, BAR);
    let clicks = &row.reach.clicks;
    let px = |stops: f64| (ruler.x(stops) - ruler.x(0.0)).abs();
    let fits = clicks.windows(2).all(|pair| match pair {
        [a, b] => (a - b).abs() < 1e-9 || px(a - b) >= CLICKS_APART || !ruler.axis.contains(*a),
        _ => true,
    });
    let whole = (0..=(most - least) as usize).map(|stop| most - stop as f64);
    let ticks: Vec<f64> = if fits { clicks.clone() } else { whole.collect() };
    if !clicks.is_empty() {
        comb(picture, ruler, y + HALF, ticks.into_iter().filter(|stops| ruler.axis.contains(*stops)));
    }
    if let Some((range, fill)) = row.gap() {
        ruler.range(picture, y, HALF, range, fill, GAP);
    }
    if let Some(band) = row.band() {
        ruler.range(picture, y, ACROSS, band, Colour::Beam, BAND);
    }
    picture.line([ruler.x(0.0), y - ACROSS], [ruler.x(0.0), y + ACROSS], LIMIT);
    ruler.mark(picture, y, row.reach.used, row.mark());
    let colour = if row.gap().is_some() { Colour::Wrong } else { Colour::Ink };
    let style = TextStyle::new(NORMAL).bold().in_colour(colour).anchored(Anchor::Middle);
    let half = style.width(&row.label).min(picture.room()) / 2.0;
    let [left, right] = [picture.left() + half, picture.right() - half];
    let x = ruler.x(row.reach.used).clamp(left, right.max(left));
    let base = y - ACROSS - 6.0;
    clear(picture, [x - half, base], half * 2.0);
    picture.shortened([x, base], style, &row.label, picture.room());
    (!clicks.is_empty()).then_some(fits)
}

/// Clears the lines behind a text of this width, which begins at `at`.
fn clear(picture: &mut Picture, [x, y]: SheetPoint, width: f64) {
    let none = Pen::new(Colour::Paper, 0.0);
    picture.rectangle([x, y - NORMAL], [x + width, y + 4.0], Colour::Paper, none);
}

/// Draws short lines up from the lower edge of a bar, as one path.
fn comb(picture: &mut Picture, ruler: &Ruler, y: f64, ticks: impl Iterator<Item = f64>) {
    const TOOTH: f64 = 8.0;
    let points: Vec<_> = ticks
        .flat_map(|stops| {
            let x = ruler.x(stops);
            [[x, y], [x, y - TOOTH], [x, y]]
        })
        .collect();
    picture.path(&points, CLICK);
}

/// Draws the legend of what is in use. Returns its lower edge.
fn legend(picture: &mut Picture, y: f64, rows: &[Row<'_>], [clicks, whole]: [bool; 2]) -> f64 {
    let mut legend = Legend::new([picture.left(), y], picture.right());
    legend.line(picture, words::NEEDED, LIMIT);
    if rows.iter().any(|row| row.band().is_some()) {
        legend.swatch(picture, words::BAND, HALF, Colour::Beam, BAND);
    }
    legend.swatch(picture, words::RANGE, HALF, Colour::Tolerance, BAR);
    for (has, label) in [(clicks, words::CLICKS), (whole, words::WHOLE_STOPS)] {
        if has {
            legend.add(picture, label, |picture, [x, y]| {
                picture.line([x, y - 4.0], [x, y + 4.0], CLICK);
            });
        }
    }
    for (mark, label) in [(Mark::Diamond, words::CHOSEN), (Mark::Ring, words::REFERENCE)] {
        if rows.iter().any(|row| row.mark() == mark) {
            legend.add(picture, label, |picture, at| mark.draw(picture, at, 5.0));
        }
    }
    for (kind, label) in [(Fill::Missing, words::SHORT), (Fill::Colour(Colour::Wrong), words::EXCESS)] {
        if rows.iter().filter_map(Row::gap).any(|(_, fill)| fill == kind) {
            legend.swatch(picture, label, HALF, kind, GAP);
        }
    }
    legend.bottom()
}
