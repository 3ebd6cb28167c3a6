//! The whole service in process, asked again and again.

use std::{net::Ipv4Addr, time::Instant};

use axum::{
    body::{Body, Bytes, to_bytes},
    http::Request,
};
use serde_json::Value;
use stopwright::{app::App, server::state::Config};
use tokio::runtime::{self, Runtime};

pub const JSON: &str = "application/json";

pub struct Service {
    app: App,
    runtime: Runtime,
}

impl Service {
    pub fn start() -> Self {
        let runtime = runtime::Builder::new_current_thread().enable_all().build().expect("a runtime");
        Self { app: App::new(Config::default()), runtime }
    }

    /// The answer to a body.
    pub fn ask(&self, path: &str, body: &str) -> Value {
        serde_json::from_slice(&self.bytes(path, body, JSON)).expect("JSON")
    }

    /// The answer to a body in a format.
    pub fn bytes(&self, path: &str, body: &str, accept: &str) -> Bytes {
        let request = Request::post(format!("/v1/{path}"))
            .header("host", "here")
            .header("content-type", "application/json")
            .header("accept", accept)
            .body(Body::from(body.to_owned()))
            .expect("a request");
        self.runtime.block_on(async {
            let response = self.app.answer(request, Ipv4Addr::LOCALHOST.into()).await;
            to_bytes(response.into_body(), usize::MAX).await.expect("a body")
        })
    }

    /// The time of one call, µs: the median of so many rounds of so many calls.
    pub fn median_us(&self, path: &str, body: &str, accept: &str, rounds: usize, calls: u32) -> f64 {
        let mut times: Vec<f64> = (0..rounds)
            .map(|_| {
                let begun = Instant::now();
                for _ in 0..calls {
                    self.bytes(path, body, accept);
                }
                begun.elapsed().as_secs_f64() * 1e6 / f64::from(calls)
            })
            .collect();
        times.sort_by(f64::total_cmp);
        times[rounds / 2]
    }
}
