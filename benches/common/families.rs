//! Twelve families of sets, each hard in its own way, with mixed scales and targets near the light of random settings;
//! and sets of equal lights.

use stopwright::light::balance::problem::{Levels, Point, Problem, Sides};

use super::Random;

/// The kind of gains of a set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Family {
    /// Every light reaches every point nearly alike.
    Flat,
    /// Points in a row with the lights along it: a light falls off by four stops from its middle to its edge.
    Banded,
    /// Four corners with hardly any spill between them.
    Block,
    /// Mixtures of three ways to light the points.
    LowRank,
    /// Gains of all lights in proportion within 3 %.
    Colinear,
    /// Random gains from -4 to 2 stops.
    Random,
    /// About one light in eight reaches each point.
    Sparse,
    /// Lights in fours (or more), equal in gains and scale.
    Symmetric,
    /// Random gains, whole, half and third stops as clicks.
    Coarse,
    /// Lights and points in a room, inverse square.
    Room,
    /// Random gains, weights from 0.2 to 5.
    Weighted,
    /// Random gains, targets within a twentieth of a stop of what some powers give.
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

/// The scale of sets of equal lights.
#[derive(Clone, Copy, Debug)]
pub enum EqualScale {
    /// Tenths of a stop over 5, 6, 7 and 8 stops.
    Tenths5,
    Tenths6,
    Tenths7,
    Tenths8,
    /// Thirds of a stop over 8 stops.
    Thirds8,
    /// Per cent from 1.
    PerCent,
    /// Joules from 9 of 600.
    Joules,
}

impl EqualScale {
    /// All of them.
    pub const ALL: [Self; 7] = [
        Self::Tenths5,
        Self::Tenths6,
        Self::Tenths7,
        Self::Tenths8,
        Self::Thirds8,
        Self::PerCent,
        Self::Joules,
    ];

    fn power(self) -> Vec<f64> {
        let clicks = |per_stop: u32, stops: u32| -> Vec<f64> {
            (0..=per_stop * stops).map(|k| (-f64::from(k) / f64::from(per_stop)).exp2()).collect()
        };
        let even = |full: u32, least: u32| -> Vec<f64> {
            (least..=full).rev().map(|part| f64::from(part) / f64::from(full)).collect()
        };
        match self {
            Self::Tenths5 => clicks(10, 5),
            Self::Tenths6 => clicks(10, 6),
            Self::Tenths7 => clicks(10, 7),
            Self::Tenths8 => clicks(10, 8),
            Self::Thirds8 => clicks(3, 8),
            Self::PerCent => even(100, 1),
            Self::Joules => even(600, 9),
        }
    }
}

/// Equal lights that light alike; targets up to 0.1, 0.3 or 0.5 stops off what some settings give.
pub fn equal(scale: EqualScale, lights: usize, points: usize, seed: u64) -> Problem {
    let mut random = Random(seed << 32 | (lights * 64 + points) as u64);
    let power = scale.power();
    let levels = Levels { energy_j: power.iter().map(|power| power * 500.0).collect(), power };
    let sum: f64 = (0..lights).map(|_| random.exp2(-4.0, -0.5)).sum();
    let noise = [0.1, 0.3, 0.5][seed as usize % 3];
    let points = (0..points).map(|_| {
        let gain = random.exp2(-2.0, 2.0);
        let target = gain * sum * random.exp2(-noise, noise);
        Point { gain: vec![gain; lights], ambient: 0.0, target, sides: Sides::Both, weight: 1.0 }
    });
    let points = points.collect();
    Problem { lights: vec![levels; lights], points }
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
            Point { gain, ambient: 0.0, target, sides: Sides::Both, weight }
        })
        .collect();
    Problem { lights: units, points }
}
