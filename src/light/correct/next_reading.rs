//! The one further reading that would teach most: a light alone at a point.
//!
//! A reading of it with variance r² makes of the covariance S of the points S - s·sᵀ/(v + r²), with its own variance v and
//! its covariance s with them (linear Gaussian update). The best makes the expected worst error at the points least
//! (optimal design of experiments).

use nalgebra::{DMatrix, DVector};

use crate::light::correct::{posterior::Posterior, worst::expected_worst};

/// Candidates whose expected worst error is computed: those that leave the least by a norm that comes near it.
const SHORTLIST: usize = 16;
/// The exponent of that norm of the variances.
const NORM: i32 = 4;
/// A reading that takes less than this off the expected worst error is not worth it, stops (our judgement).
const WORTH: f64 = 0.02;
/// An expected worst error below this needs no further reading, stops (our judgement: what a meter of tenths shows).
const SURE: f64 = 0.1;

/// How sure the points are, and what would help.
pub struct Outlook {
    /// The variance of the light at each point, stops².
    pub variances: Vec<f64>,
    /// The expected worst error at the points, stops.
    pub worst_now: f64,
    /// The reading that would help most.
    pub next: Option<Next>,
}

/// A reading of a light alone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Next {
    /// The index of the light.
    pub light: usize,
    /// The index of the point.
    pub point: usize,
    /// The expected worst error after it, stops.
    pub worst_then: f64,
}

/// A candidate, and what it leaves.
pub struct Candidate {
    /// The index of the light.
    pub light: usize,
    /// The index of the point.
    pub point: usize,
    /// The variance of the light at each point after it, stops².
    pub variances: Vec<f64>,
}

/// The outlook for lights with these shares of the light at each point (by point and light). `extra` is the variance at each
/// point that no reading takes away, `reading` that of a reading; `is_readable` says which lights can be metered alone at
/// which points.
pub fn outlook(
    posterior: &Posterior,
    shares: &DMatrix<f64>,
    extra: &[f64],
    reading: f64,
    is_readable: impl Fn(usize, usize) -> bool,
) -> Outlook {
    let (variances, candidates) = variances_after(posterior, shares, extra, reading, is_readable);
    let worst_now = expected_worst(&variances);
    let norm = |candidate: &Candidate| candidate.variances.iter().map(|variance| variance.powi(NORM)).sum();
    let mut candidates: Vec<(f64, Candidate)> =
        candidates.into_iter().map(|candidate| (norm(&candidate), candidate)).collect();
    candidates.sort_by(|a, b| a.0.total_cmp(&b.0));
    let tried = candidates.iter().take(SHORTLIST).map(|(_, candidate)| Next {
        light: candidate.light,
        point: candidate.point,
        worst_then: expected_worst(&candidate.variances),
    });
    let best = tried.min_by(|a, b| a.worst_then.total_cmp(&b.worst_then));
    let next = best.filter(|next| worst_now > SURE && worst_now - next.worst_then >= WORTH);
    Outlook { variances, worst_now, next }
}

/// The variance of the light at each point, now and after each reading that can be taken.
pub fn variances_after(
    posterior: &Posterior,
    shares: &DMatrix<f64>,
    extra: &[f64],
    reading: f64,
    is_readable: impl Fn(usize, usize) -> bool,
) -> (Vec<f64>, Vec<Candidate>) {
    let prior = &posterior.prior;
    let (points, lights) = shares.shape();
    let by_light = shares * &prior.lights;
    let columns: Vec<DVector<f64>> = (0..points)
        .map(|point| {
            let own = |light: usize| posterior.with_pair(light, point) * shares[(point, light)];
            (0..lights).map(own).sum()
        })
        .collect();
    let explained = posterior.root_of(DMatrix::from_columns(&columns));
    let reducible: Vec<f64> = (0..points)
        .map(|point| {
            let own = |light: usize| shares[(point, light)].powi(2) * prior.pairs[(light, point)];
            let before = by_light.row(point).transpose().dot(&shares.row(point).transpose())
                + (0..lights).map(own).sum::<f64>();
            before - explained.column(point).norm_squared()
        })
        .collect();
    let variances: Vec<f64> = reducible.iter().zip(extra).map(|(own, extra)| own.max(0.0) + extra).collect();
    let mut candidates = Vec::new();
    for at in 0..points {
        let of: Vec<usize> = (0..lights).filter(|&light| is_readable(light, at)).collect();
        if of.is_empty() {
            continue;
        }
        let with: Vec<DVector<f64>> = of.iter().map(|&light| posterior.with_pair(light, at)).collect();
        let root = posterior.root_of(DMatrix::from_columns(&with));
        let common = explained.tr_mul(&root);
        for (column, &light) in of.iter().enumerate() {
            let own =
                prior.lights[(light, light)] + prior.pairs[(light, at)] - root.column(column).norm_squared();
            let all = own.max(0.0) + reading + prior.repeat[light];
            let then: Vec<f64> = (0..points)
                .map(|point| {
                    let pair =
                        if point == at { shares[(point, light)] * prior.pairs[(light, at)] } else { 0.0 };
                    let covariance = by_light[(point, light)] + pair - common[(point, column)];
                    (variances[point] - covariance * covariance / all).max(extra[point])
                })
                .collect();
            candidates.push(Candidate { light, point: at, variances: then });
        }
    }
    (variances, candidates)
}
