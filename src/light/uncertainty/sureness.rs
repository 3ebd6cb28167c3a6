//! How sure the light of a set is, as answers say it: at each point, of all together, by which defaults, and what to
//! measure next.

use super::{
    Uncertainty,
    advice::Measurement,
    budget::{Budget, bounds},
};
use crate::light::{
    assumption::{Assumption, AssumptionKind},
    error::Part,
    quantity::{Number, Stops, half_widths::HalfWidth},
    remark::{Remark, Warning, WarningKind},
    set::{LightMatrix, Scene, target::TargetSide},
};

/// A default is listed if at some point it has at least this share of the variance (our judgement).
pub const NOTICED: f64 = 0.1;

/// How sure the light of a set is.
#[derive(Debug, Clone)]
pub struct Sureness {
    /// Of each point; `None` if it gets no light.
    pub points: Vec<Option<Uncertainty>>,
    /// The chance of each point to be within the tolerance.
    pub chances: Vec<Number>,
    /// The chance of all points together.
    pub chance: Number,
    /// The half-widths that were not stated and matter.
    pub assumptions: Vec<Assumption>,
    /// Which measurement would narrow it most.
    pub advice: Option<Warning>,
    /// What it follows from.
    pub budget: Budget,
}

impl Sureness {
    /// Of a set with every light at a part of its power. `errors`: the light at each point against its target, stops, on
    /// both sides; whatever for a point without light.
    pub fn of_set(
        scene: &Scene,
        matrix: &LightMatrix,
        powers: &[f64],
        errors: &[f64],
        tolerance: Stops,
    ) -> Self {
        let budget = Budget::of_set(scene, matrix, powers);
        let points: Vec<Option<Uncertainty>> = (0..errors.len()).map(|point| budget.at(point)).collect();
        let sides = scene.points.iter().map(|point| match point.target_side() {
            TargetSide::Both => [true, true],
            TargetSide::AtMost => [false, true],
            TargetSide::AtLeast => [true, false],
        });
        let bounds: Vec<[f64; 2]> =
            errors.iter().zip(sides).map(|(error, sides)| bounds(*error, tolerance, sides)).collect();
        let chances = budget.chances(&bounds);
        let advice = budget.advice(&points, scene.meter.reading(None)).map(|advice| {
            let at = scene.points[advice.point].name.clone();
            let [now_stops, then_stops] = advice.rounded();
            match advice.measurement {
                Measurement::Light(index) => {
                    let light = scene.lights[index].name.clone();
                    let kind = WarningKind::MeterAlone { light, point: at, now_stops, then_stops };
                    Remark::about(Part::Light(index, None), kind)
                }
                Measurement::Offset => WarningKind::CompareMeter { point: at, now_stops, then_stops }.into(),
            }
        });
        Self {
            points,
            chances: chances.points.into_iter().map(Number::new_unchecked).collect(),
            chance: Number::new_unchecked(chances.all),
            assumptions: usual(&budget).collect(),
            advice,
            budget,
        }
    }
}

/// The half-widths that were not stated and matter.
pub fn usual(budget: &Budget) -> impl Iterator<Item = Assumption> {
    budget.usual(NOTICED).into_iter().map(assumption)
}

/// The same for the light at one point against that at another.
pub fn usual_between(budget: &Budget, point: usize, other: usize) -> impl Iterator<Item = Assumption> {
    budget.usual_between(point, other, NOTICED).into_iter().map(assumption)
}

/// A row of the table of half-widths, as an assumption.
pub fn assumption(row: &'static HalfWidth) -> Assumption {
    let HalfWidth { what, value, unit, .. } = *row;
    match unit {
        "m" => AssumptionKind::UsualDistanceWithin { what, plus_minus_m: value },
        "degrees" => AssumptionKind::UsualAngleWithin { what, plus_minus_deg: value },
        _ => AssumptionKind::UsualWithin { what, plus_minus_stops: value },
    }
    .into()
}
