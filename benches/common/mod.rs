//! Seeded sets of lights, for benchmarks.

use stopwright::light::balance::problem::{Levels, Point, Problem};

/// SplitMix64 (public domain algorithm): enough for test data, the same everywhere.
pub struct Random(pub u64);

impl Random {
    pub fn uniform(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        low + (high - low) * ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }
}

/// How the lights spill.
#[derive(Clone, Copy, Debug)]
pub enum Spill {
    /// Strong on its own points, -4 to 0.5 stops elsewhere.
    Directed,
    /// Strong on its own points, -3 to 0 on the neighbours', -9 to -6 elsewhere.
    Local,
    /// 0 to 1.5 stops everywhere.
    Flat,
}

/// A set with tenth-stop clicks over 8 stops, whose targets random settings 1 to 5 stops below full give.
pub fn set(spill: Spill, lights: usize, points: usize, seed: u64) -> Problem {
    let mut random = Random(seed);
    let power: Vec<f64> = (0..=80).map(|k| (-f64::from(k) / 10.0).exp2()).collect();
    let energy_j: Vec<f64> = power.iter().map(|power| power * 500.0).collect();
    let settings: Vec<f64> = (0..lights).map(|_| (-random.uniform(1.0, 5.0)).exp2()).collect();
    let points = (0..points).map(|p| {
        let own = p % lights;
        let gain: Vec<f64> = (0..lights)
            .map(|l| {
                let [low, high] = match spill {
                    Spill::Flat => [0.0, 1.5],
                    _ if l == own => [1.0, 3.0],
                    Spill::Directed => [-4.0, 0.5],
                    Spill::Local if l.abs_diff(own) == 1 => [-3.0, 0.0],
                    Spill::Local => [-9.0, -6.0],
                };
                random.uniform(low, high).exp2()
            })
            .collect();
        let light: f64 = gain.iter().zip(&settings).map(|(gain, power)| gain * power).sum();
        let noise = if points > lights { random.uniform(-0.3, 0.3) } else { 0.0 };
        Point { gain, ambient: 0.0, target: light * noise.exp2(), weight: 1.0 }
    });
    let points = points.collect();
    Problem { lights: vec![Levels { power, energy_j }; lights], points }
}
