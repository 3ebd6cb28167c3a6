//! How a small balance fares beside large ones: three connections of one address ask 32 x 64 sets with 2000 ms, and
//! 3 x 3 balances are asked one after another, from that address and from another.
//!
//! `cargo build --release --bin stopwright && cargo run --release --example turns`

#![expect(clippy::expect_used, reason = "a benchmark fails by panicking")]

mod client;

use std::time::{Duration, Instant};

use client::{ask, post, quantile, serve};
use serde_json::{Value, json};
use tokio::{net::TcpStream, sync::mpsc, task::JoinSet, time::sleep};

const BALANCE: &str = "/v1/ratios/balance";
const CONNECTIONS: usize = 3;
const SMALL: usize = 60;
/// Addresses for documentation (RFC 5737).
const GREEDY: &str = "198.51.100.1";
const OTHER: &str = "198.51.100.2";

/// Numbers from 0 to 1, the same in each run (a linear congruential generator).
struct Dice(u64);

impl Dice {
    fn between(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        low + (high - low) * (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }
}

/// A set whose targets some powers nearly reach.
fn set(lights: usize, points: usize, time_limit_ms: u32, seed: u64) -> Value {
    let mut dice = Dice(seed);
    let gains: Vec<Vec<f64>> =
        (0..points).map(|_| (0..lights).map(|_| dice.between(-4.0, 2.0).exp2()).collect()).collect();
    let powers: Vec<f64> = (0..lights).map(|_| dice.between(-4.0, -0.5).exp2()).collect();
    let light = |k: usize| {
        json!({"name": format!("l{k}"),
            "unit": {"energy": 500, "scale": {"style": "dial", "full": 9, "least": 2}}})
    };
    let point = |(p, row): (usize, &Vec<f64>)| {
        let light: f64 = row.iter().zip(&powers).map(|(gain, power)| gain * power).sum();
        json!({"name": format!("p{p}"), "target": {"stops": light.log2() + dice.between(-0.3, 0.3)}})
    };
    let points: Vec<Value> = gains.iter().enumerate().map(point).collect();
    let readings = gains.iter().enumerate().flat_map(|(p, row)| {
        row.iter().enumerate().map(move |(k, gain)| {
            json!({"light": format!("l{k}"), "point": format!("p{p}"), "setting": "9",
                "f_number": 8.0 * gain.sqrt()})
        })
    });
    json!({
        "exposure": {"f_number": 8}, "reading": "literal", "time_limit_ms": time_limit_ms,
        "lights": (0..lights).map(light).collect::<Vec<_>>(),
        "points": points, "readings": readings.collect::<Vec<_>>()
    })
}

/// Times of small balances asked one after another, in ms.
async fn small(address: &str, from: &str) -> Vec<f64> {
    let mut stream = TcpStream::connect(address).await.expect("a connection");
    let request = post(BALANCE, from, &set(3, 3, 250, 1));
    let (mut took, mut buffer) = (Vec::new(), Vec::new());
    for _ in 0..SMALL {
        let begun = Instant::now();
        assert!(ask(&mut stream, &request, &mut buffer).await, "refused");
        took.push(begun.elapsed().as_secs_f64() * 1e3);
        // So that it does not always begin with a turn of the others.
        sleep(Duration::from_millis(7)).await;
    }
    took
}

/// Large balances one after another, until it is dropped.
async fn large(address: String, seed: u64, told: mpsc::UnboundedSender<f64>) {
    let mut stream = TcpStream::connect(address).await.expect("a connection");
    let request = post(BALANCE, GREEDY, &set(32, 64, 2000, seed));
    let mut buffer = Vec::new();
    loop {
        let begun = Instant::now();
        assert!(ask(&mut stream, &request, &mut buffer).await, "refused");
        if told.send(begun.elapsed().as_secs_f64() * 1e3).is_err() {
            return;
        }
    }
}

#[tokio::main(flavor = "current_thread")]
async fn main() {
    let (_service, address) = serve(&["--trusted-proxies", "127.0.0.0/8"]);
    let tell = |what: &str, took: &mut [f64]| {
        let [median, p90, most] = [0.5, 0.9, 1.0].map(|share| quantile(took, share));
        println!("{what:>28}: median {median:.1} ms, p90 {p90:.1}, most {most:.1} ({})", took.len());
    };
    tell("3 x 3 alone", &mut small(&address, OTHER).await);
    let (told, mut heard) = mpsc::unbounded_channel();
    let mut others = JoinSet::new();
    for seed in 1..=CONNECTIONS as u64 {
        others.spawn(large(address.clone(), seed, told.clone()));
    }
    sleep(Duration::from_secs(3)).await;
    tell("3 x 3, the same address", &mut small(&address, GREEDY).await);
    tell("3 x 3, another address", &mut small(&address, OTHER).await);
    assert!(others.try_join_next().is_none(), "a large balance failed");
    drop(others);
    let mut took = Vec::new();
    while let Ok(one) = heard.try_recv() {
        took.push(one);
    }
    tell("32 x 64 with 2000 ms", &mut took);
}
