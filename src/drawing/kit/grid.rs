//! The grid of a kit check: shots by roles.

use crate::{
    drawing::{
        canvas::{
            cells::{self, Cell, Row},
            colour::{Colour, Fill},
            legend::Legend,
            marks::letter,
            paragraph,
            sheet::{Anchor, NORMAL, Picture, TextStyle},
        },
        kit::outcome::{self, Outcome, most_telling},
    },
    light::kit::{KitCheck, RoleResult, ShotResult},
    wording::phrases::kit_picture as words,
};

/// The units of the cells, in the order in which they occur.
#[derive(Default)]
struct Units<'a>(Vec<&'a str>);

impl<'a> Units<'a> {
    fn letter(&mut self, unit: &'a str) -> String {
        let place = self.0.iter().position(|name| *name == unit);
        letter(place.unwrap_or_else(|| {
            self.0.push(unit);
            self.0.len() - 1
        }))
    }
}

/// How bad the worst of some lights is.
fn worst<'a>(lights: impl Iterator<Item = &'a RoleResult>) -> f64 {
    lights.map(|light| -Outcome::of_role(light).spare()).fold(f64::MIN, f64::max)
}

/// Draws the grid, its legend, and a line for what is not in it. Returns the position of the next line.
pub fn draw(picture: &mut Picture, top: f64, answer: &KitCheck) -> f64 {
    let [most_shots, most_roles] = if picture.is_narrow() { [12, 6] } else { [20, 8] };
    let weights: Vec<f64> = answer.shots.iter().map(|shot| worst(shot.lights.iter())).collect();
    let shots: Vec<&ShotResult> =
        most_telling(&weights, most_shots).into_iter().map(|shot| &answer.shots[shot]).collect();
    let roles = roles(&shots, most_roles);
    let mut units = Units::default();
    let (mut drawn, mut moved) = (Vec::new(), false);
    let mut cell = |light: &RoleResult, below: String| {
        let outcome = Outcome::of_role(light);
        drawn.push(outcome);
        moved |= light.moved;
        outcome.cell(&below)
    };
    let rows: Vec<Row> = shots
        .iter()
        .map(|shot| Row {
            heading: shot.name.clone(),
            cells: roles
                .iter()
                .map(|role| match shot.lights.iter().find(|light| light.role == *role) {
                    Some(light) => {
                        let letter = light.unit.as_deref().map(|unit| units.letter(unit));
                        cell(light, words::unit_and_setting(letter.as_deref(), light))
                    }
                    None => Cell { fill: Fill::None, text: String::new(), colour: Colour::Grey },
                })
                .collect(),
        })
        .collect();
    let y = paragraph::details(picture, top, words::GRID);
    let mut legend = Legend::new([picture.left(), y], picture.right());
    outcome::legend(&mut legend, picture, &drawn);
    if moved {
        legend.text(picture, words::MOVED);
    }
    let columns: Vec<String> = roles.iter().map(|role| (*role).to_owned()).collect();
    let y = cells::draw(picture, legend.bottom() + 4.0, &columns, &rows);
    let y = key(picture, y + 8.0, &units.0);
    let all = answer.shots.iter().flat_map(|shot| &shot.lights).count();
    let Some(text) = words::more_lights(all - drawn.len()) else { return y };
    picture.describe(&text);
    paragraph::details(picture, y + 6.0, &text)
}

/// The names of the roles in the columns: the worst, in the order in which they occur.
fn roles<'a>(shots: &[&'a ShotResult], most: usize) -> Vec<&'a str> {
    let mut names: Vec<&str> = Vec::new();
    let mut weights: Vec<f64> = Vec::new();
    for light in shots.iter().flat_map(|shot| &shot.lights) {
        let weight = worst(std::iter::once(light));
        match names.iter().position(|name| *name == light.role) {
            // A role of many shots before one of few.
            Some(place) => weights[place] = weights[place].max(weight) + 1e-6,
            None => {
                names.push(&light.role);
                weights.push(weight);
            }
        }
    }
    most_telling(&weights, most).into_iter().map(|role| names[role]).collect()
}

/// Writes which unit each letter is. Returns the position of the next line.
fn key(picture: &mut Picture, top: f64, units: &[&str]) -> f64 {
    if units.is_empty() {
        return top;
    }
    let mut legend = Legend::new([picture.left(), top], picture.right());
    let style = TextStyle::new(NORMAL).bold().without_halo().anchored(Anchor::Middle);
    for (index, unit) in units.iter().enumerate() {
        legend.add(picture, unit, |picture, [x, y]| picture.text([x, y + 5.0], style, &letter(index)));
    }
    legend.bottom() + 14.0
}
