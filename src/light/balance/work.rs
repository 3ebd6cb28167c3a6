//! The work budget for trials: changed problems that are solved after the search, for remedies and `held_back_by`.
//! Work is counted in nodes, so that a request gets the same answer on a busy machine. Only the time limit can end
//! the trials sooner, and then the answer says so.

use std::{cell::Cell, time::Instant};

use crate::light::{
    balance::{
        clock::Budget,
        problem::{Point, Problem, SAME_WORST},
        search::{Objective, Solution, reaches, search},
    },
    interrupt::Interrupt,
};

/// Upper limit of the nodes of one trial, for small sets.
const MAX_NODES: u64 = 4000;
/// Nodes of one trial, times lights times points.
const TRIAL_WORK: u64 = 400_000;
/// Lower limit of the nodes of one trial: fewer would rarely decide a large set.
const MIN_NODES: u64 = 120;
/// The cost of a trial's first answer, in nodes.
const START_NODES: u64 = 4;
/// The cost of preparing a changed set, in nodes.
const TRIAL_NODES: u64 = 4;

/// The work budget for the trials of one answer.
pub struct Work<'b> {
    deadline: Instant,
    interrupt: &'b dyn Interrupt,
    /// Nodes for each trial.
    nodes: u64,
    /// Nodes left for all trials.
    left: Cell<u64>,
    is_complete: Cell<bool>,
}

impl<'b> Work<'b> {
    /// A budget of `total` work, in nodes times lights times points of the problem.
    pub fn new(problem: &Problem, total: u64, deadline: Instant, interrupt: &'b dyn Interrupt) -> Self {
        let size = (problem.lights.len() * problem.points.len()).max(1) as u64;
        let nodes = (TRIAL_WORK / size).clamp(MIN_NODES, MAX_NODES);
        Self {
            deadline,
            interrupt,
            nodes,
            left: Cell::new((total / size).max(nodes)),
            is_complete: Cell::new(true),
        }
    }

    /// Whether work and time are left. If not, marks the trials as incomplete.
    pub fn has_budget(&self) -> bool {
        let has_budget =
            self.left.get() > 0 && !self.interrupt.checkpoint() && Instant::now() < self.deadline;
        if !has_budget {
            self.mark_incomplete();
        }
        has_budget
    }

    /// Records that a trial was left undecided.
    pub fn mark_incomplete(&self) {
        self.is_complete.set(false);
    }

    /// Whether every trial was decided.
    pub fn is_complete(&self) -> bool {
        self.is_complete.get()
    }

    /// Solves a problem within the budget of one trial.
    pub fn search(&self, problem: &Problem, prefer: Objective) -> Solution {
        let found = search(problem, prefer, self.budget());
        self.spend(START_NODES + found.nodes);
        found
    }

    /// Counts the work of preparing a changed set.
    pub fn spend_trial(&self) {
        self.spend(TRIAL_NODES);
    }

    /// The worst error of the answer to a changed set, if it keeps every point within a tolerance and was found to the
    /// end. If that is undecided, marks the trials as incomplete.
    pub fn answer(&self, problem: &Problem, prefer: Objective, tolerance_stops: f64) -> Option<f64> {
        if !may_reach(problem, tolerance_stops) {
            return None;
        }
        if prefer != Objective::Accuracy || problem.has_even_weights() {
            // Deciding that no settings are within the tolerance is quicker than finding the best.
            let reached = reaches(problem, tolerance_stops, self.budget());
            self.spend(START_NODES + reached.nodes);
            if reached.within == Some(false) {
                return None;
            }
        }
        let found = self.search(problem, prefer);
        let error = problem.worst_error_stops(&found.choice);
        let is_within = error <= tolerance_stops + SAME_WORST;
        if !found.proven {
            self.mark_incomplete();
        }
        (found.proven && is_within).then_some(error)
    }

    /// Whether some settings keep every point within a tolerance, using all the work left. False if undecided.
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

/// Whether each point, considered alone, could come within a tolerance. If one cannot, no search is needed.
pub fn may_reach(problem: &Problem, tolerance_stops: f64) -> bool {
    let light = |point: &Point, power: fn(&[f64]) -> Option<&f64>| {
        let lights = problem.lights.iter().zip(&point.gain);
        let sum = lights.map(|(levels, gain)| gain * power(&levels.power).copied().unwrap_or_default());
        point.ambient + sum.sum::<f64>()
    };
    // Allows for rounding.
    problem.points.iter().all(|point| {
        let [least, most] = point.range((tolerance_stops + SAME_WORST) * point.weight);
        light(point, <[f64]>::first) >= least * (1.0 - 1e-9)
            && light(point, <[f64]>::last) <= most * (1.0 + 1e-9)
    })
}
