//! The lights of a set by their letters, and what each is set to.

use crate::{
    drawing::{
        canvas::{
            hatches::HATCHES,
            paragraph,
            sheet::{Anchor, FAINT, GREY, INK, PAPER, Pen, Picture, SMALL, SheetPoint, Type, USUAL, WRONG},
            text,
        },
        set::{MARGIN, Set, WIDTH, places::Standing},
    },
    light::{
        quantity::Metres,
        set::Known,
        unit::{Setting, Unit},
    },
};

/// Height of a line, px.
pub const LINE: f64 = 24.0;
/// How ambient light is filled.
pub const BARE: &str = PAPER;

/// Distances of one light that are told, the nearest.
const DISTANCES: usize = 4;
const OFF: Pen = Pen::new(GREY, 1.5).dashed("3 3");

/// What a light is set to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Said {
    /// Whether it is switched off.
    pub is_off: bool,
    /// What to dial.
    pub dialled: String,
    /// What that is.
    pub rest: String,
    /// Where it is at an end of its range that holds the set back.
    pub end: Option<&'static str>,
}

impl Said {
    /// A setting in words; none is off.
    pub fn of(setting: Option<&Setting>, pops: u32) -> Self {
        let Some(setting) = setting else {
            return Self { is_off: true, dialled: "off".to_owned(), rest: String::new(), end: None };
        };
        let below = setting.stops_below_full.get();
        let below =
            if below == 0.0 { "full".to_owned() } else { format!("{} below full", text::number(below)) };
        let energy = setting.energy_j.map(|energy| format!("{} J", text::number(energy.get())));
        let pops = if pops > 1 { format!(", {pops} pops") } else { String::new() };
        let below = Some(below).filter(|below| *below != setting.label);
        let rest: Vec<String> = energy.into_iter().chain(below).collect();
        let dialled = format!("{}{pops}", setting.label);
        Self { is_off: false, dialled, rest: rest.join(", "), end: None }
    }

    /// The same of a light that nobody may turn.
    pub fn fixed(self) -> Self {
        if self.is_off {
            return self;
        }
        let joint = if self.rest.is_empty() { "" } else { ", " };
        Self { rest: format!("fixed{joint}{}", self.rest), ..self }
    }

    /// All of it.
    pub fn whole(&self) -> String {
        let rest = [self.rest.as_str(), self.end.unwrap_or_default()];
        let rest = rest.into_iter().filter(|told| !told.is_empty());
        std::iter::once(self.dialled.as_str()).chain(rest).collect::<Vec<_>>().join(", ")
    }
}

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

/// A light's circle; dashed where it is switched off.
pub fn circle(picture: &mut Picture, at: SheetPoint, letter: &str, is_off: bool) {
    picture.circle(at, 11.0, PAPER, if is_off { OFF } else { Pen::new(INK, 1.5) });
    let style = Type::new(SMALL).bold().at(Anchor::Middle);
    picture.text([at[0], at[1] + 4.0], style, letter);
}

/// Draws the lights from `top` down; answers where they end.
pub fn draw(picture: &mut Picture, set: &Set<'_>, top: f64) -> f64 {
    let head = Type::new(SMALL).in_colour(GREY);
    let is_up = !set.places.is_empty();
    let heads = [
        "light",
        "set to",
        if is_up { "up" } else { "" },
        "how far from the nearest points, or metered there",
    ];
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
        paragraph::name(picture, [COLUMNS[0], y + 12.0], style, &name, room(0));
        picture.text([COLUMNS[1], base], style.bold(), &setting.dialled);
        let small = Type::new(SMALL);
        let end = setting.end.unwrap_or_default();
        let for_end = if end.is_empty() { 0.0 } else { small.bold().width(end) + 8.0 };
        let mut after = style.bold().width(&setting.dialled) + 8.0;
        let rest = small.fitted(&setting.rest, room(1) - after - for_end);
        picture.text([COLUMNS[1] + after, base], small.in_colour(GREY), &rest);
        after += small.width(&rest) + 8.0;
        picture.text([COLUMNS[1] + after, base], small.bold().in_colour(WRONG), end);
        let up: Vec<String> = set
            .places
            .iter()
            .filter(|standing| standing.lamp == index)
            .map(|standing| text::length(set.units, Metres::new_unchecked(standing.at.0[2])))
            .collect();
        picture.fitted([COLUMNS[2], base - 1.0], small, &up.join(", "), room(2));
        let room = WIDTH - MARGIN - COLUMNS[3];
        let far = distances(set, index, |spot| format!("{}:", spot + 1));
        let next = paragraph::write(picture, [COLUMNS[3], y + 15.0], small, room, 14.0, &far);
        y = (y + LINE).max(next - 8.0);
    }
    picture.line([MARGIN, y], [WIDTH - MARGIN, y], Pen::new(FAINT, 0.5));
    y
}

/// How far a light is from the nearest points, and where it was metered: `1: 2.1 m, 3: 4 m`, if points are called by
/// numbers.
pub fn distances(set: &Set<'_>, lamp: usize, called: impl Fn(usize) -> String) -> String {
    let name = &set.scene.lamps[lamp].name;
    let placed = set.lit.placements.iter().filter(|(_, light, _)| *light == lamp);
    let mut placed: Vec<(usize, Metres)> =
        placed.map(|(spot, _, placement)| (*spot, placement.distance)).collect();
    placed.sort_by(|one, other| one.1.get().total_cmp(&other.1.get()));
    let metered = set.scene.contributions.iter().filter(|told| told.light == *name);
    let metered = metered.filter(|told| matches!(told.known, Known::Reading { .. }));
    let metered = metered.filter_map(|told| set.scene.spot(&told.point));
    let told = placed.into_iter().map(|(spot, distance)| (spot, set.units.said(distance)));
    let told: Vec<(usize, String)> = told.chain(metered.map(|spot| (spot, "metered".to_owned()))).collect();
    let more = told.len().saturating_sub(DISTANCES);
    // A space that no line breaks at keeps a number and its length together.
    let told = told.iter().take(DISTANCES);
    let told = told.map(|(spot, said)| format!("{} {said}", called(*spot)).replace(' ', "\u{a0}"));
    let more = (more > 0).then(|| format!("and {more} more"));
    told.chain(more).collect::<Vec<_>>().join(", ")
}
