//! The tree of a search. A node is a range of settings for each light; a leaf is a choice. Nodes are narrowed by linear
//! rows and, once a search has proved hard, by linear programs.

use crate::light::balance::{
    clock::Clock,
    linear::{Program, Verdict},
    problem::{Point, Problem, SAME_WORST},
    rows::{Domain, Row, Rows},
    squares,
};

/// What a tree minimises.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Aim {
    /// The worst weighted error, stops.
    Worst,
    /// The light at the last point, which stands for energy, with the others within a tolerance.
    Energy {
        /// Worst unweighted error, stops.
        tolerance: f64,
    },
    /// Nothing: any choice within a tolerance ends the walk.
    Within {
        /// Worst unweighted error, stops.
        tolerance: f64,
    },
}

/// The gap between bound and best that is closed in one step, in stops or as a part of the energy.
const CLOSE: f64 = 1e-4;
/// Most linear programs for the first lower bound.
const PROGRAMS: usize = 40;
/// Blame that every light starts with when a split is chosen, and the part of blame that is left after each new failure.
const BLAME: f64 = 8.0;
const REMEMBERED: f64 = 0.98;

impl Aim {
    /// The highest level that counts as better than this one.
    pub fn under(self, level: f64) -> f64 {
        match self {
            Self::Worst => level - SAME_WORST,
            Self::Energy { .. } | Self::Within { .. } => level * (1.0 - 1e-12),
        }
    }

    /// Levels closer than this are the same.
    pub fn same(self) -> f64 {
        if matches!(self, Self::Worst) { SAME_WORST } else { 0.0 }
    }

    /// The gap that is closed in one step.
    pub fn close(self, level: f64) -> f64 {
        match self {
            Self::Worst => CLOSE,
            Self::Energy { .. } | Self::Within { .. } => CLOSE * level,
        }
    }

    /// The range of light at a point within a level.
    fn range(self, point: &Point, is_last: bool, level: f64) -> [f64; 2] {
        match self {
            Self::Worst => point.range(level),
            Self::Energy { .. } if is_last => [0.0, level],
            Self::Energy { tolerance } | Self::Within { tolerance } => point.range(tolerance * point.weight),
        }
    }
}

/// A tree, and what a search has learned from it.
pub struct Tree<'p> {
    /// The problem.
    pub problem: &'p Problem,
    /// What a tree minimises.
    pub aim: Aim,
    rows: Rows,
    /// A good choice; the side of a split that holds it comes first.
    guide: Vec<usize>,
    /// How much each light influenced the rows that could not be met, the latest most.
    blamed: Vec<f64>,
    /// The linear program over a node's powers, once the search has proved hard.
    program: Option<Program>,
    /// The middle of the feasible powers that the program visited at the last node; empty if it did not run.
    centre: Vec<f64>,
    /// The greatest sum of squares of interest, if it counts, and an estimate of the powers where it is least.
    squares: Option<f64>,
    least_squares: Vec<f64>,
    /// Set at a leaf to end the walk.
    pub is_done: bool,
    /// Whether no choice is within the level: nothing is better than no error.
    is_shut: bool,
}

/// Blames the lights of a row that could not be met.
fn blame(blamed: &mut [f64], row: &Row, problem: &Problem) {
    for (blamed, influence) in blamed.iter_mut().zip(row.influence(problem)) {
        *blamed = REMEMBERED * *blamed + influence;
    }
}

impl<'p> Tree<'p> {
    /// The tree of a problem, with the choice around which to look first.
    pub fn new(problem: &'p Problem, aim: Aim, guide: Vec<usize>) -> Self {
        let blamed = vec![0.0; problem.lights.len()];
        Self {
            problem,
            aim,
            rows: Rows::new(problem),
            guide,
            blamed,
            program: None,
            centre: Vec::new(),
            squares: None,
            least_squares: Vec::new(),
            is_done: false,
            is_shut: false,
        }
    }

    /// Sets the choice around which to look first.
    pub fn guide(&mut self, choice: &[usize]) {
        self.guide.copy_from_slice(choice);
    }

    /// Limits the search to a level.
    pub fn within(&mut self, level: f64) {
        let (aim, points) = (self.aim, &self.problem.points);
        self.is_shut = level < 0.0;
        self.rows.set(self.problem, |p| aim.range(&points[p], p + 1 == points.len(), level));
    }

    /// Limits the search to a worst error and a sum of squares. What the other points need of the sum at least is not
    /// left for a point.
    pub fn within_squares(&mut self, worst: f64, squares: f64) {
        self.within(worst);
        let problem = self.problem;
        let mut whole = self.whole();
        if self.rows.narrow(problem, &mut whole).is_err() {
            return;
        }
        self.squares = Some(squares);
        let least: Vec<f64> = self.errors(&whole).map(|error| error * error).collect();
        let all: f64 = least.iter().sum();
        let most = |p: usize| (squares - (all - least[p])).max(0.0).sqrt();
        self.rows.set(problem, |p| problem.points[p].range(worst.min(most(p) + SAME_WORST)));
    }

    /// Uses linear programs from now on. Returns a lower bound on the level: what any powers could reach, on clicks or
    /// between. The level must be set again afterwards.
    pub fn take_program(&mut self, most: f64, clock: &mut Clock<'_>) -> f64 {
        let mut program = Program::new(self.problem);
        let whole = self.whole();
        let mut bound = 0.0;
        for _ in 0..PROGRAMS {
            self.within(bound);
            self.bound(&mut program, &whole);
            let Verdict::Shut(sum) = program.solve() else { break };
            let row = Row::new(self.problem, sum);
            let more = self.least_level(&row, most);
            if more <= bound || clock.is_out() {
                break;
            }
            self.rows.learn(row);
            bound = more;
        }
        self.program = Some(program);
        bound
    }

    /// The range of power of some lights within a level, on clicks or between. Call [`Self::take_program`] first.
    pub fn reach(&mut self, level: f64, lights: &[usize]) -> Vec<[f64; 2]> {
        self.within(level);
        let whole = self.whole();
        let problem = self.problem;
        let ends = |light: usize| problem.lights[light].ends(whole[light]);
        let Some(mut program) = self.program.take() else {
            return lights.iter().map(|&light| ends(light)).collect();
        };
        self.bound(&mut program, &whole);
        let is_open = program.solve() == Verdict::Open;
        let reach = |&light: &usize| {
            let mut range = ends(light);
            for up in [false, true] {
                if let Some(sum) = is_open.then(|| program.drive(light, up)).flatten() {
                    let mut row = Row::new(problem, sum);
                    row.set(self.rows.ranges());
                    let [least, most] = row.reach(problem, &whole, light);
                    range = [range[0].max(least), range[1].min(most)];
                }
            }
            range
        };
        let ranges = lights.iter().map(reach).collect();
        self.program = Some(program);
        ranges
    }

    /// The least level at which a row can be met, by bisection.
    fn least_level(&self, row: &Row, most: f64) -> f64 {
        let (mut row, whole) = (row.clone(), self.whole());
        let points = &self.problem.points;
        let mut is_open = |level: f64| {
            let range = |p: usize| self.aim.range(&points[p], p + 1 == points.len(), level);
            row.set(&self.rows.of_lights(self.problem, range));
            row.narrow(self.problem, &mut whole.clone()).is_some()
        };
        if is_open(0.0) {
            return 0.0;
        }
        let (mut shut, mut open) = (0.0, most);
        for _ in 0..48 {
            let middle = 0.5 * (shut + open);
            if is_open(middle) {
                open = middle;
            } else {
                shut = middle;
            }
        }
        shut
    }

    /// Walks the tree and calls `leaf` at each leaf. `None` if all was seen, otherwise a lower bound on the level of the
    /// rest.
    pub fn walk<B>(
        &mut self,
        clock: &mut Clock<'_>,
        best: &mut B,
        mut leaf: impl FnMut(&mut Self, &mut B, Vec<usize>),
    ) -> Option<f64> {
        let count = self.problem.lights.len();
        let mut stack = self.whole();
        let mut node = vec![[0; 2]; count];
        while stack.len() >= count && !self.is_done {
            if clock.is_out() {
                return stack.chunks(count).map(|domains| self.least(domains)).min_by(f64::total_cmp);
            }
            clock.node();
            let below = stack.len() - count;
            node.copy_from_slice(&stack[below..]);
            stack.truncate(below);
            if !self.narrow(&mut node) {
                continue;
            }
            let urge =
                |light: &usize| (BLAME + self.blamed[*light]) / f64::from(node[*light][1] - node[*light][0]);
            let splits = (0..count).filter(|&light| node[light][0] < node[light][1]);
            let Some(light) = splits.max_by(|a, b| urge(a).total_cmp(&urge(b))) else {
                leaf(self, best, node.iter().map(|domain| usize::from(domain[0])).collect());
                continue;
            };
            let [first, last] = node[light];
            let (middle, guided_low) = self.split(light, node[light]);
            // The last one pushed comes first.
            for low in [!guided_low, guided_low] {
                node[light] = if low { [middle + 1, last] } else { [first, middle] };
                stack.extend_from_slice(&node);
            }
        }
        None
    }

    /// How to split the settings of a light: the last setting of the first part, and whether the second part, which has
    /// less power, comes first.
    fn split(&self, light: usize, [first, last]: Domain) -> (u16, bool) {
        let Some(&centre) = self.centre.get(light) else {
            let middle = first + (last - first) / 2;
            return (middle, self.guide[light] > usize::from(middle));
        };
        let power = &self.problem.lights[light].power;
        let open = &power[usize::from(first)..=usize::from(last)];
        let after = open.partition_point(|&power| power > centre).clamp(1, open.len() - 1);
        let is_low = centre - open[after] < open[after - 1] - centre;
        (first + after as u16 - 1, is_low)
    }

    /// Narrows a node. Whether it may still hold a choice.
    fn narrow(&mut self, node: &mut [Domain]) -> bool {
        self.centre.clear();
        if self.is_shut {
            return false;
        }
        if let Err(row) = self.rows.narrow(self.problem, node) {
            blame(&mut self.blamed, row, self.problem);
            return false;
        }
        if self.squares.is_some() && !self.narrow_squares(node) {
            return false;
        }
        let Some(mut program) = self.program.take() else { return true };
        let mut centre = std::mem::take(&mut self.centre);
        let narrowed = self.narrow_by(&mut program, node, &mut centre);
        self.centre = centre;
        self.program = Some(program);
        if let Err(row) = &narrowed {
            blame(&mut self.blamed, row, self.problem);
        }
        narrowed.is_ok()
    }

    /// Narrows a node by the sum of squares. Whether it may still hold a choice.
    fn narrow_squares(&mut self, node: &mut [Domain]) -> bool {
        let problem = self.problem;
        let most = self.squares.unwrap_or(f64::INFINITY);
        if self.errors(node).map(|error| error * error).sum::<f64>() > most {
            return false;
        }
        let row = squares::row(problem, node, self.rows.ranges(), most, &mut self.least_squares);
        let changed = row.narrow(problem, node);
        self.centre.clone_from(&self.least_squares);
        match changed {
            None => {
                blame(&mut self.blamed, &row, problem);
                false
            }
            Some(true) => self.rows.narrow(problem, node).is_ok(),
            Some(false) => true,
        }
    }

    /// Narrows a node by a linear program. Every row that the program proposes is worked out anew, so that nothing rests
    /// on its rounding. The error is a row that cannot be met. Stores the middle of the powers it visited in `centre`.
    fn narrow_by(
        &self,
        program: &mut Program,
        node: &mut [Domain],
        centre: &mut Vec<f64>,
    ) -> Result<(), Row> {
        let problem = self.problem;
        self.bound(program, node);
        match program.solve() {
            Verdict::Shut(sum) => return self.rows.narrow_by(problem, sum, node).map(|_| ()),
            Verdict::Unknown => return Ok(()),
            Verdict::Open => {}
        }
        // If a light was seen at an end, driving it there would cut off nothing.
        let ends: Vec<[f64; 2]> =
            problem.lights.iter().zip(&*node).map(|(levels, domain)| levels.ends(*domain)).collect();
        let powers =
            |program: &Program| (0..ends.len()).map(|light| program.power(light)).collect::<Vec<_>>();
        let mut seen: Vec<[f64; 2]> = powers(program).into_iter().map(|power| [power; 2]).collect();
        *centre = powers(program);
        let (mut points, mut changed) = (1.0, false);
        for (light, up) in (0..node.len()).flat_map(|light| [(light, false), (light, true)]) {
            let [low, high] = ends[light];
            let room = 1e-9 * high;
            let is_seen = if up { seen[light][1] >= high - room } else { seen[light][0] <= low + room };
            if node[light][0] == node[light][1] || is_seen {
                continue;
            }
            let sum = program.drive(light, up);
            points += 1.0;
            for (other, power) in powers(program).into_iter().enumerate() {
                centre[other] += power;
                seen[other] = [seen[other][0].min(power), seen[other][1].max(power)];
            }
            if let Some(sum) = sum {
                changed |= self.rows.narrow_by(problem, sum, node)?;
            }
        }
        for power in &mut *centre {
            *power /= points;
        }
        if changed { self.rows.narrow(problem, node).map_err(Row::clone) } else { Ok(()) }
    }

    fn bound(&self, program: &mut Program, node: &[Domain]) {
        for (point, &range) in self.rows.ranges().iter().enumerate() {
            program.bound_point(point, range);
        }
        for (light, (levels, domain)) in self.problem.lights.iter().zip(node).enumerate() {
            program.bound_light(light, levels.ends(*domain));
        }
    }

    fn whole(&self) -> Vec<Domain> {
        self.problem.lights.iter().map(|levels| [0, (levels.power.len() - 1) as u16]).collect()
    }

    /// The least and the most light at each point.
    fn lights<'t>(&'t self, node: &'t [Domain]) -> impl Iterator<Item = (&'t Point, f64, f64)> {
        self.problem.points.iter().map(move |point| {
            let (mut least, mut most) = (point.ambient, point.ambient);
            for ((gain, levels), domain) in point.gain.iter().zip(&self.problem.lights).zip(node) {
                let [low, high] = levels.ends(*domain);
                least += gain * low;
                most += gain * high;
            }
            (point, least, most)
        })
    }

    /// The least weighted error of each point.
    fn errors<'t>(&'t self, node: &'t [Domain]) -> impl Iterator<Item = f64> + 't {
        self.lights(node).map(|(point, least, most)| point.weight * point.least_error(least, most))
    }

    /// A lower bound on the level of a node.
    fn least(&self, node: &[Domain]) -> f64 {
        match self.aim {
            Aim::Worst => self.errors(node).fold(0.0, f64::max),
            Aim::Energy { .. } => self.lights(node).last().map_or(0.0, |(_, least, _)| least),
            Aim::Within { .. } => 0.0,
        }
    }
}
