//! What a picture costs beside its answer as JSON, through the whole service in process: each drawn example of the
//! OpenAPI document, and the largest questions. At most 1 ms is wanted for the usual, 25 ms for the largest.

#![expect(clippy::expect_used, reason = "a benchmark fails by panicking")]

#[path = "common/service.rs"]
mod service;

use serde_json::{Value, json};
use service::{JSON, Service};

const ROUNDS: usize = 15;
const SVG: &str = "image/svg+xml";

/// 32 lights with positions, at 64 points.
fn set(more: &Value) -> Value {
    let around = |index: usize, of: usize, radius: f64| {
        let angle = index as f64 / of as f64 * std::f64::consts::TAU;
        json!([radius * angle.sin(), radius * angle.cos(), 1.5])
    };
    let mut body = json!({
        "exposure": {"f_number": "f/8"},
        "lights": (0..32)
            .map(|light| json!({"name": format!("light {light}"), "unit": {"guide_number": "GN 40"},
                "position": around(light, 32, 4.0), "aim": [0, 0, 1.5], "beam": {"half_power_deg": 60}}))
            .collect::<Vec<_>>(),
        "points": (0..64)
            .map(|point| json!({"name": format!("point {point}"), "position": around(point, 64, 1.0)}))
            .collect::<Vec<_>>(),
    });
    for (name, value) in more.as_object().expect("fields") {
        body[name] = value.clone();
    }
    body
}

fn unit(index: u32) -> Value {
    json!({"name": format!("head {index}"), "guide_number": {"value": 30 + index % 50, "unit": "m"},
        "scale": {"style": "fraction", "least": "1/128"}})
}

/// Shots of eight roles.
fn shots(count: u32) -> Vec<Value> {
    let light = |shot: u32, role: u32| {
        json!({"role": format!("role {role}"), "stops": -f64::from((shot + role) % 5) / 3.0,
            "distance": 2 + (shot * 5 + role * 3) % 9})
    };
    let shot = |shot: u32| {
        json!({"name": format!("shot {shot}"), "exposure": {"f_number": "f/8"},
            "lights": (0..8).map(|role| light(shot, role)).collect::<Vec<_>>()})
    };
    (0..count).map(shot).collect()
}

fn kit(first: u32, count: u32) -> Vec<Value> {
    (first..first + count).map(|index| json!({"unit": unit(index)})).collect()
}

fn largest() -> Vec<(&'static str, Value)> {
    let readings: Vec<Value> = (0..64)
        .map(|point| json!({"point": format!("point {point}"), "f_number": 8.0 + f64::from(point % 5)}))
        .collect();
    let kits: Vec<Value> =
        (0..32).map(|index| json!({"name": format!("kit {index}"), "kit": kit(index, 8)})).collect();
    let calibration: Vec<Value> = (0..256)
        .map(|k| f64::from(k) / 32.0)
        .map(|below| json!({"setting": format!("-{below} stops"), "f_number": 32.0 * (-below / 2.0).exp2()}))
        .collect();
    let frames: Vec<Value> =
        (1..65).map(|k| json!({"stops": f64::from(k) / 8.0, "level": [k, f64::from(k) * 3.7, 1]})).collect();
    vec![
        ("exposure/predict", set(&json!({}))),
        ("sets/correct", set(&json!({"rounds": [{"readings": readings}]}))),
        ("kit/check", json!({"kit": kit(0, 64), "shots": shots(64)})),
        ("kit/compare", json!({"kits": kits, "shots": shots(16)})),
        ("lights/falloff", json!({"from": 1, "to": 100, "count": 256})),
        ("units/calibrate", json!({"unit": {"guide_number": "GN 60"}, "readings": calibration})),
        ("patches/response", json!({"frames": frames})),
    ]
}

/// The calculations that have a picture, each with its examples.
fn examples() -> Vec<(String, Value)> {
    let document: Value = serde_json::from_str(include_str!("../openapi/openapi.json")).expect("JSON");
    let mut all = Vec::new();
    for (path, methods) in document["paths"].as_object().expect("paths") {
        let post = &methods["post"];
        if post["responses"]["200"]["content"].get(SVG).is_some() {
            let examples = &post["requestBody"]["content"][JSON]["examples"];
            let bodies = examples.as_object().into_iter().flatten().map(|(_, example)| &example["value"]);
            all.extend(bodies.map(|body| (path.trim_start_matches("/v1/").to_owned(), body.clone())));
        }
    }
    all
}

fn measure(service: &Service, path: &str, body: &Value) {
    let body = body.to_string();
    let answer = service.ask(path, &body);
    assert!(answer["summary"].is_string(), "{path}: {answer}");
    let bytes = service.bytes(path, &body, SVG).len();
    let [answer, picture] = [JSON, SVG].map(|format| service.median_us(path, &body, format, ROUNDS, 1) / 1e3);
    println!("{path:20} answer {answer:8.2} ms, picture {:+8.2} ms, {bytes:8} bytes", picture - answer);
}

fn main() {
    let service = Service::start();
    for (path, body) in examples() {
        measure(&service, &path, &body);
    }
    println!("the largest:");
    for (path, body) in largest() {
        measure(&service, path, &body);
    }
}
