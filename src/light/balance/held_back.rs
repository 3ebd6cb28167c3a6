//! Lights whose limited range makes the result worse. For each, the set is solved again with extra clicks beyond the
//! end of the light's range, for the same objective.

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    balance::{
        BalanceQuestion,
        problem::Problem,
        search::{Bound, Solution},
        setup::{CONTINUOUS_CLICK, Prepared},
        work::Work,
    },
    id::NamedEntry,
    quantity::Stops,
    unit::{
        Unit,
        scale::{Grid, Scale, Style},
    },
};

/// Lights whose limited range makes the result worse: with one more stop beyond the end of the range, in the unit's own clicks (at least one), and everything else unchanged, the answer would be noticeably better for the same objective. For accuracy, that is a worst weighted error smaller by more than 0.02 stop, or every point within the tolerance when now one is not. For the least energy within the tolerance, it is more than 0.02 stop (1.4 %) less energy. A light that is held at a setting is limited by that, not by its range, and is not listed: if another setting of it would make the set feasible, `remedies` say so.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, ToSchema)]
pub struct HeldBack {
    /// Lights at their brightest setting; where a pack has one setting, all lights on it.
    pub at_full: Vec<NamedEntry>,
    /// Lights at their darkest setting, or switched off because they cannot go darker.
    pub at_least: Vec<NamedEntry>,
    /// Packs whose outlets are set apart and that have too little energy for them together: with twice as much, and everything else unchanged, the answer would be noticeably better; absent if there are none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub packs: Vec<NamedEntry>,
    /// Whether every light at an end of its range was checked to a conclusion. False if the time limit or the work budget ran out: there may be more.
    pub complete: bool,
}

/// The smallest improvement worth reporting, stops of error or of energy.
const NOTICEABLE: f64 = 0.02;
/// How far beyond an end to look, stops; at least one click.
const BEYOND: f64 = 1.0;
/// Settings closer than this are equal, stops (relative for power).
const SAME: f64 = 1e-9;

/// An end of a light's range.
#[derive(Clone, Copy, PartialEq, Eq)]
enum End {
    Full,
    Least,
}

/// Finds the lights whose limited range makes the result worse.
pub fn held_back(
    question: &BalanceQuestion,
    prepared: &Prepared,
    found: &Solution,
    work: &Work<'_>,
) -> HeldBack {
    let mut held = HeldBack::default();
    for (variable, settings) in prepared.settings.iter().enumerate() {
        let lights = || prepared.lights_of(variable).map(|light| (light, &question.scene.lights[light]));
        let first = lights().next().filter(|(_, light)| light.control.held().is_none());
        let Some((light, _)) = first else { continue };
        for (end, list) in [(End::Full, &mut held.at_full), (End::Least, &mut held.at_least)] {
            if is_at_end(end, settings, found.choice[variable])
                && work.has_budget()
                && range_limits(question, prepared, found, work, light, end)
            {
                list.extend(lights().map(|(_, it)| NamedEntry { name: it.name.clone(), id: it.id.clone() }));
            }
        }
    }
    let limited = question.scene.limited_packs().zip(question.scene.points.len()..);
    for ((_, pack), limit) in limited {
        if pack_limits(question, prepared, found, work, limit) {
            held.packs.push(NamedEntry { name: pack.name.clone(), id: pack.id.clone() });
        }
    }
    held.complete = work.is_complete();
    held
}

/// Whether a light is at an end of its range. Off counts as the least: the light cannot go lower.
fn is_at_end(end: End, settings: &[Option<Stops>], choice: usize) -> bool {
    match end {
        End::Full => choice == 0 && settings[0].is_some(),
        End::Least => settings.get(choice + 1).is_none_or(Option::is_none),
    }
}

/// Whether more clicks beyond an end of a light's range would improve the answer.
fn range_limits(
    question: &BalanceQuestion,
    prepared: &Prepared,
    found: &Solution,
    work: &Work<'_>,
    light: usize,
    end: End,
) -> bool {
    let unit = &question.scene.lights[light].unit;
    let variable = prepared.variables[light];
    let settings = &prepared.settings[variable];
    let more = clicks_beyond(unit, settings, end);
    if more.is_empty() {
        return false;
    }
    let lit = settings.iter().filter(|setting| setting.is_some()).count();
    let insert_at = if end == End::Full { 0 } else { lit };
    let mut wider = settings.clone();
    wider.splice(insert_at..insert_at, more.iter().map(|&below| Some(Stops::new_unchecked(below))));
    let mut problem = prepared.problem.clone();
    problem.lights[variable] = prepared.levels(&question.scene, light, &wider);
    let is_used = |wider: &Solution| (insert_at..insert_at + more.len()).contains(&wider.choice[variable]);
    would_improve((question, prepared, found), work, &problem, is_used)
}

/// Whether more energy in a pack whose outlets are set apart would improve the answer. `limit` is the index of its limit.
fn pack_limits(
    question: &BalanceQuestion,
    prepared: &Prepared,
    found: &Solution,
    work: &Work<'_>,
    limit: usize,
) -> bool {
    let mut problem = prepared.problem.clone();
    let brightest = vec![0; problem.lights.len()];
    let of_pack = prepared.problem.points[limit].clone();
    if problem.achieved(&brightest, &of_pack) <= of_pack.target || !work.has_budget() {
        return false;
    }
    problem.points[limit].target *= BEYOND.exp2();
    let is_used = |wider: &Solution| prepared.problem.achieved(&wider.choice, &of_pack) > of_pack.target;
    would_improve((question, prepared, found), work, &problem, is_used)
}

/// Whether a wider problem has a noticeably better answer, which uses what is wider.
fn would_improve(
    (question, prepared, found): (&BalanceQuestion, &Prepared, &Solution),
    work: &Work<'_>,
    wider: &Problem,
    is_used: impl Fn(&Solution) -> bool,
) -> bool {
    let wider_found = work.search(wider, question.prefer);
    let is_feasible =
        |found: &Solution, problem: &Problem| question.tolerates(problem.worst_error_stops(&found.choice));
    let is_better = match (found.bound, wider_found.bound) {
        (Bound::EnergyJ(_), Bound::EnergyJ(_)) => {
            wider_found.score.energy_j < found.score.energy_j * (-NOTICEABLE).exp2()
        }
        (Bound::WorstStops(_), Bound::EnergyJ(_)) => true,
        (Bound::EnergyJ(_), Bound::WorstStops(_)) => false,
        (Bound::WorstStops(_), Bound::WorstStops(_)) => {
            wider_found.score.worst < found.score.worst - NOTICEABLE
                || (is_feasible(&wider_found, wider) && !is_feasible(found, &prepared.problem))
        }
    };
    let helps = is_better && is_used(&wider_found);
    if !helps && !wider_found.proven {
        work.mark_incomplete();
    }
    helps
}

/// The clicks beyond an end of a light's settings, stops below full, the brightest first. Only clicks that are brighter
/// than all its settings, or darker than all, count.
fn clicks_beyond(unit: &Unit, settings: &[Option<Stops>], end: End) -> Vec<f64> {
    let power = |below: f64| unit.power(Stops::new_unchecked(below));
    let lit = || settings.iter().flatten().map(|below| below.get());
    let mut more = match end {
        End::Full => {
            let most = lit().map(power).fold(0.0, f64::max);
            let mut more = above_full(&unit.scale);
            more.retain(|&below| power(below) > most * (1.0 + SAME));
            more
        }
        End::Least => {
            let least = lit().map(power).fold(f64::INFINITY, f64::min);
            let from = lit().fold(0.0, f64::max);
            let mut more = below_setting(&unit.scale, from);
            more.retain(|&below| power(below) < least * (1.0 - SAME));
            more
        }
    };
    more.sort_by(|a, b| power(*b).total_cmp(&power(*a)));
    more
}

/// The clicks that a control would have above full power, stops below full: negative numbers.
fn above_full(scale: &Scale) -> Vec<f64> {
    let clicks = (1..).map(|k| match step(scale) {
        Step::Stops(click) => -f64::from(k) * click,
        Step::Parts(part) => -f64::from(k).mul_add(part, 1.0).log2(),
    });
    within_a_stop(clicks, |below| -below)
}

/// The clicks below a setting: those of the control, then those that it would have with a wider range.
fn below_setting(scale: &Scale, from: f64) -> Vec<f64> {
    let end = scale.range().get();
    let own = scale.settings().iter().copied().filter(|&below| below > from + SAME);
    let further = (1..=u32::MAX).map_while(|k| match step(scale) {
        Step::Stops(click) => Some(f64::from(k) * click),
        Step::Parts(part) => (f64::from(k) * part < 1.0 - SAME).then(|| -(1.0 - f64::from(k) * part).log2()),
    });
    let skipped = if scale.is_continuous() { from } else { from.max(end) };
    within_a_stop(own.chain(further.filter(|&below| below > skipped + SAME)), |below| below - from)
}

/// The clicks within [`BEYOND`], or the first one if none is.
fn within_a_stop(clicks: impl Iterator<Item = f64>, distance: impl Fn(f64) -> f64) -> Vec<f64> {
    let mut clicks = clicks.peekable();
    let first = clicks.next_if(|&below| distance(below) > BEYOND + SAME);
    match first {
        Some(only) => vec![only],
        None => clicks.take_while(|&below| distance(below) <= BEYOND + SAME).collect(),
    }
}

/// The step size of a control.
enum Step {
    /// A number of stops.
    Stops(f64),
    /// A fraction of full power.
    Parts(f64),
}

fn step(scale: &Scale) -> Step {
    match (scale.grid(), scale.style()) {
        _ if scale.is_continuous() => Step::Stops(CONTINUOUS_CLICK),
        (Grid::Linear(step), Style::Joules { full, .. }) => Step::Parts(step / full),
        (Grid::Linear(step), _) => Step::Parts(step / 100.0),
        (Grid::Click(click), _) => Step::Stops(click),
    }
}
