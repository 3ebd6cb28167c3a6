//! A good first answer: multiplicative updates, then moves of one and of two lights.
//!
//! The better the first answer, the more the exact search can cut off. Nothing rests on it.

use crate::light::balance::{
    clock::Clock,
    problem::{Levels, Point, Problem, SAME_SQUARES, SAME_WORST, Score},
};

/// Rounds of multiplicative updates.
const UPDATES: usize = 60;
/// How far one light is moved, and each of two moved together, in settings.
const ALONE: isize = 8;
const TOGETHER: isize = 3;

/// A choice near the continuous optimum, improved by moves.
pub fn start(problem: &Problem, clock: &mut Clock<'_>) -> (Vec<usize>, Score) {
    let mut power: Vec<f64> =
        problem.lights.iter().map(|levels| levels.power[levels.power.len() / 2]).collect();
    for _ in 0..UPDATES {
        update(problem, &mut power);
    }
    let mut choice: Vec<usize> =
        problem.lights.iter().zip(&power).map(|(levels, &power)| nearest(&levels.power, power)).collect();
    for limit in problem.points.iter().filter(|point| point.is_limit()) {
        keep_within(problem, limit, &mut choice);
    }
    improve(problem, choice, clock)
}

/// Dims the lights of a limit, a setting each in turn, until they are within it or at their least.
fn keep_within(problem: &Problem, limit: &Point, choice: &mut [usize]) {
    let [_, most] = limit.range(0.0);
    let mut again = true;
    while again {
        again = false;
        for light in (0..choice.len()).filter(|&light| limit.gain[light] > 0.0) {
            if problem.achieved(choice, limit) <= most {
                return;
            }
            if choice[light] + 1 < problem.lights[light].power.len() {
                choice[light] += 1;
                again = true;
            }
        }
    }
}

/// Changes each light by the mean error of the points, weighted by its share of their light.
fn update(problem: &Problem, power: &mut [f64]) {
    let mut change = vec![0.0; power.len()];
    let mut share = vec![1e-12; power.len()];
    for point in problem.metered() {
        let light =
            point.ambient + point.gain.iter().zip(&*power).map(|(gain, power)| gain * power).sum::<f64>();
        let error = point.error_stops(light);
        // What is right on the side that does not count says nothing about the lights.
        if light <= 0.0 || error == 0.0 {
            continue;
        }
        for (light_index, gain) in point.gain.iter().enumerate() {
            let own = gain * power[light_index] / light * point.weight;
            change[light_index] -= own * error;
            share[light_index] += own;
        }
    }
    for ((power, levels), (change, share)) in
        power.iter_mut().zip(&problem.lights).zip(change.iter().zip(share))
    {
        *power = on(levels, *power * (change / share).exp2());
    }
    for limit in problem.points.iter().filter(|point| point.is_limit()) {
        let light = limit.gain.iter().zip(&*power).map(|(gain, power)| gain * power).sum::<f64>();
        let part = (limit.target - limit.ambient) / light;
        for (light, levels) in problem.lights.iter().enumerate() {
            if part < 1.0 && limit.gain[light] > 0.0 {
                power[light] = on(levels, power[light] * part);
            }
        }
    }
}

/// A power within those of a light that is on.
fn on(levels: &Levels, power: f64) -> f64 {
    let full = levels.power[0];
    let floor = levels.power.iter().rev().find(|&&power| power > 0.0).copied().unwrap_or(full);
    power.clamp(floor, full.max(floor))
}

/// The setting nearest to a power on a logarithmic scale.
fn nearest(levels: &[f64], power: f64) -> usize {
    let after = levels.partition_point(|&level| level > power).min(levels.len() - 1);
    let before = after.saturating_sub(1);
    let off = |index: usize| (levels[index].max(1e-18) / power.max(1e-18)).log2().abs();
    if off(before) < off(after) { before } else { after }
}

/// Moves one light at a time, then two together, until no move helps.
pub fn improve(problem: &Problem, choice: Vec<usize>, clock: &mut Clock<'_>) -> (Vec<usize>, Score) {
    let mut moves = Moves::new(problem, choice);
    let count = problem.lights.len();
    let mut again = true;
    while again && !clock.is_out() {
        again = false;
        for light in 0..count {
            for by in -ALONE..=ALONE {
                again |= moves.keep([(light, by), (light, 0)]);
            }
        }
        if again {
            continue;
        }
        for (first, second) in (0..count).flat_map(|a| (a + 1..count).map(move |b| (a, b))) {
            for (by_first, by_second) in
                (-TOGETHER..=TOGETHER).flat_map(|a| (-TOGETHER..=TOGETHER).map(move |b| (a, b)))
            {
                again |= moves.keep([(first, by_first), (second, by_second)]);
            }
            if clock.is_out() {
                break;
            }
        }
    }
    (moves.choice, moves.score)
}

/// A choice with its light at every point, so that judging a move takes no sum over all lights.
struct Moves<'p> {
    problem: &'p Problem,
    /// Gain by light, then by point.
    gain: Vec<Vec<f64>>,
    choice: Vec<usize>,
    score: Score,
    light: Vec<f64>,
    /// Weighted error of each point.
    error: Vec<f64>,
    /// The range of light at each point with no greater worst error.
    ranges: Vec<[f64; 2]>,
    /// The point with the worst error. Moves are checked there first: most fail.
    worst: usize,
}

impl<'p> Moves<'p> {
    fn new(problem: &'p Problem, choice: Vec<usize>) -> Self {
        let gain = (0..problem.lights.len())
            .map(|l| problem.points.iter().map(|point| point.gain[l]).collect())
            .collect();
        let score = problem.score(&choice);
        let mut moves =
            Self { problem, gain, choice, score, light: vec![], error: vec![], ranges: vec![], worst: 0 };
        moves.settle();
        moves
    }

    /// Recomputes everything that depends on the choice.
    fn settle(&mut self) {
        let points = &self.problem.points;
        self.score = self.problem.score(&self.choice);
        self.light = points.iter().map(|point| self.problem.achieved(&self.choice, point)).collect();
        let worst = self.score.worst + SAME_WORST;
        self.ranges = points.iter().map(|point| point.range(worst)).collect();
        let errors = points.iter().zip(&self.light);
        self.error = errors.map(|(point, &light)| point.weight * point.error_stops(light).abs()).collect();
        let error = &self.error;
        self.worst = (0..points.len()).max_by(|&a, &b| error[a].total_cmp(&error[b])).unwrap_or(0);
    }

    /// Makes a move of up to two lights if it improves the score. Whether it did.
    fn keep(&mut self, moves: [(usize, isize); 2]) -> bool {
        let mut to = [0; 2];
        let mut change = [0.0; 2];
        for (slot, (light, by)) in moves.into_iter().enumerate() {
            let power = &self.problem.lights[light].power;
            to[slot] = self.choice[light].saturating_add_signed(by).min(power.len() - 1);
            change[slot] = power[to[slot]] - power[self.choice[light]];
        }
        if change.iter().all(|change| *change == 0.0) {
            return false;
        }
        let [(first, _), (second, _)] = moves;
        let (gain, other) = (&self.gain[first], &self.gain[second]);
        let within = |p: usize| {
            let light = self.light[p] + gain[p] * change[0] + other[p] * change[1];
            self.ranges[p][0] <= light && light <= self.ranges[p][1]
        };
        if !within(self.worst) || !(0..self.light.len()).all(within) {
            return false;
        }
        if self.is_worse(|p| gain[p] * change[0] + other[p] * change[1]) {
            return false;
        }
        let before = [self.choice[first], self.choice[second]];
        self.choice[first] = to[0];
        if second != first {
            self.choice[second] = to[1];
        }
        if self.problem.score(&self.choice).better_than(&self.score) {
            self.settle();
            return true;
        }
        [self.choice[first], self.choice[second]] = before;
        false
    }
    /// Whether a change of light clearly worsens the score. Cheaper than the score, since most points keep their light.
    fn is_worse(&self, change: impl Fn(usize) -> f64) -> bool {
        let (mut worst, mut squares) = (0.0_f64, 0.0);
        for (p, point) in self.problem.points.iter().enumerate() {
            let (before, change) = (self.error[p], change(p));
            if change == 0.0 {
                worst = worst.max(before);
                continue;
            }
            let after = point.weight * point.error_stops(self.light[p] + change).abs();
            worst = worst.max(after);
            squares += after * after - before * before;
        }
        worst >= self.score.worst - 2.0 * SAME_WORST && squares > 2.0 * SAME_SQUARES
    }
}
