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
    linear::{Program, Verdict},
    problem::{Problem, SAME_SQUARES, SAME_WORST, Score},
    rows::{self, Domain, Rows},
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
    timed_out: bool,
    out: bool,
}

impl<'b> Clock<'b> {
    fn new(budget: Budget<'b>) -> Self {
        Self { budget, nodes: 0, looks: 0, timed_out: false, out: false }
    }

    /// A part of the budget: so many nodes more.
    fn part(&self, nodes: u64) -> Self {
        let most = self.budget.nodes.min(self.nodes.saturating_add(nodes));
        Self { budget: Budget { nodes: most, ..self.budget }, ..*self }
    }

    /// Takes back what was used of a part.
    fn join(&mut self, part: &Self) {
        self.nodes = part.nodes;
        self.looks = part.looks;
        // Only the time counts; the part's own nodes may be used up.
        self.out |= part.timed_out;
    }

    fn node(&mut self) {
        self.nodes += 1;
        self.out |= self.nodes > self.budget.nodes;
    }

    /// Whether the budget is used up; looks at the time every 64th call.
    pub fn is_out(&mut self) -> bool {
        self.looks = self.looks.wrapping_add(1);
        if self.looks.is_multiple_of(64) {
            self.timed_out |= self.budget.deadline.is_some_and(|deadline| Instant::now() >= deadline)
                || self.budget.stop.is_some_and(|stop| stop.load(Ordering::Relaxed));
            self.out |= self.timed_out;
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
    let mut tree = Tree { problem, rows, guide: best.choice.clone(), program: None };
    tree.within(best.score.worst - SAME_WORST);
    // Most sets are done in a few nodes; programs pay where they are not.
    let mut easy = clock.part(EASY);
    let mut open = tree.walk(&mut easy, &mut best, take_if_less, |_, _, _| true);
    clock.join(&easy);
    if open.is_some() && !clock.is_out() {
        let bound = tree.take_programs(&mut best, clock);
        open = tree.walk(clock, &mut best, take_if_less, |_, _, _| true).map(|open| open.max(bound));
    }
    if let Some(open) = open {
        let lower_bound = open.min(best.score.worst);
        return best.found(lower_bound, false, clock.nodes);
    }
    let cut = tree.break_ties(&mut best, clock);
    let worst = best.score.worst;
    best.found(worst, !cut, clock.nodes)
}

fn take_if_less(tree: &mut Tree<'_>, best: &mut Best, choice: Vec<usize>) {
    let score = tree.problem.score(&choice);
    if score.worst < best.score.worst - SAME_WORST {
        let (choice, score) = start::improve(tree.problem, choice, &mut Clock::new(Budget::NONE));
        *best = Best { choice, score };
        tree.within(best.score.worst - SAME_WORST);
    }
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
    let mut tree = Tree { problem, rows, guide: lowest, program: None };
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
    /// Programs over a node's powers, once the search has turned out hard.
    program: Option<Program>,
}

/// Nodes before programs are taken.
const EASY: u64 = 100;
/// Most programs for the first lower bound.
const PROGRAMS: usize = 40;
/// Most nodes to break ties; counted, so that the same request has the same answer.
const TIES: u64 = 2000;

impl Tree<'_> {
    /// Among the choices that reach the worst error: the least sum of squares, then energy. Whether the
    /// budget cut it.
    fn break_ties(&mut self, best: &mut Best, clock: &mut Clock<'_>) -> bool {
        self.guide.clone_from(&best.choice);
        let worst = best.score.worst + SAME_WORST;
        self.within_squares(worst, best.score.squares);
        let mut part = clock.part(TIES);
        self.walk(
            &mut part,
            best,
            |tree, best, choice| {
                let score = tree.problem.score(&choice);
                if score.better_than(&best.score) {
                    let (choice, score) = start::improve(tree.problem, choice, &mut Clock::new(Budget::NONE));
                    *best = Best { choice, score };
                    tree.within_squares(worst, best.score.squares);
                }
            },
            |tree, best, domains| tree.least_squares(domains) <= best.score.squares + SAME_SQUARES,
        );
        clock.join(&part);
        clock.is_out()
    }

    /// Ranges within a worst error and a sum of squares: what the others must have of the sum, one point
    /// cannot.
    fn within_squares(&mut self, worst: f64, squares: f64) {
        self.within(worst);
        let problem = self.problem;
        let mut whole = self.whole();
        if self.rows.narrow(problem, &mut whole).is_err() {
            return;
        }
        let least: Vec<f64> = self.errors(&whole).map(|error| error * error).collect();
        let all: f64 = least.iter().sum();
        let most = |p: usize| (squares + SAME_SQUARES - (all - least[p])).max(0.0).sqrt();
        self.rows.set(problem, |p| problem.points[p].range(worst.min(most(p) + SAME_WORST)));
    }

    /// Sets up programs, and learns the rows that bound each light from the whole set. A lower bound of
    /// the worst error, from what any powers could reach, on clicks or not.
    fn take_programs(&mut self, best: &mut Best, clock: &mut Clock<'_>) -> f64 {
        let mut program = Program::new(self.problem);
        let whole = self.whole();
        let mut bound = 0.0;
        for _ in 0..PROGRAMS {
            self.within(bound);
            self.bound_program(&mut program, &whole);
            let Verdict::Shut(sum) = program.solve() else { break };
            let more = rows::least_worst(self.problem, sum.clone(), best.score.worst);
            if more <= bound || clock.is_out() {
                break;
            }
            self.rows.learn(self.problem, sum);
            bound = more;
        }
        self.within(best.score.worst - SAME_WORST);
        self.bound_program(&mut program, &whole);
        if program.solve() == Verdict::Open {
            for (light, up) in (0..whole.len()).flat_map(|light| [(light, false), (light, true)]) {
                if let Some(sum) = program.drive(light, up) {
                    self.rows.learn(self.problem, sum);
                }
            }
        }
        self.program = Some(program);
        bound
    }

    fn bound_program(&self, program: &mut Program, domains: &[Domain]) {
        for (p, &range) in self.rows.ranges().iter().enumerate() {
            program.bound_point(p, range);
        }
        for (l, (levels, domain)) in self.problem.lights.iter().zip(domains).enumerate() {
            program
                .bound_light(l, [levels.power[usize::from(domain[1])], levels.power[usize::from(domain[0])]]);
        }
    }

    /// Narrows a node by rows, and by programs where there are any. Whether it is still open.
    fn narrow(&mut self, node: &mut [Domain]) -> bool {
        if self.rows.narrow(self.problem, node).is_err() {
            return false;
        }
        let Some(mut program) = self.program.take() else { return true };
        let open = self.narrow_by_program(&mut program, node);
        self.program = Some(program);
        open
    }

    fn narrow_by_program(&mut self, program: &mut Program, node: &mut [Domain]) -> bool {
        self.bound_program(program, node);
        match program.solve() {
            Verdict::Shut(sum) => return self.rows.narrow_by(self.problem, sum, node).is_some(),
            Verdict::Unknown => return true,
            Verdict::Open => {}
        }
        let mut changed = false;
        for (light, up) in (0..node.len()).flat_map(|light| [(light, false), (light, true)]) {
            if node[light][0] == node[light][1] {
                continue;
            }
            if let Some(sum) = program.drive(light, up) {
                match self.rows.narrow_by(self.problem, sum, node) {
                    None => return false,
                    Some(narrowed) => changed |= narrowed,
                }
            }
        }
        !changed || self.rows.narrow(self.problem, node).is_ok()
    }

    fn whole(&self) -> Vec<Domain> {
        self.problem.lights.iter().map(|levels| [0, (levels.power.len() - 1) as u16]).collect()
    }

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
        let mut stack = self.whole();
        let mut node = vec![[0; 2]; count];
        while stack.len() >= count {
            if clock.is_out() {
                return stack.chunks(count).map(|domains| self.least_worst(domains)).min_by(f64::total_cmp);
            }
            clock.node();
            let below = stack.len() - count;
            node.copy_from_slice(&stack[below..]);
            stack.truncate(below);
            if !self.narrow(&mut node) || !open(self, best, &node) {
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

    /// The least weighted error of each point.
    fn errors<'t>(&'t self, domains: &'t [Domain]) -> impl Iterator<Item = f64> + 't {
        self.lights(domains).map(|(p, least, most)| {
            let point = &self.problem.points[p];
            point.weight * point.least_error(least, most)
        })
    }

    fn least_worst(&self, domains: &[Domain]) -> f64 {
        self.errors(domains).fold(0.0, f64::max)
    }

    fn least_squares(&self, domains: &[Domain]) -> f64 {
        self.errors(domains).map(|error| error * error).sum()
    }
}
