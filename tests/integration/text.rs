//! Answers for people: `Accept: text/plain`.

use std::collections::BTreeSet;

use reqwest::Method;
use serde_json::{Value, json};

use crate::support::{Answer, Server, examples};

async fn ask(server: &Server, path: &str, body: &Value) -> Answer {
    server.send(server.request(Method::POST, path).header("accept", "text/plain").json(body)).await
}

#[tokio::test]
async fn every_answer_can_be_read_by_people() {
    let server = Server::start().await;
    let mut seen = 0;
    for (path, body) in examples() {
        let json = server.post(&path, &body).await;
        let text = ask(&server, &path, &body).await;
        assert_eq!(text.status, json.status, "{path}");
        if text.status != 200 {
            assert_eq!(text.header("content-type"), "application/problem+json", "problems stay documents");
            continue;
        }
        seen += 1;
        assert_eq!(text.header("content-type"), "text/plain; charset=utf-8");
        let shown = text.body.as_str().map_or_else(|| text.body.to_string(), str::to_owned);
        for line in shown.lines() {
            let longest = line.split_whitespace().map(|word| word.chars().count()).max().unwrap_or_default();
            assert!(line.chars().count() <= 80 || longest > 60, "{path}: {line}");
            assert!(!line.ends_with(' '), "{path}: {line:?}");
        }
        assert!(!shown.contains(['{', '}', '[', ']']) && !shown.contains("null"), "{path}:\n{shown}");
        // Negative numbers have a minus sign, and no row of the head has the label of another.
        let is_hyphen = |pair: &[char]| pair[0] == '-' && pair[1].is_ascii_digit();
        let head: Vec<&str> = shown.split("\n\n").nth(1).unwrap_or_default().lines().collect();
        let chars: Vec<char> = head.concat().chars().collect();
        assert!(!chars.windows(2).any(is_hyphen), "{path}:\n{shown}");
        let labels: Vec<&str> =
            head.iter().filter_map(|row| row.split_once("  ").map(|(label, _)| label)).collect();
        let different: BTreeSet<&&str> = labels.iter().filter(|label| !label.is_empty()).collect();
        assert_eq!(
            different.len(),
            labels.iter().filter(|label| !label.is_empty()).count(),
            "{path}:\n{shown}"
        );
        // Warnings, cautions and remedies are always there.
        for note in ["warnings", "cautions", "remedies"] {
            for item in json.body[note].as_array().into_iter().flatten() {
                let sentence = item["text"].as_str().or(item["detail"].as_str()).expect("a sentence");
                let words: Vec<&str> = sentence.split_whitespace().collect();
                let shown: Vec<&str> = shown.split_whitespace().collect();
                assert!(shown.windows(words.len()).any(|window| window == words), "{path}: {sentence}");
            }
        }
    }
    assert!(seen > 25, "{seen} examples");
}

#[tokio::test]
async fn a_conversion_reads_naturally() {
    let server = Server::start().await;
    let text = ask(&server, "/v1/stops/convert", &json!({"from": "f/8", "to": "f/11"})).await;
    let expected = "\
f/8 to f/11 is 1 stop darker.

from         f/8
to           f/11
exposure     −1 stop
light ratio  0.5
";
    assert_eq!(text.body, expected);
    let query = server.request(Method::GET, "/v1/stops/convert?from=f/8&to=f/11");
    let by_query = server.send(query.header("accept", "text/plain, application/json;q=0.5")).await;
    assert_eq!(by_query.body, expected);
    assert_eq!(by_query.header("vary"), "accept, accept-encoding");
    // Feet are beside metres if they are asked for.
    let feet =
        ask(&server, "/v1/stops/convert", &json!({"from": "8 ft", "shift": -2, "units": "imperial"})).await;
    assert!(
        feet.body.as_str().is_some_and(|text| text.contains("8 ft") && text.contains("16 ft")),
        "{}",
        feet.body
    );
    // Each format has its own tag.
    let json = server.get("/v1/stops/convert?from=f/8&to=f/11").await;
    assert_ne!(json.header("etag"), by_query.header("etag"));
}

#[tokio::test]
async fn empty_rows_are_left_out() {
    let server = Server::start().await;
    let light = |name: &str, more: Value| {
        let unit = json!({"guide_number": {"value": 40, "unit": "m"}, "scale": {"style": "dial", "full": 9, "least": 2}});
        let mut light = json!({"name": name, "unit": unit, "position": [0, -2, 0]});
        light.as_object_mut().expect("fields").extend(more.as_object().expect("fields").clone());
        light
    };
    let ask_for = async |lights: Value| {
        let points = json!([{"name": "face", "position": [0, 0, 0], "target": {"stops": 0}}]);
        let body = json!({"exposure": {"f_number": "f/8"}, "lights": lights, "points": points});
        ask(&server, "/v1/ratios/balance", &body).await.body.as_str().expect("a text").to_owned()
    };
    let heading = "\nclicks\n";
    // With all lights fixed there are no clicks.
    let fixed = json!([
        light("key", json!({"setting": "9", "hold": true})),
        light("fill", json!({"setting": "8", "hold": true}))
    ]);
    let text = ask_for(fixed).await;
    assert!(text.contains("\nsettings\n") && !text.contains(heading), "{text}");
    // The clicks of the free light are listed, and the other is named as fixed.
    let one = json!([light("key", json!({})), light("fill", json!({"setting": "2", "hold": true}))]);
    let text = ask_for(one).await;
    assert!(text.contains(heading) && text.matches("fill").count() > 1, "{text}");
}

#[tokio::test]
async fn one_sided_values_are_marked_and_numbers_have_units() {
    let server = Server::start().await;
    let text = async |path: &str, body: Value| {
        ask(&server, path, &body).await.body.as_str().expect("a text").to_owned()
    };
    // A clipped patch is at least as bright as the answer says.
    let clipped = json!({"reference": 118, "readings": [{"name": "window", "level": 255}]});
    let shown = text("/v1/patches/compare", clipped).await;
    assert!(shown.contains(" or more"), "{shown}");
    // A time beyond the marks has no mark.
    let bright = json!({
        "exposure": {"f_number": "f/4", "exposure_time": "1/500", "sync_time": "1/200", "iso": 400},
        "ambient": {"illuminance_lx": 30000}
    });
    let shown = text("/v1/ambient/check", bright).await;
    let time = shown.lines().find(|line| line.starts_with("longest exposure time")).expect("a time");
    assert!(time.ends_with(" s"), "{time}");
}

#[tokio::test]
async fn values_are_written_as_on_set() {
    let server = Server::start().await;
    let shown = async |path: &str, body: Value| {
        ask(&server, path, &body).await.body.as_str().expect("a text").to_owned()
    };
    let reads = |text: &str, rows: &[&str]| {
        for row in rows {
            let words = |line: &str| line.split_whitespace().collect::<Vec<_>>().join(" ");
            assert!(text.lines().any(|line| words(line) == words(row)), "{row}:\n{text}");
        }
    };
    // How sure is one line, with its causes in words.
    let one_light = json!({"guide_number": "GN 40", "distance": "5 m"});
    let text = shown("/v1/exposure/one-light", one_light).await;
    reads(
        &text,
        &["f-number  f/8", "setting   full", "sure to   ±0.55 stop (mostly the rating, then the meter)"],
    );
    // Tenths of a meter beside the mark; shares in percent; a short length in millimetres.
    let combined = shown("/v1/readings/combine", json!({"add": ["f/8", "f/5.6"]})).await;
    reads(&combined, &["f-number  f/10 (meter f/8 +0.6)"]);
    let oar = json!({"t0_1_s": "1/800", "exposure_time": "1/250", "sync_time": "1/200", "speed_m_s": 3});
    let text = shown("/v1/motion/freeze", oar).await;
    reads(&text, &["t0.1        1/800 s", "blur        3.8 mm"]);
    // A unit without a scale is set below full; one with fractions or percent by its label alone.
    let swap = |scale: Value| {
        let mut unit = json!({"energy": "500 J"});
        if !scale.is_null() {
            unit["scale"] = scale;
        }
        json!({"reference": {"unit": {"energy": "500 J"}, "setting": "1/2"}, "candidates": [{"unit": unit}]})
    };
    let bare = shown("/v1/energy/equivalence", swap(Value::Null)).await;
    reads(&bare, &["reference  1 stop below full (250 J)"]);
    assert!(bare.starts_with("Set it to 1 stop below full;"), "{bare}");
    let percent = shown("/v1/energy/equivalence", swap(json!({"style": "percent", "least": 5}))).await;
    assert!(percent.starts_with("Set it to 50 %;"), "{percent}");
}

#[tokio::test]
async fn misfires_are_counted_as_people_count() {
    let server = Server::start().await;
    let (path, body) = examples()
        .into_iter()
        .find(|(path, body)| {
            path == "/v1/units/calibrate" && body["readings"].as_array().is_some_and(|all| all.len() > 8)
        })
        .expect("a calibration");
    let json = server.post(&path, &body).await.body;
    let index = json["misfires"][0]["index"].as_u64().expect("a misfire");
    let text = ask(&server, &path, &body).await.body.as_str().expect("a text").to_owned();
    let row =
        text.split("\nmisfires\n").nth(1).and_then(|block| block.split("\n\n").next()).expect("a block");
    let last = row.lines().last().expect("a row");
    assert!(last.trim().starts_with(&format!("{} ", index + 1)), "{text}");
}
