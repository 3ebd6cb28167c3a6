//! The chances that points are within their bounds, each and all together, by draws.

use super::{Budget, DrawnPoint};
use crate::light::{
    quantity::{Stops, half_widths::SIGMAS},
    uncertainty::draws,
};

/// The chances that points are within their bounds.
#[derive(Debug, Clone, PartialEq)]
pub struct Chances {
    /// Of each point.
    pub points: Vec<f64>,
    /// Of all together.
    pub all: f64,
}

/// Points whose light has to be alike.
#[derive(Debug, Clone, PartialEq)]
pub struct Alike {
    /// The points, each with what is added to its light, stops.
    pub points: Vec<(usize, f64)>,
    /// How much the greatest may differ from the least, stops.
    pub within: f64,
}

/// Half-widths that differ by less than this are even, stops.
const EVEN: f64 = 0.02;

impl Budget {
    /// The chances that points are within their bounds: the least and the greatest stops between which the light of each
    /// may lie against what is expected of it. A dark point never is.
    pub fn chances(&self, bounds: &[[f64; 2]]) -> Chances {
        let all: Vec<(usize, [f64; 2])> = bounds.iter().copied().enumerate().collect();
        let points = all.iter().map(|(point, bounds)| self.chance_at(*point, *bounds)).collect();
        Chances { points, all: self.chance_of_all(&all, &[]) }
    }

    /// The chance that a point is within its bounds.
    pub fn chance_at(&self, point: usize, [least, greatest]: [f64; 2]) -> f64 {
        if !self.is_lit(point) {
            return 0.0;
        }
        let DrawnPoint { stops, own: (_, [low, high]), .. } = &self.drawn()[point];
        // Between which the rest may lie: what is common to all, and what is of this point only if it is even.
        let (stops, rest) = if (high - low).abs() < EVEN {
            (stops.as_slice(), self.whole.half_width.hypot(f64::midpoint(*low, *high)))
        } else {
            (self.drawn_at(point), self.whole.half_width)
        };
        let rest = deviation(rest);
        let chance = |stops: &f32| {
            let stops = f64::from(*stops);
            chance_between([least - stops, greatest - stops], rest)
        };
        (stops.iter().map(chance).sum::<f64>() / stops.len() as f64).clamp(0.0, 1.0)
    }

    /// The chance that all these points are within their bounds, and the light at points that have to be alike differs by no
    /// more than it may.
    pub fn chance_of_all(&self, bounds: &[(usize, [f64; 2])], alike: &[Alike]) -> f64 {
        if let ([(point, bounds)], []) = (bounds, alike) {
            return self.chance_at(*point, *bounds);
        }
        if bounds.iter().any(|(point, _)| !self.is_lit(*point)) {
            return 0.0;
        }
        let lattice = self.lattice();
        let stops: Vec<&[f32]> = bounds.iter().map(|(point, _)| self.drawn_at(*point)).collect();
        // Between which what is common to all may lie.
        let mut all = vec![[f64::NEG_INFINITY, f64::INFINITY]; lattice.count()];
        for ((_, [least, greatest]), stops) in bounds.iter().zip(&stops) {
            for ([low, high], stops) in all.iter_mut().zip(*stops) {
                let stops = f64::from(*stops);
                (*low, *high) = (low.max(least - stops), high.min(greatest - stops));
            }
        }
        for Alike { points, within } in alike {
            let with = |(point, more): &(usize, f64)| {
                let place = bounds.iter().position(|(other, _)| other == point)?;
                Some((stops[place], *more))
            };
            let points: Vec<(&[f32], f64)> = points.iter().filter_map(with).collect();
            for (draw, [low, _]) in all.iter_mut().enumerate() {
                let light = || points.iter().map(|(stops, more)| f64::from(stops[draw]) + more);
                let spread = light().fold(f64::MIN, f64::max) - light().fold(f64::MAX, f64::min);
                if spread > *within {
                    *low = f64::INFINITY;
                }
            }
        }
        let whole = deviation(self.whole.half_width);
        let sum: f64 = all.into_iter().map(|ends| chance_between(ends, whole)).sum();
        (sum / lattice.count() as f64).clamp(0.0, 1.0)
    }
}

/// The chance that a normal deviate with this standard deviation is between two ends.
fn chance_between([low, high]: [f64; 2], deviation: f64) -> f64 {
    (draws::below(high / deviation) - draws::below(low / deviation)).max(0.0)
}

/// The standard deviation of a half-width; of one that is exact the least that can be divided by.
fn deviation(half_width: f64) -> f64 {
    (half_width / SIGMAS).max(1e-9)
}

/// The bounds of [`Budget::chances`] for an error that is expected, stops, and a tolerance, on the sides that count.
pub fn bounds(error: f64, tolerance: Stops, [dark, bright]: [bool; 2]) -> [f64; 2] {
    let tolerance = tolerance.get();
    [
        if dark { -tolerance - error } else { f64::NEG_INFINITY },
        if bright { tolerance - error } else { f64::INFINITY },
    ]
}
