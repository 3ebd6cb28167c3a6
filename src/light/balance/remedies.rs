//! Remedies: changes that would make a set feasible. For each kind of change, the smallest that works; for a fixed
//! light, the setting that the balance would choose. Each is checked by solving the changed set.

mod distance;
mod exposure;
mod pops;
mod power;
mod ratio;

use crate::light::{
    balance::{
        BalanceQuestion,
        problem::Problem,
        ratio::LightingRatio,
        search::Solution,
        setup::{Prepared, Set, prepare},
        work::Work,
    },
    remedy::{Remedy, Then},
};

/// The most remedies in an answer.
const MAX_REMEDIES: usize = 8;

/// A remedy with the size of its change, stops.
type SizedRemedy = (f64, Remedy);

/// Solves changed problems, to find out which changes work.
struct Trials<'q> {
    question: &'q BalanceQuestion,
    prepared: &'q Prepared,
    work: &'q Work<'q>,
}

impl Trials<'_> {
    /// Whether to set the lights again after a change: not if no light but `except` is adjustable.
    fn then(&self, except: Option<usize>) -> Then {
        let mut controls = self.question.set.controls.iter().enumerate();
        let is_open = controls.any(|(light, control)| Some(light) != except && control.is_open());
        if is_open { Then::SetLights } else { Then::Nothing }
    }

    /// The problem after a change, with the targets of a ratio. `None` if no lights can make it, or no work is left.
    fn changed(&self, ratio: Option<LightingRatio>, change: impl FnOnce(&mut Problem)) -> Option<Problem> {
        if !self.work.has_budget() {
            return None;
        }
        let mut problem = self.prepared.problem.clone();
        change(&mut problem);
        with_ratio_target(ratio, problem)
    }

    /// Whether a change makes the set feasible, with the requested ratio.
    fn works(&self, change: impl FnOnce(&mut Problem)) -> bool {
        self.changed(self.question.ratio, change).is_some_and(|problem| self.is_feasible(&problem, 0.0))
    }

    /// Whether the set is feasible with another ratio.
    fn works_with_ratio(&self, ratio: Option<LightingRatio>) -> bool {
        self.changed(ratio, |_| ()).is_some_and(|problem| self.is_feasible(&problem, 0.0))
    }

    /// Whether a changed set is feasible when prepared from scratch like a request, with the tolerance reduced by
    /// `margin` stops.
    fn works_with_set(&self, set: &Set, margin: f64) -> bool {
        let problem = self.work.has_budget().then(|| prepare(set).ok()).flatten();
        let problem = problem.and_then(|prepared| with_ratio_target(self.question.ratio, prepared.problem));
        problem.is_some_and(|problem| self.is_feasible(&problem, margin))
    }

    fn is_feasible(&self, problem: &Problem, margin: f64) -> bool {
        let tolerance = self.question.tolerance.get() - margin;
        self.work.answers_within(problem, self.question.prefer, tolerance)
    }

    /// The solution after a change, if it is feasible.
    fn solve(&self, change: impl FnOnce(&mut Problem)) -> Option<Solution> {
        let problem = self.changed(self.question.ratio, change)?;
        let found = self.work.search(&problem, self.question.prefer);
        let is_within = self.question.tolerates(problem.worst_error_stops(&found.choice));
        if !is_within && !found.proven {
            self.work.mark_incomplete();
        }
        is_within.then_some(found)
    }
}

/// Sets the shadow side's target again after a change: it depends on the lit side's target, the ambient light and the
/// gains. `None` if no lights can make the ratio.
fn with_ratio_target(ratio: Option<LightingRatio>, mut problem: Problem) -> Option<Problem> {
    ratio.is_none_or(|ratio| ratio.set_shadow_target(&mut problem)).then_some(problem)
}

/// Finds the remedies, the smallest change first.
pub fn find(
    question: &BalanceQuestion,
    prepared: &Prepared,
    found: &Solution,
    work: &Work<'_>,
) -> Vec<Remedy> {
    let trials = Trials { question, prepared, work };
    // Work may run out, so the likeliest obstacles come first: fixed lights, camera and ratio, then lights at an end of
    // their range.
    let lights = 0..question.set.scene.lights.len();
    let mut remedies: Vec<SizedRemedy> =
        lights.clone().filter_map(|light| power::power(&trials, light)).collect();
    remedies.extend(exposure::exposure(&trials));
    remedies.extend(exposure::exposure_time(&trials));
    remedies.extend(ratio::ratio(&trials));
    let is_at_end = |&light: &usize| {
        let choice = found.choice[light];
        choice == 0 || choice + 1 == prepared.settings[light].len()
    };
    let (ends, others): (Vec<_>, Vec<_>) = lights.partition(is_at_end);
    for light in ends.into_iter().chain(others) {
        remedies.extend(distance::distance(&trials, light));
        remedies.extend(pops::pops(&trials, light));
    }
    remedies.sort_by(|a, b| a.0.total_cmp(&b.0));
    remedies.truncate(MAX_REMEDIES);
    remedies.into_iter().map(|(_, remedy)| remedy).collect()
}
