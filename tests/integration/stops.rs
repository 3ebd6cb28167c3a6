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

#[tokio::test]
async fn exposure_values_illuminances_and_reflectances_are_counted_in_stops() {
    let server = Server::start().await;
    let between = |from: &str, to: &str| server.ask(CONVERT, json!({"from": from, "to": to}));
    // Published: CIPA DC-008, APEX units: a camera set three values higher takes three stops less light.
    let answer = between("EV 12", "EV 15").await;
    assert_eq!([&answer["kind"], &answer["exposure_stops"]], [&json!("exposure_value"), &json!(-3.0)]);
    assert_eq!(answer["summary"], "EV 12 to EV 15 is 3 stops darker.");
    assert_eq!(answer["unit"], serde_json::Value::Null);
    for (written, value) in
        [("EV12", 12.0), ("12 ev", 12.0), ("EV -1.5", -1.5), ("EV \u{2212}2", -2.0), ("EV 9 2/3", 9.66667)]
    {
        let answer = server.ask(CONVERT, json!({"from": written, "shift": 0})).await;
        close(&answer["from"]["value"], value, 1e-5);
    }
    let answer = server.ask(CONVERT, json!({"from": "EV 12", "shift": "+1"})).await;
    assert_eq!(answer["to"]["value"], 11.0);
    let answer = server.get("/v1/stops/convert?from=-2&to=1&kind=exposure_value").await;
    assert_eq!(answer.body["exposure_stops"], -3.0);

    // By hand: twice the light is a stop.
    let answer = between("800 lx", "1600 lux").await;
    assert_eq!([&answer["kind"], &answer["unit"]], [&json!("illuminance"), &json!("lx")]);
    assert_eq!(answer["exposure_stops"], 1.0);
    assert_eq!(answer["summary"], "800 lx to 1600 lx is 1 stop brighter.");
    // Published: sizes.com/units/footcandle.htm: 10.76391 lx; derived: 1/0.3048².
    let answer = between("200 fc", "800 lx").await;
    close(&answer["from"]["value"], 2152.782, 1e-2);
    close(&answer["exposure_stops"], -1.4281, 1e-4);
    for written in ["1 fc", "1 FC", "1 foot-candle", "1 footcandles"] {
        let answer = server.ask(CONVERT, json!({"from": written, "shift": 0})).await;
        close(&answer["from"]["value"], 10.76391, 1e-4);
    }
    let found = server.refused(CONVERT, json!({"from": "0 lx", "to": "800 lx"})).await;
    assert_eq!(pointers(&found), ["/from"]);

    // Derived: log2(0.9/0.18), white paper against a grey card. A percentage is of power unless the kind says otherwise.
    let answer = server.ask(CONVERT, json!({"from": "18 %", "to": 0.9, "kind": "reflectance"})).await;
    close(&answer["exposure_stops"], 2.3219, 1e-4);
    assert_eq!(answer["from"]["value"], 0.18);
    assert_eq!(answer["summary"], "18 % to 90 % is 2.32 stops brighter.");
    assert_eq!(between("18 %", "90 %").await["kind"], "percent");
    let found = server.refused(CONVERT, json!({"from": "18 %", "to": 90, "kind": "reflectance"})).await;
    assert_eq!(pointers(&found), ["/to"]);
}

#[tokio::test]
async fn a_filter_by_its_factor_and_by_its_density_is_one_kind_of_thing() {
    let server = Server::start().await;
    // Common practice: three stops by either mark.
    let answer = server.ask(CONVERT, json!({"from": "ND8", "to": "ND 0.9"})).await;
    assert_eq!([&answer["kind"], &answer["exposure_stops"]], [&json!("filter_factor"), &json!(0.0)]);
    assert_eq!([&answer["to"]["value"], &answer["to"]["mark"]], [&json!(8.0), &json!("ND8")]);
    assert_eq!(answer["summary"], "ND8 to ND 0.9 is no change.");
    let answer = server.ask(CONVERT, json!({"from": "ND 0.9", "to": "ND64"})).await;
    assert_eq!([&answer["kind"], &answer["exposure_stops"]], [&json!("optical_density"), &json!(-3.0)]);
    assert_eq!(answer["to"]["mark"], "ND 1.8");
    assert_eq!(answer["summary"], "ND 0.9 to ND64 is 3 stops darker.");
    // Derived: 10^-0.9 as it is written lets 1/7.943 through.
    let answer = server.ask(CONVERT, json!({"from": "ND8", "to": "ND 0.9", "reading": "literal"})).await;
    close(&answer["exposure_stops"], 0.0103, 1e-4);
    // A kind beside them says how to answer.
    let answer = server.ask(CONVERT, json!({"from": "ND8", "shift": 0, "kind": "optical_density"})).await;
    assert_eq!(answer["from"]["mark"], "ND 0.9");
}

#[tokio::test]
async fn full_power_is_no_time_and_shows_what_stands_beside_it() {
    let server = Server::start().await;
    for (from, to, stops) in [("1/1", "1/4", -2.0), ("1/16", "1/1", 4.0), (" 1 / 1 ", "1/2", -1.0)] {
        let answer = server.ask(CONVERT, json!({"from": from, "to": to})).await;
        assert_eq!(answer["kind"], "power_fraction", "{from}");
        assert_eq!(answer["exposure_stops"], stops, "{from}");
    }
    let answer = server.ask(CONVERT, json!({"from": "1/1", "shift": -3})).await;
    assert_eq!(answer["to"]["mark"], "1/8");
    let found = server.refused(CONVERT, json!({"from": "1/1", "to": "1/60 s"})).await;
    assert_eq!(pointers(&found), ["/to"]);
    // A kind beside it is believed.
    let answer = server.ask(CONVERT, json!({"from": "1/1", "to": "1/2", "kind": "exposure_time"})).await;
    assert_eq!(answer["exposure_stops"], -1.0);
}

#[tokio::test]
async fn a_mixed_pair_says_what_each_is() {
    let server = Server::start().await;
    for (from, to, detail) in [
        ("f/8", "1/60 s", "f/8 is an f-number and 1/60 s an exposure time; give two of one kind"),
        ("EV 12", " 800 lx ", "EV 12 is an exposure value and 800 lx an illuminance; give two of one kind"),
        (
            "1/4",
            "f/8",
            "1/4 is an exposure time or a power fraction and f/8 an f-number; give two of one kind",
        ),
    ] {
        let found = server.refused(CONVERT, json!({"from": from, "to": to})).await;
        assert_eq!(found[0], ["/to", detail, "two values of one kind"]);
    }
}
