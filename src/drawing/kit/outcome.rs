//! How a light comes out, as a cell of a grid: what it lacks or has to spare, in a colour and in words.

use crate::{
    drawing::canvas::{
        cells::Cell,
        colour::{Colour, Fill},
        legend::Legend,
        sheet::{Pen, Picture},
    },
    light::{
        kit::{RankedShot, RoleResult},
        quantity::Stops,
    },
    wording::phrases::kit_picture,
};

/// How a light comes out, the worst last. Stops are positive.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub enum Outcome {
    /// Reached, with so much to spare.
    Fine(f64),
    /// Reached, with little to spare.
    Tight(f64),
    /// The same, and perhaps not reached.
    Doubtful(f64),
    /// Too strong.
    Strong(f64),
    /// Too weak.
    Short(f64),
    /// No unit is left for it.
    NoUnit,
}

impl Outcome {
    /// That of a role.
    pub fn of_role(light: &RoleResult) -> Self {
        let spare = light.headroom_stops.map_or(0.0, Stops::get);
        match light {
            light if light.unit.is_none() => Self::NoUnit,
            light if light.is_too_strong() => Self::Strong(light.excess_stops.get()),
            light if light.is_missed() => Self::Short(light.shortfall_stops.get()),
            light if light.is_doubtful() => Self::Doubtful(spare),
            light if light.is_tight() => Self::Tight(spare),
            _ => Self::Fine(spare),
        }
    }

    /// That of the worst role of a shot.
    pub fn of_shot(shot: &RankedShot) -> Self {
        let (excess, shortfall) = (shot.excess_stops.get(), shot.shortfall_stops.get());
        match shot.headroom_stops.map(Stops::get) {
            None => Self::NoUnit,
            Some(_) if excess > 0.0 => Self::Strong(excess),
            Some(_) if !shot.feasible => Self::Short(shortfall),
            Some(spare) if shot.is_doubtful() => Self::Doubtful(spare),
            Some(spare) if shot.is_tight() => Self::Tight(spare),
            Some(spare) => Self::Fine(spare),
        }
    }

    /// Whether the light is not reached.
    pub const fn is_missed(self) -> bool {
        matches!(self, Self::Strong(_) | Self::Short(_) | Self::NoUnit)
    }

    /// Whether it is reached with more than a little to spare.
    pub const fn is_fine(self) -> bool {
        matches!(self, Self::Fine(_))
    }

    /// Stops to spare, negative if they are missing or too many. More than three to spare is no better, and no unit is the
    /// worst.
    pub fn spare(self) -> f64 {
        match self {
            Self::Fine(stops) | Self::Tight(stops) | Self::Doubtful(stops) => stops.min(3.0),
            Self::Strong(stops) | Self::Short(stops) => -stops,
            Self::NoUnit => f64::MIN,
        }
    }

    const fn fill(self) -> Colour {
        match self {
            Self::Fine(_) => Colour::Tolerance,
            Self::Tight(_) | Self::Doubtful(_) => Colour::Tight,
            _ => Colour::Wrong,
        }
    }

    /// Its cell, with a second line unless that is empty.
    pub fn cell(self, below: &str) -> Cell {
        let stops = match self {
            Self::Fine(spare) | Self::Tight(spare) => kit_picture::spare_cell(spare),
            Self::Doubtful(spare) => kit_picture::doubtful_cell(spare),
            Self::Strong(excess) => kit_picture::strong_cell(excess),
            Self::Short(shortfall) => kit_picture::short_cell(shortfall),
            Self::NoUnit => kit_picture::NO_UNIT.to_owned(),
        };
        let text = if below.is_empty() { stops } else { format!("{stops}\n{below}") };
        let colour = if self.is_fine() { Colour::Ink } else { Colour::Paper };
        Cell { fill: Fill::Colour(self.fill()), text, colour }
    }
}

/// Adds entries for the cells in use.
pub fn legend(legend: &mut Legend, picture: &mut Picture, outcomes: &[Outcome]) {
    let any = |is: fn(&Outcome) -> bool| outcomes.iter().any(is);
    let mut swatch = |has: bool, fill: Colour, label: &str| {
        if has {
            legend.swatch(picture, label, 8.0, fill, Pen::new(Colour::Faint, 1.0));
        }
    };
    swatch(any(|outcome| matches!(outcome, Outcome::Short(_))), Colour::Wrong, kit_picture::SHORT_MEANING);
    swatch(any(|outcome| matches!(outcome, Outcome::Strong(_))), Colour::Wrong, kit_picture::STRONG_MEANING);
    swatch(any(|outcome| *outcome == Outcome::NoUnit), Colour::Wrong, kit_picture::NO_UNIT_MEANING);
    swatch(any(|outcome| matches!(outcome, Outcome::Tight(_))), Colour::Tight, kit_picture::TIGHT_MEANING);
    swatch(
        any(|outcome| matches!(outcome, Outcome::Doubtful(_))),
        Colour::Tight,
        kit_picture::DOUBTFUL_MEANING,
    );
    swatch(any(|outcome| outcome.is_fine()), Colour::Tolerance, kit_picture::FINE_MEANING);
}

/// The indices of the `most` items with the greatest weight, in their own order.
pub fn most_telling(weights: &[f64], most: usize) -> Vec<usize> {
    let mut all: Vec<usize> = (0..weights.len()).collect();
    all.sort_by(|a, b| weights[*b].total_cmp(&weights[*a]));
    all.truncate(most);
    all.sort_unstable();
    all
}
