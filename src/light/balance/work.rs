//! Changed problems that are solved beside the search, by counted work: the same request tries the same on a busy
//! machine. Only the time limit may end it sooner, and then the answer says so.

use std::{cell::Cell, time::Instant};

use crate::light::{
    balance::{
        clock::Budget,
        problem::{Point, Problem, SAME_WORST},
        search::{Objective, Solution, reaches, search},
    },
    interrupt::Interrupt,
};

/// Most nodes of one trial, however small the set.
const NODES: u64 = 4000;
/// Nodes of one trial, times lights times points.
const TRIAL: u64 = 400_000;
/// Least nodes of one trial: a large set needs some to be decided at all.
const LEAST_NODES: u64 = 120;
/// What the first answer of a trial costs, in nodes.
const START: u64 = 4;

/// What the trials of one answer may take.
pub struct Work<'b> {
    deadline: Instant,
    interrupt: &'b dyn Interrupt,
    /// Nodes of one trial.
    nodes: u64,
    /// Nodes of all trials that are left.
    left: Cell<u64>,
    is_complete: Cell<bool>,
}

impl<'b> Work<'b> {
    /// So many nodes for all trials of a problem, times its lights times its points.
    pub fn new(problem: &Problem, all: u64, deadline: Instant, interrupt: &'b dyn Interrupt) -> Self {
        let size = (problem.lights.len() * problem.points.len()).max(1) as u64;
        let nodes = (TRIAL / size).clamp(LEAST_NODES, NODES);
        Self {
            deadline,
            interrupt,
            nodes,
            left: Cell::new((all / size).max(nodes)),
            is_complete: Cell::new(true),
        }
    }

    /// Whether there is work and time left. Where there is not, something stays untried.
    pub fn goes_on(&self) -> bool {
        let on = self.left.get() > 0 && !self.interrupt.checkpoint() && Instant::now() < self.deadline;
        if !on {
            self.leave();
        }
        on
    }

    /// Notes that something was left undecided.
    pub fn leave(&self) {
        self.is_complete.set(false);
    }

    /// Whether everything that was tried was decided.
    pub fn is_complete(&self) -> bool {
        self.is_complete.get()
    }

    /// Solves a problem as far as one trial goes.
    pub fn search(&self, problem: &Problem, prefer: Objective) -> Solution {
        let found = search(problem, prefer, self.budget());
        self.spend(START + found.nodes);
        found
    }

    /// Whether a changed set, asked for anew, is answered with every point within a tolerance. Undecided is no, and
    /// noted.
    pub fn answers_within(&self, problem: &Problem, prefer: Objective, tolerance_stops: f64) -> bool {
        let decided = self.decide(problem, prefer, tolerance_stops);
        if decided.is_none() {
            self.leave();
        }
        decided == Some(true)
    }

    fn decide(&self, problem: &Problem, prefer: Objective, tolerance_stops: f64) -> Option<bool> {
        if !self.goes_on() {
            return None;
        }
        self.spend(1);
        if !may_reach(problem, tolerance_stops) {
            return Some(false);
        }
        let is_within =
            |found: &Solution| problem.worst_error_stops(&found.choice) <= tolerance_stops + SAME_WORST;
        if prefer == Objective::Accuracy && !problem.has_even_weights() {
            // The best by weights may pass by settings within the tolerance, so only the best itself will do.
            let found = self.search(problem, prefer);
            return found.proven.then(|| is_within(&found));
        }
        let reached = reaches(problem, tolerance_stops, self.budget());
        self.spend(START + reached.nodes);
        match reached.within {
            // The first answer of the search that is asked anew is this one.
            Some(true) if reached.nodes == 0 => Some(true),
            // That some settings do it is not enough: the search must come to such.
            Some(true) => is_within(&self.search(problem, prefer)).then_some(true),
            other => other,
        }
    }

    /// Whether some settings reach a tolerance, as far as all the work goes.
    pub fn reaches(&self, problem: &Problem, tolerance_stops: f64) -> bool {
        let budget = Budget { nodes: self.left.get(), ..self.budget() };
        reaches(problem, tolerance_stops, budget).within == Some(true)
    }

    fn budget(&self) -> Budget<'b> {
        let nodes = self.nodes.min(self.left.get());
        Budget { nodes, deadline: Some(self.deadline), interrupt: self.interrupt }
    }

    fn spend(&self, nodes: u64) {
        self.left.set(self.left.get().saturating_sub(nodes));
    }
}

/// Whether every point, each by itself, may come within a tolerance: a point that cannot needs no search.
pub fn may_reach(problem: &Problem, tolerance_stops: f64) -> bool {
    let factor = (tolerance_stops + SAME_WORST).exp2();
    let at = |point: &Point, power: fn(&[f64]) -> Option<&f64>| {
        let lights = problem.lights.iter().zip(&point.gain);
        let light = lights.map(|(levels, gain)| gain * power(&levels.power).copied().unwrap_or_default());
        point.ambient + light.sum::<f64>()
    };
    // With room for the last digits.
    problem.points.iter().all(|point| {
        at(point, <[f64]>::first) * factor >= point.target * (1.0 - 1e-9)
            && at(point, <[f64]>::last) <= point.target * factor * (1.0 + 1e-9)
    })
}
