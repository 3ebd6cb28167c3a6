//! How sure answers are: half-widths in requests, ends, causes, chances, and what to measure.
//!
//! Combined by JCGM 100:2008, 5.1.2 and 5.2.2, by hand from the default half-widths (our judgement, docs/uncertainty.md)
//! where no other source is named. A long Monte Carlo is in `src/light/uncertainty/tests.rs`.

use serde_json::{Value, json};

use crate::support::{Server, close, number, pointers};

const PREDICT: &str = "/v1/exposure/predict";
const BALANCE: &str = "/v1/ratios/balance";

/// Guide number 40 at 2 m, read literally, on its target of f/20.
fn set(distance: &str) -> Value {
    json!({
        "reading": "literal", "exposure": {"f_number": 20},
        "lights": [{"name": "key", "unit": {"guide_number": "GN 40"}}],
        "placements": [{"light": "key", "point": "face", "distance": distance}]
    })
}

fn square(values: &[f64]) -> f64 {
    values.iter().map(|value| value * value).sum::<f64>().sqrt()
}

fn codes(remarks: &Value) -> Vec<&str> {
    remarks.as_array().expect("a list").iter().map(|one| one["code"].as_str().expect("a code")).collect()
}

#[tokio::test]
async fn a_guide_number_is_half_a_stop_either_way() {
    let server = Server::start().await;
    let answer = server.ask(PREDICT, set("2 m")).await;
    let point = &answer["points"][0];
    // Rating 0.5, setting 0.1, repeatability 0.06, the meter 0.2; 4 cm of 2 m; the angle is darker either way.
    let distance = [2.0 * (2.04_f64 / 2.0).log2(), 2.0 * (2.0_f64 / 1.96).log2()];
    let angle = -6.0_f64.to_radians().cos().log2();
    close(&point["uncertainty"]["low_stops"], -square(&[0.5, 0.1, 0.06, 0.2, distance[0], angle]), 2e-4);
    close(&point["uncertainty"]["high_stops"], square(&[0.5, 0.1, 0.06, 0.2, distance[1]]), 2e-4);
    let first = &point["uncertainty"]["causes"][0];
    assert_eq!((&first["cause"], &first["light"]), (&json!("rating"), &json!("key")));
    // Published (tables of the normal distribution): 1/3 stop is 1.179 standard deviations of 0.2827, within which are 76 %.
    close(&point["chance_within_tolerance"], 0.76, 0.01);
    assert_eq!(answer["chance_within_tolerance"], point["chance_within_tolerance"]);
    assert!(codes(&answer["assumptions"]).contains(&"usual_plus_minus_stops"), "{answer}");
    assert!(codes(&answer["warnings"]).contains(&"meter_alone"), "{answer}");
}

#[tokio::test]
async fn a_distance_says_how_far_off_it_may_be() {
    let server = Server::start().await;
    let high = |answer: &Value| number(&answer["points"][0]["uncertainty"]["high_stops"]);
    let usual = high(&server.ask(PREDICT, set("2 m")).await);
    for way in ["2 m ±20 cm", "2 m +- 20 cm", "2 m +/-0.2 m", "200 cm ± 200 mm"] {
        let found = high(&server.ask(PREDICT, set(way)).await);
        let wanted = square(&[0.5, 0.1, 0.06, 0.2, 2.0 * (2.0_f64 / 1.8).log2()]);
        assert!((found - wanted).abs() < 0.01 && found > usual, "{way}: {found} {wanted}");
    }
    for wrong in ["2 m ±3", "2 m ±", "2 ±3 cm"] {
        let problem = server.refused(PREDICT, set(wrong)).await;
        assert_eq!(pointers(&problem), ["/placements/0/distance"], "{wrong}");
    }
}

#[tokio::test]
async fn what_is_stated_takes_the_place_of_the_default() {
    let server = Server::start().await;
    let mut body = set("2 m ±1 mm");
    body["lights"][0]["unit"] = json!({
        "guide_number": "GN 40", "plus_minus_stops": 0.3, "dial_plus_minus_stops": 0.05,
        "repeat_plus_minus_stops": 0.02
    });
    body["lights"][0]["modifier_stops"] = json!({"stops": -1.5, "plus_minus_stops": 0.25});
    body["meter"] = json!({"offset_stops": 0, "offset_plus_minus_stops": 0.1});
    body["placements"][0]["plus_minus_deg"] = json!(1);
    let answer = server.ask(PREDICT, body.clone()).await;
    let wanted = square(&[0.3, 0.05, 0.02, 0.25, 0.1]);
    close(&answer["points"][0]["uncertainty"]["high_stops"], wanted, 1e-3);
    // A measured offset is known to 0.06.
    body["meter"] = json!({"offset_stops": 0});
    let answer = server.ask(PREDICT, body).await;
    let wanted = square(&[0.3, 0.05, 0.02, 0.25, 0.06]);
    close(&answer["points"][0]["uncertainty"]["high_stops"], wanted, 1e-3);
}

#[tokio::test]
async fn a_reading_at_the_setting_in_use_has_the_setting_in_it() {
    let server = Server::start().await;
    let body = |setting: &str| {
        json!({
            "exposure": {"f_number": "f/8"},
            "lights": [{"name": "key", "setting": setting, "unit": {"energy": "600 J",
                "scale": {"style": "fraction", "least": "1/64"}}}],
            "readings": [{"light": "key", "point": "face", "setting": "1/4", "f_number": "f/8"}]
        })
    };
    // A reading of 0.12 with a digit of 0.1, rectangular (published: JCGM 100:2008, 4.3.7).
    let reading = square(&[0.12, 1.96 * 0.1 / 12.0_f64.sqrt()]);
    let high = |answer: &Value| answer["points"][0]["uncertainty"]["high_stops"].clone();
    close(&high(&server.ask(PREDICT, body("1/4")).await), square(&[reading, 0.06, 0.2]), 1e-3);
    close(&high(&server.ask(PREDICT, body("1/8")).await), square(&[reading, 0.06, 0.2, 0.1]), 1e-3);
}

#[tokio::test]
async fn units_of_one_name_are_off_together() {
    let server = Server::start().await;
    let body = |names: [&str; 2]| {
        let light = |index: usize| json!({"name": format!("light {index}"), "unit": {"name": names[index], "guide_number": "GN 40"}});
        let placed = |index: usize| json!({"light": format!("light {index}"), "point": "face", "distance": "2 m ±1 mm"});
        json!({
            "exposure": {"f_number": "f/22"}, "lights": [light(0), light(1)],
            "placements": [placed(0), placed(1)]
        })
    };
    let high = |answer: &Value| answer["points"][0]["uncertainty"]["high_stops"].clone();
    // Half of the light each: what they have in common adds, the rest by squares.
    let own = square(&[0.1, 0.06]) * 0.5_f64.sqrt();
    close(&high(&server.ask(PREDICT, body(["one", "one"])).await), square(&[0.5, own, 0.2]), 0.02);
    let apart = 0.5 * 0.5_f64.sqrt();
    close(&high(&server.ask(PREDICT, body(["one", "two"])).await), square(&[apart, own, 0.2]), 0.02);
}

#[tokio::test]
async fn what_two_points_have_in_common_cancels_in_their_ratio() {
    let server = Server::start().await;
    let answer = server
        .ask(
            PREDICT,
            json!({
                "exposure": {"f_number": "f/8"},
                "lights": [{"name": "key", "unit": {"guide_number": "GN 40"}}],
                "placements": [
                    {"light": "key", "point": "lit side", "distance": "2 m"},
                    {"light": "key", "point": "shadow side", "distance": "3 m"}
                ]
            }),
        )
        .await;
    // Only the two distances and angles are left: 4 cm of 2 m and of 3 m.
    let high = number(&answer["ratios"][0]["uncertainty"]["high_stops"]);
    let wanted = square(&[2.0 * (2.0_f64 / 1.96).log2(), 2.0 * (3.04_f64 / 3.0).log2(), 0.008]);
    assert!((high - wanted).abs() < 2e-3, "{high} {wanted}");
}

#[tokio::test]
async fn a_balance_says_how_likely_all_points_are_within_the_tolerance() {
    let server = Server::start().await;
    let light = |name: &str| json!({"name": name, "unit": {"guide_number": "GN 40", "scale": {"style": "fraction", "least": "1/64"}}});
    let body = json!({
        "exposure": {"f_number": "f/8"}, "lights": [light("key"), light("fill")],
        "points": [{"name": "a", "target": {"stops": 0}}, {"name": "b", "target": {"stops": 0}}],
        "placements": [
            {"light": "key", "point": "a", "distance": "2 m"}, {"light": "fill", "point": "b", "distance": "2 m"}
        ]
    });
    let answer = server.ask(BALANCE, body).await;
    let chances: Vec<f64> =
        (0..2).map(|point| number(&answer["points"][point]["chance_within_tolerance"])).collect();
    let all = number(&answer["chance_within_tolerance"]);
    // More than if they had nothing in common (the meter they have), less than the less likely one.
    assert!(all < chances[0].min(chances[1]) && all > chances[0] * chances[1], "{answer}");
    assert!(chances.iter().all(|chance| (0.6..0.85).contains(chance)), "{answer}");
}

#[tokio::test]
async fn the_same_request_has_the_same_answer() {
    let server = Server::start().await;
    let mut body = set("2 m");
    // Shares that move: the ends are drawn.
    body["lights"][0]["modifier_stops"] = json!({"kind": "snoot"});
    body["lights"][0]["unit"] = json!({"energy": "600 J", "coverage": {"cone_deg": 70}});
    let first = server.ask(PREDICT, body.clone()).await;
    assert_eq!(server.ask(PREDICT, body).await["points"], first["points"]);
}

#[tokio::test]
async fn one_light_is_never_exact() {
    let server = Server::start().await;
    let body = json!({"guide_number": "GN 40", "distance": "5 m"});
    let answer = server.ask("/v1/exposure/one-light", body).await;
    let distance = 2.0 * (5.0_f64 / 4.96).log2();
    close(&answer["uncertainty"]["high_stops"], square(&[0.5, 0.1, 0.06, 0.2, distance]), 1e-3);
    assert!(codes(&answer["warnings"]).contains(&"meter_the_light"), "{answer}");
    let metered = json!({"metered": {"f_number": "f/8", "distance": "2 m ±1 mm", "plus_minus_stops": 0.05}});
    let answer = server.ask("/v1/exposure/one-light", metered).await;
    let reading = square(&[0.05, 1.96 * 0.1 / 12.0_f64.sqrt()]);
    close(&answer["uncertainty"]["high_stops"], square(&[reading, 0.06, 0.2]), 1e-3);
}

#[tokio::test]
async fn stated_numbers_widen_an_estimate() {
    let server = Server::start().await;
    let body = |beside: &Value| {
        let mut body = json!({"guide_number": "GN 58", "coverage": {"cone_deg": 70}});
        body.as_object_mut().expect("an object").extend(beside.as_object().expect("an object").clone());
        body
    };
    let stops = |answer: &Value| {
        (number(&answer["energy_j"]["high"]) / number(&answer["energy_j"]["typical"])).log2()
    };
    let exact = stops(&server.ask("/v1/guide-number/energy", body(&json!({}))).await);
    let wide = stops(&server.ask("/v1/guide-number/energy", body(&json!({"plus_minus_stops": 0.5}))).await);
    assert!((wide - exact.hypot(0.5)).abs() < 1e-3, "{exact} {wide}");
}
