//! A lower bound on a node's sum of squared errors.
//!
//! The square of an error in stops is convex in light up to e times the target (textbook calculus). There, a tangent
//! bounds it from below; elsewhere a chord or the least value does. The sum of these bounds over the points is linear
//! in the lights' powers: one more row. Any tangent is valid; the tangent near the least sum bounds best.

use std::f64::consts::{E, LN_2};

use crate::light::balance::{
    problem::{Domain, Point, Problem, Sides},
    rows::Row,
};

/// Rounds over the lights towards the least sum, starting from the result for the node before.
const ROUNDS: usize = 3;
/// Tangents to try, each nearer to the target.
const FLATTER: usize = 6;

/// A row that holds for every choice of a node whose sum of squares is at most `most` and whose lights give each point
/// light within `ranges`. `powers` is an estimate of where the sum is least; it is improved.
pub fn row(problem: &Problem, node: &[Domain], ranges: &[[f64; 2]], most: f64, powers: &mut Vec<f64>) -> Row {
    let ends: Vec<[f64; 2]> =
        problem.lights.iter().zip(node).map(|(levels, domain)| levels.ends(*domain)).collect();
    let light = approach(problem, &ends, powers);
    let mut free = most;
    let slopes = problem.points.iter().zip(ranges).zip(&light).map(|((point, range), light)| {
        let (mut least, mut most) = (0.0, 0.0);
        for (gain, [low, high]) in point.gain.iter().zip(&ends) {
            least += gain * low;
            most += gain * high;
        }
        let least = point.ambient + f64::max(least, range[0]);
        let most = point.ambient + f64::min(most, range[1]);
        let (slope, at, value) = under(point, least, most.max(least), *light);
        free -= value - slope * (at - point.ambient);
        slope
    });
    let slopes = slopes.collect();
    Row::under(problem, slopes, free)
}

/// A line under the square of the weighted error between two amounts of light: slope, light and value there.
fn under(point: &Point, least: f64, most: f64, near: f64) -> (f64, f64, f64) {
    let square = |light: f64| (point.weight * point.error_stops(light)).powi(2);
    // Without light at all, a tangent would be upright; below a target at most, nothing is an error.
    let dark = 1e-15 * point.target;
    let least = if point.sides == Sides::AtMost { least.max(dark) } else { least };
    let is_flat = most - least <= 1e-12 * most;
    if !is_flat && least >= dark && least < E * point.target {
        // The square is concave beyond e times the target. If the interval ends there, a tangent lies under the square
        // if it does so at that end. Nearer to the target, tangents are flatter.
        let flattest = point.target.clamp(least, most);
        let mut at = near.clamp(least, most.min(E * point.target));
        for _ in 0..FLATTER {
            let slope = 2.0 * point.weight.powi(2) * point.error_stops(at) / (at * LN_2);
            if most <= E * point.target || square(at) + slope * (most - at) <= square(most) {
                return (slope, at, square(at));
            }
            at = (at * flattest).sqrt();
        }
    }
    if !is_flat && least >= E * point.target {
        return ((square(most) - square(least)) / (most - least), least, square(least));
    }
    (0.0, least, (point.weight * point.least_error(least, most)).powi(2))
}

/// Moves powers towards the least sum of squares, light by light (Gauss-Newton steps). Returns the light at each point.
fn approach(problem: &Problem, ends: &[[f64; 2]], powers: &mut Vec<f64>) -> Vec<f64> {
    if powers.len() != ends.len() {
        *powers = ends.iter().map(|[low, high]| (low * high).sqrt()).collect();
    }
    for (power, [low, high]) in powers.iter_mut().zip(ends) {
        *power = power.max(low.max(1e-6 * high)).min(*high);
    }
    let light_of = |point: &Point| {
        point.ambient + point.gain.iter().zip(&*powers).map(|(gain, power)| gain * power).sum::<f64>()
    };
    let mut light: Vec<f64> = problem.points.iter().map(light_of).collect();
    for _ in 0..ROUNDS {
        for (index, [low, high]) in ends.iter().enumerate() {
            if low >= high {
                continue;
            }
            let (mut slope, mut bend) = (0.0, 0.0);
            for (point, light) in problem.points.iter().zip(&light) {
                let own = point.gain[index] * point.weight / light.max(f64::MIN_POSITIVE);
                let error = point.error_stops(*light);
                if own > 0.0 && error != 0.0 {
                    slope += own * point.weight * error;
                    bend += own * own;
                }
            }
            let to = (powers[index] - slope * LN_2 / bend.max(f64::MIN_POSITIVE))
                .max(low.max(1e-6 * high))
                .min(*high);
            let by = to - powers[index];
            powers[index] = to;
            light.iter_mut().zip(&problem.points).for_each(|(light, point)| *light += point.gain[index] * by);
        }
    }
    light
}
