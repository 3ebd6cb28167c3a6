//! The lighting ratio that a choice of settings gives, counted both ways.

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    balance::{search::Solution, setup::Prepared},
    quantity::Number,
    set::ratio::{Counting, LightingRatio, Side},
};

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

impl RatioResult {
    /// The target, and the ratio that a choice gives, counted both ways.
    pub fn new(ratio: LightingRatio, prepared: &Prepared, sides: [Side; 2], found: &Solution) -> Self {
        let problem = &prepared.problem;
        let [lit, shadow] = [0, 1].map(|p| problem.achieved(&found.choice, &problem.points[p]));
        let targets = [0, 1].map(|point| problem.points[point].target);
        let power = |light: usize| prepared.power(&found.choice, light);
        let pair = |target: Option<f64>, over: f64, under: f64| RatioPair {
            target: target.map(Number::new_unchecked),
            achieved: (under > 0.0).then(|| Number::new_unchecked(over / under)),
        };
        let lights = match ratio.counting {
            Counting::Lights => Some(ratio.value),
            Counting::Sides => LightingRatio::lights_by_sides(targets, sides),
        };
        Self {
            counting: ratio.counting,
            sides: pair(Some(targets[0] / targets[1]), lit, shadow),
            lights: pair(lights, sides[0].key * power(ratio.key), sides[1].fill * power(ratio.fill)),
        }
    }
}
