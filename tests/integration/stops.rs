//! `/v1/stops/convert` and `/v1/marks/{kind}`.

use serde_json::json;

use crate::support::{Server, close, faults, pointers};

const CONVERT: &str = "/v1/stops/convert";

#[tokio::test]
async fn marks_stand_for_exact_values() {
    let server = Server::start().await;
    let answer = server.ask(CONVERT, json!({"from": "f/8", "to": "f/11"})).await;
    assert_eq!(answer["exposure_stops"], -1.0);
    assert_eq!(answer["to"]["value"], 11.3137);
    assert_eq!(answer["to"]["read_as"], "marked");
    let literal = server.ask(CONVERT, json!({"from": "f/8", "to": "f/11", "reading": "literal"})).await;
    // By hand: 2·log2(8/11).
    close(&literal["exposure_stops"], -0.9189, 1e-4);
}

#[tokio::test]
async fn from_f_22_to_f_4_is_five_stops() {
    // Common practice.
    let server = Server::start().await;
    let answer = server.get("/v1/stops/convert?from=f/22&to=f/4").await;
    assert_eq!(answer.body["exposure_stops"], 5.0);
    assert_eq!(answer.body["light_ratio"], 32.0);
}

#[tokio::test]
async fn every_fault_is_reported_with_its_place() {
    let server = Server::start().await;
    let found = server.refused(CONVERT, json!({"from": "f/0", "to": "f/-2"})).await;
    assert_eq!(pointers(&found), ["/from", "/to"]);
    let found = server.refused(CONVERT, json!({"form": "f/8", "step": 7, "to": "f/8"})).await;
    assert_eq!(pointers(&found), ["/form", "/step", "/from"]);
    assert!(found[0][2].contains("from, to, shift"), "the known names: {}", found[0][2]);
}

#[tokio::test]
async fn a_bare_quarter_may_be_a_time_or_a_power() {
    let server = Server::start().await;
    let found = server.refused(CONVERT, json!({"from": "1/4", "shift": 1})).await;
    assert!(found[0][2].contains("exposure_time") && found[0][2].contains("power_fraction"));
    let answer = server.ask(CONVERT, json!({"from": "1/4", "shift": 1, "kind": "power_fraction"})).await;
    assert_eq!(answer["to"]["mark"], "1/2");
}

#[tokio::test]
async fn a_plus_sign_lost_in_a_query_is_explained() {
    let server = Server::start().await;
    let answer = server.get("/v1/stops/convert?from=f/8&shift=+1").await;
    assert_eq!(answer.body["to"]["mark"], "f/5.6");
    let answer = server.get("/v1/stops/convert?from=f/8++0.3&to=f/11").await;
    assert_eq!(answer.status, 422);
    assert!(faults(&answer.body)[0][2].contains("%2B"));
    let answer = server.get("/v1/stops/convert?from=f/8+%2B0.3&to=f/11").await;
    // f/8 +0.3 is N = 8·2^0.15 (common practice: a flash meter's reading).
    close(&answer.body["from"]["value"], 8.87656, 1e-5);
}

#[tokio::test]
async fn a_text_longer_than_any_value_is_refused() {
    let server = Server::start().await;
    let long = |text: &str| format!("{text}{}", " ".repeat(64));
    for (body, pointer) in [
        (json!({"from": long("f/8"), "to": "f/11"}), "/from"),
        (json!({"from": "f/8", "shift": long("1")}), "/shift"),
    ] {
        assert_eq!(crate::support::pointers(&server.refused("/v1/stops/convert", body).await), [pointer]);
    }
}

#[tokio::test]
async fn every_mark_can_be_sent_back() {
    let server = Server::start().await;
    for kind in ["f_number", "exposure_time", "iso", "optical_density"] {
        for step in ["1", "1/2", "1/3"] {
            let series = server.get(&format!("/v1/marks/{kind}?step={step}")).await;
            for row in series.body["marks"].as_array().expect("marks") {
                let answer = server
                    .ask(CONVERT, json!({"from": row["mark"], "shift": 0, "kind": kind, "step": step}))
                    .await;
                assert_eq!(answer["from"]["value"], row["value"], "{kind} {step} {}", row["mark"]);
                assert_eq!(answer["from"]["mark"], row["mark"], "{kind} {step}");
                assert_eq!(answer["from"]["read_as"], "marked");
            }
        }
    }
}

#[tokio::test]
async fn typographic_characters_are_accepted() {
    let server = Server::start().await;
    for written in
        ["6 ft 6 in", "6'6\"", "6\u{2019}6\u{201d}", "6'6''", "6\u{2032}6\u{2033}", "78 in", "6FT6IN"]
    {
        let answer = server.ask(CONVERT, json!({"from": written, "shift": 0})).await;
        close(&answer["from"]["value"], 1.9812, 1e-6);
        assert_eq!(answer["unit"], "m");
    }
    let faults = server.refused(CONVERT, json!({"from": "1,000 J", "shift": 1})).await;
    assert!(faults[0][2].contains("1000 J"), "{faults:?}");
    let faults = server.refused(CONVERT, json!({"from": "\u{bd}", "to": "1/4"})).await;
    assert_eq!(pointers(&faults), ["/from", "/to"]);
    let faults = server.refused(CONVERT, json!({"from": "f/8", "shift": "+1 1/0"})).await;
    assert!(faults[0][1].contains("divides by zero"), "{faults:?}");
}
