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

/// Makes some targets one-sided, and puts the lights on two packs whose energy limits them.
fn bind(problem: &mut Problem, random: &mut Random) {
    for point in &mut problem.points {
        point.sides = [Sides::Both, Sides::AtMost, Sides::AtLeast][random.below(3)];
        point.target *= random.exp2(-0.5, 0.5);
    }
    let lights = problem.lights.len();
    for pack in 0..2 {
        let gain: Vec<f64> = (0..lights).map(|light| if light % 2 == pack { 500.0 } else { 0.0 }).collect();
        let target = gain.iter().sum::<f64>() * random.uniform(0.08, 0.25);
        problem.points.push(Point { gain, ambient: 0.0, target, sides: Sides::Limit, weight: 1.0 });
    }
}

/// A file of sets small enough for a general-purpose solver. Some have ambient light, weights, or lights that may be off;
/// some have one-sided targets and limits.
pub fn save() -> String {
    let groups = [
        (Spill::Directed, 4, 4, 12, false),
        (Spill::Flat, 4, 4, 12, false),
        (Spill::Directed, 3, 6, 8, false),
        (Spill::Directed, 6, 6, 6, false),
        (Spill::Flat, 5, 8, 4, false),
        (Spill::Local, 6, 8, 6, false),
        (Spill::Directed, 4, 6, 12, true),
        (Spill::Flat, 4, 6, 12, true),
        (Spill::Directed, 6, 10, 6, true),
    ];
    let instances: Vec<Value> = groups
        .into_iter()
        .flat_map(|(spill, lights, points, count, is_bound)| {
            (0..count).map(move |seed| (spill, lights, points, seed, is_bound))
        })
        .map(|(spill, lights, points, seed, is_bound)| {
            let mut problem = set(spill, lights, points, 1000 + seed);
            let mut random = Random(seed);
            if seed % 3 == 1 {
                for point in &mut problem.points {
                    point.ambient = point.target * random.uniform(0.0, 0.3);
                    point.weight = random.uniform(0.5, 2.0);
                }
            }
            if is_bound {
                bind(&mut problem, &mut random);
            }
            let written = problem.points.iter().map(|point| {
                let [ambient, target, weight] = [point.ambient, point.target, point.weight].map(short);
                let gain: Vec<f64> = point.gain.iter().copied().map(short).collect();
                let mut point_of_file =
                    json!({"gain": gain, "ambient": ambient, "target": target, "weight": weight});
                let sides = SIDES.into_iter().find(|(_, sides)| *sides == point.sides);
                if let Some((word, _)) = sides {
                    point_of_file["sides"] = json!(word);
                }
                point_of_file
            });
            let bound = if is_bound { "Bound " } else { "" };
            json!({
                "name": format!("{bound}{spill:?} {lights} x {points} {seed}"),
                "click_stops": 0.1,
                "settings": 81,
                "may_be_off": seed % 3 == 2,
                "lights": lights,
                "points": written.collect::<Vec<_>>(),
            })
        })
        .collect();
    // One line for each set, so that a change is easy to read.
    let lines: Vec<String> = instances.iter().map(Value::to_string).collect();
    format!("{{\"instances\": [\n{}\n]}}\n", lines.join(",\n"))
}

/// The words of a file; without one, both sides count.
const SIDES: [(&str, Sides); 3] =
    [("at_most", Sides::AtMost), ("at_least", Sides::AtLeast), ("limit", Sides::Limit)];

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
                sides: SIDES
                    .into_iter()
                    .find(|(word, _)| point["sides"] == *word)
                    .map_or(Sides::Both, |it| it.1),
                weight: number(&point["weight"]),
            });
            Problem { lights, points: points.collect() }
        })
        .collect()
}
