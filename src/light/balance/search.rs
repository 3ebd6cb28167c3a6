//! The exact search over clicks. It finds and proves the least worst error; then, among the choices with that error,
//! the least sum of squares, then the least energy. Or it finds the least energy within a tolerance.
//!
//! Branch and bound (textbook method) over [`super::tree`]. It cuts off only what cannot be better, up to
//! [`SAME_WORST`].

pub use crate::light::balance::solution::{Bound, Solution};
use crate::light::balance::{
    alike,
    clock::{Budget, Clock},
    one_group,
    problem::{Levels, Point, Problem, SAME_SQUARES, SAME_WORST, Sides},
    reduce::{self, Reduced},
    start,
    tree::{Aim, Tree},
};

/// What to minimise.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Objective {
    /// The least worst error.
    Accuracy,
    /// The least energy with every unweighted error within a tolerance.
    LeastEnergy {
        /// The tolerance, stops.
        tolerance_stops: f64,
    },
}

/// Nodes before linear programs start: most sets are done by then.
const EASY: u64 = 100;
/// Work to break ties, in nodes times lights times points. Counted, so that the same request has the same answer.
const TIES: usize = 400_000;

/// Finds the best settings within a budget.
pub fn search(problem: &Problem, prefer: Objective, budget: Budget<'_>) -> Solution {
    let mut clock = Clock::new(budget);
    let reduced = Reduced::new(problem, matches!(prefer, Objective::LeastEnergy { .. }));
    let mut found = search_reduced(&reduced, prefer, &mut clock);
    found.choice = reduced.back(&found.choice);
    found.score = problem.score(&found.choice);
    found.nodes = clock.nodes();
    found.bound = match found.bound {
        Bound::WorstStops(_) if found.proven => Bound::WorstStops(found.score.worst),
        Bound::EnergyJ(_) if found.proven => Bound::EnergyJ(found.score.energy_j),
        Bound::EnergyJ(energy) => Bound::EnergyJ(energy + reduced.idle_energy_j(problem)),
        bound @ Bound::WorstStops(_) => bound,
    };
    found
}

fn search_reduced(reduced: &Reduced, prefer: Objective, clock: &mut Clock<'_>) -> Solution {
    let problem = &reduced.problem;
    if problem.lights.is_empty() {
        let found = Solution::new(problem, Vec::new());
        return match prefer {
            Objective::LeastEnergy { tolerance_stops }
                if problem.worst_error_stops(&[]) <= tolerance_stops + SAME_WORST =>
            {
                Solution { bound: Bound::EnergyJ(0.0), ..found }
            }
            _ => found,
        };
    }
    let (choice, score) = start::start(problem, clock);
    let groups = reduce::alike(problem);
    let whole = groups.first().filter(|group| group.len() == problem.lights.len());
    if let Objective::LeastEnergy { tolerance_stops } = prefer {
        let found = match whole {
            Some(group) => {
                one_group::least_energy(problem, group, tolerance_stops + SAME_WORST, &choice, clock)
            }
            None => least_energy(problem, tolerance_stops, &choice, clock),
        };
        if let Some(found) = found {
            return found;
        }
    }
    if let Some(group) = whole {
        one_group::accuracy(problem, group, choice, clock)
    } else if groups.is_empty() {
        let mut best = Best { choice, level: score.worst };
        let mut tree = Tree::new(problem, Aim::Worst, best.choice.clone());
        accuracy(&mut tree, &mut best, clock)
    } else {
        alike::search(problem, &groups, choice, clock)
    }
}

/// The least worst error, starting from the best so far; then ties.
pub fn accuracy(tree: &mut Tree<'_>, best: &mut Best, clock: &mut Clock<'_>) -> Solution {
    let problem = tree.problem;
    let budget = clock.budget();
    let bound = close_in(tree, best, clock, |choice| {
        let (choice, score) = start::improve(problem, choice, &mut Clock::new(budget));
        (choice, score.worst)
    });
    let mut found = Solution::new(problem, std::mem::take(&mut best.choice));
    if found.choice.is_empty() {
        found.score.worst = best.level;
    }
    found.bound = Bound::WorstStops(bound.unwrap_or(best.level));
    found.proven = bound.is_none();
    found.ties_proven = found.proven && !found.choice.is_empty() && break_ties(tree, &mut found, clock);
    found
}

/// The least energy within a tolerance. `None` if no choice is within it, or none was found in time.
fn least_energy(
    problem: &Problem,
    tolerance_stops: f64,
    start: &[usize],
    clock: &mut Clock<'_>,
) -> Option<Solution> {
    let tolerance = tolerance_stops + SAME_WORST;
    let least: Vec<f64> = problem.lights.iter().map(Levels::least_energy_per_power).collect();
    let most: f64 =
        problem.lights.iter().map(|levels| levels.energy_j.iter().copied().fold(0.0, f64::max)).sum();
    // Energy becomes the light at one more point, to be minimised. Units with corrections take a little more than that,
    // so the bound cuts off nothing; the energy of a choice is worked out from its settings.
    let mut with_energy = problem.clone();
    let target = most.max(1.0);
    with_energy.points.push(Point { gain: least, ambient: 0.0, target, sides: Sides::Both, weight: 1.0 });
    // Look at low power first.
    let lowest: Vec<usize> = problem.lights.iter().map(|levels| levels.power.len() - 1).collect();
    let mut best = Best { choice: Vec::new(), level: most * 1.01 + 1.0 };
    if problem.worst_error_stops(start) <= tolerance {
        best = Best { choice: start.to_vec(), level: problem.energy_j(start) };
    }
    let mut tree = Tree::new(&with_energy, Aim::Energy { tolerance }, lowest);
    let bound = close_in(&mut tree, &mut best, clock, |choice| {
        let energy = problem.energy_j(&choice);
        (choice, energy)
    });
    if best.choice.is_empty() {
        return None;
    }
    Some(Solution {
        score: problem.score(&best.choice),
        choice: best.choice,
        bound: Bound::EnergyJ(bound.unwrap_or(best.level)),
        proven: bound.is_none(),
        ties_proven: bound.is_none(),
        nodes: clock.nodes(),
    })
}

/// Whether a tolerance can be reached, and the nodes that took.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Reached {
    /// Whether some choice has every unweighted error within the tolerance; `None` if the budget ended first.
    pub within: Option<bool>,
    /// Nodes searched; 0 if the first answer was good enough.
    pub nodes: u64,
}

/// Whether some choice has every unweighted error within a tolerance.
pub fn reaches(problem: &Problem, tolerance_stops: f64, budget: Budget<'_>) -> Reached {
    let tolerance = tolerance_stops + SAME_WORST;
    let mut clock = Clock::new(budget);
    let reduced = Reduced::new(problem, false);
    let problem = &reduced.problem;
    if problem.lights.is_empty() {
        return Reached { within: Some(problem.worst_error_stops(&[]) <= tolerance), nodes: 0 };
    }
    let (choice, _) = start::start(problem, &mut clock);
    if problem.worst_error_stops(&choice) <= tolerance {
        return Reached { within: Some(true), nodes: 0 };
    }
    let mut tree = Tree::new(problem, Aim::Within { tolerance }, choice);
    tree.within(0.0);
    let mut easy = clock.part(EASY);
    let leaf = |tree: &mut Tree<'_>, (): &mut (), choice: Vec<usize>| {
        tree.is_done = problem.worst_error_stops(&choice) <= tolerance;
    };
    let mut open = tree.walk(&mut easy, &mut (), leaf);
    clock.join(&easy);
    if open.is_some() && !clock.is_out() {
        tree.take_program(0.0, &mut clock);
        open = tree.walk(&mut clock, &mut (), leaf);
    }
    let within = if tree.is_done { Some(true) } else { open.is_none().then_some(false) };
    Reached { within, nodes: clock.nodes() }
}

/// The best choice so far and its worst error or energy. The choice is empty if none that reaches the level is known.
pub struct Best {
    /// The choice.
    pub choice: Vec<usize>,
    /// The level.
    pub level: f64,
}

/// Finds the best choice and proves it. `None` if proven, otherwise the lower bound when the budget ended.
fn close_in(
    tree: &mut Tree<'_>,
    best: &mut Best,
    clock: &mut Clock<'_>,
    improve: impl Fn(Vec<usize>) -> (Vec<usize>, f64),
) -> Option<f64> {
    let take = |tree: &mut Tree<'_>, best: &mut Best, choice: Vec<usize>, target: &dyn Fn(f64) -> f64| {
        let (choice, level) = improve(choice);
        if level <= tree.aim.under(best.level) {
            *best = Best { choice, level };
            tree.within(target(level));
        }
    };
    let aim = tree.aim;
    tree.within(aim.under(best.level));
    let mut easy = clock.part(EASY);
    let at_once = |level| aim.under(level);
    let mut open = tree.walk(&mut easy, best, |tree, best, choice| take(tree, best, choice, &at_once));
    clock.join(&easy);
    let mut bound = 0.0;
    if open.is_some() && !clock.is_out() {
        bound = tree.take_program(best.level, clock);
    }
    // A choice at the bound needs no tree.
    if best.level <= bound + aim.same() && !best.choice.is_empty() {
        return None;
    }
    while let Some(least_open) = open {
        if clock.is_out() {
            return Some(bound.max(least_open).min(best.level));
        }
        // Aim at a target between the bound and the best. It is reached or refuted sooner than the best is proven from
        // a distant bound.
        let target = |level: f64| {
            if level - bound > aim.close(level) { 0.5 * (level + bound) } else { aim.under(level) }
        };
        tree.within(target(best.level));
        open = tree.walk(clock, best, |tree, best, choice| take(tree, best, choice, &target));
        if best.level <= bound + aim.same() && !best.choice.is_empty() {
            return None;
        }
        if open.is_none() && best.level - bound > aim.close(best.level) {
            bound = target(best.level);
            open = Some(bound);
        }
    }
    None
}

/// Finds the least sum of squares, then energy, among the choices with the least worst error. Whether all were seen.
fn break_ties(tree: &mut Tree<'_>, found: &mut Solution, clock: &mut Clock<'_>) -> bool {
    let problem = tree.problem;
    let worst = found.score.worst + SAME_WORST;
    tree.guide(&found.choice);
    tree.within_squares(worst, found.score.squares + SAME_SQUARES);
    let size = problem.lights.len() * problem.points.len();
    let budget = clock.budget();
    let mut part = clock.part((TIES / size).max(1) as u64);
    let open = tree.walk(&mut part, found, |tree, found, choice| {
        if problem.score(&choice).better_than(&found.score) {
            (found.choice, found.score) = start::improve(problem, choice, &mut Clock::new(budget));
            tree.within_squares(worst, found.score.squares + SAME_SQUARES);
        }
    });
    clock.join(&part);
    open.is_none()
}
