//! Small linear programs over the lights' powers and the light at points: the simplex method with bounds on every
//! variable (textbook; the form of Dutertre & de Moura, 2006, in which a basis stays valid when the bounds change).
//!
//! The numbers here prove nothing. They only propose sums of the points' rows, which [`super::rows`] works out anew
//! from the gains.

use crate::light::balance::problem::{Point, Problem};

/// Tolerance for a bound, in units of a point's target.
const MET: f64 = 1e-9;
/// Coefficients under this count as zero.
const TINY: f64 = 1e-9;
/// Most pivots of one program before it gives up.
const PIVOTS: usize = 400;

/// The outcome of a program.
#[derive(Debug, Clone, PartialEq)]
pub enum Verdict {
    /// All bounds can be met.
    Open,
    /// The bounds cannot be met; this sum of the points' rows shows it.
    Shut(Vec<f64>),
    /// The program gave up.
    Unknown,
}

/// A linear program. Its variables are the lights' powers, then the light at each point. Basic variables are sums of
/// the free ones.
#[derive(Debug, Clone)]
pub struct Program {
    lights: usize,
    /// The factors of these sums, column by column: a column for each free variable, a row for each basic one.
    table: Vec<f64>,
    basic: Vec<usize>,
    free: Vec<usize>,
    low: Vec<f64>,
    high: Vec<f64>,
    value: Vec<f64>,
    /// The unit of each variable.
    scale: Vec<f64>,
    /// Scratch space for a pivot.
    pivot_row: Vec<f64>,
    pivot_column: Vec<f64>,
}

impl Program {
    /// The program of a problem, with no bounds yet.
    pub fn new(problem: &Problem) -> Self {
        let (lights, points) = (problem.lights.len(), problem.points.len());
        let strongest = |l: usize| {
            problem.points.iter().map(|point| point.gain[l] / point.target).fold(f64::MIN_POSITIVE, f64::max)
        };
        let scale: Vec<f64> = (0..lights)
            .map(|l| 1.0 / strongest(l))
            .chain(problem.points.iter().map(|point| point.target))
            .collect();
        let factor = |light: usize, point: &Point| point.gain[light] / point.target * scale[light];
        let column = |light: usize| problem.points.iter().map(move |point| (light, point));
        let table = (0..lights).flat_map(column).map(|(light, point)| factor(light, point)).collect();
        Self {
            lights,
            table,
            basic: (lights..lights + points).collect(),
            free: (0..lights).collect(),
            low: vec![0.0; lights + points],
            high: vec![0.0; lights + points],
            value: vec![0.0; lights + points],
            scale,
            pivot_row: vec![0.0; lights],
            pivot_column: vec![0.0; points],
        }
    }

    /// Bounds the light at a point.
    pub fn bound_point(&mut self, point: usize, range: [f64; 2]) {
        self.bound(self.lights + point, range);
    }

    /// Bounds the power of a light.
    pub fn bound_light(&mut self, light: usize, range: [f64; 2]) {
        self.bound(light, range);
    }

    /// The power of a light in the current solution.
    pub fn power(&self, light: usize) -> f64 {
        self.value[light] * self.scale[light]
    }

    fn bound(&mut self, variable: usize, [low, high]: [f64; 2]) {
        self.low[variable] = low / self.scale[variable];
        self.high[variable] = high / self.scale[variable];
    }

    /// Whether all bounds can be met.
    pub fn solve(&mut self) -> Verdict {
        for &variable in &self.free {
            // Not `clamp`, which panics if the bounds cross: narrowed bounds may, in their last digits.
            self.value[variable] = self.value[variable].max(self.low[variable]).min(self.high[variable]);
        }
        self.pivot_column.fill(0.0);
        for (column, &free) in self.table.chunks_exact(self.basic.len()).zip(&self.free) {
            let value = self.value[free];
            self.pivot_column.iter_mut().zip(column).for_each(|(sum, factor)| *sum += factor * value);
        }
        for (&variable, &value) in self.basic.iter().zip(&self.pivot_column) {
            self.value[variable] = value;
        }
        for _ in 0..PIVOTS {
            let off = |&row: &usize| {
                let variable = self.basic[row];
                (self.low[variable] - self.value[variable]).max(self.value[variable] - self.high[variable])
            };
            let Some(row) =
                (0..self.basic.len()).filter(|row| off(row) > MET).max_by(|a, b| off(a).total_cmp(&off(b)))
            else {
                return Verdict::Open;
            };
            let variable = self.basic[row];
            let up = self.value[variable] < self.low[variable];
            let Some(column) = self.entering(row, up) else {
                return Verdict::Shut(self.sum_of_points(row));
            };
            let wanted = if up { self.low[variable] } else { self.high[variable] };
            let by = (wanted - self.value[variable]) / self.factor(row, column);
            self.shift(column, by);
            self.pivot(row, column);
        }
        Verdict::Unknown
    }

    /// Drives the power of a light up or down as far as the bounds allow, from the solution that [`Self::solve`] left.
    /// Returns the sum of points' rows that stops it, `None` if its own bound does.
    pub fn drive(&mut self, light: usize, up: bool) -> Option<Vec<f64>> {
        for _ in 0..PIVOTS {
            let (column, rising) = match self.basic.iter().position(|&variable| variable == light) {
                None => (self.free.iter().position(|&variable| variable == light)?, up),
                Some(row) => match self.entering(row, up) {
                    Some(column) => (column, (self.factor(row, column) > 0.0) == up),
                    None => return Some(self.sum_of_points(row)),
                },
            };
            let direction = if rising { 1.0 } else { -1.0 };
            let free = self.free[column];
            let end =
                if rising { self.high[free] - self.value[free] } else { self.value[free] - self.low[free] };
            let mut most = end.max(0.0);
            let mut stopper = None;
            let rates = &self.table[column * self.basic.len()..];
            for (row, (&variable, rate)) in self.basic.iter().zip(rates).enumerate() {
                let rate = rate * direction;
                if rate.abs() <= TINY {
                    continue;
                }
                let end = if rate > 0.0 { self.high[variable] } else { self.low[variable] };
                let room = ((end - self.value[variable]) / rate).max(0.0);
                if room < most {
                    most = room;
                    stopper = Some(row);
                }
            }
            self.shift(column, most * direction);
            match stopper {
                Some(row) if self.basic[row] == light => return None,
                Some(row) => self.pivot(row, column),
                None if free == light => return None,
                None => {}
            }
        }
        None
    }

    /// The free variable with the most effect on a basic one, among those that can move it up (or down).
    fn entering(&self, row: usize, up: bool) -> Option<usize> {
        let mut best = None;
        let mut most = TINY;
        for (column, &free) in self.free.iter().enumerate() {
            let factor = self.factor(row, column);
            if factor.abs() <= most {
                continue;
            }
            let can = if (factor > 0.0) == up {
                self.value[free] < self.high[free] - 1e-12
            } else {
                self.value[free] > self.low[free] + 1e-12
            };
            if can {
                most = factor.abs();
                best = Some(column);
            }
        }
        best
    }

    fn factor(&self, row: usize, column: usize) -> f64 {
        self.table[column * self.basic.len() + row]
    }

    /// Changes a free variable, and the basic ones with it.
    fn shift(&mut self, column: usize, by: f64) {
        self.value[self.free[column]] += by;
        for (factor, &variable) in self.table[column * self.basic.len()..].iter().zip(&self.basic) {
            self.value[variable] += factor * by;
        }
    }

    /// Swaps a basic variable with a free one.
    fn pivot(&mut self, row: usize, column: usize) {
        let rows = self.basic.len();
        let head = 1.0 / self.factor(row, column);
        for (other, pivot) in self.pivot_row.iter_mut().enumerate() {
            *pivot = -head * self.table[other * rows + row];
        }
        self.pivot_column.copy_from_slice(&self.table[column * rows..][..rows]);
        self.pivot_column[row] = 0.0;
        for (other, &pivot) in self.pivot_row.iter().enumerate() {
            if pivot == 0.0 || other == column {
                continue;
            }
            let values = &mut self.table[other * rows..][..rows];
            values.iter_mut().zip(&self.pivot_column).for_each(|(value, factor)| *value += factor * pivot);
            values[row] = pivot;
        }
        let own = &mut self.table[column * rows..][..rows];
        for value in &mut *own {
            *value *= head;
        }
        own[row] = head;
        std::mem::swap(&mut self.basic[row], &mut self.free[column]);
    }

    /// A basic variable's row as a sum of the points' rows.
    fn sum_of_points(&self, row: usize) -> Vec<f64> {
        let mut sum = vec![0.0; self.scale.len() - self.lights];
        let mut add = |variable: usize, factor: f64| {
            if variable >= self.lights {
                sum[variable - self.lights] = factor / self.scale[variable];
            }
        };
        add(self.basic[row], -1.0);
        for (column, &free) in self.free.iter().enumerate() {
            add(free, self.factor(row, column));
        }
        sum
    }
}
