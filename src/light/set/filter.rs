//! Filters on a light or on the lens.

use std::f64::consts::LOG10_2;

use crate::light::quantity::{Stops, kind::Kind, notation::Written, rules::Rules};

/// A filter or a gel.
#[derive(Debug, Clone, PartialEq)]
pub struct Filter {
    /// Its name, if it has one.
    pub name: Option<String>,
    /// Its effect on the light, stops; negative.
    pub stops: Stops,
    /// How far that may be off, if stated: ± stops at 95 %.
    pub plus_minus: Option<Stops>,
    /// Its colour shift, mired; `None` if it has none or it is not stated.
    pub mired: Option<f64>,
}

/// The optical densities of the neutral-density filters that are commonly sold (common practice).
pub const SOLD: [f64; 8] = [0.3, 0.6, 0.9, 1.2, 1.5, 1.8, 2.4, 3.0];

/// A neutral-density filter by its mark.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NeutralDensity {
    /// The printed optical density.
    pub density: f64,
    /// Its effect, stops; negative.
    pub stops: Stops,
}

impl NeutralDensity {
    /// The filter of a printed density: three stops for ND 0.9 where marks are read as what they stand for.
    pub fn new(density: f64, rules: Rules) -> Self {
        let (value, _) = rules.interpret(Kind::OpticalDensity, Written::plain(density));
        Self { density, stops: Stops::new_unchecked(-value / LOG10_2) }
    }

    /// The mark: `ND 0.9`.
    pub fn mark(self) -> String {
        if (self.density * 10.0).fract().abs() < 1e-9 {
            format!("ND {:.1}", self.density)
        } else {
            format!("ND {}", self.density)
        }
    }

    /// The filter in a set.
    pub fn filter(self) -> Filter {
        Filter { name: None, stops: self.stops, plus_minus: None, mired: None }
    }
}

/// The colour shift of filters one before the other, mired; `None` if none states one.
pub fn mired(filters: &[Filter]) -> Option<f64> {
    let mut stated = filters.iter().filter_map(|filter| filter.mired).peekable();
    stated.peek()?;
    Some(stated.sum())
}

/// The effect of filters one before the other, stops.
pub fn stops(filters: &[Filter]) -> f64 {
    filters.iter().map(|filter| filter.stops.get()).sum()
}
