//! Light by distance: the finite source beside the inverse square.

use super::{
    axis::Axis,
    labels::Labels,
    legend::Legend,
    notes,
    panel::{BELOW, LEFT, Panel},
    sheet::{BLUE, GREY, INK, PAPER, Pen, Picture, RIGHT, SMALL, Type, USUAL},
    text::{self, signed},
};
use crate::light::{
    dialled::stops_said,
    falloff::{self, Depth, Falloff, Question},
    placement::Source,
    quantity::Metres,
    units::Units,
};

const WIDTH: f64 = 760.0;
const HEIGHT: f64 = 360.0;
/// Spots of a curve.
const SPOTS: u32 = 160;
/// Rows that are labelled one by one.
const LABELLED: usize = 24;

const SOURCE: Pen = Pen::new(BLUE, 2.0);
const POINT: Pen = Pen::new(GREY, 1.5).dashed("6 4");

/// Draws an answer of `lights/falloff`.
pub fn draw(question: &Question, answer: &Falloff) -> Picture {
    let units = question.units;
    let reference = answer.reference_distance_m;
    let mut picture = Picture::new(WIDTH, "Light by distance", &described(question, answer));
    let against = format!("{}; stops against {}", source_said(question.source, units), units.said(reference));
    picture.fitted([20.0, 54.0], Type::new(USUAL).in_colour(GREY), &against, WIDTH - 40.0);

    let length = |metres: f64| units.length(Metres::computed(metres));
    let depth = question.depth.map(|depth| [reference.get(), reference.get() + depth.get()]);
    let shown = || {
        let rows = question.distances.iter().map(|distance| distance.get());
        rows.chain([reference.get()]).chain(depth.into_iter().flatten())
    };
    let (mut least, mut most) = shown().fold((f64::MAX, 0.0_f64), |(low, high), d| (low.min(d), high.max(d)));
    if most / least < 1.5 {
        // One distance alone: half and twice as far show how it falls.
        (least, most) = (least / 2.0, most * 2.0);
    }
    let [finite, inverse] = curves(question, least, most);
    let stops = finite.iter().chain(&inverse).map(|[_, stops]| *stops);
    let top = legend(&mut picture, question, answer) + 12.0;
    let unit = units.unit();
    let panel = Panel {
        from: [LEFT + 10.0, top],
        to: [WIDTH - 24.0, top + HEIGHT],
        x: Axis::of_numbers(format!("distance, {unit}"), [length(least), length(most)].into_iter(), 10),
        y: Axis::of_stops("light, stops", stops, 9),
    };
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
    panel.curve(&mut picture, &scaled(&inverse), POINT);
    if question.source.is_some() {
        panel.curve(&mut picture, &scaled(&finite), SOURCE);
    }
    panel.upright(&mut picture, length(reference.get()), Pen::new(INK, 1.0).dashed("2 3"));

    let mut labels = Labels::default();
    let style = Type::new(SMALL);
    let within = [panel.from, panel.to];
    let spots: Vec<_> =
        answer.rows.iter().map(|row| panel.at(length(row.distance_m.get()), row.stops.get())).collect();
    for spot in &spots {
        labels.keep_free(*spot, [4.0, 4.0]);
        picture.circle(*spot, 3.5, PAPER, Pen::new(INK, 1.5));
    }
    // The last first: how little is left at the end is what is looked for.
    let every = answer.rows.len().div_ceil(LABELLED).max(1);
    for (row, spot) in answer.rows.iter().zip(&spots).rev().step_by(every) {
        let mut said = signed(row.stops.get());
        if let Some(f_number) = &row.f_number {
            said = format!("{said}, {}", f_number.said());
        }
        labels.beside(&mut picture, *spot, 7.0, style, &said, within);
    }
    let at_reference = panel.at(length(reference.get()), panel.y.range()[0]);
    let said = format!("reference, {}", units.said(reference));
    labels.beside(&mut picture, [at_reference[0], at_reference[1] - 14.0], 6.0, style, &said, within);
    notes::end(&mut picture, top + HEIGHT + BELOW + 22.0, &answer.warnings);
    picture
}

/// Distance and stops, of the source and of a point.
fn curves(question: &Question, least: f64, most: f64) -> [Vec<[f64; 2]>; 2] {
    // Steps of equal ratio: the curve bends most where it is near.
    let distance = |spot: u32| least * (most / least).powf(f64::from(spot) / f64::from(SPOTS));
    let distances = (0..=SPOTS).map(|spot| Metres::computed(distance(spot))).collect();
    let fine = falloff::falloff(&Question { distances, output: None, depth: None, ..question.clone() });
    let rows = fine.map(|fine| fine.rows).unwrap_or_default();
    let curve =
        |of: fn(&falloff::Row) -> f64| rows.iter().map(|row| [row.distance_m.get(), of(row)]).collect();
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
    }
    legend.line(picture, "inverse square (a point)", POINT);
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
    let source = source_said(question.source, units);
    let mut said = format!("{source}. Stops against {}", units.said(answer.reference_distance_m));
    if !answer.rows.is_empty() {
        said = format!("{said}: {}", text::listed(rows, LABELLED));
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
