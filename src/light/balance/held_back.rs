//! Which lights' ranges hold the result back: the set is solved anew with the clicks that a light would have beyond
//! the end of its range, by the same preference.

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    balance::{
        Question,
        problem::Problem,
        search::{Bound, Solution},
        setup::{CONTINUOUS_CLICK, Prepared, levels},
        work::Work,
    },
    quantity::Stops,
    unit::{
        Unit,
        scale::{Grid, Scale, Style},
    },
};

/// Lights whose range holds the result back: with a stop more beyond its end, in the unit's own clicks (at least one), and all else as it is, the answer would be noticeably better by the same preference. For accuracy, the worst weighted error less by more than 0.02 stop, or every point within the tolerance where now one is not. For the least energy within the tolerance, less energy by more than 0.02 stop (1.4 %). A light with a `fixed_setting` is held by that, not by its range, and is not listed: where another setting of it would do, `remedies` say so.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, ToSchema)]
pub struct HeldBack {
    /// Lights at the brightest setting that they have.
    pub at_full: Vec<String>,
    /// Lights at the darkest setting that they have, or off because they go no darker.
    pub at_least: Vec<String>,
    /// Whether every light at an end of its range was decided. False where the time limit, or the counted work, ended that: there may be more.
    pub complete: bool,
}

/// A gain that is worth a word, stops of error or of energy.
const NOTICED: f64 = 0.02;
/// How far beyond an end is looked, stops; one click in any case.
const BEYOND: f64 = 1.0;
/// Two settings closer than this are one.
const SAME: f64 = 1e-9;

#[derive(Clone, Copy, PartialEq, Eq)]
enum End {
    Full,
    Least,
}

/// Which lights' ranges hold the result back.
pub fn held_back(question: &Question, prepared: &Prepared, found: &Solution, work: &Work<'_>) -> HeldBack {
    let mut held = HeldBack::default();
    for (light, lamp) in question.set.scene.lamps.iter().enumerate() {
        if question.set.controls[light].fixed.is_some() {
            continue;
        }
        for (end, list) in [(End::Full, &mut held.at_full), (End::Least, &mut held.at_least)] {
            if is_at(end, &prepared.settings[light], found.choice[light])
                && work.goes_on()
                && holds(question, prepared, found, work, light, end)
            {
                list.push(lamp.name.clone());
            }
        }
    }
    held.complete = work.is_complete();
    held
}

/// Whether a light is at an end of its range; off counts as the least, for there it may go no lower.
fn is_at(end: End, settings: &[Option<Stops>], choice: usize) -> bool {
    match end {
        End::Full => choice == 0 && settings[0].is_some(),
        End::Least => settings.get(choice + 1).is_none_or(Option::is_none),
    }
}

/// Whether the answer would be better with clicks beyond an end.
fn holds(
    question: &Question,
    prepared: &Prepared,
    found: &Solution,
    work: &Work<'_>,
    light: usize,
    end: End,
) -> bool {
    let unit = &question.set.scene.lamps[light].unit;
    let pops = question.set.controls[light].pops;
    let settings = &prepared.settings[light];
    let more = beyond(unit, settings, end);
    if more.is_empty() {
        return false;
    }
    let lit = settings.iter().filter(|setting| setting.is_some()).count();
    let at = if end == End::Full { 0 } else { lit };
    let mut wider = settings.clone();
    wider.splice(at..at, more.iter().map(|&below| Some(Stops::new_unchecked(below))));
    let mut problem = prepared.problem.clone();
    problem.lights[light] = levels(unit, &wider, pops);
    let then = work.search(&problem, question.prefer);
    let used = (at..at + more.len()).contains(&then.choice[light]);
    let reaches = |found: &Solution, of: &Problem| question.tolerates(of.worst_error_stops(&found.choice));
    let is_better = match (found.bound, then.bound) {
        (Bound::EnergyJ(_), Bound::EnergyJ(_)) => {
            then.score.energy_j < found.score.energy_j * (-NOTICED).exp2()
        }
        (Bound::WorstStops(_), Bound::EnergyJ(_)) => true,
        (Bound::EnergyJ(_), Bound::WorstStops(_)) => false,
        (Bound::WorstStops(_), Bound::WorstStops(_)) => {
            then.score.worst < found.score.worst - NOTICED
                || (reaches(&then, &problem) && !reaches(found, &prepared.problem))
        }
    };
    let helps = is_better && used;
    if !helps && !then.proven {
        work.leave();
    }
    helps
}

/// The clicks beyond an end of the settings, stops below full, the brightest first: only those that are brighter, or
/// darker, than what the light has.
fn beyond(unit: &Unit, settings: &[Option<Stops>], end: End) -> Vec<f64> {
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
            let mut more = under(&unit.scale, from);
            more.retain(|&below| power(below) < least * (1.0 - SAME));
            more
        }
    };
    more.sort_by(|a, b| power(*b).total_cmp(&power(*a)));
    more
}

/// The clicks that a control would have above full power, stops below full, which are negative.
fn above_full(scale: &Scale) -> Vec<f64> {
    let clicks = (1..).map(|k| match step(scale) {
        Step::Stops(click) => -f64::from(k) * click,
        Step::Parts(part) => -f64::from(k).mul_add(part, 1.0).log2(),
    });
    within_a_stop(clicks, |below| -below)
}

/// The clicks under a setting: those that the control has, then those that it would have.
fn under(scale: &Scale, from: f64) -> Vec<f64> {
    let end = scale.range().get();
    let own = scale.settings().iter().copied().filter(|&below| below > from + SAME);
    let further = (1..=u32::MAX).map_while(|k| match step(scale) {
        Step::Stops(click) => Some(f64::from(k) * click),
        Step::Parts(part) => (f64::from(k) * part < 1.0 - SAME).then(|| -(1.0 - f64::from(k) * part).log2()),
    });
    let skipped = if scale.is_continuous() { from } else { from.max(end) };
    within_a_stop(own.chain(further.filter(|&below| below > skipped + SAME)), |below| below - from)
}

fn within_a_stop(clicks: impl Iterator<Item = f64>, distance: impl Fn(f64) -> f64) -> Vec<f64> {
    let mut clicks = clicks.peekable();
    let first = clicks.next_if(|&below| distance(below) > BEYOND + SAME);
    match first {
        Some(only) => vec![only],
        None => clicks.take_while(|&below| distance(below) <= BEYOND + SAME).collect(),
    }
}

/// The step of a control.
enum Step {
    /// So many stops.
    Stops(f64),
    /// Such a part of full power.
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
