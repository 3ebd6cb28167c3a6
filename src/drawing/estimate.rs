//! The pictures of one estimated value on a scale: one light, an energy, a guide number. What is typical is a mark, what
//! is likely a bar.

use crate::{
    drawing::canvas::{
        axis::Axis,
        colour::Colour,
        legend::{self, Legend},
        marks::Mark,
        notes, paragraph,
        ruler::Ruler,
        sheet::{Anchor, NORMAL, Pen, Picture, SMALL, TextStyle},
        todo,
    },
    light::{
        assumption::Assumption,
        one_light::{OneLight, OneLightQuestion, Solved},
        quantity::{
            Estimate, Metres,
            kind::Kind,
            marks::{self, Engraved, Step},
        },
        remedy::Remedy,
        uncertainty::Uncertainty,
        unit::guide::{self, EnergyEstimate, GuideEstimate},
    },
    wording::{
        format::below_full,
        phrases::{self, estimate_picture as words, remedy_picture},
        summary::Summary,
    },
};

const ROW: f64 = 54.0;
const HALF_BAR: f64 = 9.0;
/// The least distance between marks of the series that are drawn, px.
const APART: f64 = 7.0;

/// A value on a scale, with its likely ends.
struct Row {
    name: String,
    value: String,
    /// Low, typical and high.
    at: [f64; 3],
    mark: Mark,
}

/// A scale that rows share.
struct Scale<'a> {
    title: String,
    axis: Axis,
    /// The marks of a series that lie between the ticks.
    between: Vec<f64>,
    /// A value that is wanted, with its name.
    wanted: Option<(f64, &'a str)>,
}

impl Scale<'_> {
    /// Draws the scale with its rows from `top` down. Returns the middle of the first row of the next part.
    fn draw(&self, picture: &mut Picture, top: f64, rows: &[Row]) -> f64 {
        let margin = Ruler::ARROW + 8.0;
        let ends = [picture.left() + margin, picture.right() - margin];
        let ruler = Ruler { axis: self.axis.clone(), ends };
        let grey = TextStyle::new(SMALL).in_colour(Colour::Grey);
        let first = paragraph::body(picture, top + 14.0, grey, &self.title) + 4.0;
        let named = |row: &Row| !(row.name.is_empty() && row.value.is_empty());
        let height = |row: &Row| if named(row) { ROW } else { ROW - 20.0 };
        let bottom = first + 10.0 + rows.iter().map(height).sum::<f64>();
        ruler.grid(picture, [first + 6.0, bottom]);
        ruler.labels(picture, first);
        let places: Vec<f64> = self.between.iter().map(|value| ruler.x(*value)).collect();
        let has_marks =
            places.windows(2).all(|pair| (pair[1] - pair[0]).abs() >= APART) && !places.is_empty();
        if has_marks {
            for x in places {
                picture.line([x, bottom - 7.0], [x, bottom], Pen::new(Colour::Grey, 1.0));
            }
        }
        if let Some((wanted, _)) = self.wanted {
            let x = ruler.x(wanted);
            picture.line([x, first + 6.0], [x, bottom], WANTED);
        }
        let mut y = first + 10.0;
        for row in rows {
            if named(row) {
                let name = TextStyle::new(NORMAL);
                let value = name.bold().anchored(Anchor::End);
                let room = picture.room() - value.width(&row.value) - 12.0;
                picture.shortened([picture.left(), y + 14.0], name, &row.name, room);
                picture.text([picture.right(), y + 14.0], value, &row.value);
            }
            y += height(row);
            let [low, typical, high] = row.at;
            let middle = y - HALF_BAR - 8.0;
            if high > low {
                let pen = Pen::new(Colour::Data, 1.0);
                ruler.bar(picture, middle, HALF_BAR, [low, high], Colour::Tolerance, pen);
            }
            ruler.mark(picture, middle, typical, row.mark);
        }
        self.legend(picture, bottom + 18.0, rows, has_marks)
    }

    /// Draws the legend. Returns the position of the next line.
    fn legend(&self, picture: &mut Picture, y: f64, rows: &[Row], has_marks: bool) -> f64 {
        let mut legend = Legend::new([picture.left(), y], picture.right());
        if rows.iter().any(|row| row.at[2] > row.at[0]) {
            legend.add(picture, words::LIKELY, |picture, at| {
                legend::swatch(picture, at, HALF_BAR - 2.0, Colour::Tolerance, Pen::new(Colour::Data, 1.0));
            });
        }
        if let Some(row) = rows.first() {
            legend.add(picture, words::TYPICAL, |picture, at| row.mark.draw(picture, at, 5.0));
        }
        if has_marks {
            let pen = Pen::new(Colour::Grey, 1.0);
            legend
                .add(picture, words::MARKS, |picture, [x, y]| picture.line([x, y - 3.5], [x, y + 3.5], pen));
        }
        if let Some((_, name)) = self.wanted {
            legend.add(picture, name, |picture, [x, y]| picture.line([x, y - 9.0], [x, y + 9.0], WANTED));
        }
        legend.bottom() + 18.0
    }
}

const WANTED: Pen = Pen::new(Colour::Second, 2.5).dashed("7 3");

/// Draws an answer of `exposure/one-light`, with the likely distances where one was found.
pub fn one_light(
    question: &OneLightQuestion,
    answer: &OneLight,
    distances: Option<[Metres; 2]>,
    width: f64,
) -> Picture {
    let summary = answer.summary();
    let sure = answer.uncertainty.as_ref().map(words::how_sure);
    let mut picture = Picture::new(width, words::ONE_LIGHT, &summary);
    let y = paragraph::headline(&mut picture, &summary);
    let lines = what_to_set(question, answer, sure.unwrap_or_default());
    let mut y = todo::draw(&mut picture, y + 4.0, &lines) + 10.0;
    let units = question.rules.units;
    let found = answer.distance_m.zip(distances).filter(|_| answer.solved_for == Some(Solved::Distance));
    let (scale, row, [low, high]) = match found {
        Some((found, ends)) => {
            let [low, high] = ends.map(|end| units.length(end));
            let at = [low, units.length(found), high];
            let axis = Axis::logarithmic("", at.into_iter(), 12);
            let title = words::distance_axis(units);
            let row = Row { name: String::new(), value: String::new(), at, mark: Mark::Diamond };
            (
                Scale { title, axis, between: Vec::new(), wanted: None },
                row,
                ends.map(|end| words::distance(end, units)),
            )
        }
        None => apertures(question, answer),
    };
    y = scale.draw(&mut picture, y, &[row]);
    if low != high {
        let ends = words::ends([&low, &high]);
        picture.describe(&ends);
        y = paragraph::body(&mut picture, y, TextStyle::new(NORMAL), &ends) + 6.0;
    }
    y = others(&mut picture, y, &answer.remedies);
    notes::finish(&mut picture, y, phrases::remarks(&answer.warnings, &[]));
    picture
}

/// What is set, first what was found; or what is wrong, and what would do.
fn what_to_set(question: &OneLightQuestion, answer: &OneLight, sure: String) -> Vec<todo::Line> {
    let given = |name: &str, value: Option<String>| {
        Some(todo::Line { mark: Mark::Dot, name: name.to_owned(), value: value?, details: String::new() })
    };
    let distance = answer.distance_m.map(|distance| words::distance(distance, question.rules.units));
    let setting = answer.setting.as_ref().map(|setting| below_full(&setting.label).into_owned());
    let all = [
        (Solved::FNumber, given(words::APERTURE, Some(answer.f_number.label()))),
        (Solved::Distance, given(words::DISTANCE, distance)),
        (Solved::Setting, given(words::SETTING, setting)),
    ];
    let verdict =
        |mark: Mark, [name, value]: [String; 2], details: String| todo::Line { mark, name, value, details };
    let mut lines: Vec<todo::Line> = match (answer.solved_for, answer.feasible) {
        (_, false) => std::iter::once(verdict(Mark::Cross, words::missed(answer.error_stops), sure))
            .chain(fix(&answer.remedies))
            .collect(),
        (None, true) => vec![verdict(Mark::Check, words::right(answer.error_stops), sure)],
        (Some(found), true) => {
            let line = all.iter().filter(|(of, _)| *of == found).find_map(|(_, line)| line.clone());
            line.into_iter()
                .map(|line| todo::Line { mark: Mark::Go, details: sure.clone(), ..line })
                .collect()
        }
    };
    // What a remedy changes is not set as it was.
    if !answer.feasible && !answer.remedies.is_empty() {
        return lines;
    }
    let is_found = |of: Solved| answer.feasible && answer.solved_for == Some(of);
    lines.extend(all.into_iter().filter(|(of, _)| !is_found(*of)).filter_map(|(_, line)| line));
    lines
}

/// The changes of the first remedy.
pub fn fix(remedies: &[Remedy]) -> impl Iterator<Item = todo::Line> {
    let lines = remedies.first().map(remedy_picture::lines).unwrap_or_default();
    lines.into_iter().map(|[name, value, details]| todo::Line { mark: Mark::Go, name, value, details })
}

/// The other remedies, as sentences. Returns the position of the next line.
pub fn others(picture: &mut Picture, y: f64, remedies: &[Remedy]) -> f64 {
    let others: Vec<String> = remedies.iter().skip(1).map(phrases::remedy).collect();
    notes::list(picture, y, remedy_picture::OTHERS, &others, 0)
}

/// The light as the aperture that it is right for, in stops from f/1.
fn apertures<'a>(question: &OneLightQuestion, answer: &OneLight) -> (Scale<'a>, Row, [String; 2]) {
    let set = -Kind::FNumber.exposure_stops(answer.f_number.value.get());
    let light = set + answer.error_stops.get();
    let [low, high] = answer.uncertainty.as_ref().map_or([0.0; 2], Uncertainty::ends).map(|off| light + off);
    let ends = [low.min(set), high.max(set)];
    let [first, last] = [(ends[0] - 0.5).floor(), (ends[1] + 0.5).ceil()];
    let label = |stops: f64| Kind::FNumber.mark_for(Kind::FNumber.value_at(-stops), Step::Full);
    let ticks = (0..=(last - first) as usize).map(|tick| first + tick as f64);
    let ticks =
        ticks.map(|stops| (stops, label(stops).map_or_else(String::new, |(mark, _)| mark.into_owned())));
    let between =
        marks::series(Engraved::FNumber, question.rules.step).iter().map(|mark| -mark.exposure_stops);
    let wanted = (answer.solved_for != Some(Solved::FNumber)).then_some((set, words::WANTED));
    let mark = if answer.feasible { Mark::Diamond } else { Mark::Cross };
    let row = Row { name: String::new(), value: String::new(), at: [low, light, high], mark };
    let scale = Scale {
        title: words::APERTURE_AXIS.to_owned(),
        axis: Axis::with_ticks("", ticks.collect()),
        between: between.filter(|stops| (first..=last).contains(stops)).collect(),
        wanted,
    };
    (scale, row, [low, high].map(words::aperture))
}

/// What the pictures of an energy and of a guide number share.
struct Estimated<'a> {
    title: &'a str,
    summary: String,
    value: String,
    range: String,
    axis: &'a str,
    rows: Vec<Row>,
    assumptions: &'a [Assumption],
    given: f64,
}

/// Draws an answer of `guide-number/energy`, of a guide number that is sure within `given` stops.
pub fn energy(answer: &EnergyEstimate, given: f64, width: f64) -> Picture {
    let row = |name: &str, energy: Estimate<_>| {
        row(name, words::energy(energy.typical), energy.map(crate::light::quantity::Joules::get))
    };
    let by_coverage =
        answer.by_coverage.iter().map(|each| row(words::reflector(each.coverage), each.energy_j));
    let all = if answer.by_coverage.is_empty() { "" } else { words::ANY_REFLECTOR };
    let shown = Estimated {
        title: words::ENERGY,
        summary: answer.summary(),
        value: words::energy(answer.energy_j.typical),
        range: words::range(answer.energy_j, words::energy),
        axis: words::ENERGY_AXIS,
        rows: std::iter::once(row(all, answer.energy_j)).chain(by_coverage).collect(),
        assumptions: &answer.assumptions,
        given,
    };
    shown.draw(width, phrases::remarks(&answer.warnings, &answer.cautions))
}

/// Draws an answer of `energy/guide-number`, of an energy that is sure within `given` stops.
pub fn guide_number(answer: &GuideEstimate, given: f64, width: f64) -> Picture {
    let row = |name: &str, guide: Estimate<_>| {
        row(name, words::guide_number(guide.typical), guide.map(crate::light::quantity::GuideMetres::get))
    };
    let by_coverage =
        answer.by_coverage.iter().map(|each| row(words::reflector(each.coverage), each.guide_number_m));
    let all = if answer.by_coverage.is_empty() { "" } else { words::ANY_REFLECTOR };
    let feet = words::guide_feet(answer.guide_number_ft.typical);
    let shown = Estimated {
        title: words::GUIDE_NUMBER,
        summary: answer.summary(),
        value: format!("{} ({feet})", words::guide_number(answer.guide_number_m.typical)),
        range: words::range(answer.guide_number_m, words::guide_number),
        axis: words::GUIDE_AXIS,
        rows: std::iter::once(row(all, answer.guide_number_m)).chain(by_coverage).collect(),
        assumptions: &answer.assumptions,
        given,
    };
    shown.draw(width, phrases::remarks(&answer.warnings, &answer.cautions))
}

fn row(name: &str, value: String, estimate: Estimate<f64>) -> Row {
    let Estimate { low, typical, high } = estimate;
    Row {
        name: name.to_owned(),
        value: if name.is_empty() { String::new() } else { value },
        at: [low, typical, high],
        mark: Mark::Diamond,
    }
}

impl Estimated<'_> {
    fn draw(self, width: f64, remarks: impl Iterator<Item = String>) -> Picture {
        let mut picture = Picture::new(width, self.title, &self.summary);
        let y = paragraph::headline(&mut picture, &self.summary);
        let line = todo::Line {
            mark: Mark::Diamond,
            name: words::FULL_POWER.to_owned(),
            value: self.value,
            details: self.range,
        };
        let mut y = todo::draw(&mut picture, y + 4.0, &[line]) + 10.0;
        let values = self.rows.iter().flat_map(|row| row.at);
        let axis = Axis::logarithmic("", values, (picture.room() / 42.0) as usize);
        let scale = Scale { title: self.axis.to_owned(), axis, between: Vec::new(), wanted: None };
        y = scale.draw(&mut picture, y, &self.rows);
        let why = words::why_wide(&guide::causes(self.assumptions, self.given));
        picture.describe(&why);
        y = paragraph::body(&mut picture, y, TextStyle::new(NORMAL), &why) + 6.0;
        notes::finish(&mut picture, y, remarks);
        picture
    }
}
