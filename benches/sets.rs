//! What stands in a set, through the whole service in process: faces, boards and flags in `exposure/predict`, and heads on
//! packs in `ratios/balance`.

#![expect(clippy::expect_used, reason = "a benchmark fails by panicking")]

#[path = "common/service.rs"]
mod service;

use serde_json::{Value, json};

const ROUNDS: usize = 15;

/// Lights on an arc of two and a half metres, each with a face aimed at the middle.
fn lights(count: usize) -> Vec<Value> {
    let light = |index: usize| {
        let angle = 0.35 + 2.4 * index as f64 / count as f64;
        json!({
            "name": format!("light {index}"), "unit": {"guide_number": "GN 60"}, "aim": [0, 0, 1.5],
            "position": [2.5 * angle.cos(), -2.5 * angle.sin(), 1.4 + 0.1 * index as f64],
            "source": {"rectangle_m": [0.9, 1.2]}
        })
    };
    (0..count).map(light).collect()
}

/// Points of a row of people.
fn points(count: usize) -> Vec<Value> {
    let point = |index: usize| {
        let x = 0.25 * (index as f64 - count as f64 / 2.0);
        json!({"name": format!("point {index}"), "position": [x, 0, 1.6], "normal": [0, -1, 0]})
    };
    (0..count).map(point).collect()
}

fn predict(lights_count: usize, points_count: usize, field: &str, entries: usize) -> String {
    let mut body = json!({
        "exposure": {"f_number": "f/8"}, "lights": lights(lights_count), "points": points(points_count)
    });
    let entry = |index: usize| {
        let (name, x) = (format!("{field} {index}"), 1.6 + 0.1 * index as f64);
        let panel = json!({"position": [x, -0.5, 1.5], "normal": [-1, 0, 0], "size_m": [1.2, 2]});
        match field {
            "blockers" => json!({"name": name, "board": panel}),
            _ => json!({"name": name, "position": panel["position"], "normal": panel["normal"],
                "size_m": panel["size_m"], "reflectance": 0.8}),
        }
    };
    if entries > 0 {
        body[field] = (0..entries).map(entry).collect();
    }
    body.to_string()
}

fn scale() -> Value {
    json!({"style": "dial", "full": 9, "least": 4})
}

/// Eight lights and twelve points; the lights on two packs of a split, or each for itself.
fn balance(split: Option<&Value>, seed: u32) -> String {
    let scale = scale();
    let pack = |name: &str, split: &Value| {
        let mut pack = json!({"name": name, "energy": 2400, "outlets": 4, "split": split});
        if split.get("each").is_none() {
            pack["scale"] = scale.clone();
        }
        pack
    };
    let unit = |light: u32| match split {
        Some(_) => {
            let pack = if light < 4 { "a" } else { "b" };
            json!({"pack": pack, "outlet": light % 4 + 1, "guide_number": "GN 100"})
        }
        None => json!({"energy": 600, "guide_number": "GN 50", "scale": scale}),
    };
    let distance = |light: u32, point: u32| {
        let spread = f64::from((light * 7 + point * 13 + seed * 29) % 31) / 31.0;
        if point % 8 == light { 1.5 + spread } else { 3.0 + 4.0 * spread }
    };
    let pairs = (0..8).flat_map(|light| (0..12).map(move |point| (light, point)));
    let mut body = json!({
        "exposure": {"f_number": "f/8"},
        "time_limit_ms": 2000,
        "lights": (0..8).map(|light| json!({"name": format!("l{light}"), "unit": unit(light)})).collect::<Vec<_>>(),
        "points": (0..12).map(|point| {
            json!({"name": format!("p{point}"), "target": {"stops": -f64::from((point * 5 + seed) % 7) / 3.0}})
        }).collect::<Vec<_>>(),
        "placements": pairs.map(|(light, point)| {
            json!({"light": format!("l{light}"), "point": format!("p{point}"), "distance": distance(light, point)})
        }).collect::<Vec<_>>(),
    });
    if let Some(split) = split {
        body["packs"] = json!([pack("a", split), pack("b", split)]);
    }
    body.to_string()
}

fn main() {
    let service = service::Service::start();
    for (lights, points, field, entries) in [
        (8, 8, "", 0),
        (8, 16, "", 0),
        (8, 8, "reflectors", 1),
        (8, 8, "reflectors", 4),
        (8, 8, "blockers", 1),
        (8, 8, "blockers", 4),
    ] {
        let body = predict(lights, points, field, entries);
        let answer = service.ask("exposure/predict", &body);
        assert_eq!(answer["points"].as_array().map(Vec::len), Some(points), "{answer}");
        let median = service.median_us("exposure/predict", &body, service::JSON, ROUNDS, 5);
        println!("exposure/predict, {lights} faces, {points} points, {entries} {field}: {median:.0} us");
    }
    for (name, split) in [
        ("each for itself", None),
        ("two packs, even", Some(json!("even"))),
        ("two packs, shares", Some(json!({"shares": [3, 2, 2, 1]}))),
        ("two packs, set apart", Some(json!({"each": {"most": 1200, "scale": scale()}}))),
    ] {
        let mut times = Vec::new();
        let mut proven = 0;
        for seed in 0..15 {
            let body = balance(split.as_ref(), seed);
            proven += u32::from(service.ask("ratios/balance", &body)["optimality"]["proven"] == true);
            times.push(service.median_us("ratios/balance", &body, service::JSON, 1, 1) / 1e3);
        }
        times.sort_by(f64::total_cmp);
        println!("ratios/balance, 8 lights, 12 points, {name}: {:.1} ms, {proven} of 15 proven", times[7]);
    }
}
