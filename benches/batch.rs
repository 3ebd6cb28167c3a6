//! A stream of 10,000 conversions through the whole service in process, against `serde_json` alone: parsing the
//! same lines into typed requests and writing typed answers of the same bytes.
//!
//! Run it on one core: `taskset -c 0 cargo bench --bench batch`.

#![expect(clippy::expect_used, reason = "a benchmark fails by panicking")]

use std::{hint::black_box, net::Ipv4Addr, time::Instant};

use axum::{
    body::{Body, Bytes},
    http::Request,
};
use futures_util::StreamExt;
use serde::{Deserialize, Serialize};
use stopwright::{app::App, server::state::Config};

const LINES: usize = 10_000;
const ROUNDS: usize = 51;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Line {
    id: String,
    path: String,
    body: Convert,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Convert {
    from: String,
    to: Option<String>,
    shift: Option<f64>,
}

#[derive(Serialize, Deserialize)]
struct Answer {
    id: String,
    status: u16,
    body: Conversion,
}

#[derive(Serialize, Deserialize)]
struct Conversion {
    kind: String,
    unit: Option<String>,
    from: Marked,
    to: Marked,
    exposure_stops: f64,
    light_ratio: f64,
}

#[derive(Serialize, Deserialize)]
struct Marked {
    value: f64,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    value_ft: Option<f64>,
    mark: Option<String>,
    read_as: Option<String>,
    off_by_stops: Option<f64>,
}

/// Conversions of many kinds.
fn lines() -> String {
    let values = [
        ["f/8", "f/11"],
        ["1/60 s", "1/200 s"],
        ["ISO 100", "ISO 640"],
        ["600 J", "250 Ws"],
        ["2.5 m", "8 ft 6 in"],
        ["GN 40", "GN 58"],
        ["ND 0.9", "ND 0.3"],
        ["3:1", "2:1"],
    ];
    (0..LINES)
        .map(|k| {
            let [from, to] = values[k % values.len()];
            if k % 3 == 0 {
                let shift = (k % 7) as f64 / 3.0;
                format!("{{\"id\":\"q{k}\",\"path\":\"/v1/stops/convert\",\"body\":{{\"from\":\"{from}\",\"shift\":{shift:.4}}}}}\n")
            } else {
                format!("{{\"id\":\"q{k}\",\"path\":\"/v1/stops/convert\",\"body\":{{\"from\":\"{from}\",\"to\":\"{to}\"}}}}\n")
            }
        })
        .collect()
}

async fn ask(service: &App, lines: &Bytes, mut take: impl FnMut(Bytes)) {
    let request = Request::post("/v1/batch")
        .header("host", "here")
        .header("content-type", "application/x-ndjson")
        .body(Body::from(lines.clone()))
        .expect("a request");
    let response = service.answer(request, Ipv4Addr::LOCALHOST.into()).await;
    // As a socket takes them: piece by piece.
    let mut answers = response.into_body().into_data_stream();
    while let Some(piece) = answers.next().await {
        take(piece.expect("a body"));
    }
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

fn main() {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().expect("a runtime");
    let service = App::new(Config::default());
    let text = Bytes::from(lines());
    let mut answered: Vec<u8> = Vec::new();
    runtime.block_on(ask(&service, &text, |piece| answered.extend_from_slice(&piece)));
    let answers: Vec<Answer> = std::str::from_utf8(&answered)
        .expect("UTF-8")
        .lines()
        .map(|line| serde_json::from_str(line).expect("a conversion"))
        .collect();
    assert_eq!(answers.len(), LINES);
    assert!(
        answers.iter().enumerate().all(|(k, answer)| answer.status == 200 && answer.id == format!("q{k}"))
    );

    let mut plain = Vec::new();
    let mut stream = Vec::new();
    // Turn and turn about, so that both have the same machine.
    for _ in 0..ROUNDS {
        let begun = Instant::now();
        let mut out: Vec<u8> = Vec::new();
        for (line, answer) in std::str::from_utf8(&text).expect("UTF-8").lines().zip(&answers) {
            let line: Line = serde_json::from_str(line).expect("a line");
            black_box((&line.id, &line.path, &line.body.from, &line.body.to, &line.body.shift));
            serde_json::to_writer(&mut out, answer).expect("written");
            out.push(b'\n');
        }
        plain.push(begun.elapsed().as_secs_f64() * 1e3);
        assert_eq!(out.len(), answered.len());

        let begun = Instant::now();
        runtime.block_on(ask(&service, &text, |piece| drop(black_box(piece))));
        stream.push(begun.elapsed().as_secs_f64() * 1e3);
    }
    let ratios = stream.iter().zip(&plain).map(|(stream, plain)| stream / plain).collect();
    println!(
        "{LINES} conversions, {} bytes in, {} bytes out, medians of {ROUNDS}",
        text.len(),
        answered.len()
    );
    println!("serde_json alone  {:7.2} ms", median(plain));
    println!("/v1/batch stream  {:7.2} ms", median(stream));
    println!("ratio, by rounds  {:7.2}", median(ratios));
}
