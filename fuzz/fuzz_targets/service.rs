//! A request to the whole service, without a socket: queries, batches as lists and as streams, and all other ways in.
//! The first line is method and target, the rest the body.
#![no_main]

use axum::{
    body::{Body, to_bytes},
    http::Request,
};
use libfuzzer_sys::{fuzz_mutator, fuzz_target, fuzzer_mutate};
use std::{cell::LazyCell, io::Read, net::Ipv4Addr, time::Instant};
use stopwright::{app::App, server::state::Config};
use stopwright_fuzz::{
    dice::Dice,
    holds,
    json::Json,
    mutate::{mutate, spell},
};
use tokio::runtime::Runtime;

/// What an answer may have at the most.
const MOST: usize = 64 * 1024 * 1024;

thread_local! {
    static SERVICE: LazyCell<(Runtime, App)> = LazyCell::new(|| {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().expect("a runtime");
        (runtime, App::new(Config::default()))
    });
}

fn split(data: &[u8]) -> (String, &[u8]) {
    let end = data.iter().position(|byte| *byte == b'\n').unwrap_or(data.len());
    let (line, body) = data.split_at(end);
    (String::from_utf8_lossy(line).into_owned(), body.get(1..).unwrap_or_default())
}

/// Gives searches little time, in a list of questions as well.
fn hasten(target: &str, json: &mut Json) {
    if target.contains("balance") {
        holds::hasten("ratios/balance", json);
    }
    let Json::Object(entries) = json else { return };
    let Some((_, Json::List(items))) = entries.iter_mut().find(|(name, _)| name == "requests") else {
        return;
    };
    for item in items {
        let Json::Object(entries) = item else { continue };
        let is_balance = |value: &Json| matches!(value, Json::Text(path) if path.contains("balance"));
        if entries.iter().any(|(_, value)| is_balance(value)) {
            entries.iter_mut().for_each(|(_, body)| holds::hasten("ratios/balance", body));
        }
    }
}

fuzz_target!(|data: &[u8]| {
    let (line, body) = split(data);
    let mut words = line.splitn(3, ' ');
    let (method, target, kind) = (words.next(), words.next(), words.next());
    let mut body = body.to_vec();
    if let (Some(target), Some(mut json)) = (target, Json::parse(&body)) {
        hasten(target, &mut json);
        body = json.text().into_bytes();
    }
    let request = Request::builder()
        .method(method.unwrap_or("GET"))
        .uri(target.unwrap_or("/"))
        .header("host", "here")
        .header("accept-encoding", if data.len().is_multiple_of(2) { "gzip" } else { "identity" })
        .header("content-type", kind.unwrap_or("application/json"))
        .body(Body::from(body));
    // What is no request at all does not get so far.
    let Ok(request) = request else { return };
    let shown = || String::from_utf8_lossy(data).into_owned();
    let begun = Instant::now();
    let (status, media, answer) = SERVICE.with(|service| {
        let (runtime, app) = &**service;
        runtime.block_on(async {
            let response = app.answer(request, Ipv4Addr::LOCALHOST.into()).await;
            let status = response.status().as_u16();
            let media = response.headers().get("content-type").cloned();
            let is_packed = response.headers().get("content-encoding").is_some_and(|coding| coding == "gzip");
            let answer = to_bytes(response.into_body(), MOST).await.expect("an answer with an end");
            (status, media, if is_packed { unpacked(&answer) } else { answer.to_vec() })
        })
    });
    assert!(begun.elapsed() < 4 * holds::SOON, "{:?} for {}", begun.elapsed(), shown());
    assert!(status < 500, "{status} for {}", shown());
    let media = media.map(|media| media.to_str().unwrap_or_default().to_owned()).unwrap_or_default();
    // HEAD has no body.
    if answer.is_empty() {
        return;
    }
    match media.as_str() {
        "application/problem+json" => {
            let problem = holds::read(&answer, &shown);
            assert_eq!(problem["status"], status);
            if [400, 422].contains(&status) {
                holds::located(&problem, &shown);
            }
        }
        "application/json" => {
            let answer = holds::read(&answer, &shown);
            answer["answers"].as_array().into_iter().flatten().for_each(|item| answered(item, &shown));
        }
        "application/x-ndjson" => {
            for line in answer.split(|byte| *byte == b'\n').filter(|line| !line.is_empty()) {
                answered(&holds::read(line, &shown), &shown);
            }
        }
        _ => {}
    }
});

fn unpacked(bytes: &[u8]) -> Vec<u8> {
    let mut plain = Vec::new();
    flate2::read::GzDecoder::new(bytes).read_to_end(&mut plain).expect("gzip");
    plain
}

fn answered(item: &serde_json::Value, shown: &dyn Fn() -> String) {
    let status = item["status"].as_u64().unwrap_or_default();
    assert!([200, 400, 404, 413, 422].contains(&status), "{item} for {}", shown());
    if [400, 422].contains(&status) {
        holds::located(&item["body"], shown);
    }
}

fuzz_mutator!(|data: &mut [u8], size: usize, most: usize, seed: u32| {
    let mut dice = Dice::new(seed.into());
    if dice.chance(8) {
        return fuzzer_mutate(data, size, most);
    }
    let (line, body) = split(&data[..size]);
    let changed = match Json::parse(body).filter(|_| !dice.chance(8)) {
        Some(mut json) => {
            mutate(&mut json, &mut dice);
            format!("{line}\n{}", json.text())
        }
        // A query: percent signs and brackets matter there.
        None => {
            let piece = *dice
                .pick(&["%2B", "%", "%ff", "[", "]", "][", "&", "=", ",", "source[disc_m]=", "+"])
                .unwrap_or(&"&");
            let mut line = spell(&line, &mut dice).replace('\n', "");
            let at =
                (0..=dice.below(line.len() + 1)).rev().find(|at| line.is_char_boundary(*at)).unwrap_or(0);
            line.insert_str(at, piece);
            format!("{line}\n{}", String::from_utf8_lossy(body))
        }
    };
    if changed.len() > most {
        return fuzzer_mutate(data, size, most);
    }
    data[..changed.len()].copy_from_slice(changed.as_bytes());
    changed.len()
});
