//! How light calls fare beside heavy ones: `stops/convert` at a fixed rate, whoever waits (an open loop: a call counts
//! from when it was due, not from when there was room for it), alone and beside balances, kit checks and a stream of
//! questions, turn and turn about. With the word `faulty`, beside eight clients that send bodies full of faults instead.
//! The heavy clients are a process of their own, so that a light call never waits for their turn in this one.
//!
//! `cargo build --release --bin stopwright && cargo run --release --example beside [-- faulty]`

#![expect(clippy::expect_used, reason = "a benchmark fails by panicking")]

mod client;

use std::{
    process::{Child, Command},
    sync::Arc,
    time::{Duration, Instant},
};

use serde_json::{Value, json};
use tokio::{
    io::AsyncWriteExt,
    net::TcpStream,
    sync::{Mutex, mpsc},
    task::JoinSet,
};

use client::{ask, post, post_text, quantile, serve};

const ROUNDS: usize = 5;
const ROUND: Duration = Duration::from_secs(4);
const RATE_HZ: u32 = 1000;
const CONNECTIONS: usize = 16;
/// Balances, kit checks and streams at the same time.
const HEAVY: &[(&str, usize)] = &[("balance", 4), ("kit", 2), ("stream", 1)];
/// Bodies full of faults: as many as any request has, as many bytes as a body may have, and as many faults as are found
/// among the light calls.
const FAULTY: &[(&str, usize)] = &[("faults", 3), ("bytes", 3), ("small", 2)];

/// Latencies of light calls that are due at a fixed rate for one round, in ms.
async fn light(address: &str) -> Vec<f64> {
    let request = Arc::new(post("/v1/stops/convert", "127.0.0.1", &json!({"from": "f/8", "to": "f/11"})));
    let (due, queue) = mpsc::unbounded_channel::<Instant>();
    let queue = Arc::new(Mutex::new(queue));
    let mut clients = JoinSet::new();
    for _ in 0..CONNECTIONS {
        let mut stream = TcpStream::connect(address).await.expect("a connection");
        stream.set_nodelay(true).expect("set");
        let (queue, request) = (Arc::clone(&queue), Arc::clone(&request));
        clients.spawn(async move {
            let (mut took, mut buffer) = (Vec::new(), Vec::new());
            loop {
                let due = queue.lock().await.recv().await;
                let Some(due) = due else { return took };
                ask(&mut stream, &request, &mut buffer).await;
                took.push(due.elapsed().as_secs_f64() * 1e3);
            }
        });
    }
    // A thread of its own, for the runtime's timers know whole milliseconds only.
    let pace = std::thread::spawn(move || {
        let begun = Instant::now();
        for number in 0..RATE_HZ * ROUND.as_secs() as u32 {
            let at = begun + Duration::from_secs(1) / RATE_HZ * number;
            std::thread::sleep(at.saturating_duration_since(Instant::now()));
            due.send(at).expect("clients");
        }
    });
    let took = clients.join_all().await.concat();
    pace.join().expect("no panic");
    took
}

fn balance() -> Value {
    let light = |k: usize| {
        json!({"name": format!("l{k}"),
            "unit": {"energy": 500, "scale": {"style": "dial", "full": 9, "least": 2}}})
    };
    let reading = |k: usize, p: usize| {
        let f_number = 4.0 + ((k * 7 + p * 13) % 11) as f64 / 3.0;
        json!({"light": format!("l{k}"), "point": format!("p{p}"), "setting": "9", "f_number": f_number})
    };
    let point = |p: usize| json!({"name": format!("p{p}"), "target": {"stops": (p % 5) as f64 / 3.0 - 1.0}});
    json!({
        "exposure": {"f_number": "f/8"}, "reading": "literal",
        "lights": (0..20).map(light).collect::<Vec<_>>(),
        "points": (0..40).map(point).collect::<Vec<_>>(),
        "readings": (0..20).flat_map(|k| (0..40).map(move |p| reading(k, p))).collect::<Vec<_>>()
    })
}

fn kit() -> Value {
    let unit = |k: usize| {
        json!({"unit": {"name": format!("u{k}"), "guide_number": {"value": 30 + k * 7 % 41, "unit": "m"},
            "scale": {"style": "dial", "full": 9, "least": 2}}})
    };
    let light =
        |role: usize| json!({"role": format!("r{role}"), "stops": 0, "distance": 2.0 + role as f64 / 4.0});
    let shot = |k: usize| {
        json!({"name": format!("s{k}"), "exposure": {"f_number": "f/11"},
            "lights": (0..8).map(light).collect::<Vec<_>>()})
    };
    json!({"kit": (0..32).map(unit).collect::<Vec<_>>(), "shots": (0..32).map(shot).collect::<Vec<_>>()})
}

/// 32 lights and 64 points with long names, and entries that point nowhere: 12,288 faults.
fn dangling() -> Value {
    let name = |k: usize| format!("{}{k:02}", "\u{1f4a1}".repeat(60));
    let entries = vec![json!({"light": "x", "point": "y"}); 2048];
    json!({
        "exposure": {"f_number": 8},
        "lights": (0..32).map(|k| json!({"name": name(k), "unit": {"energy": 500}})).collect::<Vec<_>>(),
        "points": (0..64).map(|k| json!({"name": name(k), "target": {"stops": 0}})).collect::<Vec<_>>(),
        "readings": entries, "placements": entries
    })
}

/// As many of something as so many bytes hold, in a list of an object.
fn filled(list: &str, one: &str, bytes: usize) -> String {
    format!("{{\"{list}\":[{}]}}", vec![one; (bytes - list.len() - 7) / (one.len() + 1)].join(","))
}

/// Heavy calls one after another until it is dropped.
async fn heavy(address: String, what: &'static str) {
    let mut stream = TcpStream::connect(&address).await.expect("a connection");
    if what == "stream" {
        let (mut answers, mut questions) = stream.into_split();
        let head = "POST /v1/batch HTTP/1.1\r\nhost: x\r\ncontent-type: application/x-ndjson\r\n\
                    transfer-encoding: chunked\r\n\r\n";
        questions.write_all(head.as_bytes()).await.expect("written");
        let lines =
            r#"{"path": "/v1/stops/convert", "body": {"from": "f/8", "to": "f/11"}}"#.to_owned() + "\n";
        let lines = lines.repeat(200);
        let chunk = format!("{:x}\r\n{lines}\r\n", lines.len());
        let taking = async move { tokio::io::copy(&mut answers, &mut tokio::io::sink()).await };
        let sending = async move { while questions.write_all(chunk.as_bytes()).await.is_ok() {} };
        let _ = tokio::join!(taking, sending);
        return;
    }
    let request = match what {
        "balance" => post("/v1/ratios/balance", "127.0.0.1", &balance()),
        "faults" => post("/v1/exposure/predict", "127.0.0.1", &dangling()),
        "bytes" => {
            let entry = format!("{{{}}}", vec!["\"\":0"; 32].join(","));
            post_text("/v1/exposure/predict", "127.0.0.1", &filled("placements", &entry, 256 * 1024))
        }
        "small" => post_text("/v1/exposure/predict", "127.0.0.1", &filled("readings", "{}", 2048)),
        _ => post("/v1/kit/check", "127.0.0.1", &kit()),
    };
    let mut buffer = Vec::new();
    loop {
        ask(&mut stream, &request, &mut buffer).await;
    }
}

/// Ends the process of the heavy clients when it is dropped.
struct Others(Child);

impl Drop for Others {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// Starts this program again, as the heavy clients of a round.
fn others(address: &str, what: &str) -> Others {
    let program = std::env::current_exe().expect("a path");
    Others(Command::new(program).args([what, address]).spawn().expect("this program"))
}

/// Heavy calls of all clients until the process is killed, or one fails.
async fn heavy_clients(address: &str, clients: &[(&'static str, usize)]) {
    let mut tasks = JoinSet::new();
    for &(what, count) in clients {
        for _ in 0..count {
            tasks.spawn(heavy(address.to_owned(), what));
        }
    }
    tasks.join_next().await.expect("clients").expect("a heavy call failed");
}

#[tokio::main(flavor = "current_thread")]
async fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let what_else = if arguments.iter().any(|argument| argument == "faulty") { "faulty" } else { "heavy" };
    if let [_, address] = &arguments[..] {
        return heavy_clients(address, if what_else == "faulty" { FAULTY } else { HEAVY }).await;
    }
    let (_service, address) = serve(&[]);
    // So that nothing is done for the first time within a round.
    light(&address).await;
    let (mut alone, mut beside) = ([Vec::new(), Vec::new()], [Vec::new(), Vec::new()]);
    for _ in 0..ROUNDS {
        for (round, is_beside) in [(&mut alone, false), (&mut beside, true)] {
            let mut heavy = is_beside.then(|| others(&address, what_else));
            let mut took = light(&address).await;
            if let Some(Others(heavy)) = &mut heavy {
                assert!(heavy.try_wait().expect("a process").is_none(), "a heavy call failed");
            }
            drop(heavy);
            round[0].push(quantile(&mut took, 0.5));
            round[1].push(quantile(&mut took, 0.99));
        }
    }
    println!(
        "{RATE_HZ} calls a second, {ROUNDS} rounds of {} s each way; medians of rounds",
        ROUND.as_secs()
    );
    for (index, what) in ["median", "p99"].into_iter().enumerate() {
        let ratios: Vec<f64> = beside[index].iter().zip(&alone[index]).map(|(b, a)| b / a).collect();
        let [alone, beside, mut ratio] = [alone[index].clone(), beside[index].clone(), ratios];
        let [mut alone, mut beside] = [alone, beside];
        println!(
            "{what:>7}: alone {:.2} ms  beside {what_else} {:.2} ms  ratio {:.2}",
            quantile(&mut alone, 0.5),
            quantile(&mut beside, 0.5),
            quantile(&mut ratio, 0.5)
        );
    }
}
