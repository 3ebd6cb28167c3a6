//! What is known of the lights before a round of readings: how far each may be off.
//!
//! Light l at point p is off by z = e + u stops: e belongs to the light, u differs from point to point. Both are normal; a
//! 95 % half-width is 1.96 standard deviations. What lights have in common adds linearly (JCGM 100:2008, 5.2.2).

use nalgebra::{DMatrix, DVector};

/// 95 % half-widths over standard deviations of a normal distribution (published: JCGM 100:2008, table G.1).
pub const COVERAGE: f64 = 1.96;

/// The half-widths of one light, ± stops at 95 %.
#[derive(Debug, Clone, PartialEq)]
pub struct Doubt {
    /// What is its own, at its setting.
    pub own: f64,
    /// What it has in common with other lights: what that is, and the half-width.
    pub common: Vec<(String, f64)>,
    /// What another setting adds.
    pub dial: f64,
    /// What one flash differs from the next.
    pub repeat: f64,
}

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

impl Prior {
    /// From the half-widths of each light, and of each light at each point.
    pub fn new(doubts: &[Doubt], pairs: &DMatrix<f64>) -> Self {
        let count = doubts.len();
        let mut lights = DMatrix::zeros(count, count);
        for (index, doubt) in doubts.iter().enumerate() {
            lights[(index, index)] += variance(doubt.own);
            for (name, half) in &doubt.common {
                for (other, doubt) in doubts.iter().enumerate() {
                    let same = doubt.common.iter().filter(|(of, _)| of == name);
                    let halves: f64 = same.map(|(_, half)| half).sum();
                    lights[(index, other)] += half * halves / (COVERAGE * COVERAGE);
                }
            }
        }
        let each = |half: fn(&Doubt) -> f64| {
            DVector::from_iterator(count, doubts.iter().map(|doubt| variance(half(doubt))))
        };
        Self {
            lights,
            pairs: pairs.map(variance),
            dial: each(|doubt| doubt.dial),
            repeat: each(|doubt| doubt.repeat),
        }
    }
}

/// The variance of a 95 % half-width.
pub fn variance(half_width: f64) -> f64 {
    (half_width / COVERAGE).powi(2)
}

/// The 95 % half-width of a variance. Rounding may leave a variance of nothing below 0.
pub fn half_width(variance: f64) -> f64 {
    COVERAGE * variance.max(0.0).sqrt()
}
