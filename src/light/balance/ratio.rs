//! A ratio of two lights on two sides: what it wants of the shadow side, and what was got.

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

/// Names of the two points of the shorthand.
pub const SIDES: [&str; 2] = ["lit side", "shadow side"];

/// A ratio of two lights on two sides: `lit side` is point 0, `shadow side` point 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LightingRatio {
    /// The ratio, to 1, as it was counted.
    pub value: f64,
    /// How it was counted.
    pub counting: Counting,
    /// Index of the key light.
    pub key: usize,
    /// Index of the fill light.
    pub fill: usize,
}

/// A lighting ratio in both countings.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RatioResult {
    /// The counting that was asked for.
    pub counting: Counting,
    /// (key + fill) : fill, as a meter reads the two sides.
    pub sides: RatioPair,
    /// Key alone on the lit side to fill alone on the shadow side.
    pub lights: RatioPair,
}

/// A ratio to 1.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RatioPair {
    /// What was wanted; of the counting that was not asked for, what that amounts to, null where no lights do that.
    pub target: Option<Number>,
    /// What the settings give; null where the fill gives nothing.
    pub achieved: Option<Number>,
}

impl LightingRatio {
    /// The ratio of the sides where the fill reaches both alike, the key one, and nothing else is there.
    pub fn sides(&self) -> f64 {
        match self.counting {
            Counting::Sides => self.value,
            Counting::Lights => self.value + 1.0,
        }
    }

    /// Sets what is wanted of the shadow side by what is wanted of the lit side; whether any lights can make the ratio.
    pub fn aim(&self, problem: &mut Problem) -> bool {
        let by_sides = problem.points[0].target / self.sides();
        let shadow = match self.counting {
            Counting::Sides => Some(by_sides),
            Counting::Lights => self.shadow_by_lights(problem),
        };
        problem.points[1].target = shadow.unwrap_or(by_sides);
        shadow.is_some()
    }

    /// Light on the shadow side where the key alone on the lit side is so many times the fill alone on the shadow
    /// side, and both with the ambient light give the lit side what it wants; none where the ambient light alone
    /// does.
    fn shadow_by_lights(&self, problem: &Problem) -> Option<f64> {
        let [lit, shadow] = [&problem.points[0], &problem.points[1]];
        // Of the key's light on the lit side, what reaches the shadow side; of the fill's there, what reaches the lit.
        let spill = shadow.gain[self.key] / lit.gain[self.key];
        let reach = lit.gain[self.fill] / shadow.gain[self.fill];
        let fill = (lit.target - lit.ambient) / (self.value + reach);
        let wanted = fill * (1.0 + self.value * spill) + shadow.ambient;
        (fill > 0.0 && wanted.is_finite()).then_some(wanted)
    }

    /// Key alone to fill alone where both sides get just what is wanted; none where no lights do that.
    fn lights_by_sides(&self, problem: &Problem) -> Option<f64> {
        let [lit, shadow] = [&problem.points[0], &problem.points[1]];
        let [wanted_lit, wanted_shadow] = [lit, shadow].map(|point| point.target - point.ambient);
        let (a, b) = (lit.gain[self.key], lit.gain[self.fill]);
        let (c, d) = (shadow.gain[self.key], shadow.gain[self.fill]);
        // Cramer's rule; the determinant falls out of the ratio.
        let ratio = (wanted_lit * d - wanted_shadow * b) * a / ((wanted_shadow * a - wanted_lit * c) * d);
        (ratio.is_finite() && ratio >= 0.0).then_some(ratio)
    }

    /// What was wanted, and what a choice gives, in both countings.
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
