//! The result of a search.

use crate::light::balance::problem::{Problem, Score};

/// The result of a search.
#[derive(Debug, Clone, PartialEq)]
pub struct Solution {
    /// The setting of each light, by its index.
    pub choice: Vec<usize>,
    /// Its score.
    pub score: Score,
    /// A lower bound on the objective.
    pub bound: Bound,
    /// Whether the choice is proven optimal: no other has a lesser worst error, or a lesser energy.
    pub proven: bool,
    /// Whether, among the choices with that worst error, it is proven best in sum of squares and energy.
    pub ties_proven: bool,
    /// Nodes searched.
    pub nodes: u64,
}

/// A lower bound on the objective.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Bound {
    /// No choice has a lesser worst weighted error, stops.
    WorstStops(f64),
    /// No choice within the tolerance takes less energy, J.
    EnergyJ(f64),
}

impl Solution {
    /// A choice, taken as optimal until a search says otherwise.
    pub fn new(problem: &Problem, choice: Vec<usize>) -> Self {
        let score = if choice.len() == problem.lights.len() {
            problem.score(&choice)
        } else {
            Score { worst: f64::INFINITY, squares: f64::INFINITY, energy_j: f64::INFINITY }
        };
        Self {
            choice,
            score,
            bound: Bound::WorstStops(score.worst),
            proven: true,
            ties_proven: true,
            nodes: 0,
        }
    }
}
