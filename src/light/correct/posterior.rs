//! The most probable errors of lights, given readings of them, and how sure that is.
//!
//! A reading of the lights A at point p is y = log2(a + Σ 2^(g - b + z)) + ε. The maximum a posteriori is found by
//! Gauss-Newton steps in the dual form, with one solve of the size of the readings each: with the shares J at the
//! present z, K = J·C·Jᵀ + R, z ← C·Jᵀ·K⁻¹·(y - f + J·z); then the covariance is C - C·Jᵀ·K⁻¹·J·C (linear Gaussian update,
//! as in texts on Bayesian inverse problems). C has a part for each light and one for each pair of light and point, so
//! that it is never written out.

use std::f64::consts::TAU;

use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

use crate::light::correct::prior::Prior;

/// The most Gauss-Newton steps.
const MAX_STEPS: usize = 30;
/// A step shorter than this is the last, stops.
const SAME_STOPS: f64 = 1e-5;
/// The longest step, stops: beyond it the light is not linear enough.
const LONGEST_STEP: f64 = 2.0;

/// A reading of one or more lights together.
#[derive(Debug, Clone, PartialEq)]
pub struct Metered {
    /// The index of its round.
    pub round: usize,
    /// The index of the point.
    pub point: usize,
    /// The light that each light was expected to give at its setting, as N²; 0 for one that was not on.
    pub light: Vec<f64>,
    /// Whether each light was at another setting than the one that its error is about.
    pub redialled: Vec<bool>,
    /// Ambient light, as N².
    pub ambient: f64,
    /// The light read, stops: the logarithm of N².
    pub stops: f64,
    /// The variance of the reading itself, stops².
    pub variance: f64,
}

impl Metered {
    /// The light expected in all, stops; `None` if there is none.
    pub fn expected(&self) -> Option<f64> {
        let light = self.ambient + self.light.iter().sum::<f64>();
        (light > 0.0).then(|| light.log2())
    }
}

/// What readings say of the lights.
#[derive(Debug, Clone)]
pub struct Posterior {
    /// What was known before.
    pub prior: Prior,
    /// The point of each reading.
    points: Vec<usize>,
    /// The most probable error of each light at each point, stops.
    pub pairs: DMatrix<f64>,
    /// What each reading is above what is now expected, stops.
    pub left_over: DVector<f64>,
    /// The logarithm of the probability density of the readings (Laplace).
    pub evidence: f64,
    /// The shares of the lights in each reading.
    shares: DMatrix<f64>,
    /// Shares times the covariance of the lights.
    through: DMatrix<f64>,
    covariance: Cholesky<f64, Dyn>,
    /// What each reading pulls.
    pulls: DVector<f64>,
}

impl Posterior {
    /// The posterior of readings, of which there is at least one. `None` if one cannot be: with no light at all.
    pub fn new(prior: Prior, readings: &[Metered]) -> Option<Self> {
        let none = DMatrix::zeros(prior.pairs.nrows(), prior.pairs.ncols());
        Self::beginning_at(none, prior, readings)
    }

    /// The same, sought from these errors of the pairs on, which it should be near to.
    pub fn beginning_at(mut pairs: DMatrix<f64>, prior: Prior, readings: &[Metered]) -> Option<Self> {
        let points: Vec<usize> = readings.iter().map(|reading| reading.point).collect();
        for _ in 0..MAX_STEPS {
            let step = Step::at(&prior, readings, &points, &pairs)?;
            let next = step.pairs(&prior, &points);
            let change = &next - &pairs;
            let longest = change.amax();
            pairs += change * (LONGEST_STEP / longest).min(1.0);
            if longest < SAME_STOPS {
                break;
            }
        }
        let step = Step::at(&prior, readings, &points, &pairs)?;
        let root: f64 = step.covariance.l_dirty().diagonal().iter().map(|root| root.ln()).sum();
        let count = readings.len() as f64;
        let evidence = -0.5 * step.gap.dot(&step.pulls) - root - 0.5 * count * TAU.ln();
        let Step { left_over, shares, through, covariance, pulls, .. } = step;
        Some(Self { prior, points, pairs, left_over, evidence, shares, through, covariance, pulls })
    }

    /// The most probable error of each light, stops.
    pub fn lights(&self) -> DVector<f64> {
        self.through.tr_mul(&self.pulls)
    }

    /// The covariance of the errors of the lights.
    pub fn covariance(&self) -> DMatrix<f64> {
        let root = self.root_of(self.through.clone());
        &self.prior.lights - root.tr_mul(&root)
    }

    /// The covariance of the readings with the error of a light at a point.
    pub fn with_pair(&self, light: usize, point: usize) -> DVector<f64> {
        let mut with = self.through.column(light).into_owned();
        for (reading, _) in self.points.iter().enumerate().filter(|(_, of)| **of == point) {
            with[reading] += self.shares[(reading, light)] * self.prior.pairs[(light, point)];
        }
        with
    }

    /// Columns over the root of the covariance of the readings: their squares are what the readings explain.
    pub fn root_of(&self, columns: DMatrix<f64>) -> DMatrix<f64> {
        let root = self.covariance.l_dirty();
        root.solve_lower_triangular(&columns).unwrap_or(columns)
    }

    /// How far each reading is from what all others say, in standard deviations of that.
    pub fn against_others(&self) -> Vec<f64> {
        let inverse = self.covariance.inverse();
        self.pulls.iter().zip(inverse.diagonal().iter()).map(|(pull, own)| pull / own.sqrt()).collect()
    }
}

/// The linear problem at the present errors.
struct Step {
    left_over: DVector<f64>,
    /// What is left over, with what the present errors explain.
    gap: DVector<f64>,
    shares: DMatrix<f64>,
    through: DMatrix<f64>,
    covariance: Cholesky<f64, Dyn>,
    pulls: DVector<f64>,
}

impl Step {
    fn at(prior: &Prior, readings: &[Metered], points: &[usize], pairs: &DMatrix<f64>) -> Option<Self> {
        let (count, lights) = (readings.len(), prior.lights.nrows());
        let mut shares = DMatrix::zeros(count, lights);
        let mut left_over = DVector::zeros(count);
        let mut gap = DVector::zeros(count);
        for (index, reading) in readings.iter().enumerate() {
            let mut total = reading.ambient;
            for (light, expected) in reading.light.iter().enumerate() {
                let now = expected * pairs[(light, reading.point)].exp2();
                shares[(index, light)] = now;
                total += now;
            }
            if total <= 0.0 {
                return None;
            }
            let mut row = shares.row_mut(index);
            row /= total;
            left_over[index] = reading.stops - total.log2();
            gap[index] = left_over[index] + row.transpose().dot(&pairs.column(reading.point));
        }
        let through = &shares * &prior.lights;
        let mut covariance = &through * shares.transpose();
        let products = |one: usize, other: usize, variances: &dyn Fn(usize) -> f64| -> f64 {
            let product = |light| shares[(one, light)] * shares[(other, light)] * variances(light);
            (0..lights).map(product).sum()
        };
        for one in 0..count {
            for other in 0..=one {
                let (a, b) = (&readings[one], &readings[other]);
                let mut more = 0.0;
                if points[one] == points[other] {
                    more += products(one, other, &|light| prior.pairs[(light, points[one])]);
                }
                if a.round == b.round && a.redialled.contains(&true) {
                    more += products(one, other, &|light| {
                        if a.redialled[light] { prior.dial[light] } else { 0.0 }
                    });
                }
                if one == other {
                    more += a.variance + products(one, one, &|light| prior.repeat[light]);
                }
                covariance[(one, other)] += more;
                if one != other {
                    covariance[(other, one)] += more;
                }
            }
        }
        let covariance = Cholesky::new(covariance)?;
        let pulls = covariance.solve(&gap);
        Some(Self { left_over, gap, shares, through, covariance, pulls })
    }

    /// The errors of all pairs that the linear problem makes most probable.
    fn pairs(&self, prior: &Prior, points: &[usize]) -> DMatrix<f64> {
        let own = self.through.tr_mul(&self.pulls);
        let mut pairs = DMatrix::from_fn(prior.pairs.nrows(), prior.pairs.ncols(), |light, _| own[light]);
        for (reading, &point) in points.iter().enumerate() {
            for light in 0..own.len() {
                pairs[(light, point)] +=
                    prior.pairs[(light, point)] * self.shares[(reading, light)] * self.pulls[reading];
            }
        }
        pairs
    }
}
