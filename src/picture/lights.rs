//! The lights of a set by their letters, and what each is set to.

use super::{
    paragraph,
    places::Standing,
    set::{MARGIN, Set, WIDTH},
    sheet::{Anchor, FAINT, GREY, HATCHES, INK, PAPER, Pen, Picture, SMALL, Spot, Type, USUAL},
    text,
};
use crate::light::{
    quantity::Metres,
    set::Known,
    unit::{Setting, Unit},
};

/// Height of a line, px.
pub const LINE: f64 = 24.0;
/// How ambient light is filled.
pub const BARE: &str = PAPER;

/// Distances of one light that are told.
const DISTANCES: usize = 12;

const COLUMNS: [f64; 4] = [MARGIN + 34.0, 256.0, 512.0, 598.0];

/// A light's letter: A to Z, then AA, AB and so on.
pub fn letter(index: usize) -> String {
    let of = |index: usize| char::from(b'A' + (index % 26) as u8);
    match index / 26 {
        0 => of(index).to_string(),
        round => format!("{}{}", of(round - 1), of(index)),
    }
}

/// The letter of a light at a place: A, A′, A″, A3 and so on.
pub fn place_letter(standing: &Standing) -> String {
    let letter = letter(standing.lamp);
    match standing.number {
        0 => letter,
        1 => format!("{letter}′"),
        2 => format!("{letter}″"),
        more => format!("{letter}{more}"),
    }
}

/// How a light's part is filled: told apart without colour.
pub const fn filling(index: usize) -> &'static str {
    HATCHES[index % HATCHES.len()]
}

/// A light's circle.
pub fn circle(picture: &mut Picture, at: Spot, letter: &str) {
    picture.circle(at, 11.0, PAPER, Pen::new(INK, 1.5));
    let style = Type::new(SMALL).bold().at(Anchor::Middle);
    picture.text([at[0], at[1] + 4.0], style, letter);
}

/// A setting in words: what to dial, and what that is; none is off.
pub fn setting_said(setting: Option<&Setting>, pops: u32) -> [String; 2] {
    let Some(setting) = setting else { return ["off".to_owned(), String::new()] };
    let below = setting.stops_below_full.get();
    let below = if below == 0.0 { "full".to_owned() } else { format!("{} below full", text::number(below)) };
    let energy = setting.energy_j.map(|energy| format!("{} J", text::number(energy.get())));
    let pops = if pops > 1 { format!(", {pops} pops") } else { String::new() };
    let below = Some(below).filter(|below| *below != setting.label);
    let rest: Vec<String> = energy.into_iter().chain(below).collect();
    [format!("{}{pops}", setting.label), rest.join(", ")]
}

/// Draws the lights from `top` down; answers where they end.
pub fn draw(picture: &mut Picture, set: &Set<'_>, top: f64) -> f64 {
    let head = Type::new(SMALL).in_colour(GREY);
    let is_up = !set.places.is_empty();
    let heads =
        ["light", "set to", if is_up { "up" } else { "" }, "how far from each point, or metered there"];
    for (x, said) in COLUMNS.into_iter().zip(heads) {
        picture.text([x, top], head, said);
    }
    let mut y = top + 8.0;
    for (index, (lamp, setting)) in set.scene.lamps.iter().zip(&set.settings).enumerate() {
        picture.line([MARGIN, y], [WIDTH - MARGIN, y], Pen::new(FAINT, 0.5));
        let base = y + 16.0;
        picture.rectangle([MARGIN, y + 4.0], [MARGIN + 26.0, y + 20.0], filling(index), Pen::new(INK, 0.75));
        picture.text([MARGIN + 13.0, base], Type::new(SMALL).bold().at(Anchor::Middle), &letter(index));
        let style = Type::new(USUAL);
        let named = |unit: &Unit| unit.name.clone().filter(|name| *name != lamp.name);
        let name =
            named(&lamp.unit).map_or_else(|| lamp.name.clone(), |unit| format!("{} ({unit})", lamp.name));
        let room = |column: usize| COLUMNS[column + 1] - COLUMNS[column] - 8.0;
        picture.fitted([COLUMNS[0], base], style, &name, room(0));
        let [dialled, rest] = setting;
        picture.text([COLUMNS[1], base], style.bold(), dialled);
        let after = style.bold().width(dialled) + 8.0;
        let aside = Type::new(SMALL).in_colour(GREY);
        picture.fitted([COLUMNS[1] + after, base], aside, rest, room(1) - after);
        let up: Vec<String> = set
            .places
            .iter()
            .filter(|standing| standing.lamp == index)
            .map(|standing| text::length(set.units, Metres::computed(standing.at.0[2])))
            .collect();
        let small = Type::new(SMALL);
        picture.fitted([COLUMNS[2], base - 1.0], small, &up.join(", "), room(2));
        let room = WIDTH - MARGIN - COLUMNS[3];
        let next =
            paragraph::write(picture, [COLUMNS[3], y + 15.0], small, room, 14.0, &distances(set, index));
        y = (y + LINE).max(next - 8.0);
    }
    picture.line([MARGIN, y], [WIDTH - MARGIN, y], Pen::new(FAINT, 0.5));
    y
}

/// How far a light is from each point: `1: 2.1 m, 3: 4 m`, and where it was metered.
pub fn distances(set: &Set<'_>, lamp: usize) -> String {
    let name = &set.scene.lamps[lamp].name;
    let mut told: Vec<(usize, String)> = Vec::new();
    for (spot, light, placement) in &set.lit.placements {
        if *light == lamp {
            told.push((*spot, set.units.said(placement.distance)));
        }
    }
    for contribution in &set.scene.contributions {
        if let (true, Known::Reading { .. }, Some(spot)) =
            (contribution.light == *name, &contribution.known, set.scene.spot(&contribution.point))
        {
            told.push((spot, "metered".to_owned()));
        }
    }
    told.sort_by_key(|(spot, _)| *spot);
    let more = told.len().saturating_sub(DISTANCES);
    told.truncate(DISTANCES);
    // A space that no line breaks at keeps a number and its length together.
    let told: Vec<String> = told
        .iter()
        .map(|(spot, said)| format!("{}:\u{a0}{}", spot + 1, said.replace(' ', "\u{a0}")))
        .collect();
    let more = if more > 0 { format!(", and {more} more") } else { String::new() };
    format!("{}{more}", told.join(", "))
}
