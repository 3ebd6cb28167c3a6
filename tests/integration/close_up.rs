//! `/v1/lens/close-up`.

use serde_json::json;

use crate::support::{Server, close, faults, pointers};

const CLOSE_UP: &str = "/v1/lens/close-up";

#[tokio::test]
async fn the_loss_of_a_close_up() {
    let server = Server::start().await;
    // Derived from N·(1 + m/p); the rows for pupil ratio 1 are the bellows factors of handbooks (1 + m)² (common practice):
    // 2.25 at 1:2, 4 at 1:1, 9 at 2:1, 16 at 3:1.
    for (magnification, pupil_ratio, factor) in [
        ("1:10", 1.0, 1.21_f64),
        ("1:2", 1.0, 2.25),
        ("1:1", 1.0, 4.0),
        ("2:1", 1.0, 9.0),
        ("3:1", 1.0, 16.0),
        // A long lens with p = 0.5 loses more, a retrofocus lens with p = 2 less.
        ("1:1", 0.5, 9.0),
        ("1:1", 2.0, 2.25),
    ] {
        let body = json!({"magnification": magnification, "pupil_ratio": pupil_ratio});
        let answer = server.ask(CLOSE_UP, body).await;
        close(&answer["exposure_stops"], -factor.log2(), 1e-4);
        assert!(
            answer.get("effective_f_number").is_none() && answer.get("set_f_number").is_none(),
            "{answer}"
        );
    }
    // No extension takes nothing.
    close(&server.ask(CLOSE_UP, json!({"magnification": 0})).await["exposure_stops"], 0.0, 1e-9);
}

#[tokio::test]
async fn apertures_of_a_close_up() {
    let server = Server::start().await;
    // Common practice: at life size f/8 works as f/16, and where the meter reads f/8 the lens is set to f/4.
    let answer = server
        .ask(CLOSE_UP, json!({"magnification": "1:1", "f_number": "f/8", "metered_f_number": "f/8"}))
        .await;
    assert_eq!(answer["effective_f_number"]["mark"], "f/16");
    assert_eq!(answer["set_f_number"]["mark"], "f/4");
    close(&answer["effective_f_number"]["value"], 16.0, 1e-9);
    // By hand: an extension of half the focal length is 1:2, and f/8 works as 8·1.5.
    let answer =
        server.ask(CLOSE_UP, json!({"extension_mm": 25, "focal_length_mm": 50, "f_number": "f/8"})).await;
    close(&answer["magnification"], 0.5, 1e-9);
    close(&answer["effective_f_number"]["value"], 12.0, 1e-9);
    assert_eq!(
        answer["summary"],
        "At a magnification of 0.5 the lens takes 1.17 stops; what is set works as f/13."
    );
    // It agrees with the lens of a set, by which a prediction says what to set.
    let set = json!({"exposure": {"f_number": "f/8"}, "points": [{"name": "p"}], "lens": {"magnification": "1:2"},
        "lights": [{"name": "a", "unit": {"guide_number": "GN 16"}, "setting": "full"}],
        "placements": [{"light": "a", "point": "p", "distance": 1}], "reading": "literal"});
    let predicted = server.ask("/v1/exposure/predict", set).await;
    let body = json!({"magnification": 0.5, "metered_f_number": 16, "reading": "literal"});
    let answer = server.ask(CLOSE_UP, body).await;
    assert_eq!(answer["set_f_number"]["value"], predicted["points"][0]["set_f_number"]["value"]);
}

#[tokio::test]
async fn a_close_up_by_query() {
    let server = Server::start().await;
    let by_query = server.get(&format!("{CLOSE_UP}?magnification=1:2&f_number=f/8&pupil_ratio=1")).await;
    let by_body =
        server.ask(CLOSE_UP, json!({"magnification": "1:2", "f_number": "f/8", "pupil_ratio": 1})).await;
    assert_eq!(by_query.body, by_body);
    for (query, expected, code) in [
        ("", "/magnification", "missing"),
        ("f_number=f/8", "/magnification", "missing"),
        ("extension_mm=25", "/focal_length_mm", "missing"),
        ("magnification=1&extension_mm=25&focal_length_mm=50", "/extension_mm", "conflict"),
        ("magnification=21", "/magnification", "out_of_range"),
        ("extension_mm=500&focal_length_mm=20", "/extension_mm", "out_of_range"),
        ("magnification=1&pupil_ratio=0", "/pupil_ratio", "out_of_range"),
        ("magnification=1&f_number=8%20mm", "/f_number", "unreadable"),
    ] {
        let answer = server.get(&format!("{CLOSE_UP}?{query}")).await;
        assert_eq!(answer.status, 422, "{query}: {}", answer.body);
        assert_eq!(pointers(&faults(&answer.body)), [expected], "{query}");
        assert_eq!(answer.body["errors"][0]["code"], code, "{query}");
    }
}

#[tokio::test]
async fn a_small_magnification_has_four_digits() {
    let server = Server::start().await;
    let answer = server.ask(CLOSE_UP, json!({"magnification": 0.077_524_3})).await;
    let summary = answer["summary"].as_str().expect("text");
    assert!(summary.starts_with("At a magnification of 0.07752 the lens"), "{summary}");
}
