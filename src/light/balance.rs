//! Balances a set: finds a setting for each light so that every metering point gets its target light.

mod alike;
pub mod clock;
mod held_back;
mod lattice;
mod linear;
mod one_group;
pub mod predicted;
pub mod problem;
pub mod ratio;
mod reduce;
mod remedies;
mod results;
mod rows;
pub mod search;
pub mod setup;
pub mod solution;
mod squares;
mod start;
mod sum_list;
mod sums;
mod tree;
mod warnings;
mod work;

#[cfg(test)]
mod tests;

use std::time::{Duration, Instant};

use serde::Serialize;
use utoipa::ToSchema;

pub use self::{
    held_back::HeldBack,
    results::{patch, settings},
};

use self::{
    clock::Budget,
    held_back::held_back,
    ratio::RatioResult,
    search::{Bound, Objective, Solution, search},
    setup::Prepared,
    work::Work,
};
use crate::light::{
    assumption::Assumption,
    error::InvalidPart,
    id::Id,
    interrupt::Interrupt,
    quantity::{Joules, Number, Stops, nominal::Nominal, rules::Rules},
    remark::{Caution, Warning},
    remedy::{Patch, Remedy},
    set::{Light, Scene, limits::Limits, packs::PackResult, target::TargetSide},
    uncertainty::Uncertainty,
    unit::{Setting, scale::Scale},
};

/// A set to balance, and how.
#[derive(Debug, Clone, PartialEq)]
pub struct BalanceQuestion {
    /// The set.
    pub scene: Scene,
    /// What the settings are optimised for.
    pub prefer: Objective,
    /// The largest unweighted error that still counts as feasible.
    pub tolerance: Stops,
    /// Time limit for the whole answer.
    pub time_limit: Duration,
    /// The limits of remedies.
    pub limits: Limits,
    /// How numbers are read and written.
    pub rules: Rules,
}

impl BalanceQuestion {
    /// Whether an error, in stops, is within the tolerance in either direction.
    pub fn tolerates(&self, error_stops: f64) -> bool {
        error_stops.abs() <= self.tolerance.get() + 1e-9
    }
}

/// The settings of a set of lights, and how close they come to the targets.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Balance {
    /// Whether these settings bring every point within the tolerance. Weights do not count here.
    pub feasible: bool,
    /// The lights' settings, in the order of the request.
    pub settings: Vec<LightSetting>,
    /// The packs, in the order of the request; absent if there are none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub packs: Vec<PackResult>,
    /// The points, in the order of the request.
    pub points: Vec<PointResult>,
    /// The worst unweighted error of all points, stops.
    pub worst_error_stops: Stops,
    /// The worst weighted error, stops. The search minimises this first, then the sum of the squared weighted errors, then the total energy.
    pub worst_weighted_error_stops: Stops,
    /// The chance that all points together are within the tolerance, 0 to 1, of unweighted errors: what they have in common is counted once.
    pub chance_within_tolerance: Number,
    /// Total rated energy of one exposure, J; null if a light has no rated energy.
    pub total_energy_j: Option<Joules>,
    /// What is proven about these settings.
    pub optimality: Optimality,
    /// Lights whose limited range makes the result worse.
    pub held_back_by: HeldBack,
    /// The effect of one click of each light, in the order of the lights. If corrections make several settings give the same light, only the one with the least energy counts, so that each click changes the light.
    pub clicks: Vec<Clicks>,
    /// The lighting ratio, counted both ways; null if the request does not use the two-light shorthand.
    pub ratio: Option<RatioResult>,
    /// Changes that would make the set feasible; empty if it is. Each was tried by balancing the changed set to the end.
    pub remedies: Vec<Remedy>,
    /// Whether every change was tried to the end. False if the time limit or the work budget for remedies ran out (the budget is the same on every machine): there may be more remedies.
    pub remedies_complete: bool,
    /// The settings as a JSON Patch (RFC 6902) of the request as it was sent: apply it, and the request can be sent to `exposure/predict`. A light that is off gets the setting "off". Lights that are held are left as they are.
    pub patch: Patch,
    /// Assumptions behind the answer, if a beam was estimated.
    pub assumptions: Vec<Assumption>,
    /// Warnings about the answer.
    pub warnings: Vec<Warning>,
    /// Safety cautions.
    pub cautions: Vec<Caution>,
}

/// The setting of one light.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct LightSetting {
    /// The light's name.
    pub light: String,
    /// Its id.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub light_id: Option<Id>,
    /// The setting to dial; null if the light is switched off.
    pub setting: Option<Setting>,
    /// The colour shift of its filters, mired; + is towards amber. Null if none of them states one.
    pub light_mired: Option<Number>,
    /// The share of the frame that it lights: below 1 for a flash without high-speed sync at an exposure time shorter than the sync time. Null if the times are not stated.
    pub frame_share: Option<Number>,
}

/// The light at one point.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PointResult {
    /// The point's id from the request.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub id: Option<Id>,
    /// The point's name.
    pub name: String,
    /// The target, stops relative to the working exposure.
    pub target_stops: Stops,
    /// The side of the target that is wanted: the target itself, at most the target, or at least the target.
    pub target_side: TargetSide,
    /// The light achieved, stops relative to the working exposure; a point without any light counts as 60 stops too dark.
    pub achieved_stops: Stops,
    /// Achieved minus target, stops; positive is too bright. With a one-sided target 0 on the side that is wanted.
    pub error_stops: Stops,
    /// How far the light is too weak, stops: the whole distance to the target; 0 within the tolerance.
    pub shortfall_stops: Stops,
    /// How far it is too strong, stops: the whole distance to the target; 0 within the tolerance.
    pub excess_stops: Stops,
    /// The aperture that a meter reads at this point; null if it gets no light.
    pub f_number: Option<Nominal>,
    /// The ratio to another point, if the target is a ratio.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub ratio: Option<PointRatio>,
    /// The uncertainty of the light in the camera; null if no light reaches the point.
    pub uncertainty: Option<Uncertainty>,
    /// The chance that the error is within the tolerance, 0 to 1.
    pub chance_within_tolerance: Number,
}

/// Another point's light divided by this point's. The two targets are exactly in the target ratio; the achieved ratio
/// includes the errors of both points.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PointRatio {
    /// The other point.
    pub to: String,
    /// Its id.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub to_id: Option<Id>,
    /// The target ratio, to 1.
    pub target: Number,
    /// The ratio that the settings give, to 1; null if this point gets no light.
    pub achieved: Option<Number>,
}

/// What is proven about the settings found.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Optimality {
    /// Whether it is proven that no other settings on these scales have a smaller worst weighted error (with `least_energy`, if the tolerance can be met: that none take less energy). If the time limit ended the search, this is not proven, and the same request may get a different answer another time.
    pub proven: bool,
    /// Whether it is also proven that, of all settings with that worst error, none has a smaller sum of squared weighted errors, and that of those none takes less energy. The search among such ties has a limited number of steps and ends at the time limit: false means that a better tie may exist. Never true if `proven` is false. With `least_energy`, if the tolerance can be met, the same as `proven`: settings that take the same energy are not ranked further.
    pub ties_proven: bool,
    /// No settings have a worst weighted error below this, stops; equal to that error if `proven`. With `least_energy`, if the tolerance can be met, 0, because the error is not minimised.
    pub lower_bound_stops: Stops,
    /// With `least_energy`, if the tolerance can be met: no settings within the tolerance take less energy than this, J; null otherwise.
    pub lower_bound_energy_j: Option<Joules>,
    /// Nodes that the search visited.
    pub nodes: u64,
}

/// The effect of one click of a light, up and down.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = LightClicks)]
pub struct Clicks {
    /// The light's name.
    pub light: String,
    /// Its id.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub light_id: Option<Id>,
    /// One click brighter; null at the end of the light's range.
    pub up: Option<Click>,
    /// One click darker; null at the end of the light's range.
    pub down: Option<Click>,
}

/// The effect of one click.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = ClickEffect)]
pub struct Click {
    /// The label of the setting after the click; null if the light would be off.
    pub label: Option<String>,
    /// The change of light at each point, in the order of the points, stops; null if the point has no light before or after the click, because the change is then not a number of stops.
    pub change_stops: Vec<Option<Stops>>,
}

/// What the time limit keeps for the uncertainty of a light at a point (measured: 6 to 12 µs).
const UNCERTAINTY_PER_PAIR: Duration = Duration::from_micros(12);
/// The search leaves one part in this many of the time limit for remedies and `held_back_by`.
const LEFT_OVER: u32 = 5;
/// Work budget for remedies, in nodes times lights times points.
const REMEDIES_WORK: u64 = 10_000_000;
/// Work budget for `held_back_by`, in the same unit.
const HELD_BACK_WORK: u64 = 2_000_000;
/// Work budget for finding out whether settings that the weights rank lower are within the tolerance, in the same unit.
const WEIGHTS_WORK: u64 = 2_000_000;

/// Balances a set within its time limit. `interrupt` is called at safe points, and may end the calculation early.
pub fn balance(question: &BalanceQuestion, interrupt: &dyn Interrupt) -> Result<Balance, Vec<InvalidPart>> {
    let scene = &question.scene;
    let Searched { prepared, found, end } = Searched::new(question, interrupt)?;
    let worst = prepared.problem.worst_error_stops(&found.choice);
    let feasible = prepared.is_ratio_possible && question.tolerates(worst);
    let work = |budget: u64, deadline: Instant| Work::new(&prepared.problem, budget, deadline, interrupt);
    let weights_exceed_tolerance = !feasible
        && !prepared.problem.has_even_weights()
        && work(WEIGHTS_WORK, halfway(end)).reaches(&prepared.problem, question.tolerance.get());
    // `held_back_by` takes at most half of the remaining time if remedies are to be found as well.
    let held_back_by = held_back(
        question,
        &prepared,
        &found,
        &work(HELD_BACK_WORK, if feasible { end } else { halfway(end) }),
    );
    let trials = work(REMEDIES_WORK, end);
    let remedies = if feasible { Vec::new() } else { remedies::find(question, &prepared, &found, &trials) };
    let below = prepared.below(&found.choice);
    let rated_energy = |(light, setting): (&Light, &Option<Stops>)| {
        let pops = f64::from(light.control.pops);
        light.unit.energy.map(|full| pops * setting.map_or(0.0, |below| Scale::energy_at(full, below).get()))
    };
    let total_energy: Option<f64> = scene.lights.iter().zip(&below).map(rated_energy).sum();
    let sure = results::sureness(question, &prepared, &found);
    let mut answer = Balance {
        feasible,
        settings: results::settings(scene, &below),
        packs: scene.packs_at(&below),
        points: results::points(question, &prepared, &found, &sure),
        chance_within_tolerance: sure.chance,
        worst_error_stops: Stops::new_unchecked(worst),
        worst_weighted_error_stops: Stops::new_unchecked(found.score.worst),
        total_energy_j: total_energy.map(Joules::new_unchecked),
        optimality: Optimality {
            proven: found.proven,
            ties_proven: found.ties_proven,
            lower_bound_stops: Stops::new_unchecked(match found.bound {
                Bound::WorstStops(stops) => stops,
                Bound::EnergyJ(_) => 0.0,
            }),
            lower_bound_energy_j: match found.bound {
                Bound::EnergyJ(energy) if total_energy.is_some() => Some(Joules::new_unchecked(energy)),
                _ => None,
            },
            nodes: found.nodes,
        },
        held_back_by,
        clicks: results::clicks(scene, &prepared, &found),
        ratio: scene.ratio.map(|ratio| RatioResult::new(ratio, &prepared, prepared.sides(scene), &found)),
        remedies,
        remedies_complete: trials.is_complete(),
        patch: results::patch(scene, &below),
        assumptions: prepared.lit.assumptions.iter().cloned().chain(sure.assumptions).collect(),
        warnings: Vec::new(),
        cautions: crate::light::set::cautions(scene, &prepared.lit, &below),
    };
    answer.warnings =
        warnings::warnings(question, &answer, prepared.is_ratio_possible, weights_exceed_tolerance);
    answer.warnings.extend(warnings::idle_lights(scene, &prepared.lit));
    answer.warnings.extend(scene.unused_packs());
    answer.warnings.extend(crate::light::set::warnings(scene, &prepared.lit, |_| true));
    answer.warnings.extend(sure.advice);
    Ok(answer)
}

/// The settings of a balance without all that is told about them.
#[derive(Debug, Clone, PartialEq)]
pub struct Settled {
    /// The settings, stops below full; `None` for a light that is off.
    pub below: Vec<Option<Stops>>,
    /// The greatest weighted error.
    pub worst_weighted_error: Stops,
}

/// Finds the settings that [`balance`] finds, and nothing else.
pub fn settle(question: &BalanceQuestion, interrupt: &dyn Interrupt) -> Result<Settled, Vec<InvalidPart>> {
    let Searched { prepared, found, .. } = Searched::new(question, interrupt)?;
    Ok(Settled {
        below: prepared.below(&found.choice),
        worst_weighted_error: Stops::new_unchecked(found.score.worst),
    })
}

/// A set that was searched.
struct Searched {
    prepared: Prepared,
    found: Solution,
    /// When all but the uncertainty is to end.
    end: Instant,
}

impl Searched {
    /// Searches a set for the part of its time limit that a search has.
    fn new(question: &BalanceQuestion, interrupt: &dyn Interrupt) -> Result<Self, Vec<InvalidPart>> {
        let start = Instant::now();
        let scene = &question.scene;
        let pairs = u32::try_from(scene.lights.len() * scene.points.len()).unwrap_or(u32::MAX);
        let limit = question
            .time_limit
            .saturating_sub(UNCERTAINTY_PER_PAIR.saturating_mul(pairs).min(question.time_limit / 4));
        let deadline = Some(start + limit / LEFT_OVER * (LEFT_OVER - 1));
        let prepared = setup::prepare(scene)?;
        let budget = Budget { nodes: u64::MAX, deadline, interrupt };
        let found = search(&prepared.problem, question.prefer, budget);
        Ok(Self { prepared, found, end: start + limit })
    }
}

/// The moment halfway between now and `end`.
fn halfway(end: Instant) -> Instant {
    let now = Instant::now();
    now + end.saturating_duration_since(now) / 2
}
