//! `/v1/patches/level`.

use serde_json::{Value, json};

use crate::support::{Server, close, faults, number, pointers};

const LEVEL: &str = "/v1/patches/level";

/// Linear light as an 8-bit level (published: IEC 61966-2-1).
fn srgb(linear: f64) -> f64 {
    255.0 * if linear <= 0.003_130_8 { 12.92 * linear } else { 1.055 * linear.powf(1.0 / 2.4) - 0.055 }
}

#[tokio::test]
async fn surfaces_show_at_their_levels() {
    let server = Server::start().await;
    // Derived: log2(ρ/0.18) + x stops above mid grey, where 18 % is mid grey (common practice); levels by IEC 61966-2-1.
    for (reflectance, incident, stops) in
        [(0.18, 0.0_f64, 0.0), (0.36, 0.0, 1.0), (0.18, -1.0, -1.0), (0.9, 0.0, 2.3219), (0.03, 0.0, -2.585)]
    {
        let answer = server.ask(LEVEL, json!({"reflectance": reflectance, "incident_stops": incident})).await;
        close(&answer["exposure_stops"], stops, 1e-4);
        close(&answer["level"], srgb(reflectance * incident.exp2()), 0.01);
        // White is 1/0.18, or 2.474 stops, above mid grey.
        close(&answer["headroom_stops"], (1.0_f64 / 0.18).log2() - stops, 1e-4);
        assert_eq!(answer["clipped"], false);
        let ends = ["low", "high"].map(|end| number(&answer["level_range"][end]));
        let level = number(&answer["level"]);
        assert!(ends[0] <= level && level <= ends[1], "{answer}");
        assert!(answer.get("stops_range").is_none(), "{answer}");
    }
    // Published: 18 % grey is level 117.6, by the curve of IEC 61966-2-1.
    let grey = server.ask(LEVEL, json!({"reflectance": "18 %"})).await;
    close(&grey["level"], 117.6, 0.05);
    assert_eq!(grey["assumptions"][0]["code"], "grey_level");
    // Other spaces: Adobe RGB (1998) by 563/256, ROMM (ISO 22028-2) by 1.8, linear as it is.
    for (space, bits, level) in [
        ("adobe_rgb_1998", 8, 255.0 * 0.18_f64.powf(256.0 / 563.0)),
        ("romm", 8, 255.0 * 0.18_f64.powf(1.0 / 1.8)),
        ("linear", 16, 65_535.0 * 0.18),
    ] {
        let answer = server.ask(LEVEL, json!({"reflectance": 0.18, "space": space, "bits": bits})).await;
        close(&answer["level"], level, 0.05);
    }
}

#[tokio::test]
async fn white_paper_a_stop_over_is_clipped() {
    let server = Server::start().await;
    // Derived: 0.9·2 is log2(1.8), or 0.848 stop, beyond white.
    let answer = server.ask(LEVEL, json!({"reflectance": "90 %", "incident_stops": "+1"})).await;
    assert_eq!((&answer["clipped"], &answer["level"]), (&json!(true), &json!(255.0)));
    close(&answer["headroom_stops"], -1.8_f64.log2(), 1e-4);
    assert_eq!(
        answer["summary"],
        "A surface of 90 % in light 1 stop over the working exposure shows at level 255, 3.32 stops over mid grey: it is clipped, 0.85 stop beyond white."
    );
    // The same by a query, with the percent sign escaped.
    let by_query = server.get(&format!("{LEVEL}?reflectance=90%25&incident_stops=1")).await;
    assert_eq!(by_query.body, answer);
}

#[tokio::test]
async fn a_level_leads_back() {
    let server = Server::start().await;
    // Published: IEC 61966-2-1: 118 is 0.1811642.
    let answer = server.ask(LEVEL, json!({"level": 118})).await;
    close(&answer["exposure_stops"], (0.181_164_2_f64 / 0.18).log2(), 1e-4);
    close(&answer["reflectance"], 0.181_164, 1e-5);
    assert!(answer.get("level_range").is_none(), "{answer}");
    assert_eq!(answer["assumptions"][1]["code"], "no_tone_curve");
    // A grey wall to black: level 10 is 10/255/12.92, which is (1/0.18)·0.0030353.
    let wall = server.ask(LEVEL, json!({"reflectance": 0.4, "level": 10})).await;
    close(&wall["incident_stops"], (10.0_f64 / 255.0 / 12.92 / 0.4).log2(), 1e-4);
    assert!(number(&wall["stops_range"]["low"]) < number(&wall["exposure_stops"]), "{wall}");
    // There and back.
    let there =
        server.ask(LEVEL, json!({"reflectance": 0.4, "incident_stops": wall["incident_stops"]})).await;
    close(&there["level"], 10.0, 0.01);
    // At white the light may be any more, at black any less.
    for (level, open) in [(255, "high"), (0, "low")] {
        let answer = server.ask(LEVEL, json!({"level": level})).await;
        assert_eq!((&answer["clipped"], &answer["stops_range"][open]), (&json!(true), &Value::Null));
    }
    // A colour counts by its luminance: that of a neutral one is its level.
    let colour = server.ask(LEVEL, json!({"level": [118, 118, 118]})).await;
    close(&colour["level"], 118.0, 0.01);
}

#[tokio::test]
async fn a_response_gives_the_course() {
    let server = Server::start().await;
    // A file whose tone curve has 75 levels a stop all along, through mid grey at 117.646 (IEC 61966-2-1).
    let grey = srgb(0.18);
    let points: Vec<Value> = (-3..=3)
        .map(|k| f64::from(k) / 2.0)
        .map(|stops| json!({"level": grey + 75.0 * stops, "stops": stops + 7.0}))
        .collect();
    let response = json!({"points": points});
    for (reflectance, incident) in [(0.18, 1.0), (0.18, -1.2), (0.36, 0.3)] {
        let body = json!({"reflectance": reflectance, "incident_stops": incident, "response": response});
        let answer = server.ask(LEVEL, body).await;
        let stops = (reflectance / 0.18_f64).log2() + incident;
        close(&answer["level"], grey + 75.0 * stops, 0.05);
        close(&answer["headroom_stops"], (255.0 - grey) / 75.0 - stops, 1e-3);
        let back = json!({"level": answer["level"], "incident_stops": incident, "response": response});
        close(&server.ask(LEVEL, back).await["reflectance"], reflectance, 1e-3);
    }
    // Steeper than the space, it clips sooner: by sRGB 1.9 stops are within white.
    let body = |response: Value| json!({"reflectance": 0.18, "incident_stops": 1.9, "response": response});
    assert_eq!(server.ask(LEVEL, body(response.clone())).await["clipped"], true);
    assert_eq!(server.ask(LEVEL, body(Value::Null)).await["clipped"], false);
    let other = json!({"reflectance": 0.18, "space": "romm", "bits": 16, "response": response});
    assert_eq!(pointers(&server.refused(LEVEL, other).await), ["/space", "/bits"]);
}

#[tokio::test]
async fn levels_that_are_refused() {
    let server = Server::start().await;
    for (query, expected, code) in [
        ("", "/reflectance", "nothing_asked"),
        ("incident_stops=1", "/reflectance", "nothing_asked"),
        ("reflectance=18", "/reflectance", "out_of_range"),
        ("reflectance=120%25", "/reflectance", "out_of_range"),
        ("reflectance=white", "/reflectance", "unreadable"),
        ("level=300", "/level", "level_beyond_bits"),
        ("level=3&bits=12", "/bits", "unknown_bits"),
        ("reflectance=0.4&level=10&incident_stops=1", "/incident_stops", "conflict"),
        ("level=3&space=cmyk", "/space", "unknown_word"),
    ] {
        let answer = server.get(&format!("{LEVEL}?{query}")).await;
        assert_eq!(answer.status, 422, "{query}: {}", answer.body);
        assert_eq!(pointers(&faults(&answer.body)), [expected], "{query}");
        assert_eq!(answer.body["errors"][0]["code"], code, "{query}");
    }
}

#[tokio::test]
async fn no_surface_reflects_more_than_there_is() {
    let server = Server::start().await;
    // Published: IEC 61966-2-1: 118 is 0.1811642; by hand, in a sixteenth of the light that is 290 %.
    let answer = server.ask(LEVEL, json!({"level": 118, "incident_stops": -4})).await;
    close(&answer["reflectance"], 16.0 * 0.181_164_2, 1e-4);
    let mut warnings = answer["warnings"].as_array().expect("a list").iter();
    assert!(warnings.any(|warning| warning["code"] == "beyond_range"), "{answer}");
    let summary = answer["summary"].as_str().expect("text");
    let expected = "No surface in light 4 stops under the working exposure shows at level 118, 0.01 stop over mid grey: it would have to reflect 290 % of the light. The reflectance that was found is ";
    assert!(summary.starts_with(expected), "{summary}");
}

#[tokio::test]
async fn levels_of_16_bits_are_whole_numbers() {
    let server = Server::start().await;
    // By hand: 0.18·65535 is 11796.3.
    let body = json!({"reflectance": 0.18, "space": "linear", "bits": 16});
    let summary = server.ask(LEVEL, body).await["summary"].clone();
    assert!(summary.as_str().is_some_and(|text| text.contains("shows at level 11796, ")), "{summary}");
}
