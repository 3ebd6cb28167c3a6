//! The picture of falloff: light by distance, for a source of finite size and by the inverse square law.

use crate::{
    drawing::canvas::{
        axis::Axis,
        colour::Colour,
        labels::Labels,
        legend::Legend,
        notes,
        panel::{self, BELOW, Panel},
        paragraph,
        sheet::{Pen, Picture, SMALL, SheetPoint, TextStyle},
    },
    light::{
        quantity::Metres,
        set::falloff::{Falloff, FalloffQuestion, Row},
    },
    wording::{
        phrases::{self, falloff_picture as words},
        summary::Summary,
    },
};

const HEIGHT: f64 = 360.0;
/// The most rows in the description. If there are more, only some of them are labelled on the drawing.
const LABELLED: usize = 24;
/// The distance between labelled rows if only some are labelled, px.
const SPACING: f64 = 44.0;
/// If there are more rows than this, only those that are labelled have a mark.
const MARKED: usize = 40;
/// The ratio of the farthest to the nearest distance above which the axis is logarithmic.
const WIDE: f64 = 20.0;
/// Room above the highest mark for its label, px.
const ABOVE: f64 = 30.0;
/// Extra length at each end of an axis, as a fraction of its length.
const MARGIN: f64 = 0.02;

const SOURCE: Pen = Pen::new(Colour::Data, 2.0);
const POINT: Pen = Pen::new(Colour::Grey, 1.5).dashed("6 4");

/// Draws an answer of `lights/falloff`.
///
/// `curve` has the light at close distances from the nearest to the farthest on the drawing.
pub fn draw(question: &FalloffQuestion, answer: &Falloff, curve: &[Row], width: f64) -> Picture {
    let units = question.units;
    let reference = answer.reference_distance_m;
    let summary = answer.summary();
    let description = words::description(&summary, question, answer, LABELLED);
    let mut picture = Picture::new(width, words::TITLE, &description);
    let y = paragraph::headline(&mut picture, &summary);
    let heading = words::heading(question, reference);
    let y = paragraph::details(&mut picture, y, &heading);

    let length = |metres: f64| units.length(Metres::new_unchecked(metres));
    let depth = question.depth.map(|depth| [reference.get(), reference.get() + depth.get()]);
    let points =
        |of: fn(&Row) -> f64| curve.iter().map(|row| [row.distance_m.get(), of(row)]).collect::<Vec<_>>();
    let finite = points(|row| row.stops.get());
    let inverse = points(|row| row.inverse_square_stops.get());
    let [Some([nearest, _]), Some([farthest, _])] = [finite.first(), finite.last()] else { return picture };
    let ends = [*nearest, *farthest];
    let top = legend(&mut picture, question, answer, y + 2.0) + 12.0;
    let corners = panel::across(&picture, top, HEIGHT);
    let stops = finite.iter().chain(&inverse).map(|[_, stops]| *stops);
    let panel = panel(question, answer, ends, stops, corners);
    if let Some([front, back]) = depth {
        let [low, high] = panel.y.range();
        picture.rectangle(
            panel.to_sheet(length(front), high),
            panel.to_sheet(length(back), low),
            Colour::Tolerance,
            Pen::new(Colour::Tolerance, 0.0),
        );
    }
    panel.draw(&mut picture);
    let scaled = |curve: &[[f64; 2]]| curve.iter().map(|[d, stops]| [length(*d), *stops]).collect::<Vec<_>>();
    let mut labels = Labels::default();
    if question.source.is_some() {
        labels.reserve_path(&panel.curve(&mut picture, &scaled(&inverse), POINT));
    }
    labels.reserve_path(&panel.curve(&mut picture, &scaled(&finite), SOURCE));
    let upright =
        panel.vertical(&mut picture, length(reference.get()), Pen::new(Colour::Ink, 1.0).dashed("2 3"));
    labels.reserve_line(upright);
    let labelled = rows(&mut picture, &panel, question, answer, &mut labels);

    // Beside the line, as low as there is room.
    let label = words::reference(reference, units);
    let [[x, bottom], _] = upright;
    let mut heights = (0..20_u8).map(|step| bottom - 14.0 - 18.0 * f64::from(step));
    let within = [panel.from, panel.to];
    heights.any(|y| labels.beside(&mut picture, [x, y], 6.0, TextStyle::new(SMALL), &label, within));

    let mut y = panel.to[1] + BELOW + 22.0;
    if labelled < answer.rows.len() {
        let note = words::not_all_labelled(labelled, answer.rows.len());
        y = paragraph::body(&mut picture, y, TextStyle::new(SMALL).in_colour(Colour::Grey), &note) + 4.0;
    }
    notes::finish(&mut picture, y, phrases::remarks(&answer.warnings, &[]));
    picture
}

fn panel(
    question: &FalloffQuestion,
    answer: &Falloff,
    ends: [f64; 2],
    stops: impl Iterator<Item = f64> + Clone,
    [from, to]: [SheetPoint; 2],
) -> Panel {
    let units = question.units;
    let length = |metres: f64| units.length(Metres::new_unchecked(metres));
    let lengths = ends.map(length).into_iter();
    let ticks = Panel::ticks([from, to], 64.0);
    let is_logarithmic = ends[1] / ends[0] > WIDE;
    let title = words::distance_axis(units, is_logarithmic);
    let x = if is_logarithmic {
        Axis::logarithmic(title, lengths, ticks * 2)
    } else {
        Axis::linear(title, lengths, ticks)
    };
    // The label of the farthest row is to the right of it, beyond the curves.
    let last = answer.rows.iter().max_by(|a, b| a.distance_m.get().total_cmp(&b.distance_m.get()));
    let room = last.map_or(0.0, |row| TextStyle::new(SMALL).width(&words::row(row)) + 14.0);
    let last = last.map_or(ends[0], |row| row.distance_m.get());
    let highest = stops.clone().fold(f64::MIN, f64::max);
    let y = Axis::stops(words::LIGHT_AXIS, stops, 9).with_margin(MARGIN);
    Panel {
        from,
        to,
        x: x.with_margin(MARGIN).with_room_after(length(last), (room / (to[0] - from[0])).min(0.4)),
        y: y.with_room_after(highest, ABOVE / HEIGHT),
        above: 0.0,
    }
}

/// Draws marks for the rows, and labels where there is room. Returns the number of rows that are labelled.
fn rows(
    picture: &mut Picture,
    panel: &Panel,
    question: &FalloffQuestion,
    answer: &Falloff,
    labels: &mut Labels,
) -> usize {
    let point = |row: &Row| panel.to_sheet(question.units.length(row.distance_m), row.stops.get());
    let distance_px = |one: SheetPoint, other: SheetPoint| (one[0] - other[0]).hypot(one[1] - other[1]);
    let spacing = if answer.rows.len() <= LABELLED { 0.0 } else { SPACING };
    let mut selected: Vec<(SheetPoint, String)> = Vec::new();
    // The farthest first: the loss over the whole distance matters most.
    for row in answer.rows.iter().rev() {
        let at = point(row);
        if selected.iter().all(|(other, _)| distance_px(*other, at) >= spacing) {
            selected.push((at, words::row(row)));
        }
    }
    let marked: Vec<SheetPoint> = if answer.rows.len() <= MARKED {
        answer.rows.iter().map(point).collect()
    } else {
        selected.iter().map(|(at, _)| *at).collect()
    };
    for at in marked {
        labels.mark(at, 4.0);
        picture.circle(at, 3.5, Colour::Paper, Pen::new(Colour::Ink, 1.5));
    }
    let (style, within) = (TextStyle::new(SMALL), [panel.from, panel.to]);
    let mut labelled = 0;
    for (index, (at, text)) in selected.iter().enumerate() {
        // A distance that was requested twice has one label.
        let same =
            |(other, written): &(SheetPoint, String)| written == text && distance_px(*other, *at) < 0.5;
        let is_written = selected[..index].iter().any(same)
            || labels.beside(picture, *at, 7.0, style, text, within)
            || labels.beside(picture, *at, 14.0, style, text, within)
            || labels.with_leader(picture, *at, style, text, within);
        labelled += usize::from(is_written);
    }
    labelled
}

/// Draws the legend. Returns its lower edge.
fn legend(picture: &mut Picture, question: &FalloffQuestion, answer: &Falloff, y: f64) -> f64 {
    let mut legend = Legend::new([picture.left(), y], picture.right());
    if question.source.is_some() {
        legend.line(picture, words::SOURCE, SOURCE);
        legend.line(picture, words::INVERSE_SQUARE, POINT);
    } else {
        legend.line(picture, words::POINT_SOURCE, SOURCE);
    }
    if let Some(depth) = &answer.depth {
        let units = question.units;
        legend.line(picture, &words::depth(depth, units), Pen::new(Colour::Tolerance, 10.0));
        if let Some(text) = words::evenness(depth, units) {
            legend.text(picture, &text);
        }
    }
    legend.bottom()
}
