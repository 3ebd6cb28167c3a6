//! Twelve families of sets, each with its own way to be hard: mixed scales, targets near what random
//! settings give.

use stopwright::light::balance::problem::{Levels, Point, Problem};

use super::Random;

/// What the gains of a set are like.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Family {
    /// Every light reaches every point nearly alike.
    Flat,
    /// Points in a row, lights along it: four stops from one light's middle to its edge.
    Banded,
    /// Four corners that hardly see each other.
    Block,
    /// Three ways to light the points, and mixtures of them.
    LowRank,
    /// All lights light alike within 3 %.
    Colinear,
    /// From -4 to 2 stops, at random.
    Random,
    /// One light in eight reaches a point.
    Sparse,
    /// Lights in fours (or more), equal in gains and scale.
    Symmetric,
    /// Random gains, whole, half and third stops as clicks.
    Coarse,
    /// Lights and points in a room, inverse square.
    Room,
    /// Random gains, weights from 0.2 to 5.
    Weighted,
    /// Random gains, targets within a twentieth of a stop of what can be had.
    Reachable,
}

impl Family {
    /// All of them.
    pub const ALL: [Self; 12] = [
        Self::Flat,
        Self::Banded,
        Self::Block,
        Self::LowRank,
        Self::Colinear,
        Self::Random,
        Self::Sparse,
        Self::Symmetric,
        Self::Coarse,
        Self::Room,
        Self::Weighted,
        Self::Reachable,
    ];
}

/// A unit of 500 J with one of eight scales: tenths over 7, 6 and 3 stops, thirds over 6, per cent from 4, whole
/// stops over 5, halves over 5, joules from 10 by 5.
fn unit(kind: usize) -> Levels {
    let clicks = |per_stop: u32, stops: u32| -> Vec<f64> {
        (0..=per_stop * stops).map(|k| (-f64::from(k) / f64::from(per_stop)).exp2()).collect()
    };
    let steps = |full: u32, least: u32, step: u32| -> Vec<f64> {
        (0..=(full - least) / step).map(|k| f64::from(full - k * step) / f64::from(full)).collect()
    };
    let power = match kind {
        0 => clicks(1, 5),
        1 => clicks(2, 5),
        2 => clicks(3, 6),
        3 => clicks(10, 7),
        4 => clicks(10, 6),
        5 => clicks(10, 3),
        6 => steps(100, 4, 1),
        _ => steps(500, 10, 5),
    };
    Levels { energy_j: power.iter().map(|power| power * 500.0).collect(), power }
}

fn gains(family: Family, lights: usize, points: usize, random: &mut Random) -> Vec<Vec<f64>> {
    let table = |of: &mut dyn FnMut(usize, usize) -> f64| -> Vec<Vec<f64>> {
        (0..points).map(|p| (0..lights).map(|l| of(p, l)).collect()).collect()
    };
    let per_light = 4.0 / lights as f64;
    match family {
        Family::Flat => table(&mut |_, _| random.exp2(-0.3, 0.3) * per_light),
        Family::Banded => table(&mut |p, l| {
            let off = (l as f64 * points as f64 / lights as f64 - p as f64).abs();
            let factor = random.exp2(-0.5, 0.5);
            if off < 5.0 { 4.0 * (-0.8 * off).exp2() * factor } else { 0.0 }
        }),
        Family::Block => table(&mut |p, l| {
            let [near, far] = [random.exp2(-1.0, 1.0), random.exp2(-9.0, -7.0)];
            if l * 4 / lights == p * 4 / points { near } else { far }
        }),
        Family::LowRank => {
            let ways: Vec<[f64; 3]> = (0..points).map(|_| [(); 3].map(|()| random.exp2(-2.0, 2.0))).collect();
            let shares: Vec<[f64; 3]> =
                (0..lights).map(|_| [(); 3].map(|()| random.uniform(0.0, 1.0).powi(2))).collect();
            table(&mut |p, l| {
                ways[p].iter().zip(shares[l]).map(|(way, share)| way * share).sum::<f64>() + 1e-3
            })
        }
        Family::Colinear => {
            let base: Vec<f64> = (0..points).map(|_| random.exp2(-2.0, 2.0)).collect();
            table(&mut |p, _| base[p] * (1.0 + random.uniform(-0.03, 0.03)) * per_light)
        }
        Family::Sparse => {
            let mut gains = table(&mut |_, _| {
                let gain = random.exp2(-3.0, 2.0);
                if random.uniform(0.0, 1.0) < 0.12 { gain } else { 0.0 }
            });
            for row in &mut gains {
                if row.iter().all(|gain| *gain == 0.0) {
                    row[random.below(lights)] = 1.0;
                }
            }
            gains
        }
        Family::Symmetric => {
            let kinds = (lights / 4).max(1);
            let base: Vec<Vec<f64>> =
                (0..kinds).map(|_| (0..points).map(|_| random.exp2(-2.0, 2.0)).collect()).collect();
            table(&mut |p, l| base[l % kinds][p])
        }
        Family::Room => {
            let mut place =
                |low: [f64; 3], high: [f64; 3]| [0, 1, 2].map(|axis| random.uniform(low[axis], high[axis]));
            let at: Vec<_> = (0..lights).map(|_| place([-4.0, -4.0, 1.0], [4.0, 0.0, 3.0])).collect();
            let to: Vec<_> = (0..points).map(|_| place([-3.0, 0.0, 0.0], [3.0, 4.0, 2.0])).collect();
            table(&mut |p, l| {
                let squared: f64 = at[l].iter().zip(to[p]).map(|(a, b)| (a - b).powi(2)).sum();
                30.0 / squared / (lights as f64).sqrt()
            })
        }
        Family::Random | Family::Coarse | Family::Weighted | Family::Reachable => {
            table(&mut |_, _| random.exp2(-4.0, 2.0))
        }
    }
}

/// One set of a family.
pub fn of(family: Family, lights: usize, points: usize, seed: u64) -> Problem {
    let mut random = Random(seed << 32 | (family as u64) << 16 | (lights * 64 + points) as u64);
    let gains = gains(family, lights, points, &mut random);
    let power: Vec<f64> = (0..lights).map(|_| random.exp2(-4.0, -0.5)).collect();
    let units = (0..lights)
        .map(|_| match family {
            Family::Symmetric => unit(3),
            Family::Coarse => unit(random.below(4)),
            _ => unit([0, 1, 2, 3, 5, 6, 7][random.below(7)]),
        })
        .collect();
    let noise = if family == Family::Reachable { 0.05 } else { [0.1, 0.3, 0.6][random.below(3)] };
    let points = gains
        .into_iter()
        .map(|gain| {
            let light: f64 = gain.iter().zip(&power).map(|(gain, power)| gain * power).sum();
            let target = light.max(1e-6) * random.exp2(-noise, noise);
            let weight =
                if family == Family::Weighted { [0.2, 0.5, 1.0, 2.0, 5.0][random.below(5)] } else { 1.0 };
            Point { gain, ambient: 0.0, target, weight }
        })
        .collect();
    Problem { lights: units, points }
}
