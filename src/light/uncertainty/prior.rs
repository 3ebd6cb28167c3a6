//! What is known of the lights of a set before they are metered together.

use super::{
    Cause,
    budget::{Budget, Effect, Scope},
};
use crate::light::quantity::half_widths::SIGMAS;

/// What is known of the lights of a set before it is metered: standard deviations in stops, the meter's offset left out.
#[derive(Debug, Clone, PartialEq)]
pub struct Prior {
    /// The sources that are about lights wherever their light falls, independent of each other: what several lights have
    /// in common is one source with a standard deviation on each.
    pub sources: Vec<PriorSource>,
    /// What differs from point to point because of where a light stands: by point, then by light.
    pub pairs: Vec<Vec<f64>>,
    /// What the rating of a light leaves open where it was not metered, if it was metered elsewhere: by point, then by light.
    pub unmetered: Vec<Vec<f64>>,
}

/// A source of doubt about lights.
#[derive(Debug, Clone, PartialEq)]
pub struct PriorSource {
    /// Its cause.
    pub cause: Cause,
    /// Its standard deviation on each light, 0 where it has none.
    pub deviations: Vec<f64>,
}

impl Budget {
    /// What is known of the lights before they are metered together. A light that was metered alone is known by the least sure
    /// of its readings, and by its rating only where it was not.
    pub fn prior(&self) -> Prior {
        let lights = self.lights.len();
        let variance = |[low, high]: [f64; 2]| low.mul_add(low, high * high) / 2.0 / (SIGMAS * SIGMAS);
        let none = vec![vec![0.0; lights]; self.shares.len()];
        let (mut pairs, mut unmetered) = (none.clone(), none);
        let mut sources = Vec::new();
        let mut readings = vec![0.0_f64; lights];
        let of_lights = |effect: &&Effect| effect.light < lights;
        for source in self.sources.iter().filter(|source| source.cause == Cause::Reading) {
            for effect in source.effects.iter().filter(of_lights) {
                readings[effect.light] = readings[effect.light].max(variance(effect.half_widths));
            }
        }
        for source in self.sources.iter().filter(|source| source.cause != Cause::Reading) {
            let is_own = matches!(source.cause, Cause::Setting | Cause::Repeatability);
            // The mean over the points that the light reaches.
            let mut sums = vec![[0.0; 2]; lights];
            for effect in source.effects.iter().filter(of_lights) {
                let (Effect { point, light, .. }, own) = (*effect, variance(effect.half_widths));
                if source.scope == Scope::Pair {
                    pairs[point][light] += own;
                } else if readings[light] > 0.0 && !is_own {
                    unmetered[point][light] += own;
                } else {
                    sums[light][0] += own;
                    sums[light][1] += 1.0;
                }
            }
            if source.scope == Scope::Light {
                let deviation = |[sum, count]: [f64; 2]| f64::sqrt(sum / f64::max(count, 1.0));
                let deviations = sums.into_iter().map(deviation).collect();
                sources.push(PriorSource { cause: source.cause, deviations });
            }
        }
        for (light, variance) in readings.into_iter().enumerate().filter(|(_, variance)| *variance > 0.0) {
            let mut deviations = vec![0.0; lights];
            deviations[light] = variance.sqrt();
            sources.push(PriorSource { cause: Cause::Reading, deviations });
        }
        for variance in pairs.iter_mut().chain(&mut unmetered).flatten() {
            *variance = variance.sqrt();
        }
        Prior { sources, pairs, unmetered }
    }
}
