//! The whole service in process, asked again and again.

use std::{net::Ipv4Addr, time::Instant};

use axum::{
    body::{Body, to_bytes},
    http::Request,
};
use serde_json::Value;
use stopwright::{app::App, server::state::Config};
use tokio::runtime::{self, Runtime};

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
        let request = Request::post(format!("/v1/{path}"))
            .header("host", "here")
            .header("content-type", "application/json")
            .body(Body::from(body.to_owned()))
            .expect("a request");
        self.runtime.block_on(async {
            let response = self.app.answer(request, Ipv4Addr::LOCALHOST.into()).await;
            let bytes = to_bytes(response.into_body(), usize::MAX).await.expect("a body");
            serde_json::from_slice(&bytes).expect("JSON")
        })
    }

    /// The time of one call, µs: the median of so many rounds of so many calls.
    pub fn median_us(&self, path: &str, body: &str, rounds: usize, calls: u32) -> f64 {
        let mut times: Vec<f64> = (0..rounds)
            .map(|_| {
                let begun = Instant::now();
                for _ in 0..calls {
                    self.ask(path, body);
                }
                begun.elapsed().as_secs_f64() * 1e6 / f64::from(calls)
            })
            .collect();
        times.sort_by(f64::total_cmp);
        times[rounds / 2]
    }
}
