//! `sets/correct` through the whole service in process. Without targets nothing is balanced, so that this is what a
//! correction costs beside the balance; `exposure/predict` of the same set stands beside it, for what of that is reading
//! and the service.

#![expect(clippy::expect_used, reason = "a benchmark fails by panicking")]

use std::{net::Ipv4Addr, time::Instant};

use axum::{
    body::{Body, to_bytes},
    http::Request,
};
use serde_json::{Value, json};
use stopwright::{app::App, server::state::Config};

const ROUNDS: usize = 41;

/// Lights that reach all points, each a third of a stop weaker at the next, and a round of readings that are a little off.
fn set(lights: usize, points: usize) -> Value {
    let distance = |light: usize, point: usize| 2.0 * (((light * 7 + point * 3) % 16) as f64 / 6.0).exp2();
    let pairs = (0..lights).flat_map(|light| (0..points).map(move |point| (light, point)));
    let placements: Vec<Value> = pairs
        .map(|(light, point)| json!({"light": format!("l{light}"), "point": format!("p{point}"), "distance": distance(light, point)}))
        .collect();
    let read = |point: usize| {
        let light: f64 = (0..lights).map(|light| (40.0 / distance(light, point)).powi(2)).sum();
        light.sqrt() * (0.1 * (point as f64 * 1.7).sin()).exp2()
    };
    let readings: Vec<Value> = (0..points)
        .map(|point| json!({"point": format!("p{point}"), "f_number": (read(point) * 1000.0).round() / 1000.0}))
        .collect();
    json!({
        "exposure": {"f_number": "f/8"},
        "lights": (0..lights)
            .map(|light| json!({"name": format!("l{light}"), "unit": {"guide_number": "GN 40"}}))
            .collect::<Vec<_>>(),
        "placements": placements,
        "rounds": [{"readings": readings}]
    })
}

async fn ask(service: &App, path: &str, body: &str) -> Value {
    let request = Request::post(format!("/v1/{path}"))
        .header("host", "here")
        .header("content-type", "application/json")
        .body(Body::from(body.to_owned()))
        .expect("a request");
    let response = service.answer(request, Ipv4Addr::LOCALHOST.into()).await;
    let bytes = to_bytes(response.into_body(), usize::MAX).await.expect("a body");
    serde_json::from_slice(&bytes).expect("JSON")
}

fn main() {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().expect("a runtime");
    let service = App::new(Config::default());
    for [lights, points] in [[6, 6], [32, 64]] {
        let text = set(lights, points).to_string();
        for path in ["exposure/predict", "sets/correct"] {
            let answer = runtime.block_on(ask(&service, path, &text));
            assert_eq!(answer["points"].as_array().map(Vec::len), Some(points), "{answer}");
            let mut times: Vec<f64> = (0..ROUNDS)
                .map(|_| {
                    let begun = Instant::now();
                    runtime.block_on(ask(&service, path, &text));
                    begun.elapsed().as_secs_f64() * 1e3
                })
                .collect();
            times.sort_by(f64::total_cmp);
            println!(
                "{path}, {lights} lights at {points} points: median of {ROUNDS}: {:.2} ms",
                times[ROUNDS / 2]
            );
        }
    }
}
