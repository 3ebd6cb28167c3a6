//! A good first answer: multiplicative updates, then moves of one and of two lights.
//!
//! The better the first answer, the more the exact search can cut off. It needs no guarantee.

use super::{
    problem::{Problem, Score},
    search::Clock,
};

/// Rounds of multiplicative updates.
const UPDATES: usize = 60;
/// How far a light is moved on its own, and each of two together, in settings.
const ALONE: isize = 8;
const TOGETHER: isize = 3;

/// A choice near the continuous optimum, improved by moves.
pub fn start(problem: &Problem, clock: &mut Clock<'_>) -> (Vec<usize>, Score) {
    let mut power: Vec<f64> =
        problem.lights.iter().map(|levels| levels.power[levels.power.len() / 2]).collect();
    for _ in 0..UPDATES {
        update(problem, &mut power);
    }
    let choice =
        problem.lights.iter().zip(&power).map(|(levels, &power)| nearest(&levels.power, power)).collect();
    improve(problem, choice, clock)
}

/// Each light follows the errors of the points that it lights, by how much of their light is its own.
fn update(problem: &Problem, power: &mut [f64]) {
    let mut change = vec![0.0; power.len()];
    let mut share = vec![1e-12; power.len()];
    for point in &problem.points {
        let light =
            point.ambient + point.gain.iter().zip(&*power).map(|(gain, power)| gain * power).sum::<f64>();
        if light <= 0.0 {
            continue;
        }
        let error = point.error_stops(light);
        for (light_index, gain) in point.gain.iter().enumerate() {
            let own = gain * power[light_index] / light * point.weight;
            change[light_index] -= own * error;
            share[light_index] += own;
        }
    }
    for ((power, levels), (change, share)) in
        power.iter_mut().zip(&problem.lights).zip(change.iter().zip(share))
    {
        let full = levels.power[0];
        let floor = levels.power.iter().rev().find(|&&power| power > 0.0).copied().unwrap_or(full);
        *power = (*power * (change / share).exp2()).clamp(floor, full.max(floor));
    }
}

/// The setting nearest to a power on a logarithmic scale.
fn nearest(levels: &[f64], power: f64) -> usize {
    let after = levels.partition_point(|&level| level > power).min(levels.len() - 1);
    let before = after.saturating_sub(1);
    let off = |index: usize| (levels[index].max(1e-18) / power.max(1e-18)).log2().abs();
    if off(before) < off(after) { before } else { after }
}

/// Moves one light, then two together, for as long as that helps.
pub fn improve(problem: &Problem, mut choice: Vec<usize>, clock: &mut Clock<'_>) -> (Vec<usize>, Score) {
    let mut score = problem.score(&choice);
    let count = choice.len();
    let moved = |choice: &[usize], light: usize, by: isize| -> usize {
        let last = problem.lights[light].power.len() - 1;
        choice[light].saturating_add_signed(by).min(last)
    };
    let mut again = true;
    while again && !clock.is_out() {
        again = false;
        for light in 0..count {
            for by in -ALONE..=ALONE {
                let mut other = choice.clone();
                other[light] = moved(&choice, light, by);
                again |= keep(problem, &mut choice, &mut score, other);
            }
        }
        if again {
            continue;
        }
        for (first, second) in (0..count).flat_map(|a| (a + 1..count).map(move |b| (a, b))) {
            for (by_first, by_second) in
                (-TOGETHER..=TOGETHER).flat_map(|a| (-TOGETHER..=TOGETHER).map(move |b| (a, b)))
            {
                let mut other = choice.clone();
                other[first] = moved(&choice, first, by_first);
                other[second] = moved(&choice, second, by_second);
                again |= keep(problem, &mut choice, &mut score, other);
            }
            if clock.is_out() {
                break;
            }
        }
    }
    (choice, score)
}

fn keep(problem: &Problem, choice: &mut Vec<usize>, score: &mut Score, other: Vec<usize>) -> bool {
    if other == *choice {
        return false;
    }
    let new = problem.score(&other);
    let better = new.better_than(score);
    if better {
        *score = new;
        *choice = other;
    }
    better
}
