//! `exposure/one-light` through the whole service in process: what is answered at once, and where remedies are sought.
//! `stops/convert` stands beside it, for what of that is the service.

#![expect(clippy::expect_used, reason = "a benchmark fails by panicking")]

#[path = "common/service.rs"]
mod service;

use serde_json::json;

/// Calls in one round.
const CALLS: u32 = 500;
const ROUNDS: usize = 21;

fn main() {
    let service = service::Service::start();
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
        let answer = service.ask(path, &text);
        let remedies = answer["remedies"].as_array().map_or(0, Vec::len);
        assert_eq!(remedies > 0, has_remedies, "{answer}");
        let median = service.median_us(path, &text, service::JSON, ROUNDS, CALLS);
        println!("{path} {text}: {remedies} remedies, median of {ROUNDS}: {median:.0} us");
    }
}
