//! Seeded sets of lights, and files of them.

pub mod families;

use serde_json::{Value, json};
use stopwright::light::balance::problem::{Levels, Point, Problem, Sides};

/// `SplitMix64` (public domain algorithm): good enough for test data, and the same on every machine.
pub struct Random(pub u64);

impl Random {
    pub fn uniform(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        low + (high - low) * ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// A power of two.
    pub fn exp2(&mut self, low: f64, high: f64) -> f64 {
        self.uniform(low, high).exp2()
    }

    /// A whole number under one.
    pub fn below(&mut self, end: usize) -> usize {
        (self.uniform(0.0, end as f64) as usize).min(end - 1)
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

/// A set with clicks of a tenth over 8 stops. Its targets are the light of random settings, 1 to 5 stops below full.
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
        Point { gain, ambient: 0.0, target: light * noise.exp2(), sides: Sides::Both, weight: 1.0 }
    });
    let points = points.collect();
    Problem { lights: vec![Levels { power, energy_j }; lights], points }
}

/// A file of sets small enough for a general-purpose solver. Some have ambient light, weights, or lights that may be off.
pub fn save() -> String {
    let groups = [
        (Spill::Directed, 4, 4, 12),
        (Spill::Flat, 4, 4, 12),
        (Spill::Directed, 3, 6, 8),
        (Spill::Directed, 6, 6, 6),
        (Spill::Flat, 5, 8, 4),
        (Spill::Local, 6, 8, 6),
    ];
    let instances: Vec<Value> = groups
        .into_iter()
        .flat_map(|(spill, lights, points, count)| (0..count).map(move |seed| (spill, lights, points, seed)))
        .map(|(spill, lights, points, seed)| {
            let mut problem = set(spill, lights, points, 1000 + seed);
            let mut random = Random(seed);
            if seed % 3 == 1 {
                for point in &mut problem.points {
                    point.ambient = point.target * random.uniform(0.0, 0.3);
                    point.weight = random.uniform(0.5, 2.0);
                }
            }
            let points = problem.points.iter().map(|point| {
                let [ambient, target, weight] = [point.ambient, point.target, point.weight].map(short);
                let gain: Vec<f64> = point.gain.iter().copied().map(short).collect();
                json!({"gain": gain, "ambient": ambient, "target": target, "weight": weight})
            });
            json!({
                "name": format!("{spill:?} {lights} x {} {seed}", problem.points.len()),
                "click_stops": 0.1,
                "settings": 81,
                "may_be_off": seed % 3 == 2,
                "lights": lights,
                "points": points.collect::<Vec<_>>(),
            })
        })
        .collect();
    // One line for each set, so that a change is easy to read.
    let lines: Vec<String> = instances.iter().map(Value::to_string).collect();
    format!("{{\"instances\": [\n{}\n]}}\n", lines.join(",\n"))
}

/// Rounds to six digits.
fn short(value: f64) -> f64 {
    format!("{value:.5e}").parse().expect("a number")
}

/// The sets of a file.
pub fn load(text: &str) -> Vec<Problem> {
    let data: Value = serde_json::from_str(text).expect("JSON");
    let number = |value: &Value| value.as_f64().expect("a number");
    let numbers = |value: &Value| value.as_array().expect("a list").iter().map(number).collect::<Vec<_>>();
    let instances = data["instances"].as_array().expect("instances").iter();
    instances
        .map(|instance| {
            let click = number(&instance["click_stops"]);
            let settings = (0..number(&instance["settings"]) as i32).map(|k| (-f64::from(k) * click).exp2());
            let off = instance["may_be_off"].as_bool().expect("a boolean").then_some(0.0);
            let power: Vec<f64> = settings.chain(off).collect();
            let levels = Levels { energy_j: power.iter().map(|power| power * 500.0).collect(), power };
            let lights = vec![levels; number(&instance["lights"]) as usize];
            let points = instance["points"].as_array().expect("points").iter().map(|point| Point {
                gain: numbers(&point["gain"]),
                ambient: number(&point["ambient"]),
                target: number(&point["target"]),
                sides: match point["sides"].as_str() {
                    Some("at_most") => Sides::AtMost,
                    Some("at_least") => Sides::AtLeast,
                    Some("limit") => Sides::Limit,
                    _ => Sides::Both,
                },
                weight: number(&point["weight"]),
            });
            Problem { lights, points: points.collect() }
        })
        .collect()
}
