//! `kit/check` with 64 units, 64 shots of 8 roles, through the whole service in process: a kit that can do it, and
//! one that cannot, where remedies are sought.

#![expect(clippy::expect_used, reason = "a benchmark fails by panicking")]

use std::{net::Ipv4Addr, time::Instant};

use axum::{
    body::{Body, to_bytes},
    http::Request,
};
use serde_json::{Value, json};
use stopwright::{app::App, server::state::Config};

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

async fn ask(service: &App, body: &str) -> Value {
    let request = Request::post("/v1/kit/check")
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
    for (f_number, feasible) in [(8.0, true), (45.0, false)] {
        let body = body(f_number).to_string();
        let answer = runtime.block_on(ask(&service, &body));
        assert_eq!(answer["feasible"], feasible, "{}", answer["summary"]);
        let mut times: Vec<f64> = (0..ROUNDS)
            .map(|_| {
                let begun = Instant::now();
                runtime.block_on(ask(&service, &body));
                begun.elapsed().as_secs_f64() * 1e3
            })
            .collect();
        times.sort_by(f64::total_cmp);
        println!("f/{f_number}: feasible {feasible}, median of {ROUNDS}: {:.1} ms", times[ROUNDS / 2]);
    }
}
