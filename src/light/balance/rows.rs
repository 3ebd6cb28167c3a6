//! Linear constraints (rows) over the lights' powers, which every answer within a worst error satisfies.
//!
//! A worst error makes each point a row: least ≤ ambient + Σ gain·power ≤ most. Sums of rows hold as well, such as the
//! rows of the pseudo-inverse of the gains. If every light spills on every point, each of these bounds almost one light
//! alone, which the points' own rows do not.

pub use crate::light::balance::problem::Domain;
use crate::light::balance::problem::{Levels, Point, Problem, Sides};

/// One row: least ≤ Σ factor·power ≤ most.
#[derive(Debug, Clone)]
pub struct Row {
    factors: Vec<f64>,
    /// The factors of the points' rows in this row.
    of_points: Vec<f64>,
    least: f64,
    most: f64,
}

/// All rows of a problem.
#[derive(Debug, Clone)]
pub struct Rows {
    rows: Vec<Row>,
    /// The range that each point's light, without ambient, must lie in.
    ranges: Vec<[f64; 2]>,
    /// The most light that the lights can give each point: all that bounds it where at least so much is wanted.
    brightest: Vec<f64>,
}

/// Room for rounding, relative to the sizes in a row, so that no optimum is cut off.
const ROOM: f64 = 1e-11;

impl Rows {
    /// The points' own rows and those of the pseudo-inverse, if there is one.
    pub fn new(problem: &Problem) -> Self {
        let count = problem.points.len();
        let unit = |at: usize| (0..count).map(|p| f64::from(u8::from(p == at))).collect::<Vec<_>>();
        let of_points = (0..count).map(unit).chain(pseudo_inverse(problem).unwrap_or_default());
        let rows = of_points.map(|of_points| Row::new(problem, of_points)).collect();
        let full = |point: &Point| {
            let lights = problem.lights.iter().zip(&point.gain);
            (1.0 + ROOM) * lights.map(|(levels, gain)| gain * levels.power[0]).sum::<f64>()
        };
        let brightest = problem.points.iter().map(full).collect();
        Self { rows, ranges: vec![[0.0; 2]; count], brightest }
    }

    /// Sets the bounds of every row from the range of light at each point.
    pub fn set(&mut self, problem: &Problem, range: impl Fn(usize) -> [f64; 2]) {
        self.ranges = self.of_lights(problem, range);
        self.rows.iter_mut().for_each(|row| row.set(&self.ranges));
    }

    /// The part of each point's range that the lights must give.
    pub fn of_lights(&self, problem: &Problem, range: impl Fn(usize) -> [f64; 2]) -> Vec<[f64; 2]> {
        let of_lights = |(p, point): (usize, &Point)| {
            let [least, most] = point.of_lights(range(p));
            [least, if point.sides == Sides::AtLeast { self.brightest[p] } else { most }]
        };
        problem.points.iter().enumerate().map(of_lights).collect()
    }

    /// The range that each point's light, without ambient, must lie in.
    pub fn ranges(&self) -> &[[f64; 2]] {
        &self.ranges
    }

    /// Adds a row.
    pub fn learn(&mut self, mut row: Row) {
        row.set(&self.ranges);
        self.rows.push(row);
    }

    /// Narrows the domains by a sum of the points' rows, without adding it. Whether they changed; the error is the row if
    /// it cannot be met.
    pub fn narrow_by(
        &self,
        problem: &Problem,
        of_points: Vec<f64>,
        domains: &mut [Domain],
    ) -> Result<bool, Row> {
        let mut row = Row::new(problem, of_points);
        row.set(&self.ranges);
        row.narrow(problem, domains).ok_or(row)
    }

    /// Narrows the domains until no row narrows them further. The error is a row that cannot be met.
    pub fn narrow(&self, problem: &Problem, domains: &mut [Domain]) -> Result<(), &Row> {
        // Convergence is slow near the end; branching does the rest.
        for _ in 0..16 {
            let mut changed = false;
            for row in &self.rows {
                changed |= row.narrow(problem, domains).ok_or(row)?;
            }
            if !changed {
                break;
            }
        }
        Ok(())
    }
}

impl Row {
    /// How far each light can move the row, from 0 to 1 for the strongest.
    pub fn influence(&self, problem: &Problem) -> impl Iterator<Item = f64> {
        let sway = |(factor, levels): (&f64, &Levels)| {
            (factor * (levels.power[0] - levels.power[levels.power.len() - 1])).abs()
        };
        let most = self.factors.iter().zip(&problem.lights).map(sway).fold(f64::MIN_POSITIVE, f64::max);
        self.factors.iter().zip(&problem.lights).map(move |pair| sway(pair) / most)
    }

    /// A sum of the points' rows, with bounds still to be set.
    pub fn new(problem: &Problem, of_points: Vec<f64>) -> Self {
        let factors = (0..problem.lights.len())
            .map(|l| of_points.iter().zip(&problem.points).map(|(u, point)| u * point.gain[l]).sum())
            .collect();
        Self { factors, of_points, least: 0.0, most: 0.0 }
    }

    /// A sum of the points' rows with an upper bound.
    pub fn under(problem: &Problem, of_points: Vec<f64>, most: f64) -> Self {
        Self { least: f64::NEG_INFINITY, most, ..Self::new(problem, of_points) }
    }

    /// Sets the bounds from the range of each point's light without ambient.
    pub fn set(&mut self, ranges: &[[f64; 2]]) {
        // The room of each bound follows its own size: the other bound may be a thousand times as large.
        let [mut least, mut most] = [[0.0; 2]; 2];
        for (factor, [low, high]) in self.of_points.iter().zip(ranges) {
            let ends = [factor * low, factor * high];
            for (sum, end) in [(&mut least, ends[0].min(ends[1])), (&mut most, ends[0].max(ends[1]))] {
                sum[0] += end;
                sum[1] += end.abs();
            }
        }
        self.least = least[0] - ROOM * least[1];
        self.most = most[0] + ROOM * most[1];
    }

    /// The least and the most power that the row allows a light, whatever the others do within their domains.
    pub fn reach(&self, problem: &Problem, domains: &[Domain], light: usize) -> [f64; 2] {
        let (mut low, mut high, mut size) = (0.0, 0.0, 0.0);
        for (at, ((factor, levels), domain)) in
            self.factors.iter().zip(&problem.lights).zip(domains).enumerate()
        {
            let ends = levels.ends(*domain).map(|power| factor * power);
            size += ends[0].abs().max(ends[1].abs());
            if at != light {
                low += ends[0].min(ends[1]);
                high += ends[0].max(ends[1]);
            }
        }
        let (factor, room) = (self.factors[light], ROOM * size);
        if factor == 0.0 {
            return [0.0, f64::INFINITY];
        }
        let ends = [(self.least - high - room) / factor, (self.most - low + room) / factor];
        [ends[0].min(ends[1]), ends[0].max(ends[1])]
    }

    /// Narrows the domains. Whether they changed; `None` if the row cannot be met.
    pub fn narrow(&self, problem: &Problem, domains: &mut [Domain]) -> Option<bool> {
        let (mut low, mut high, mut size) = (0.0, 0.0, 0.0);
        for ((factor, levels), domain) in self.factors.iter().zip(&problem.lights).zip(&*domains) {
            let ends = levels.ends(*domain).map(|power| factor * power);
            low += ends[0].min(ends[1]);
            high += ends[0].max(ends[1]);
            size += ends[0].abs().max(ends[1].abs());
        }
        let room = ROOM * size;
        if low > self.most + room || high < self.least - room {
            return None;
        }
        if low >= self.least && high <= self.most {
            return Some(false);
        }
        let mut changed = false;
        for ((&factor, levels), domain) in self.factors.iter().zip(&problem.lights).zip(domains) {
            if domain[0] == domain[1] || factor == 0.0 {
                continue;
            }
            let ends = levels.ends(*domain).map(|power| factor * power);
            // What the others, at their least or their most, leave to this light.
            let most = (self.most - (low - ends[0].min(ends[1])) + room) / factor;
            let least = (self.least - (high - ends[0].max(ends[1])) - room) / factor;
            let (least, most) = if factor > 0.0 { (least, most) } else { (most, least) };
            let open = &levels.power[usize::from(domain[0])..=usize::from(domain[1])];
            let first = open.partition_point(|&power| power > most);
            let end = open.partition_point(|&power| power >= least);
            if first >= end {
                return None;
            }
            if first > 0 || end < open.len() {
                let from = domain[0];
                *domain = [from + first as u16, from + (end - 1) as u16];
                changed = true;
                // Update the row's sums for the lights that follow.
                let new = levels.ends(*domain).map(|power| factor * power);
                low += new[0].min(new[1]) - ends[0].min(ends[1]);
                high += new[0].max(new[1]) - ends[0].max(ends[1]);
            }
        }
        Some(changed)
    }
}

/// (GᵀG)⁻¹Gᵀ of the gains with rows scaled by their targets, row by row; `None` if G is singular.
fn pseudo_inverse(problem: &Problem) -> Option<Vec<Vec<f64>>> {
    let (lights, points) = (problem.lights.len(), problem.points.len());
    if lights > points || lights < 2 {
        return None;
    }
    let scaled = |p: usize, l: usize| {
        let point = &problem.points[p];
        // A limit bounds one side only.
        if point.is_limit() { 0.0 } else { point.gain[l] / point.target }
    };
    // Gauss-Jordan elimination on [GᵀG | Gᵀ] with pivoting.
    let mut table: Vec<Vec<f64>> = (0..lights)
        .map(|i| {
            let square = (0..lights).map(|j| (0..points).map(|p| scaled(p, i) * scaled(p, j)).sum());
            square.chain((0..points).map(|p| scaled(p, i))).collect()
        })
        .collect();
    for column in 0..lights {
        let pivot =
            (column..lights).max_by(|&a, &b| table[a][column].abs().total_cmp(&table[b][column].abs()))?;
        table.swap(column, pivot);
        let head = table[column][column];
        if head.abs() < 1e-12 {
            return None;
        }
        table[column].iter_mut().for_each(|value| *value /= head);
        let done = table[column].clone();
        for (index, row) in table.iter_mut().enumerate() {
            let factor = row[column];
            if index != column && factor != 0.0 {
                row.iter_mut().zip(&done).for_each(|(value, pivot)| *value -= factor * pivot);
            }
        }
    }
    let rows = table.into_iter().map(|row| {
        let row = row[lights..].iter().enumerate();
        row.map(|(p, value)| value / problem.points[p].target).collect()
    });
    Some(rows.collect())
}
