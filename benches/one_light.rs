//! `exposure/one-light` through the whole service in process: what is answered at once, and where remedies are sought.
//! `stops/convert` stands beside it, for what of that is the service.

#![expect(clippy::expect_used, reason = "a benchmark fails by panicking")]

use std::{net::Ipv4Addr, time::Instant};

use axum::{
    body::{Body, to_bytes},
    http::Request,
};
use serde_json::{Value, json};
use stopwright::{app::App, server::state::Config};

/// Calls in one round.
const CALLS: u32 = 500;
const ROUNDS: usize = 21;

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
    let face = json!({"guide_number": "GN 58", "distance": "1.2 m", "source": {"rectangle_m": [0.9, 1.2]}});
    for (path, body, has_remedies) in [
        ("stops/convert", json!({"from": "f/8", "to": "f/11"}), false),
        ("exposure/one-light", json!({"guide_number": "GN 40", "distance": "5 m"}), false),
        ("exposure/one-light", face, false),
        // Three stops too weak: GN 40 at 10 m is f/4.
        (
            "exposure/one-light",
            json!({"guide_number": "GN 40", "distance": "10 m", "f_number": "f/11"}),
            true,
        ),
    ] {
        let text = body.to_string();
        let answer = runtime.block_on(ask(&service, path, &text));
        let remedies = answer["remedies"].as_array().map_or(0, Vec::len);
        assert_eq!(remedies > 0, has_remedies, "{answer}");
        let mut times: Vec<f64> = (0..ROUNDS)
            .map(|_| {
                let begun = Instant::now();
                for _ in 0..CALLS {
                    runtime.block_on(ask(&service, path, &text));
                }
                begun.elapsed().as_secs_f64() * 1e6 / f64::from(CALLS)
            })
            .collect();
        times.sort_by(f64::total_cmp);
        println!("{path} {text}: {remedies} remedies, median of {ROUNDS}: {:.0} us", times[ROUNDS / 2]);
    }
}
