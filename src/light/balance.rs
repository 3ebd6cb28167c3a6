//! Balancing a set: every light to a setting, so that every point gets the light that is wanted.

mod alike;
pub mod clock;
mod doubts;
mod held_back;
mod lattice;
mod linear;
mod one_group;
pub mod problem;
pub mod ratio;
mod reduce;
mod remedies;
mod rows;
pub mod search;
pub mod setup;
pub mod solution;
mod squares;
mod start;
mod sum_list;
mod sums;
mod told;
mod tree;
mod work;

#[cfg(test)]
mod tests;

use std::time::{Duration, Instant};

use serde::Serialize;
use utoipa::ToSchema;

pub use self::held_back::HeldBack;

use self::{
    clock::Budget,
    held_back::held_back,
    ratio::{LightingRatio, RatioResult},
    search::{Bound, Objective, search},
    setup::Set,
    work::Work,
};
use crate::light::{
    error::FieldError,
    interrupt::Interrupt,
    quantity::{Joules, Number, Stops, nominal::Nominal},
    remark::{Assumption, Remark, Remedy},
    set::{Light, predict::Spread},
    unit::{Setting, scale::Scale},
};

/// What is asked of a set.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// The set.
    pub set: Set,
    /// The two-light shorthand, where it was used.
    pub ratio: Option<LightingRatio>,
    /// What is wanted of the settings.
    pub prefer: Objective,
    /// Worst unweighted error that is feasible.
    pub tolerance: Stops,
    /// Time that the whole answer may take.
    pub time_limit: Duration,
}

impl Question {
    /// Whether an error is within the tolerance, stops to either side.
    fn tolerates(&self, error_stops: f64) -> bool {
        error_stops.abs() <= self.tolerance.get() + 1e-9
    }
}

/// The settings of a set of lights, and how near they come.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Balance {
    /// Whether these settings bring every point within the tolerance, weights left aside.
    pub feasible: bool,
    /// The lights' settings, in the order asked.
    pub settings: Vec<LightSetting>,
    /// The points, in the order asked.
    pub points: Vec<PointResult>,
    /// Worst error of all points without weights, stops.
    pub worst_error_stops: Stops,
    /// Worst error with weights: what is made least; then the sum of the squared weighted errors, then the total energy.
    pub worst_weighted_error: Stops,
    /// Total rated energy of one exposure, J; null where a light has no rated energy.
    pub total_energy_j: Option<Joules>,
    /// How sure it is that nothing is better.
    pub optimality: Optimality,
    /// Which lights' ranges hold the result back.
    pub held_back_by: HeldBack,
    /// What a click of each light would do, in the order of the lights. Of settings that give the same light by their corrections only the one with the least energy counts, so that each click changes the light.
    pub clicks: Vec<Clicks>,
    /// The lighting ratio in both countings, where one was asked for.
    pub ratio: Option<RatioResult>,
    /// What would do it, where it is not feasible: each was solved again before it was named.
    pub remedies: Vec<Remedy>,
    /// Whether every change that was to be tried was decided. False where the time limit ended that, or the counted work for it (which is the same on every machine): there may be more remedies.
    pub remedies_complete: bool,
    /// What the answer rests on, where a beam was estimated.
    pub assumptions: Vec<Assumption>,
    /// What to doubt.
    pub warnings: Vec<Remark>,
    /// What to beware of.
    pub cautions: Vec<Remark>,
}

/// The setting of one light.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct LightSetting {
    /// The caller's id of the light.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub id: Option<String>,
    /// The light's name.
    pub light: String,
    /// What to dial; null where the light is switched off.
    pub setting: Option<Setting>,
    /// True where it is switched off, as `exposure/predict` takes it; left out else.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub off: Option<bool>,
}

/// What one point gets.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PointResult {
    /// The caller's id of the point.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub id: Option<String>,
    /// The point's name.
    pub name: String,
    /// What was wanted, stops against the working exposure.
    pub target_stops: Stops,
    /// What it gets, stops against the working exposure; a point without any light counts as 60 stops too dark.
    pub achieved_stops: Stops,
    /// Achieved minus wanted, stops; + is too bright.
    pub error_stops: Stops,
    /// The aperture that this point meters at; null where it has no light.
    pub f_number: Option<Nominal>,
    /// The ratio to another point, where that is what was wanted.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub ratio: Option<PointRatio>,
    /// How far the light may be off, with every assumption at its worst end, stops; null where nothing was estimated.
    pub uncertainty_stops: Option<Spread>,
}

/// How many times the light of a point another one gets. Targets bind each other, not what is achieved: errors of both
/// points are in it.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PointRatio {
    /// The other point.
    pub to: String,
    /// What was wanted, to 1.
    pub target: Number,
    /// What the settings give; null where this point gets no light.
    pub achieved: Option<Number>,
}

/// How sure it is that nothing is better.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Optimality {
    /// Whether no other settings on these scales have a smaller worst weighted error (with `least_energy` within reach: take less energy). Where the time limit ended the search that is not proven, and the same request may then have another answer.
    pub proven: bool,
    /// Whether, of all settings with that worst error, none has a smaller sum of squared weighted errors, and of those none takes less energy. Such ties are searched for so many steps, and no longer than the time limit allows: false says that a better tie may exist. Never true where `proven` is false. With `least_energy` within reach the same as `proven`: nothing is chosen among settings that take the same energy.
    pub ties_proven: bool,
    /// No settings have a worst weighted error under this, stops; where it is proven, that error itself. With `least_energy` within reach 0, for the error is not what is made small.
    pub lower_bound_stops: Stops,
    /// With `least_energy` within reach: no settings within the tolerance take less energy, J; null else.
    pub lower_bound_energy_j: Option<Joules>,
    /// Nodes of the search.
    pub nodes: u64,
}

/// What a click of one light would do.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = LightClicks)]
pub struct Clicks {
    /// The light's name.
    pub light: String,
    /// One click brighter; null at the end of its range.
    pub up: Option<Click>,
    /// One click darker; null at the end of its range.
    pub down: Option<Click>,
}

/// What one click would do.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = ClickEffect)]
pub struct Click {
    /// The label there; null where the light would be off.
    pub label: Option<String>,
    /// The change of light at each point, in the order of the points, stops; null where the point has no light before the click or after it, for then it is no number of stops.
    pub change_stops: Vec<Option<Stops>>,
}

/// The search leaves one in so many parts of the time to remedies, and to what holds the result back.
const LEFT_OVER: u32 = 5;
/// Work for remedies, and for what holds the result back, in nodes times lights times points.
const REMEDIES: u64 = 10_000_000;
const HELD_BACK: u64 = 2_000_000;
/// Work to find out whether the weights pass by settings within the tolerance.
const PASSES_BY: u64 = 2_000_000;

/// Balances a set within its time. `interrupt` is called at safe points, and may end it early.
pub fn balance(question: &Question, interrupt: &dyn Interrupt) -> Result<Balance, Vec<FieldError>> {
    let begun = Instant::now();
    let end = begun + question.time_limit;
    let search_end = begun + question.time_limit / LEFT_OVER * (LEFT_OVER - 1);
    let set = &question.set;
    let mut prepared = setup::prepare(set)?;
    let is_possible = question.ratio.is_none_or(|ratio| ratio.aim(&mut prepared.problem));
    let found = search(
        &prepared.problem,
        question.prefer,
        Budget { nodes: u64::MAX, deadline: Some(search_end), interrupt },
    );
    let worst = prepared.problem.worst_error_stops(&found.choice);
    let feasible = is_possible && question.tolerates(worst);
    let work = |all: u64, until: Instant| Work::new(&prepared.problem, all, until, interrupt);
    let passes_by = !feasible
        && !prepared.problem.has_even_weights()
        && work(PASSES_BY, halfway(end)).reaches(&prepared.problem, question.tolerance.get());
    // What holds it back takes no more than half of what is left, where remedies are to be found as well.
    let held_back_by =
        held_back(question, &prepared, &found, &work(HELD_BACK, if feasible { end } else { halfway(end) }));
    let trials = work(REMEDIES, end);
    let remedies = if feasible { Vec::new() } else { remedies::find(question, &prepared, &found, &trials) };
    let rated = |(lamp, index): (&Light, usize)| {
        let pops = f64::from(set.controls[index].pops);
        let setting = prepared.settings[index][found.choice[index]];
        lamp.unit.energy.map(|full| pops * setting.map_or(0.0, |below| Scale::energy_at(full, below).get()))
    };
    let total_energy: Option<f64> = set.scene.lamps.iter().zip(0..).map(rated).sum();
    let mut answer = Balance {
        feasible,
        settings: told::settings(set, &prepared, &found),
        points: told::points(set, &prepared, &found, question.ratio.is_none()),
        worst_error_stops: Stops::new_unchecked(worst),
        worst_weighted_error: Stops::new_unchecked(found.score.worst),
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
        clicks: told::clicks(set, &prepared, &found),
        ratio: question.ratio.as_ref().map(|ratio| ratio.result(&prepared.problem, &found)),
        remedies,
        remedies_complete: trials.is_complete(),
        assumptions: prepared.lit.assumptions.clone(),
        warnings: Vec::new(),
        cautions: told::cautions(set, &prepared, &found),
    };
    answer.warnings = doubts::of(question, &answer, is_possible, passes_by);
    answer.warnings.extend(doubts::idle(set, &prepared.problem));
    answer.warnings.extend(crate::light::set::doubts(&set.scene, &prepared.lit, |_| true));
    Ok(answer)
}

/// Half of the time from now to an end.
fn halfway(end: Instant) -> Instant {
    let now = Instant::now();
    now + end.saturating_duration_since(now) / 2
}
