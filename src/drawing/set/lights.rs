//! The table of lights: letter, name, setting, height and distances.

use crate::{
    drawing::{
        canvas::{
            colour::{Colour, Fill},
            hatches::HATCHES,
            paragraph,
            sheet::{Anchor, NORMAL, Pen, Picture, SMALL, SheetPoint, TextStyle},
        },
        set::{MARGIN, Set, WIDTH, places::LightPosition},
    },
    light::{
        quantity::Metres,
        set::{Light, Origin},
    },
    wording::{format, phrases::set_picture as words},
};

/// The height of a row, px.
pub const LINE: f64 = 30.0;
/// The fill of ambient light.
pub const AMBIENT_FILL: Fill = Fill::Colour(Colour::Paper);

/// The most distances that are listed for a light, nearest first.
const MAX_DISTANCES: usize = 4;
const OFF: Pen = Pen::new(Colour::Grey, 1.5).dashed("3 3");

const COLUMNS: [f64; 4] = [MARGIN + 38.0, 256.0, 512.0, 590.0];

/// The letter of a light: A to Z, then AA, AB and so on.
pub fn letter(index: usize) -> String {
    let nth = |index: usize| char::from(b'A' + (index % 26) as u8);
    match index / 26 {
        0 => nth(index).to_string(),
        round => format!("{}{}", nth(round - 1), nth(index)),
    }
}

/// The letter of a light at one of its positions: A, A′, A″, A3 and so on.
pub fn place_letter(placed_light: &LightPosition) -> String {
    let letter = letter(placed_light.light);
    match placed_light.number {
        0 => letter,
        1 => format!("{letter}′"),
        2 => format!("{letter}″"),
        more => format!("{letter}{more}"),
    }
}

/// The fill of a light's share, which can be distinguished without colour.
pub const fn fill(index: usize) -> Fill {
    Fill::Hatch(index % HATCHES)
}

/// Draws a light as a circle with its letter, dashed if it is off, with a second circle for a lamp.
pub fn circle(picture: &mut Picture, at: SheetPoint, letter: &str, is_off: bool, is_lamp: bool) {
    if is_lamp {
        picture.circle(at, 16.0, Colour::Paper, if is_off { OFF } else { Pen::new(Colour::Ink, 1.0) });
    }
    picture.circle(at, 13.0, Colour::Paper, if is_off { OFF } else { Pen::new(Colour::Ink, 1.5) });
    let style = TextStyle::new(SMALL).bold().anchored(Anchor::Middle);
    picture.text([at[0], at[1] + 5.0], style, letter);
}

/// What a light is: its unit, or else the pack that it is on, or a lamp.
fn unit_name<'s>(set: &'s Set<'_>, light: &'s Light) -> Option<&'s str> {
    let pack = || light.unit.head.map(|head| set.scene.packs[head.pack].name.as_str());
    light.unit.name.as_deref().or_else(pack).or(light.unit.lamp.map(|_| words::LAMP))
}

/// Draws the table from `top` down. Returns its lower edge.
pub fn draw(picture: &mut Picture, set: &Set<'_>, top: f64) -> f64 {
    let head = TextStyle::new(SMALL).in_colour(Colour::Grey);
    let is_up = !set.places.is_empty();
    let heads = [words::LIGHT, words::SET_TO, if is_up { words::HEIGHT } else { "" }, words::DISTANCES];
    for (x, heading) in COLUMNS.into_iter().zip(heads) {
        picture.shortened([x, top], head, heading, WIDTH - MARGIN - x);
    }
    let mut y = top + 8.0;
    for (index, (light, setting)) in set.scene.lights.iter().zip(&set.settings).enumerate() {
        picture.line([MARGIN, y], [WIDTH - MARGIN, y], Pen::new(Colour::Faint, 0.5));
        let base = y + 20.0;
        picture.rectangle(
            [MARGIN, y + 5.0],
            [MARGIN + 30.0, y + 25.0],
            fill(index),
            Pen::new(Colour::Ink, 0.75),
        );
        picture.text(
            [MARGIN + 15.0, base],
            TextStyle::new(SMALL).bold().anchored(Anchor::Middle),
            &letter(index),
        );
        let style = TextStyle::new(NORMAL);
        let name = words::light_and_unit(&light.name, unit_name(set, light));
        let room = |column: usize| COLUMNS[column + 1] - COLUMNS[column] - 8.0;
        paragraph::name(picture, [COLUMNS[0], y + 15.0], style, &name, room(0));
        picture.text([COLUMNS[1], base], style.bold(), &setting.label);
        let small = TextStyle::new(SMALL);
        let end = setting.end.unwrap_or_default();
        let for_end = if end.is_empty() { 0.0 } else { small.bold().width(end) + 8.0 };
        let mut after = style.bold().width(&setting.label) + 8.0;
        let details = small.shortened(&setting.details, room(1) - after - for_end);
        picture.text([COLUMNS[1] + after, base], small.in_colour(Colour::Grey), &details);
        after += small.width(&details) + 8.0;
        picture.text([COLUMNS[1] + after, base], small.bold().in_colour(Colour::Wrong), end);
        let up: Vec<String> = set
            .places
            .iter()
            .filter(|placed_light| placed_light.light == index)
            .map(|placed_light| format::minus_length(Metres::new_unchecked(placed_light.at.0[2]), set.units))
            .collect();
        picture.shortened([COLUMNS[2], base], small, &up.join(", "), room(2));
        let room = WIDTH - MARGIN - COLUMNS[3];
        let distances = distances(set, index, |point| format!("{}:", point + 1));
        let next = paragraph::write(picture, [COLUMNS[3], y + 20.0], small, room, &distances);
        y = (y + LINE).max(next - 10.0);
    }
    picture.line([MARGIN, y], [WIDTH - MARGIN, y], Pen::new(Colour::Faint, 0.5));
    y
}

/// The distances of a light from the nearest points, and the points where it was metered: `1: 2.1 m, 3: 4 m`.
/// `point_label` gives the label of a point.
pub fn distances(set: &Set<'_>, index: usize, point_label: impl Fn(usize) -> String) -> String {
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
    let points: Vec<_> = points.map(|(point, distance)| (point_label(point), distance)).collect();
    words::distances(&points, set.units, MAX_DISTANCES)
}
