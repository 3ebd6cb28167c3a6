//! What would make a set feasible: for each kind of change the smallest that does, and for a fixed light what the
//! balance would make of it; each solved again.

mod distance;
mod exposure;
mod pops;
mod power;
mod ratio;

use crate::light::{
    balance::{
        Question,
        problem::Problem,
        ratio::LightingRatio,
        search::Solution,
        setup::{Prepared, Set, prepare},
        work::Work,
    },
    remark::Remedy,
};

/// Most remedies told.
const MOST: usize = 8;

/// A remedy with the size of its change, stops.
type Remedied = (f64, Remedy);

/// Tries changed problems.
struct Trials<'q> {
    question: &'q Question,
    prepared: &'q Prepared,
    work: &'q Work<'q>,
}

impl Trials<'_> {
    /// What is to be done after a change, where one of the lights may be turned, `but` one left aside.
    fn anew(&self, but: Option<usize>) -> &'static str {
        let mut controls = self.question.set.controls.iter().enumerate();
        let is_open = controls.any(|(light, control)| Some(light) != but && control.is_open());
        if is_open { ", and set the lights anew" } else { "" }
    }

    /// The problem after a change, with what its ratio wants; none where no lights make that, or no work is left.
    fn changed(&self, ratio: Option<LightingRatio>, change: impl FnOnce(&mut Problem)) -> Option<Problem> {
        if !self.work.goes_on() {
            return None;
        }
        let mut problem = self.prepared.problem.clone();
        change(&mut problem);
        aimed(ratio, problem)
    }

    /// Whether a change makes it feasible, with the ratio that is asked for.
    fn works(&self, change: impl FnOnce(&mut Problem)) -> bool {
        self.changed(self.question.ratio, change).is_some_and(|problem| self.answers(&problem, 0.0))
    }

    /// Whether another ratio is feasible.
    fn works_with(&self, ratio: Option<LightingRatio>) -> bool {
        self.changed(ratio, |_| ()).is_some_and(|problem| self.answers(&problem, 0.0))
    }

    /// Whether a changed set is feasible, prepared as it would be if it were asked, with `room` to the tolerance.
    fn works_as(&self, set: &Set, room: f64) -> bool {
        let problem = self.work.goes_on().then(|| prepare(set).ok()).flatten();
        let problem = problem.and_then(|prepared| aimed(self.question.ratio, prepared.problem));
        problem.is_some_and(|problem| self.answers(&problem, room))
    }

    fn answers(&self, problem: &Problem, room: f64) -> bool {
        let tolerance = self.question.tolerance.get() - room;
        self.work.answers_within(problem, self.question.prefer, tolerance)
    }

    /// What is found after a change, where that is feasible.
    fn solve(&self, change: impl FnOnce(&mut Problem)) -> Option<Solution> {
        let problem = self.changed(self.question.ratio, change)?;
        let found = self.work.search(&problem, self.question.prefer);
        let is_within = self.question.tolerates(problem.worst_error_stops(&found.choice));
        if !is_within && !found.proven {
            self.work.leave();
        }
        is_within.then_some(found)
    }
}

/// What the shadow side wants follows the lit side, the ambient light and who reaches where.
fn aimed(ratio: Option<LightingRatio>, mut problem: Problem) -> Option<Problem> {
    ratio.is_none_or(|ratio| ratio.aim(&mut problem)).then_some(problem)
}

/// The remedies, the smallest change first.
pub fn find(question: &Question, prepared: &Prepared, found: &Solution, work: &Work<'_>) -> Vec<Remedy> {
    let trials = Trials { question, prepared, work };
    // What is likeliest to be in the way comes first, for work may run out: lights that are fixed, and lights at an end
    // of their range.
    let lights = 0..question.set.scene.lamps.len();
    let mut remedies: Vec<Remedied> =
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
    remedies.truncate(MOST);
    remedies.into_iter().map(|(_, remedy)| remedy).collect()
}
