//! What is known of the lights before a round of readings: how far each may be off.
//!
//! Light l at point p is off by z = e + u stops: e belongs to the light at its present setting, u differs from point to
//! point. Both are normal; a 95 % half-width is 1.96 standard deviations. What lights have in common adds linearly
//! (JCGM 100:2008, 5.2.2).

use nalgebra::{DMatrix, DVector};

use crate::light::{
    quantity::half_widths::{DIAL, REPEAT, SIGMAS},
    uncertainty::{Cause, prior},
    unit::Unit,
};

/// The least half-width of what differs from point to point, stops (our judgement).
pub const PAIR: f64 = 0.2;

/// What is known before.
#[derive(Debug, Clone)]
pub struct Prior {
    /// Covariance of the errors of the lights, stops².
    pub lights: DMatrix<f64>,
    /// Variance of what differs from point to point, by light and point, stops².
    pub pairs: DMatrix<f64>,
    /// Variance of what another setting of a light adds, stops².
    pub dial: DVector<f64>,
    /// Variance from flash to flash of a light, stops².
    pub repeat: DVector<f64>,
}

/// The half-widths of a light at another setting, and from flash to flash, stops.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Handling {
    /// What another setting adds.
    pub dial: f64,
    /// What one flash differs from the next.
    pub repeat: f64,
}

impl Handling {
    /// That of a unit.
    pub fn of(unit: &Unit) -> Self {
        Self { dial: DIAL.or(unit.dial), repeat: REPEAT.or(unit.repeat) }
    }
}

impl Prior {
    /// From the budget of the set at its present settings, and how each light behaves.
    pub fn new(known: &prior::Prior, handling: &[Handling]) -> Self {
        let count = handling.len();
        let mut lights = DMatrix::zeros(count, count);
        // From flash to flash a light differs in each reading anew.
        for source in known.sources.iter().filter(|source| source.cause != Cause::Repeatability) {
            let deviations = DVector::from_column_slice(&source.deviations);
            lights += &deviations * deviations.transpose();
        }
        // Of a light that reaches no point nothing is known but that it has a setting.
        for (light, Handling { dial, .. }) in handling.iter().enumerate() {
            let own: &mut f64 = &mut lights[(light, light)];
            *own = if *own > 0.0 { *own } else { variance(*dial) };
        }
        let pair = |light: usize, point: usize| {
            let [place, unmetered] = [&known.pairs, &known.unmetered].map(|of| of[point][light].powi(2));
            place.max(variance(PAIR)) + unmetered
        };
        let each = |half: fn(&Handling) -> f64| {
            DVector::from_iterator(count, handling.iter().map(|light| variance(half(light))))
        };
        Self {
            lights,
            pairs: DMatrix::from_fn(count, known.pairs.len(), pair),
            dial: each(|light| light.dial),
            repeat: each(|light| light.repeat),
        }
    }
}

/// The variance of a 95 % half-width.
pub fn variance(half_width: f64) -> f64 {
    (half_width / SIGMAS).powi(2)
}

/// The 95 % half-width of a variance. Rounding may leave a variance of nothing below 0.
pub fn half_width(variance: f64) -> f64 {
    SIGMAS * variance.max(0.0).sqrt()
}
