//! `/v1/lights/falloff`.

use serde_json::{Value, json};

use crate::support::{Server, close, number, pointers};

const FALLOFF: &str = "/v1/lights/falloff";

#[tokio::test]
async fn falloff_by_query_and_by_body_agree() {
    let server = Server::start().await;
    let query = format!(
        "{FALLOFF}?source[disc_m]=1&distances=1,2,5&unit[guide_number][value]=60&unit[guide_number][unit]=m"
    );
    let by_query = server.get(&query).await;
    assert_eq!(by_query.status, 200, "{}", by_query.body);
    assert!(!by_query.header("etag").is_empty());
    let by_body = server
        .ask(
            FALLOFF,
            json!({"source": {"disc_m": 1}, "distances": [1, 2, 5], "unit": {"guide_number": {"value": 60, "unit": "m"}}}),
        )
        .await;
    assert_eq!(by_query.body, by_body);
    // By hand: 1/(1 + (R/d)²) is 0.8 at 1 m and 1/1.0625 at 2 m.
    close(&by_body["rows"][1]["stops"], (0.25_f64 / 1.0625 / 0.8).log2(), 1e-4);
    close(&by_body["rows"][0]["f_number"]["value"], 60.0 * 0.8_f64.sqrt(), 1e-3);
    for (query, pointer) in [
        ("source[disc_m]=1&source[rectangle_m]=wide&distances=1", "/source/rectangle_m"),
        ("source[disc_m]=wide&distances=1", "/source/disc_m"),
        ("distances=1,far", "/distances/1"),
        ("from=1&to=2", "/count"),
        ("", "/distances"),
        ("depth=1", "/reference_distance"),
        ("distances=1&setting=full", "/setting"),
        ("distances=1&unit[energy]=100", "/unit"),
    ] {
        let answer = server.get(&format!("{FALLOFF}?{query}")).await;
        assert_eq!(answer.status, 422, "{query}: {}", answer.body);
        assert_eq!(pointers(&crate::support::faults(&answer.body)), [pointer], "{query}");
    }
}

#[tokio::test]
async fn evenness_over_a_depth() {
    let server = Server::start().await;
    // Derived: d = depth/(2^(x/2) - 1) for a point; 0.5 m within a stop is 1.2071 m.
    let ask = |body| server.ask(FALLOFF, body);
    let point = ask(json!({"depth": 0.5, "within_stops": 1, "reference_distance": 1})).await;
    close(&point["depth"]["distance_for_evenness_m"], 1.207_11, 1e-5);
    close(&point["depth"]["front_to_back_stops"], -2.0 * 1.5_f64.log2(), 1e-4);
    assert_eq!(point["inverse_square_from_m"], Value::Null);
    // A large face falls less near it, so it may stand nearer.
    let disc =
        ask(json!({"depth": 0.5, "within_stops": 1, "reference_distance": 1, "source": {"disc_m": 1}})).await;
    let (near, far) = (&disc["depth"]["distance_for_evenness_m"], &point["depth"]["distance_for_evenness_m"]);
    assert!(number(near) < number(far), "{near} {far}");
    close(&disc["inverse_square_from_m"], 5.0, 1e-9);
}

#[tokio::test]
async fn a_query_carries_settings_and_lists() {
    let server = Server::start().await;
    let unit = "unit[guide_number][value]=58&unit[guide_number][unit]=m&unit[scale][style]=fraction&unit[scale][least]=1/64";
    let answer = server
        .get(&format!("{FALLOFF}?distances=2&{unit}&setting=1/4&source[rectangle_m]=0.6,90%20cm"))
        .await;
    assert_eq!(answer.status, 200, "{}", answer.body);
    let body = json!({"distances": [2], "setting": "1/4", "source": {"rectangle_m": [0.6, "90 cm"]},
        "unit": {"guide_number": {"value": 58, "unit": "m"}, "scale": {"style": "fraction", "least": "1/64"}}});
    assert_eq!(answer.body, server.ask(FALLOFF, body).await);
    let short = server.get(&format!("{FALLOFF}?distances=2&source[rectangle_m]=0.6")).await;
    assert_eq!(pointers(&crate::support::faults(&short.body)), ["/source/rectangle_m"]);
}
