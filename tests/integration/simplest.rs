//! The simplest form of each question, in the words that a photographer has for it, is answered.

use serde_json::{Value, json};
use stopwright::endpoints::registry;

use crate::support::Server;

/// The simplest request of each calculation.
fn simplest() -> Vec<(&'static str, Value)> {
    vec![
        ("ambient/check", json!({"exposure": {"f_number": "f/8"}, "ambient": "800 lx"})),
        ("colour/gel", json!({"from_k": "5600 K", "to_k": "3200 K"})),
        ("energy/guide-number", json!({"energy": "250 J"})),
        (
            "energy/equivalence",
            json!({
                "reference": {"unit": {"energy": "500 J"}},
                "candidates": [{"unit": {"energy": "250 J"}}]
            }),
        ),
        (
            "energy/measured",
            json!({"reference": {"energy": "500 J", "f_number": "f/8"}, "other": {"f_number": "f/5.6"}}),
        ),
        ("exposure/compare", json!({"from": {"f_number": "f/8", "exposure_time": "1/125"}})),
        ("exposure/one-light", json!({"guide_number": "GN 40", "distance": "5 m"})),
        (
            "exposure/predict",
            json!({
                "exposure": {"f_number": "f/8"}, "lights": [{"name": "a", "unit": {"guide_number": "GN 40"}}],
                "placements": [{"light": "a", "point": "p", "distance": "2 m"}]
            }),
        ),
        ("guide-number/energy", json!({"guide_number": "GN 36"})),
        (
            "kit/check",
            json!({
                "kit": [{"unit": {"name": "head", "guide_number": "GN 50"}}],
                "shots": [{"name": "s", "exposure": {"f_number": "f/8"}, "lights": [{"role": "key", "distance": "2 m"}]}]
            }),
        ),
        (
            "kit/compare",
            json!({
                "kits": [{"name": "a", "kit": [{"unit": {"name": "head", "guide_number": "GN 50"}}]}],
                "shots": [{"name": "s", "exposure": {"f_number": "f/8"}, "lights": [{"role": "key", "distance": "2 m"}]}]
            }),
        ),
        ("lens/close-up", json!({"magnification": "1:1"})),
        ("lights/softness", json!({"source": {"disc_m": 0.9}, "distance": "1.5 m"})),
        ("lights/falloff", json!({"depth": "1 m"})),
        ("motion/freeze", json!({"t0_5_s": "1/1000 s"})),
        ("patches/compare", json!({"reference": 118, "readings": [{"name": "face", "level": 140}]})),
        ("patches/level", json!({"reflectance": "90 %"})),
        (
            "patches/response",
            json!({"frames": [{"f_number": "f/8", "level": 118}, {"f_number": "f/9", "level": 93}]}),
        ),
        (
            "ratios/balance",
            json!({
                "exposure": {"f_number": "f/8"}, "lights": [{"name": "a", "unit": {"guide_number": "GN 40"}}],
                "points": [{"name": "p", "target": {"stops": 0}}],
                "placements": [{"light": "a", "point": "p", "distance": "2 m"}]
            }),
        ),
        ("readings/combine", json!({"add": ["f/8", "f/5.6"]})),
        ("readings/ratio", json!({"key": "f/11", "fill": "f/8"})),
        (
            "sets/correct",
            json!({
                "exposure": {"f_number": "f/8"}, "lights": [{"name": "a", "unit": {"guide_number": "GN 40"}}],
                "placements": [{"light": "a", "point": "p", "distance": "2 m"}],
                "rounds": [{"readings": [{"point": "p", "f_number": "f/16"}]}]
            }),
        ),
        ("stops/convert", json!({"from": "f/8", "to": "f/11"})),
        ("supply/plan", json!({"circuits": [{"volts": 230, "breaker_a": 16, "devices": [{"watts": 2000}]}]})),
        (
            "units/calibrate",
            json!({"unit": {"guide_number": "GN 40"}, "distance": "5 m", "readings": [{"f_number": "f/5.6"}]}),
        ),
    ]
}

#[tokio::test]
async fn the_simplest_form_of_each_question_is_answered() {
    let server = Server::start().await;
    let questions = simplest();
    for entry in registry::ALL {
        let asked = questions.iter().find(|(path, _)| *path == entry.path);
        let (path, body) = asked.unwrap_or_else(|| panic!("{} has no simplest form here", entry.path));
        let answer = server.ask(&format!("/v1/{path}"), body.clone()).await;
        assert!(answer["summary"].as_str().is_some_and(|summary| summary.ends_with('.')), "{path}: {answer}");
    }
}
