//! What each light is set to, with its mark, which the plan has too.

use crate::{
    drawing::{
        canvas::{
            colour::Colour,
            marks::Mark,
            paragraph::{self, TWO_LINES},
            sheet::{Anchor, NORMAL, Pen, Picture, SMALL, TextStyle},
            todo,
        },
        set::Set,
    },
    light::{
        quantity::Metres,
        set::{Light, Origin},
    },
    wording::{format, phrases::set_picture as words},
};

/// A light and what it is set to.
#[derive(Debug, Clone)]
pub struct Dial {
    pub mark: Mark,
    pub name: String,
    pub value: String,
    /// What matters beside the setting; empty if nothing does.
    pub note: String,
    /// What is good to know.
    pub details: String,
}

/// The most lights that have a large line each.
const MAX_LARGE: usize = 8;
/// The least width of a column of small ones, px.
const COLUMN: f64 = 266.0;
/// The most distances that are listed for a light, nearest first.
const MAX_DISTANCES: usize = 2;

/// Draws what to set, from `top` down: a large line for each light, or columns if they are many. Returns the lower edge.
pub fn dials(picture: &mut Picture, top: f64, dials: &[Dial]) -> f64 {
    if dials.len() > MAX_LARGE {
        return columns(picture, top, dials);
    }
    let lines = dials.iter().map(|dial| todo::Line {
        mark: dial.mark,
        name: dial.name.clone(),
        value: dial.value.clone(),
        details: words::parts(&[&dial.note, &dial.details]),
    });
    todo::draw(picture, top, &lines.collect::<Vec<_>>())
}

fn columns(picture: &mut Picture, top: f64, dials: &[Dial]) -> f64 {
    const INDENT: f64 = 32.0;
    const GAP: f64 = 16.0;
    let (left, room) = (picture.left(), picture.room());
    let count = ((room + GAP) / COLUMN).floor().max(1.0);
    let width = (room + GAP) / count;
    let (name, value) = (TextStyle::new(NORMAL).without_halo(), TextStyle::new(NORMAL).bold().without_halo());
    let small = TextStyle::new(SMALL).without_halo();
    let mut y = top;
    for row in dials.chunks(count as usize) {
        let mut height = TWO_LINES;
        picture.line([left, y], [picture.right(), y], Pen::new(Colour::Faint, 1.0));
        for (column, dial) in row.iter().enumerate() {
            let x = left + width * column as f64;
            let right = x + width - GAP;
            let middle = y + TWO_LINES / 2.0;
            dial.mark.draw(picture, [x + 14.0, middle], 8.0);
            picture.text([right, middle + 5.0], value.anchored(Anchor::End), &dial.value);
            let room = right - x - INDENT - value.width(&dial.value) - 8.0;
            paragraph::name(picture, [x + INDENT, middle], name, &dial.name, room);
            if !dial.note.is_empty() {
                let below = [x + INDENT, y + TWO_LINES + 12.0];
                let end = paragraph::write(picture, below, small, right - x - INDENT, &dial.note);
                height = f64::max(height, end - y - 12.0);
            }
        }
        y += height;
    }
    picture.line([left, y], [picture.right(), y], Pen::new(Colour::Faint, 1.0));
    y
}

/// What the lights of a set are set to.
pub fn of_set(set: &Set<'_>) -> Vec<Dial> {
    let lights = set.scene.lights.iter().zip(&set.settings).enumerate();
    lights
        .map(|(index, (light, setting))| Dial {
            mark: Mark::Light(index, setting.is_off),
            name: light.name.clone(),
            value: setting.label.clone(),
            note: setting.note.clone(),
            details: words::parts(&[
                &setting.details,
                &unit_name(set, light).unwrap_or_default(),
                &heights(set, index),
                &distances(set, index),
            ]),
        })
        .collect()
}

/// What a light is: its unit, if that is named otherwise, the pack that it is on, or a lamp.
fn unit_name(set: &Set<'_>, light: &Light) -> Option<String> {
    let unit = light.unit.name.clone().filter(|unit| *unit != light.name);
    let pack = light.unit.head.map(|head| words::on_pack(&set.scene.packs[head.pack].name));
    unit.into_iter()
        .chain(pack)
        .chain(light.unit.lamp.map(|_| words::LAMP.to_owned()))
        .reduce(|all, next| words::parts(&[&all, &next]))
}

/// How high a light stands, at each of its positions.
fn heights(set: &Set<'_>, index: usize) -> String {
    let places = set.places.iter().filter(|place| place.light == index);
    let up = places.map(|place| format::minus_length(Metres::new_unchecked(place.at.0[2]), set.units));
    words::up(&up.collect::<Vec<_>>())
}

/// The distances of a light from the nearest points, and the points where it was metered: `face 2.1 m, wall metered`.
pub fn distances(set: &Set<'_>, index: usize) -> String {
    let placed = set.placements.iter().filter(|(_, light, _)| *light == index);
    let mut placed: Vec<(usize, Metres)> =
        placed.map(|(point, _, placement)| (*point, placement.distance)).collect();
    placed.sort_by(|one, other| one.1.get().total_cmp(&other.1.get()));
    let metered = set.scene.contributions.iter().filter(|reading| reading.light == index);
    let metered = metered.filter(|reading| matches!(reading.origin, Origin::Reading { .. }));
    // A light that was moved since stands where it is placed.
    let is_moved = |point: &usize| placed.iter().any(|(of, _)| of == point);
    let metered: Vec<usize> = metered.map(|reading| reading.point).filter(|point| !is_moved(point)).collect();
    let placed = placed.into_iter().map(|(point, distance)| (point, Some(distance)));
    let points = placed.chain(metered.into_iter().map(|point| (point, None)));
    let name = |point: usize| set.scene.points[point].name.clone();
    let points: Vec<_> = points.map(|(point, distance)| (name(point), distance)).collect();
    words::distances(&points, set.units, MAX_DISTANCES)
}
