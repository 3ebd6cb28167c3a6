//! The tree of a search: a node is a range of settings for each light, narrowed by linear rows and, once
//! a search has turned out hard, by linear programs; a leaf is a choice.

use crate::light::balance::{
    clock::Clock,
    linear::{Program, Verdict},
    problem::{Point, Problem, SAME_WORST},
    rows::{Domain, Row, Rows},
    squares,
};

/// What is to be least.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Aim {
    /// The worst weighted error, stops.
    Worst,
    /// The light at the last point, which is energy, with the others within a tolerance.
    Energy {
        /// Worst unweighted error, stops.
        tolerance: f64,
    },
    /// Nothing: any choice within a tolerance will do.
    Within {
        /// Worst unweighted error, stops.
        tolerance: f64,
    },
}

/// A gap that is closed in one go, as a part of a stop or of the energy.
const CLOSE: f64 = 1e-4;
/// Most programs for the first lower bound.
const PROGRAMS: usize = 40;
/// What a light counts for before it was ever to blame; of blame, what is left a row later.
const BLAME: f64 = 8.0;
const REMEMBERED: f64 = 0.98;

impl Aim {
    /// What is told apart from a level, and better.
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

    /// A gap that is closed in one go.
    pub fn close(self, level: f64) -> f64 {
        match self {
            Self::Worst => CLOSE,
            Self::Energy { .. } | Self::Within { .. } => CLOSE * level,
        }
    }

    /// Light that a point may have, within a level.
    fn range(self, point: &Point, is_last: bool, level: f64) -> [f64; 2] {
        match self {
            Self::Worst => point.range(level),
            Self::Energy { .. } if is_last => [0.0, level],
            Self::Energy { tolerance } | Self::Within { tolerance } => point.range(tolerance * point.weight),
        }
    }
}

/// A tree, and what was learned on the way.
pub struct Tree<'p> {
    /// The problem.
    pub problem: &'p Problem,
    /// What is to be least.
    pub aim: Aim,
    rows: Rows,
    /// The side of a split that is looked at first.
    guide: Vec<usize>,
    /// How often lately each light was in a row that could not be met.
    blamed: Vec<f64>,
    /// Over a node's powers, once the search has turned out hard.
    program: Option<Program>,
    /// The middle of the powers that the program found possible at the node it saw last; empty where it saw none.
    centre: Vec<f64>,
    /// The most sum of squares that is looked at, where it counts, and where the least is thought to be.
    squares: Option<f64>,
    least_squares: Vec<f64>,
    /// Set by a leaf that needs no other.
    pub is_done: bool,
}

/// Notes the lights of a row that could not be met.
fn blame(blamed: &mut [f64], row: &Row, problem: &Problem) {
    for (blamed, influence) in blamed.iter_mut().zip(row.influence(problem)) {
        *blamed = REMEMBERED * *blamed + influence;
    }
}

impl<'p> Tree<'p> {
    /// The tree of a problem, and the choice around which to look first.
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
        }
    }

    /// Looks first around another choice.
    pub fn guide(&mut self, choice: &[usize]) {
        self.guide.copy_from_slice(choice);
    }

    /// Looks only at what is within a level.
    pub fn within(&mut self, level: f64) {
        let (aim, points) = (self.aim, &self.problem.points);
        self.rows.set(self.problem, |p| aim.range(&points[p], p + 1 == points.len(), level));
    }

    /// Looks only at what is within a worst error and a sum of squares: what the other points must have of
    /// the sum, one point cannot.
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

    /// Takes programs from here on. A lower bound of the level: what any powers could reach, on clicks or
    /// not. Leaves the level to be set.
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

    /// The powers that some lights may have within a level, on clicks or not; the program is taken already.
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

    /// The least level at which a row can be met by any choice, found from below.
    fn least_level(&self, row: &Row, most: f64) -> f64 {
        let (mut row, whole) = (row.clone(), self.whole());
        let points = &self.problem.points;
        let mut is_open = |level: f64| {
            let range = |(p, point): (usize, &Point)| {
                point.of_lights(self.aim.range(point, p + 1 == points.len(), level))
            };
            row.set(&points.iter().enumerate().map(range).collect::<Vec<_>>());
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

    /// Walks the tree. At each whole choice calls `leaf`.
    /// None when all was seen; else a lower bound on the level of what was not.
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
            // The last pushed is looked at first.
            for low in [!guided_low, guided_low] {
                node[light] = if low { [middle + 1, last] } else { [first, middle] };
                stack.extend_from_slice(&node);
            }
        }
        None
    }

    /// Where to split the settings of a light, by the last of the first part, and whether to look first at the
    /// second part, which has less power.
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

    /// Narrows a node. Whether it is still open.
    fn narrow(&mut self, node: &mut [Domain]) -> bool {
        self.centre.clear();
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

    /// Narrows a node by the sum of squares. Whether it is still open.
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

    /// Narrows a node by a program. Every row that it proposes is worked out anew, so that nothing hangs on
    /// its last digits. An error is a row that cannot be met. Leaves the middle of what it saw in `centre`.
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
        // A light that was seen at an end need not be driven there: nothing could be cut off.
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

    /// The least level that a node allows.
    fn least(&self, node: &[Domain]) -> f64 {
        match self.aim {
            Aim::Worst => self.errors(node).fold(0.0, f64::max),
            Aim::Energy { .. } => self.lights(node).last().map_or(0.0, |(_, least, _)| least),
            Aim::Within { .. } => 0.0,
        }
    }
}
