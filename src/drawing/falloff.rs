//! Light by distance: the finite source beside the inverse square.

use crate::{
    drawing::canvas::{
        axis::Axis,
        labels::Labels,
        legend::Legend,
        notes,
        panel::{BELOW, LEFT, Panel},
        sheet::{BLUE, GREY, INK, PAPER, Pen, Picture, RIGHT, SMALL, SheetPoint, Type, USUAL},
        text::{signed, with_stops},
    },
    light::{
        quantity::{Metres, nominal::stops_said, units::Units},
        remark::listed,
        set::{
            falloff::{self, Depth, Falloff, Question, Row},
            modifier::Modifier,
            placement::Source,
        },
    },
};

const WIDTH: f64 = 760.0;
const HEIGHT: f64 = 360.0;
/// Spots of a curve.
const SPOTS: u32 = 160;
/// Rows that are labelled one by one; of more, those that are so far from each other, px.
const LABELLED: usize = 24;
const APART: f64 = 36.0;
/// Rows that have a mark each; of more, those that are labelled.
const MARKED: usize = 40;
/// From here on distances are laid out by their ratios: the farthest over the nearest.
const WIDE: f64 = 20.0;
/// Nearer to each other than this, distances are one.
const ONE: f64 = 1.001;
/// Room over the highest mark for its label, px.
const ABOVE: f64 = 24.0;
/// What axes are longer than their values, as a part of these.
const MARGIN: f64 = 0.02;

const SOURCE: Pen = Pen::new(BLUE, 2.0);
const POINT: Pen = Pen::new(GREY, 1.5).dashed("6 4");

/// Draws an answer of `lights/falloff`.
pub fn draw(question: &Question, answer: &Falloff) -> Picture {
    let units = question.units;
    let reference = answer.reference_distance_m;
    let mut picture = Picture::new(WIDTH, "Light by distance", &described(question, answer));
    let against = format!(
        "{}{}; stops against {}",
        source_said(question.source, units),
        modifier_said(question),
        units.said(reference)
    );
    picture.fitted([20.0, 54.0], Type::new(USUAL).in_colour(GREY), &against, WIDTH - 40.0);

    let length = |metres: f64| units.length(Metres::new_unchecked(metres));
    let depth = question.depth.map(|depth| [reference.get(), reference.get() + depth.get()]);
    let ends = ends(question, reference, depth);
    let [finite, inverse] = curves(question, ends);
    let top = legend(&mut picture, question, answer) + 12.0;
    let panel = panel(question, answer, ends, finite.iter().chain(&inverse).map(|[_, stops]| *stops), top);
    if let Some([front, back]) = depth {
        let [low, high] = panel.y.range();
        picture.rectangle(
            panel.at(length(front), high),
            panel.at(length(back), low),
            RIGHT,
            Pen::new(RIGHT, 0.0),
        );
    }
    panel.draw(&mut picture);
    let scaled = |curve: &[[f64; 2]]| curve.iter().map(|[d, stops]| [length(*d), *stops]).collect::<Vec<_>>();
    let mut labels = Labels::default();
    if question.source.is_some() {
        labels.keep_path_free(&panel.curve(&mut picture, &scaled(&inverse), POINT));
    }
    labels.keep_path_free(&panel.curve(&mut picture, &scaled(&finite), SOURCE));
    let upright = panel.upright(&mut picture, length(reference.get()), Pen::new(INK, 1.0).dashed("2 3"));
    labels.keep_line_free(upright);
    let labelled = rows(&mut picture, &panel, question, answer, &mut labels);

    // Where there is room beside its line, as low as may be.
    let said = format!("reference, {}", units.said(reference));
    let [[x, bottom], _] = upright;
    let mut heights = (0..20_u8).map(|step| bottom - 14.0 - 16.0 * f64::from(step));
    let within = [panel.from, panel.to];
    heights.any(|y| labels.beside(&mut picture, [x, y], 6.0, Type::new(SMALL), &said, within));

    let mut y = top + HEIGHT + BELOW + 22.0;
    if labelled < answer.rows.len() {
        let told = format!(
            "{labelled} of {} distances are labelled; the answer as JSON or text has all.",
            answer.rows.len()
        );
        picture.text([20.0, y], Type::new(SMALL).in_colour(GREY), &told);
        y += 20.0;
    }
    notes::end(&mut picture, y, &answer.warnings);
    picture
}

/// The nearest and the farthest distance that is drawn, m.
fn ends(question: &Question, reference: Metres, depth: Option<[f64; 2]>) -> [f64; 2] {
    let rows = question.distances.iter().map(|distance| distance.get());
    let shown = rows.chain([reference.get()]).chain(depth.into_iter().flatten());
    let (least, most) = shown.fold((f64::MAX, 0.0_f64), |(low, high), d| (low.min(d), high.max(d)));
    // One distance alone: half and twice as far show how it falls.
    if most / least < ONE { [least / 2.0, most * 2.0] } else { [least, most] }
}

fn panel(
    question: &Question,
    answer: &Falloff,
    ends: [f64; 2],
    stops: impl Iterator<Item = f64> + Clone,
    top: f64,
) -> Panel {
    let units = question.units;
    let length = |metres: f64| units.length(Metres::new_unchecked(metres));
    let (from, to) = ([LEFT + 10.0, top], [WIDTH - 24.0, top + HEIGHT]);
    let lengths = ends.map(length).into_iter();
    let unit = units.unit();
    let x = if ends[1] / ends[0] > WIDE {
        Axis::of_ratios(format!("distance, {unit}; equal ratios are equally far apart"), lengths, 16)
    } else {
        Axis::of_numbers(format!("distance, {unit}"), lengths, 10)
    };
    // The label of the last stands right of it, where no curve is.
    let last = answer.rows.iter().max_by(|a, b| a.distance_m.get().total_cmp(&b.distance_m.get()));
    let room = last.map_or(0.0, |row| Type::new(SMALL).width(&said(row)) + 14.0);
    let last = last.map_or(ends[0], |row| row.distance_m.get());
    let highest = stops.clone().fold(f64::MIN, f64::max);
    let y = Axis::of_stops("light, stops", stops, 9).with_margin(MARGIN);
    Panel {
        from,
        to,
        x: x.with_margin(MARGIN).with_room_after(length(last), room / (to[0] - from[0])),
        y: y.with_room_after(highest, ABOVE / HEIGHT),
    }
}

/// What is written at a row.
fn said(row: &Row) -> String {
    let stops = signed(row.stops.get());
    row.f_number.as_ref().map_or_else(|| stops.clone(), |f_number| format!("{stops}, {}", f_number.said()))
}

/// Marks of the rows, and labels of those for which there is room; how many rows are labelled.
fn rows(
    picture: &mut Picture,
    panel: &Panel,
    question: &Question,
    answer: &Falloff,
    labels: &mut Labels,
) -> usize {
    let spot = |row: &Row| panel.at(question.units.length(row.distance_m), row.stops.get());
    let far = |one: SheetPoint, other: SheetPoint| (one[0] - other[0]).hypot(one[1] - other[1]);
    let apart = if answer.rows.len() <= LABELLED { 0.0 } else { APART };
    let mut told: Vec<(SheetPoint, String)> = Vec::new();
    // The last first: how little is left at the end is what is looked for.
    for row in answer.rows.iter().rev() {
        let at = spot(row);
        if told.iter().all(|(other, _)| far(*other, at) >= apart) {
            told.push((at, said(row)));
        }
    }
    let marked: Vec<SheetPoint> = if answer.rows.len() <= MARKED {
        answer.rows.iter().map(spot).collect()
    } else {
        told.iter().map(|(at, _)| *at).collect()
    };
    for at in marked {
        labels.mark(at, 4.0);
        picture.circle(at, 3.5, PAPER, Pen::new(INK, 1.5));
    }
    let (style, within) = (Type::new(SMALL), [panel.from, panel.to]);
    let mut labelled = 0;
    for (index, (at, text)) in told.iter().enumerate() {
        // A distance that was asked for twice has one label.
        let same = |(other, written): &(SheetPoint, String)| written == text && far(*other, *at) < 0.5;
        let is_written = told[..index].iter().any(same)
            || labels.beside(picture, *at, 7.0, style, text, within)
            || labels.beside(picture, *at, 14.0, style, text, within)
            || labels.led(picture, *at, style, text, within);
        labelled += usize::from(is_written);
    }
    labelled
}

/// Distance and stops, of the source and of a point.
fn curves(question: &Question, [least, most]: [f64; 2]) -> [Vec<[f64; 2]>; 2] {
    // Steps of equal ratio: the curve bends most where it is near.
    let distance = |spot: u32| least * (most / least).powf(f64::from(spot) / f64::from(SPOTS));
    let distances = (0..=SPOTS).map(|spot| Metres::new_unchecked(distance(spot))).collect();
    let fine = falloff::falloff(&Question { distances, output: None, depth: None, ..question.clone() });
    let rows = fine.map(|fine| fine.rows).unwrap_or_default();
    let curve = |of: fn(&Row) -> f64| rows.iter().map(|row| [row.distance_m.get(), of(row)]).collect();
    [curve(|row| row.stops.get()), curve(|row| row.inverse_square_stops.get())]
}

fn source_said(source: Option<Source>, units: Units) -> String {
    let said = |length| units.said(length);
    match source {
        None => "A point".to_owned(),
        Some(Source::Disc { diameter }) => format!("A round face of {}", said(diameter)),
        Some(Source::Rectangle { width, height }) => {
            format!("A face of {} by {}", said(width), said(height))
        }
    }
}

/// What its modifier takes off the apertures, where they are told.
fn modifier_said(question: &Question) -> String {
    let stated = question.modifier.filter(|_| question.output.is_some());
    let stops = |modifier: Modifier| with_stops(&signed(modifier.stops().typical.get()));
    stated.map_or_else(String::new, |modifier| match modifier.kind() {
        Some(kind) => format!(", {} (about {})", kind.kind.0.replace('_', " "), stops(modifier)),
        None => format!(", modifier {}", stops(modifier)),
    })
}

/// From where on it is even over the depth.
fn even_from(depth: &Depth, units: Units) -> Option<String> {
    let from = depth.distance_for_evenness_m?;
    let is_everywhere = from.get() <= 0.0;
    Some(if is_everywhere { "at every distance".to_owned() } else { format!("from {} on", units.said(from)) })
}

/// What the lines mean. How far down that reaches.
fn legend(picture: &mut Picture, question: &Question, answer: &Falloff) -> f64 {
    let mut legend = Legend::new([LEFT + 10.0, 78.0], WIDTH - 20.0);
    if question.source.is_some() {
        legend.line(picture, "this source", SOURCE);
        legend.line(picture, "inverse square (a point)", POINT);
    } else {
        legend.line(picture, "this source, a point: the inverse square", SOURCE);
    }
    if let Some(depth) = &answer.depth {
        let units = question.units;
        let from_front = signed(depth.front_to_back_stops.get());
        let told = format!("depth of {}: {from_front} to its back", units.said(depth.depth_m));
        legend.line(picture, &told, Pen::new(RIGHT, 10.0));
        if let Some(even) = even_from(depth, units) {
            let said = format!("Within {} over the depth {even}.", stops_said(depth.within_stops.get()));
            legend.say(picture, &said);
        }
    }
    legend.bottom()
}

/// The same for those who do not see it.
fn described(question: &Question, answer: &Falloff) -> String {
    let units = question.units;
    let rows = answer.rows.iter().map(|row| {
        let (stops, point) = (signed(row.stops.get()), signed(row.inverse_square_stops.get()));
        let meter =
            row.f_number.as_ref().map_or_else(String::new, |f_number| format!(", {}", f_number.said()));
        format!("{stops}{meter} at {} ({point} by the inverse square)", units.said(row.distance_m))
    });
    let source = format!("{}{}", source_said(question.source, units), modifier_said(question));
    let mut said = format!("{source}. Stops against {}", units.said(answer.reference_distance_m));
    if !answer.rows.is_empty() {
        said = format!("{said}: {}", listed(rows, LABELLED));
    }
    if let Some(depth) = &answer.depth {
        let (deep, to_back) = (units.said(depth.depth_m), signed(depth.front_to_back_stops.get()));
        said = format!("{said}. Over a depth of {deep} {to_back} to its back");
        if let Some(even) = even_from(depth, units) {
            let within = stops_said(depth.within_stops.get());
            said = format!("{said}; within {within} {even}");
        }
    }
    format!("{said}.")
}
