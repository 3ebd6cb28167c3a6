//! A lighting ratio of two lights on two sides: the shadow side's target, and the ratio achieved.

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    balance::{problem::Problem, search::Solution},
    quantity::{Number, words::words},
};

words! {
    /// How a lighting ratio is counted.
    pub enum Counting as "RatioCounting" {
        /// The fill reaches both sides: (key + fill) : fill.
        Sides = "sides",
        /// Each light metered alone: key : fill.
        Lights = "lights",
    }
}

/// Names of the two points in the two-light shorthand.
pub const SIDES: [&str; 2] = ["lit side", "shadow side"];

/// A lighting ratio of two lights on two sides: `lit side` is point 0, `shadow side` is point 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LightingRatio {
    /// The ratio, to 1, in its own counting.
    pub value: f64,
    /// How it is counted.
    pub counting: Counting,
    /// Index of the key light.
    pub key: usize,
    /// Index of the fill light.
    pub fill: usize,
}

/// A lighting ratio, counted both ways.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RatioResult {
    /// The counting of the request.
    pub counting: Counting,
    /// (key + fill) : fill, as a meter reads the two sides.
    pub sides: RatioPair,
    /// Key alone on the lit side to fill alone on the shadow side.
    pub lights: RatioPair,
}

/// A ratio to 1.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RatioPair {
    /// The target, to 1. In the counting that was not requested, the ratio that the target amounts to; null if no lights can make it.
    pub target: Option<Number>,
    /// The ratio that the settings give, to 1; null if the fill gives nothing.
    pub achieved: Option<Number>,
}

impl LightingRatio {
    /// The ratio of the sides if the fill reaches both equally, the key reaches one, and there is no other light.
    pub fn sides(&self) -> f64 {
        match self.counting {
            Counting::Sides => self.value,
            Counting::Lights => self.value + 1.0,
        }
    }

    /// Sets the shadow side's target from the lit side's. Returns whether any lights can make the ratio.
    pub fn set_shadow_target(&self, problem: &mut Problem) -> bool {
        let by_sides = problem.points[0].target / self.sides();
        let shadow = match self.counting {
            Counting::Sides => Some(by_sides),
            Counting::Lights => self.shadow_by_lights(problem),
        };
        problem.points[1].target = shadow.unwrap_or(by_sides);
        shadow.is_some()
    }

    /// The light on the shadow side if the key alone on the lit side is `value` times the fill alone on the shadow
    /// side, and key, fill and ambient light together give the lit side its target. `None` if the ambient light alone
    /// already does.
    fn shadow_by_lights(&self, problem: &Problem) -> Option<f64> {
        let [lit, shadow] = [&problem.points[0], &problem.points[1]];
        // The part of the key's light on the lit side that reaches the shadow side, and of the fill's light the other way.
        let spill = shadow.gain[self.key] / lit.gain[self.key];
        let reach = lit.gain[self.fill] / shadow.gain[self.fill];
        let fill = (lit.target - lit.ambient) / (self.value + reach);
        let target = fill * (1.0 + self.value * spill) + shadow.ambient;
        (fill > 0.0 && target.is_finite()).then_some(target)
    }

    /// Key alone to fill alone if both sides exactly get their targets; `None` if no lights can do that.
    fn lights_by_sides(&self, problem: &Problem) -> Option<f64> {
        let [lit, shadow] = [&problem.points[0], &problem.points[1]];
        let [needed_lit, needed_shadow] = [lit, shadow].map(|point| point.target - point.ambient);
        let (a, b) = (lit.gain[self.key], lit.gain[self.fill]);
        let (c, d) = (shadow.gain[self.key], shadow.gain[self.fill]);
        // Cramer's rule; the determinant cancels out of the ratio.
        let ratio = (needed_lit * d - needed_shadow * b) * a / ((needed_shadow * a - needed_lit * c) * d);
        (ratio.is_finite() && ratio >= 0.0).then_some(ratio)
    }

    /// The target, and the ratio that a choice gives, counted both ways.
    pub fn result(&self, problem: &Problem, found: &Solution) -> RatioResult {
        let [lit, shadow] = [0, 1].map(|p| problem.achieved(&found.choice, &problem.points[p]));
        let alone = |light: usize, point: usize| {
            problem.points[point].gain[light] * problem.lights[light].power[found.choice[light]]
        };
        let pair = |target: Option<f64>, over: f64, under: f64| RatioPair {
            target: target.map(Number::new_unchecked),
            achieved: (under > 0.0).then(|| Number::new_unchecked(over / under)),
        };
        let lights = match self.counting {
            Counting::Lights => Some(self.value),
            Counting::Sides => self.lights_by_sides(problem),
        };
        RatioResult {
            counting: self.counting,
            sides: pair(Some(problem.points[0].target / problem.points[1].target), lit, shadow),
            lights: pair(lights, alone(self.key, 0), alone(self.fill, 1)),
        }
    }
}
