//! `kit/check` with 64 units, 64 shots of 8 roles, through the whole service in process: a kit that can do it, and
//! one that cannot, where remedies are sought.

#![expect(clippy::expect_used, reason = "a benchmark fails by panicking")]

#[path = "common/service.rs"]
mod service;

use serde_json::{Value, json};

const ROUNDS: usize = 21;

/// Units of many strengths; shots whose roles stand at many distances.
fn body(f_number: f64) -> Value {
    let unit = |k: u32| {
        let guide = 30.0 + f64::from(k * 7 % 41);
        json!({"unit": {"name": format!("u{k}"), "energy": 100.0 + guide * guide / 8.0,
            "guide_number": {"value": guide, "unit": "m"}, "scale": {"style": "dial", "full": 9, "least": 2}}})
    };
    let light = |shot: u32, role: u32| {
        json!({"role": format!("r{role}"), "stops": -f64::from((shot + role) % 5) / 3.0,
            "distance": 2.0 + f64::from((shot * 5 + role * 3) % 17) / 4.0})
    };
    let shot = |k: u32| {
        json!({"name": format!("s{k}"), "exposure": {"f_number": f_number},
            "lights": (0..8).map(|role| light(k, role)).collect::<Vec<_>>()})
    };
    json!({"kit": (0..64).map(unit).collect::<Vec<_>>(), "shots": (0..64).map(shot).collect::<Vec<_>>()})
}

fn main() {
    let service = service::Service::start();
    for (f_number, feasible) in [(8.0, true), (45.0, false)] {
        let body = body(f_number).to_string();
        let answer = service.ask("kit/check", &body);
        assert_eq!(answer["feasible"], feasible, "{}", answer["summary"]);
        let median = service.median_us("kit/check", &body, service::JSON, ROUNDS, 1) / 1e3;
        println!("f/{f_number}: feasible {feasible}, median of {ROUNDS}: {median:.1} ms");
    }
}
