//! `/v1/readings/combine` and `/v1/readings/ratio`.

use serde_json::{Value, json};

use crate::support::{Server, close, number, pointers};

const COMBINE: &str = "/v1/readings/combine";
const RATIO: &str = "/v1/readings/ratio";

// Light adds, so N = √(ΣN²) (APEX, CIPA DC-008; derived).
#[tokio::test]
async fn light_adds_and_is_taken_away() {
    let server = Server::start().await;
    for (body, value, stops) in [
        // Two equal lights are one stop more: f/8 and f/8 read f/11.
        (json!({"add": ["f/8", "f/8"]}), 128_f64.sqrt(), 1.0),
        // Four are two stops more.
        (json!({"add": [8, 8, 8, 8]}), 16.0, 2.0),
        (json!({"add": ["f/8", "f/5.6"]}), 96_f64.sqrt(), 1.5_f64.log2()),
        // Of f/11, the f/8 of one light taken away leaves f/8.
        (json!({"add": ["f/11"], "subtract": ["f/8"]}), 8.0, -1.0),
        (json!({"add": ["f/8 +0.5"]}), 8.0 * 0.25_f64.exp2(), 0.0),
    ] {
        let answer = server.ask(COMBINE, body.clone()).await;
        close(&answer["f_number"]["value"], value, 1e-4);
        close(&answer["stops"], stops, 1e-4);
        assert_eq!((&answer["feasible"], answer.get("guide_number_m")), (&json!(true), None), "{body}");
    }
    let answer = server.get("/v1/readings/combine?add=f/8,f/5.6,f/4").await;
    close(&answer.body["f_number"]["value"], 112_f64.sqrt(), 1e-4);
}

// GN = √(ΣGN²): two equal flashes have √2 times the guide number of one (ISO 1230: light goes with GN²).
#[tokio::test]
async fn guide_numbers_add_likewise() {
    let server = Server::start().await;
    let answer = server.ask(COMBINE, json!({"add": ["GN 40", {"value": 40, "unit": "m"}]})).await;
    close(&answer["guide_number_m"], 40.0 * 2_f64.sqrt(), 1e-3);
    // 1 ft = 0.3048 m.
    close(&answer["guide_number_ft"], 40.0 * 2_f64.sqrt() / 0.3048, 1e-2);
    assert_eq!(answer.get("f_number"), None);
}

#[tokio::test]
async fn more_than_there_is_cannot_be_taken_away() {
    let server = Server::start().await;
    let answer = server.ask(COMBINE, json!({"add": ["f/8"], "subtract": ["f/11"]})).await;
    assert_eq!((&answer["feasible"], &answer["stops"]), (&json!(false), &Value::Null));
    close(&answer["shortfall_stops"], 1.0, 1e-9);
    let nothing = server.ask(COMBINE, json!({"add": ["f/8", "f/8"], "subtract": ["f/11"]})).await;
    assert_eq!((&nothing["feasible"], &nothing["stops"]), (&json!(true), &Value::Null));
    assert_eq!(nothing["summary"], "No light is left.");
}

#[tokio::test]
async fn readings_that_do_not_go_together_are_located() {
    let server = Server::start().await;
    for (query, place, code) in [
        ("add=f/5,6", "/add", "decimal_or_list"),
        ("add=f/8,11", "/add", "decimal_or_list"),
        ("add=f/8,GN 40", "/add/1", "mixed_kinds"),
        ("add=f/8&subtract=GN 40", "/subtract/0", "mixed_kinds"),
        // A raw plus sign arrives as a space.
        ("add=f/8+0.3", "/add/0", "missing_sign"),
    ] {
        let answer = server.get(&format!("{COMBINE}?{}", query.replace(' ', "%20"))).await;
        assert_eq!(answer.status, 422, "{query}: {}", answer.body);
        let fault = &answer.body["errors"][0];
        assert_eq!((&fault["pointer"], &fault["code"]), (&json!(place), &json!(code)), "{query}");
    }
    let decimal = server.get("/v1/readings/combine?add=f/5,6").await.body["errors"][0]["expected"].clone();
    assert_eq!(decimal, "\"f/5.6\", or \"f/5,f/6\"");
    assert_eq!(pointers(&server.refused(COMBINE, json!({"add": []})).await), ["/add"]);
}

// Handbooks count key and fill to fill: equal lights are 2:1, one stop 3:1, two 5:1, three 9:1 (derived; the counting is
// common practice).
#[tokio::test]
async fn a_ratio_is_counted_both_ways() {
    let server = Server::start().await;
    for (stops, sides) in [(0.0, 2.0), (1.0, 3.0), (2.0, 5.0), (3.0, 9.0)] {
        let key = 4.0 * f64::exp2(stops / 2.0);
        let body = json!({"key": key, "fill": 4, "reading": "literal"});
        let answer = server.ask(RATIO, body).await;
        close(&answer["sides"], sides, 1e-4);
        close(&answer["lights"], stops.exp2(), 1e-4);
        close(&answer["difference_stops"], sides.log2(), 1e-4);
        // The two sides, metered with all lights on, say the same.
        let [lit, shadow] = ["lit", "shadow"].map(|side| number(&answer[side]["value"]));
        let both = server.ask(RATIO, json!({"lit": lit, "shadow": shadow, "reading": "literal"})).await;
        close(&both["sides"], sides, 1e-3);
        close(&both["lights"], stops.exp2(), 1e-3);
    }
    // No fill that reaches both sides makes the shadow side the brighter one.
    let odd = server.ask(RATIO, json!({"lit": "f/5.6", "shadow": "f/8"})).await;
    assert_eq!(odd["lights"], Value::Null);
    close(&odd["sides"], 0.5, 1e-9);
    let mixed = json!({"key": "f/8", "shadow": "f/4"});
    assert_eq!(pointers(&server.refused(RATIO, mixed).await), ["/shadow"]);
}

#[tokio::test]
async fn equal_sides_get_the_same_light() {
    let server = Server::start().await;
    let answer = server.ask(RATIO, json!({"lit": "f/8", "shadow": "f/8"})).await;
    let summary = answer["summary"].as_str().expect("text");
    assert!(
        summary.starts_with("1:1 by sides") && summary.ends_with(": both sides get the same light."),
        "{summary}"
    );
}
