//! Corrects a set by rounds of readings with its lights on: which light is off by how much, and what to set now.
//!
//! The light of each light at each point is put right by what is most probable ([`posterior`]), and the set balanced again
//! with it. What differs between meter and camera is in no reading; it is added to the uncertainty of the points alone.

pub mod chance;
mod explanation;
mod inseparable;
pub mod learned;
mod next_reading;
pub mod posterior;
pub mod prior;
pub mod question;
mod rebalance;
mod results;
mod worst;

#[cfg(test)]
mod tests;

use nalgebra::DMatrix;
use serde::Serialize;
use utoipa::ToSchema;

use self::{
    explanation::{Explained, explain},
    inseparable::separate,
    learned::LearnedReading,
    next_reading::outlook,
    prior::{Handling, Prior, half_width, variance},
    question::CorrectQuestion,
    rebalance::rebalance,
    results::Corrected,
};
use crate::light::{
    assumption::{self, Assumption},
    balance::LightSetting,
    error::{InvalidPart, InvalidValue, Part},
    id::Id,
    interrupt::Interrupt,
    quantity::{Number, Stops, nominal::Nominal, words::words},
    remark::{Caution, Warning},
    remedy::Patch,
    set::{self, Light, packs::PackResult, target::TargetSide},
    uncertainty::{Uncertainty, budget::Budget, sureness},
};

/// A set that was put right.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Correction {
    /// Whether the new settings bring every point that has a target within the tolerance.
    pub feasible: bool,
    /// How far each light is off, in the order of the request.
    pub lights: Vec<CorrectedLight>,
    /// Lights that these readings cannot distinguish from each other: lists of two or more.
    pub inseparable: Vec<Vec<String>>,
    /// Lights that probably did not fire, the most probable first.
    pub suspects: Vec<Suspect>,
    /// The settings to dial now: the balance of the corrected set. Without targets they are those of the last round.
    pub settings: Vec<LightSetting>,
    /// The packs at these settings; absent if there are none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub packs: Vec<PackResult>,
    /// The points at these settings.
    pub points: Vec<CorrectedPoint>,
    /// The worst error of all points that have a target at these settings, stops.
    pub worst_error_stops: Stops,
    /// The readings, in the order of the request.
    pub measured: Vec<Measured>,
    /// The further reading that would teach most: a light alone at a point. Null if none is worth it; `summary` says why.
    pub next_reading: Option<NextReading>,
    /// The expected worst error at the points as they are known now, stops; it is in no tolerance and beside `worst_error_stops`.
    pub expected_worst_stops: Stops,
    /// What was learned, as readings of each light alone. Send them as `readings` with any later request of this set, in place of those for the same lights and points; with the placements or positions that it had.
    pub learned: Vec<LearnedReading>,
    /// Writes the new settings into the lights, and into each round those that it was read at. To ask with another round, apply it and add the round to `rounds`.
    pub patch: Patch,
    /// The assumptions behind the answer.
    pub assumptions: Vec<Assumption>,
    /// Warnings.
    pub warnings: Vec<Warning>,
    /// Safety cautions.
    pub cautions: Vec<Caution>,
}

/// How far a light is off.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct CorrectedLight {
    /// The light's name.
    pub light: String,
    /// Its id.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub light_id: Option<Id>,
    /// Its light less what was expected of it, stops; + is stronger.
    pub error_stops: Stops,
    /// The lower 95 % end of its error, stops.
    pub low_stops: Stops,
    /// The upper 95 % end of its error, stops.
    pub high_stops: Stops,
    /// The 95 % half-width of its error before the readings, stops.
    pub known_before_stops: Stops,
    /// Whether these readings tell its error: they narrowed it to 0.8 of what it was or less, and it is in no list of `inseparable`.
    pub distinguishable: bool,
    /// Its setting in the last round; null if it was off.
    pub setting_before: Option<crate::light::unit::Setting>,
}

impl CorrectedLight {
    /// Whether it is off by far more than it was known to be: by more than three 95 % ends, and half a stop (our judgement).
    pub fn is_far_off(&self) -> bool {
        let error = self.error_stops.get().abs();
        error > 3.0 * self.known_before_stops.get() && error > 0.5
    }
}

words! {
    /// What may be wrong with a light.
    pub enum SuspectKind as "SuspectKind" {
        /// It did not fire.
        DidNotFire = "did_not_fire",
    }
}

/// A light that something may be wrong with.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = SuspectLight)]
pub struct Suspect {
    /// The light's name.
    pub light: String,
    /// Its id.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub light_id: Option<Id>,
    /// What may be wrong.
    pub kind: SuspectKind,
    /// The chance of it, 0 to 1.
    pub chance: Number,
    /// The index of the round.
    pub round: usize,
}

/// A point before and after the correction.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct CorrectedPoint {
    /// The point's id from the request.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub id: Option<Id>,
    /// The point's name.
    pub name: String,
    /// The target, stops relative to the working exposure; null if it has none.
    pub target_stops: Option<Stops>,
    /// The side of the target that is wanted: the target itself, at most the target, or at least the target.
    pub target_side: TargetSide,
    /// The light in the last round, by all readings together, stops relative to the working exposure; null if there was none.
    pub before_stops: Option<Stops>,
    /// The light at the new settings, stops relative to the working exposure; null if there is none.
    pub achieved_stops: Option<Stops>,
    /// Achieved minus target, stops; positive is too bright; with a one-sided target 0 on the side that is wanted. Null without a target or without light.
    pub error_stops: Option<Stops>,
    /// How far the light is too weak, stops: the whole distance to the target; 0 within the tolerance.
    pub shortfall_stops: Stops,
    /// How far it is too strong, stops: the whole distance to the target; 0 within the tolerance.
    pub excess_stops: Stops,
    /// The aperture that a meter will read; null if there is no light.
    pub f_number: Option<Nominal>,
    /// The uncertainty of the light at the new settings; null if there is none.
    pub uncertainty: Option<Uncertainty>,
    /// The chance that the light is within the tolerance of its target, 0 to 1; null without a target or without light.
    pub chance_within_tolerance: Option<Number>,
}

/// A reading, and what it was expected to be.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = MeasuredReading)]
pub struct Measured {
    /// The index of its round.
    pub round: usize,
    /// The point's name.
    pub point: String,
    /// The point's id.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub point_id: Option<Id>,
    /// The f-number that was read.
    pub f_number: Nominal,
    /// The f-number that was expected before the readings.
    pub expected_f_number: Nominal,
    /// Read minus expected, stops; + is more light.
    pub error_stops: Stops,
    /// What the corrected set leaves of it, stops.
    pub left_over_stops: Stops,
    /// The weight that the reading had, 0 to 1: below 1 if it does not fit the others.
    pub weight: Number,
}

/// A reading that is worth taking.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct NextReading {
    /// The light to meter alone.
    pub light: String,
    /// Its id.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub light_id: Option<Id>,
    /// The point to meter it at.
    pub point: String,
    /// The point's id.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub point_id: Option<Id>,
    /// The expected worst error at the points as they are known now, stops.
    pub worst_now_stops: Stops,
    /// The same after this reading, and settings by it, stops.
    pub worst_then_stops: Stops,
}

/// Corrects a set. `interrupt` is called at safe points, and may end the calculation early.
///
/// # Errors
///
/// Those of [`set::Scene::light`], of [`set::Scene::targets`] and of a balance, and an error at each reading of a point that no light
/// reaches.
pub fn correct(
    question: &CorrectQuestion,
    interrupt: &dyn Interrupt,
) -> Result<Correction, Vec<InvalidPart>> {
    let scene = &question.balance.scene;
    let mut faults = Vec::new();
    let matrix = scene.light(&mut faults);
    let readings = question.metered(&matrix, &mut faults);
    let last = question.last();
    scene.check_packs(&last, &mut faults);
    if !faults.is_empty() {
        return Err(faults);
    }
    // A light that is off now was on in some round.
    let power = |(light, below): (&Light, &Option<Stops>)| light.unit.power(below.unwrap_or(Stops::ZERO));
    let powers: Vec<f64> = scene.lights.iter().zip(&last).map(power).collect();
    let budget = Budget::of_set(scene, &matrix, &powers);
    let handling: Vec<Handling> = scene.lights.iter().map(|light| Handling::of(&light.unit)).collect();
    let prior = Prior::new(&budget.prior(), &handling);
    let explained = explain(&prior, &readings, || !interrupt.checkpoint());
    // Only an interruption leaves readings of lit points without an explanation; the answer is then discarded.
    let Some(Explained { usual, posterior, weights, suspects }) = explained else {
        return Err(vec![InvalidValue::NoReading.in_part(Part::Points)]);
    };
    let after = posterior.covariance();
    let spread = |point: usize, light: usize| {
        let explained = posterior.root_of(DMatrix::from_columns(&[posterior.with_pair(light, point)]));
        let own =
            posterior.prior.lights[(light, light)] + prior.pairs[(light, point)] - explained.norm_squared();
        Stops::new_unchecked(half_width(own).clamp(LEAST_HALF_WIDTH, MOST_HALF_WIDTH))
    };
    let factor = |point: usize, light: usize| posterior.pairs[(light, point)].exp2();
    let learned = learned::learn(scene, &matrix, &last, factor, spread);
    let mut corrected = matrix.clone();
    for (point, gains) in corrected.gain.iter_mut().enumerate() {
        for (light, gain) in gains.iter_mut().enumerate() {
            *gain = gain.map(|gain| gain * factor(point, light));
        }
    }
    // Twins stay twins if one of them did not fire; a light that did not is not told.
    let separation = separate(&prior.lights, &usual);
    let twins: Vec<usize> = separation.groups.iter().flatten().copied().collect();
    let balanced = rebalance(&question.balance, &learned, &last, &twins, interrupt)?;
    let below = balanced.clone().unwrap_or_else(|| last.clone());
    let corrected = Corrected { question, learned: &learned, matrix: &corrected, last: &last, below: &below };
    let shares = corrected.shares();
    let extra = corrected.extra(&prior, &shares);
    let reading = variance(scene.meter.reading(None));
    let outlook =
        outlook(&posterior, &shares, &extra, reading, |light, point| corrected.is_readable(light, point));
    let points = corrected.points(&outlook.variances, &mut faults);
    if !faults.is_empty() {
        return Err(faults);
    }
    let misses = points.iter().filter_map(|point| point.error_stops);
    let worst = misses.map(|error| error.get().abs()).fold(0.0, f64::max);
    let told = separate(&prior.lights, &after).is_told;
    let is_told: Vec<bool> = separation.is_told.iter().zip(told).map(|(usual, now)| *usual && now).collect();
    let name = |light: usize| scene.lights[light].name.clone();
    let measured = results::measured(question, &readings, &posterior, &weights);
    let mut assumptions = matrix.assumptions.clone();
    let usual =
        question.usual_reading().map(sureness::assumption).into_iter().chain(sureness::usual(&budget));
    assumption::add_new(&mut assumptions, usual.chain(question.at_full_power()));
    let lights = results::lights(scene, &last, &posterior, [&prior.lights, &after], &is_told);
    let mut warnings = results::warnings(question, &measured);
    warnings.extend(results::far_off(&lights, &suspects));
    warnings.extend(scene.unused_packs());
    warnings.extend(set::warnings(scene, &matrix, |index| below[index].is_some()));
    let missed = |point: &CorrectedPoint| point.shortfall_stops.get() + point.excess_stops.get() > 0.0;
    Ok(Correction {
        feasible: !points.iter().any(missed),
        lights,
        inseparable: separation
            .groups
            .iter()
            .map(|group| group.iter().map(|&light| name(light)).collect())
            .collect(),
        suspects: results::suspects(scene, &suspects),
        settings: crate::light::balance::settings(scene, &below),
        packs: scene.packs_at(&below),
        points,
        worst_error_stops: Stops::new_unchecked(worst),
        measured,
        next_reading: results::next_reading(scene, &outlook),
        expected_worst_stops: Stops::new_unchecked(outlook.worst_now),
        learned: learned::readings(&learned, |light| {
            readings.iter().any(|reading| reading.light[light] > 0.0)
        }),
        patch: results::patch(
            question,
            balanced.map(|below| crate::light::balance::patch(scene, &below).edits),
        ),
        assumptions,
        warnings,
        cautions: set::cautions(scene, &matrix, &below),
    })
}

/// The half-widths that a reading may state, stops.
const LEAST_HALF_WIDTH: f64 = crate::light::quantity::bounds::TOLERANCE.least;
const MOST_HALF_WIDTH: f64 = crate::light::quantity::bounds::TOLERANCE.greatest;
