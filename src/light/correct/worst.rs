//! The expected worst error of several points.

use crate::light::{correct::chance::chance_within, quantity::half_widths::SIGMAS};

/// Steps of the integral; the worst error is smooth, so that these give it to a thousandth of itself.
const STEPS: u32 = 24;

/// The expected worst error of points whose errors are independent and normal about 0, with these variances, stops: the
/// integral of the probability that some error is larger (midpoint rule; derived).
pub fn expected_worst(variances: &[f64]) -> f64 {
    let deviations: Vec<f64> = variances.iter().map(|variance| variance.max(0.0).sqrt()).collect();
    let widest = deviations.iter().copied().fold(0.0, f64::max);
    // The largest of a thousand normal errors is within 5 standard deviations, but for one in two thousand.
    let step = 5.0 * widest / f64::from(STEPS);
    // Points that are this much surer are never the worst.
    let matter: Vec<f64> = deviations.into_iter().filter(|deviation| *deviation > 0.2 * widest).collect();
    let exceeds = |at: f64| {
        let within: f64 = matter.iter().map(|deviation| chance_within(at, deviation * SIGMAS)).product();
        1.0 - within
    };
    (0..STEPS).map(|index| exceeds((f64::from(index) + 0.5) * step)).sum::<f64>() * step
}
