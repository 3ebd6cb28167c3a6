//! Limits on what a faulty request may cost: the size of its answer, memory, time. The bodies are the worst known.

use std::{
    fs,
    time::{Duration, Instant},
};

use reqwest::Method;
use serde_json::{Value, json};
use stopwright::response::text;

use crate::support::{Answer, Process, Server, faults};

/// The largest problem document, bytes.
const MAX_DOCUMENT_BYTES: usize = 64 * 1024;
/// The largest body, bytes.
const MAX_BODY: usize = 256 * 1024;

/// Names of 62 characters of four bytes each.
fn long_name(k: usize) -> String {
    format!("{}{k:02}", "\u{1f4a1}".repeat(60))
}

/// 32 lights and 64 points with long names, and entries with dangling names: at least two faults each.
fn dangling() -> String {
    let entries = |count| vec![json!({"light": "x", "point": "y"}); count];
    json!({
        "exposure": {"f_number": 8},
        "lights": (0..32).map(|k| json!({"name": long_name(k), "unit": {"energy": 500}})).collect::<Vec<_>>(),
        "points": (0..64).map(|k| json!({"name": long_name(k), "target": {"stops": 0}})).collect::<Vec<_>>(),
        "placements": entries(2048),
        "readings": entries(2048),
    })
    .to_string()
}

/// Repeats an item as often as a body has room for, between a beginning and an end.
fn filled(beginning: &str, one: &str, end: &str) -> String {
    let count = (MAX_BODY - beginning.len() - end.len()) / (one.len() + 1);
    format!("{beginning}{}{end}", vec![one; count].join(","))
}

/// Placements with many unknown field names.
fn unknown_names() -> String {
    let names = format!("{{{}}}", vec!["\"\":0"; 32].join(","));
    filled("{\"placements\":[", &names, "]}")
}

/// The worst known bodies by kind: many faults, many values, deep nesting, long texts.
fn worst() -> Vec<(&'static str, String)> {
    let long_key = "\\u0001".repeat(MAX_BODY / 7);
    let deep = format!("{}0{}", "[".repeat(120), "]".repeat(120));
    let nowhere: Vec<String> =
        (0..4096).map(|k| format!("{{\"name\":\"{k}\",\"light\":\"l{k}\"}}")).collect();
    let nowhere = nowhere.join(",");
    let units = "{\"name\":\"a\",\"unit\":{\"energy\":1,\"scale\":{\"style\":\"dial\",\"full\":16,\"least\":1,\"click\":0.008}}}";
    vec![
        ("dangling names", dangling()),
        ("unknown names", unknown_names()),
        (
            "nothing in entries",
            format!("{{\"readings\":[{0}],\"placements\":[{0}]}}", vec!["{}"; 2048].join(",")),
        ),
        (
            "a long object above many faults",
            filled(
                &format!("{{\"readings\":[{0}],\"placements\":[{0}],", vec!["{}"; 2048].join(",")),
                "\"\":0",
                "}",
            ),
        ),
        ("a long object", filled("{", "\"\":0", "}")),
        ("numbers", filled("[", "0", "]")),
        ("deep lists", filled("[", &deep, "]")),
        ("objects", filled("[", "{\"\":{\"\":0}}", "]")),
        ("a long name", format!("{{\"{long_key}\":0}}")),
        ("long names", filled("{", &format!("\"{}\":0", "\\u0001".repeat(1000)), "}")),
        (
            "many lists of names",
            format!("{{\"lights\":[{nowhere}],\"points\":[{nowhere}],\"readings\":[{{}}]}}"),
        ),
        (
            "many scales",
            filled("{\"lights\":[", units, "],\"readings\":[{\"light\":\"a\",\"setting\":\"z\"}]}"),
        ),
    ]
}

async fn post(server: &Server, path: &str, body: &str) -> Answer {
    let request = server.request(Method::POST, path).header("content-type", "application/json");
    server.send(request.body(body.to_owned())).await
}

/// The number of faults that a problem reports, listed or only counted.
fn total(problem: &Value) -> u64 {
    faults(problem).len() as u64
        + problem.get("more_errors").map_or(0, |more| more.as_u64().expect("a number"))
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn twelve_thousand_faults_are_counted_and_as_many_listed_as_have_room() {
    let server = Server::start().await;
    let body = dangling();
    assert!((130_000..135_000).contains(&body.len()), "{}", body.len());
    let answer = post(&server, "/v1/ratios/balance", &body).await;
    assert_eq!(answer.status, 422);
    let listed = faults(&answer.body);
    // By hand: each reading lacks setting and aperture, and names a light and a point that do not exist: four faults.
    // Each placement has the two dangling names only, because its distance may come from positions.
    assert_eq!(total(&answer.body), 2048 * 4 + 2048 * 2);
    // Their names are long, in the texts and in the params; one more fault would exceed 64 KiB.
    let size = serde_json::to_vec_pretty(&answer.body).expect("JSON").len();
    assert!((60..=100).contains(&listed.len()) && size > 50 * 1024, "{} in {size}", listed.len());
    assert_eq!(answer.body["detail"], format!("{} faults", 2048 * 6));
    // Placements come first in the body.
    let pointers: Vec<&str> = listed.iter().map(|[pointer, ..]| pointer.as_str()).collect();
    let expected: Vec<String> =
        (0..50).flat_map(|k| ["light", "point"].map(|field| format!("/placements/{k}/{field}"))).collect();
    assert_eq!(pointers, expected[..listed.len()]);
    let more = 2048 * 6 - listed.len();
    assert!(text::problem(&answer.body).ends_with(&format!("\n  and {more} more\n")));
    for [_, _, expected] in &listed {
        let more = if expected.contains("and 24 more") { 24 } else { 56 };
        assert!(expected.ends_with(&format!(" and {more} more")) && expected.len() < 450, "{expected}");
    }
}

#[tokio::test]
async fn a_list_of_known_names_is_cut_after_eight() {
    let server = Server::start().await;
    let faults = server.refused("/v1/ratios/balance", json!({"nothing": 1})).await;
    let known = "one of exposure, lens, packs, lights, points, ratio, readings, placements";
    let [_, detail, expected] = &faults[0];
    assert_eq!(
        (detail.as_str(), expected.as_str()),
        ("unknown name \"nothing\"", &*format!("{known} and 15 more"))
    );
    let faults = server.refused("/v1/ratios/balance", json!([])).await;
    assert!(faults[0][2].ends_with("placements and 11 more"), "{faults:?}");
    let faults = server.refused("/v1/stops/convert", json!({"from": 8, "to": 11})).await;
    assert!(faults[0][2].contains(" more"), "{faults:?}");
    let faults = server.refused("/v1/stops/convert", json!({"from": 8, "to": 11, "kind": "odd"})).await;
    assert!(faults[0][2].contains(" more"), "{faults:?}");
    let lights: Vec<Value> =
        (1..=9).map(|k| json!({"name": format!("l{k}"), "unit": {"energy": 500}})).collect();
    let placement = json!({"light": "x", "point": "face", "distance": 2});
    let faults = server
        .refused(
            "/v1/exposure/predict",
            json!({"exposure": {"f_number": 8}, "lights": lights, "placements": [placement]}),
        )
        .await;
    assert_eq!(faults[0][2], "one of l1, l2, l3, l4, l5, l6, l7, l8 and 1 more");
    let kit: Vec<Value> = (1..=20).map(|_| json!({"unit": {"energy": 500}})).collect();
    let shots = json!([{"name": "a", "lights": [{"unit": "x", "setting": "1/1"}]}]);
    let faults = server.refused("/v1/supply/plan", json!({"kit": kit, "shots": shots})).await;
    assert!(faults[0][2].ends_with("unit 8 and 12 more"), "{faults:?}");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn no_problem_document_is_larger_than_64_kib() {
    let server = Server::start().await;
    for (what, body) in worst() {
        assert!(body.len() <= MAX_BODY, "{what}: {}", body.len());
        for path in [
            "/v1/ratios/balance",
            "/v1/exposure/predict",
            "/v1/units/calibrate",
            "/v1/stops/convert",
            "/v1/batch",
        ] {
            let request = server.request(Method::POST, path).header("content-type", "application/json");
            let begun = Instant::now();
            let response = request.body(body.clone()).send().await.expect("an answer");
            let (status, text) = (response.status().as_u16(), response.text().await.expect("text"));
            assert!([400, 422].contains(&status), "{what} at {path}: {status}");
            assert!(text.len() <= MAX_DOCUMENT_BYTES, "{what} at {path}: {}", text.len());
            // A test build on a busy machine; a release build takes some milliseconds.
            assert!(begun.elapsed() < Duration::from_secs(5), "{what} at {path}: {:?}", begun.elapsed());
            let problem: Value = serde_json::from_str(&text).expect("JSON");
            assert!(faults(&problem).len() <= 100, "{what} at {path}");
            assert_ne!(problem.get("more_errors"), Some(&json!(0)), "{what} at {path}");
        }
    }
    let query = format!("/v1/stops/convert?{}", vec!["\u{1}[a]"; 2000].join("&"));
    assert_eq!(server.get(&query).await.status, 422);
    let long = format!("/v1/stops/convert?{}=1&from=f/8", "%01".repeat(9000));
    let answer = server.get(&long).await;
    assert!(answer.status == 422 && answer.body.to_string().len() < 4096, "{}", answer.body);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_problem_of_an_item_is_bounded_as_well() {
    let server = Server::start().await;
    let item = |body: &str| format!("{{\"path\": \"/v1/ratios/balance\", \"body\": {body}}}");
    let line = item(&dangling());
    let lines = vec![line.as_str(); 40].join("\n");
    let request = server.request(Method::POST, "/v1/batch").header("content-type", "application/x-ndjson");
    let answers = request.body(lines).send().await.expect("an answer").text().await.expect("text");
    assert_eq!(answers.lines().count(), 40);
    for answer in answers.lines() {
        let document: Value = serde_json::from_str(answer).expect("JSON");
        assert!(answer.len() <= MAX_DOCUMENT_BYTES + 64, "{}", answer.len());
        assert_eq!((&document["status"], total(&document["body"])), (&json!(422), 2048 * 6));
    }
    // A list of small items, each with about as many faults as bytes.
    let small = item(&format!("{{\"readings\":[{}]}}", vec!["{}"; 280].join(",")));
    let list = filled("{\"requests\":[", &small, "]}");
    let answer = post(&server, "/v1/batch", &list).await;
    let answers = answer.body["answers"].as_array().expect("answers");
    assert!(answers.len() > 250, "{}", answers.len());
    // Each reading lacks light, setting and aperture; the body lacks exposure, lights and a target.
    assert!(answers.iter().all(|answer| total(&answer["body"]) == 280 * 3 + 3), "{}", answers[0]);
}

#[tokio::test]
async fn a_byte_order_mark_before_a_body_is_passed_over() {
    let server = Server::start().await;
    let body = r#"{"from": "f/8", "to": "f/11"}"#;
    let answer = post(&server, "/v1/stops/convert", &format!("\u{feff}{body}")).await;
    assert_eq!((answer.status, &answer.body["exposure_stops"]), (200, &json!(-1.0)));
    // One mark is accepted; a second is a syntax error.
    assert_eq!(post(&server, "/v1/stops/convert", &format!("\u{feff}\u{feff}{body}")).await.status, 400);
    let item = format!("{{\"path\": \"/v1/stops/convert\", \"body\": {body}}}");
    let list = post(&server, "/v1/batch", &format!("\u{feff}{{\"requests\": [{item}]}}")).await;
    assert_eq!(list.body["answers"][0]["status"], 200, "{}", list.body);
    let request = server.request(Method::POST, "/v1/batch").header("content-type", "application/x-ndjson");
    let lines = server.send(request.body(format!("\u{feff}{item}\n{item}\n"))).await.body;
    assert_eq!(lines.as_str().expect("lines").matches("\"status\":200").count(), 2, "{lines}");
}

#[cfg(target_os = "linux")]
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn six_clients_with_the_worst_bodies_do_not_cost_64_mib() {
    let service = Process::serve(&[]);
    let client = reqwest::Client::new();
    let (mut bodies, paths) = (worst(), ["/v1/ratios/balance", "/v1/exposure/predict", "/v1/batch"]);
    let item = format!("{{\"path\": \"/v1/ratios/balance\", \"body\": {}}}", dangling());
    bodies.push((
        "a list of items",
        filled("{\"requests\":[", "{\"path\":\"/v1/kit/check\",\"body\":{\"\":0}}", "]}"),
    ));
    bodies.push(("one large item", format!("{{\"requests\":[{item}]}}")));
    for (_, body) in &bodies {
        let asked = (0..6).map(|k| {
            let ask = client.post(format!("{}{}", service.url, paths[k % 3]));
            let ask = ask.header("content-type", "application/json");
            let body = body.clone();
            tokio::spawn(async move {
                for _ in 0..4 {
                    let ask = ask.try_clone().expect("no stream").body(body.clone());
                    let response = ask.send().await.expect("an answer");
                    let status = response.status().as_u16();
                    // 408 on a machine that is busy with much else.
                    assert!([200, 400, 408, 422, 503].contains(&status), "{status}");
                    response.bytes().await.expect("all of it");
                }
            })
        });
        for asked in asked.collect::<Vec<_>>() {
            asked.await.expect("no panic");
        }
    }
    let status = fs::read_to_string(format!("/proc/{}/status", service.child.id())).expect("Linux");
    let most = status.lines().find_map(|line| line.strip_prefix("VmHWM:")).expect("a line");
    let kib: u64 = most.trim().trim_end_matches(" kB").parse().expect("a number");
    println!("{kib} KiB at the most");
    assert!(kib < 64 * 1024, "{kib} KiB");
}
