//! The exact search over clicks: depth first, with domains narrowed by linear rows.
//!
//! First the least worst error is found and proven; then, among the choices that reach it, the least
//! sum of squares, then the least energy. Branch and bound with constraint propagation (textbook
//! method). What is cut off cannot be better, up to [`SAME_WORST`].

use std::{
    sync::atomic::{AtomicBool, Ordering},
    time::Instant,
};

use super::{
    problem::{Problem, SAME_SQUARES, SAME_WORST, Score},
    rows::{Domain, Rows},
    start,
};

/// What is wanted of the settings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Prefer {
    /// The least worst error.
    Accuracy,
    /// The least energy with every unweighted error within a tolerance.
    LeastEnergy {
        /// The tolerance, stops.
        tolerance_stops: f64,
    },
}

/// How long a search may go on.
#[derive(Debug, Clone, Copy)]
pub struct Budget<'b> {
    /// Most nodes.
    pub nodes: u64,
    /// Latest end.
    pub deadline: Option<Instant>,
    /// Set by another thread to stop early.
    pub stop: Option<&'b AtomicBool>,
}

impl Budget<'_> {
    /// No end but the search's own.
    pub const NONE: Self = Self { nodes: u64::MAX, deadline: None, stop: None };
}

/// What was found.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// The setting of each light, by its index.
    pub choice: Vec<usize>,
    /// How good it is.
    pub score: Score,
    /// No choice has a worst weighted error under this, stops.
    pub lower_bound: f64,
    /// Whether the choice is proven the best.
    pub proven: bool,
    /// Nodes looked at.
    pub nodes: u64,
}

/// Counts nodes and watches the time.
pub struct Clock<'b> {
    budget: Budget<'b>,
    nodes: u64,
    looks: u32,
    out: bool,
}

impl<'b> Clock<'b> {
    fn new(budget: Budget<'b>) -> Self {
        Self { budget, nodes: 0, looks: 0, out: false }
    }

    fn node(&mut self) {
        self.nodes += 1;
        self.out |= self.nodes > self.budget.nodes;
    }

    /// Whether the budget is used up; looks at the time every 64th call.
    pub fn is_out(&mut self) -> bool {
        self.looks = self.looks.wrapping_add(1);
        if self.looks.is_multiple_of(64) {
            self.out |= self.budget.deadline.is_some_and(|deadline| Instant::now() >= deadline)
                || self.budget.stop.is_some_and(|stop| stop.load(Ordering::Relaxed));
        }
        self.out
    }
}

/// Searches.
pub fn search(problem: &Problem, prefer: Prefer, budget: Budget<'_>) -> Found {
    let mut clock = Clock::new(budget);
    let rows = Rows::new(problem);
    let (choice, score) = start::start(problem, &mut clock);
    if let Prefer::LeastEnergy { tolerance_stops } = prefer
        && let Some(found) = least_energy(problem, &rows, tolerance_stops, &choice, &mut clock)
    {
        return found;
    }
    accuracy(problem, rows, choice, score, &mut clock)
}

fn accuracy(problem: &Problem, rows: Rows, choice: Vec<usize>, score: Score, clock: &mut Clock<'_>) -> Found {
    let mut best = Best { choice, score };
    let mut tree = Tree { problem, rows, guide: best.choice.clone() };
    tree.within(best.score.worst - SAME_WORST);
    let worst_open = tree.walk(
        clock,
        &mut best,
        |tree, best, choice| {
            let score = tree.problem.score(&choice);
            if score.worst < best.score.worst - SAME_WORST {
                let (choice, score) = start::improve(tree.problem, choice, &mut Clock::new(Budget::NONE));
                *best = Best { choice, score };
                tree.within(best.score.worst - SAME_WORST);
            }
        },
        |_, _, _| true,
    );
    if let Some(open) = worst_open {
        let lower_bound = open.min(best.score.worst);
        return best.found(lower_bound, false, clock.nodes);
    }
    let worst = best.score.worst;
    // Among those that reach it: the least sum of squares, then energy.
    tree.guide.clone_from(&best.choice);
    tree.within(worst + SAME_WORST);
    let cut = tree.walk(
        clock,
        &mut best,
        |tree, best, choice| {
            let score = tree.problem.score(&choice);
            if score.better_than(&best.score) {
                *best = Best { choice, score };
            }
        },
        |tree, best, domains| tree.least_squares(domains) <= best.score.squares + SAME_SQUARES,
    );
    best.found(worst, cut.is_none(), clock.nodes)
}

/// The least energy within a tolerance; none if no choice is within it, or none was found in time.
fn least_energy(
    problem: &Problem,
    rows: &Rows,
    tolerance_stops: f64,
    guide: &[usize],
    clock: &mut Clock<'_>,
) -> Option<Found> {
    let mut rows = rows.clone();
    let factor = (tolerance_stops + SAME_WORST).exp2();
    rows.set(problem, |p| [problem.points[p].target / factor, problem.points[p].target * factor]);
    // Towards low power first.
    let lowest = problem.lights.iter().map(|levels| levels.power.len() - 1).collect();
    let mut tree = Tree { problem, rows, guide: lowest };
    let mut best: Option<Best> = None;
    if problem.worst_error_stops(guide) <= tolerance_stops + SAME_WORST {
        best = Some(Best { choice: guide.to_vec(), score: problem.score(guide) });
    }
    let less = |energy: f64, best: &Option<Best>| {
        best.as_ref().is_none_or(|best| energy <= best.score.energy_j * (1.0 - 1e-12))
    };
    let cut = tree.walk(
        clock,
        &mut best,
        |tree, best, choice| {
            let score = tree.problem.score(&choice);
            let within = tree.problem.worst_error_stops(&choice) <= tolerance_stops + SAME_WORST;
            if within && less(score.energy_j, best) {
                *best = Some(Best { choice, score });
            }
        },
        |tree, best, domains| {
            let least = tree.problem.lights.iter().zip(domains);
            less(least.map(|(levels, domain)| levels.energy_j[usize::from(domain[1])]).sum(), best)
        },
    );
    let nodes = clock.nodes;
    best.map(|best| best.found(0.0, cut.is_none(), nodes))
}

struct Best {
    choice: Vec<usize>,
    score: Score,
}

impl Best {
    fn found(self, lower_bound: f64, proven: bool, nodes: u64) -> Found {
        Found { choice: self.choice, score: self.score, lower_bound, proven, nodes }
    }
}

struct Tree<'p> {
    problem: &'p Problem,
    rows: Rows,
    /// The side of a split that is looked at first.
    guide: Vec<usize>,
}

impl Tree<'_> {
    fn within(&mut self, worst: f64) {
        let problem = self.problem;
        self.rows.set(problem, |p| problem.points[p].range(worst));
    }

    /// Walks the tree. At each whole choice calls `leaf`; goes on below a node only if `open` says so.
    /// None when all was seen; else a lower bound on the worst error of what was not.
    fn walk<B>(
        &mut self,
        clock: &mut Clock<'_>,
        best: &mut B,
        mut leaf: impl FnMut(&mut Self, &mut B, Vec<usize>),
        open: impl Fn(&Self, &B, &[Domain]) -> bool,
    ) -> Option<f64> {
        let count = self.problem.lights.len();
        let mut stack: Vec<Domain> =
            self.problem.lights.iter().map(|levels| [0, (levels.power.len() - 1) as u16]).collect();
        let mut node = vec![[0; 2]; count];
        while stack.len() >= count {
            if clock.is_out() {
                return stack.chunks(count).map(|domains| self.least_worst(domains)).min_by(f64::total_cmp);
            }
            clock.node();
            let below = stack.len() - count;
            node.copy_from_slice(&stack[below..]);
            stack.truncate(below);
            if !self.rows.narrow(self.problem, &mut node) || !open(self, best, &node) {
                continue;
            }
            let split =
                (0..count).filter(|&l| node[l][0] < node[l][1]).min_by_key(|&l| node[l][1] - node[l][0]);
            let Some(light) = split else {
                leaf(self, best, node.iter().map(|domain| usize::from(domain[0])).collect());
                continue;
            };
            let [first, last] = node[light];
            let middle = first + (last - first) / 2;
            let guided_low = self.guide[light] > usize::from(middle);
            // The last pushed is looked at first.
            for low in [!guided_low, guided_low] {
                node[light] = if low { [middle + 1, last] } else { [first, middle] };
                stack.extend_from_slice(&node);
            }
        }
        None
    }

    /// The least and the most light at each point.
    fn lights<'t>(&'t self, domains: &'t [Domain]) -> impl Iterator<Item = (usize, f64, f64)> + 't {
        self.problem.points.iter().enumerate().map(move |(p, point)| {
            let (mut least, mut most) = (point.ambient, point.ambient);
            for ((gain, levels), domain) in point.gain.iter().zip(&self.problem.lights).zip(domains) {
                least += gain * levels.power[usize::from(domain[1])];
                most += gain * levels.power[usize::from(domain[0])];
            }
            (p, least, most)
        })
    }

    fn least_worst(&self, domains: &[Domain]) -> f64 {
        let error = |(p, least, most): (usize, f64, f64)| {
            let point = &self.problem.points[p];
            point.weight * point.least_error(least, most)
        };
        self.lights(domains).map(error).fold(0.0, f64::max)
    }

    fn least_squares(&self, domains: &[Domain]) -> f64 {
        let error = |(p, least, most): (usize, f64, f64)| {
            let point = &self.problem.points[p];
            (point.weight * point.least_error(least, most)).powi(2)
        };
        self.lights(domains).map(error).sum()
    }
}
