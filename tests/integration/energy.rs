//! `/v1/energy/equivalence` and `/v1/energy/measured`.

use serde_json::{Value, json};

use crate::support::{Server, close, pointers};

const EQUIVALENCE: &str = "/v1/energy/equivalence";
const MEASURED: &str = "/v1/energy/measured";

fn dial(energy: f64) -> Value {
    json!({"energy": energy, "scale": {"style": "dial", "full": 10, "least": 3, "click": "1/10"}})
}

fn swap(reference: &Value, setting: &str, candidate: &Value) -> Value {
    json!({
        "reference": {"unit": reference, "setting": setting, "exposure": {"f_number": "f/8"}},
        "candidates": [{"unit": candidate}]
    })
}

#[tokio::test]
async fn a_whole_step_of_a_stop_dial_halves_the_energy() {
    // Common practice: a 500 J unit three steps down gives 62.5 J.
    let server = Server::start().await;
    let answer = server.ask(EQUIVALENCE, swap(&dial(500.0), "7", &dial(500.0))).await;
    assert_eq!(answer["reference"]["energy_j"], 62.5);
    let matched = &answer["candidates"][0];
    assert_eq!(matched["setting"]["label"], "7");
    assert_eq!(matched["residual_stops"], 0.0);
    // Twice the energy is one step lower.
    let answer = server.ask(EQUIVALENCE, swap(&dial(500.0), "7", &dial(1000.0))).await;
    assert_eq!(answer["candidates"][0]["setting"]["label"], "6");
}

#[tokio::test]
async fn closing_the_lens_a_stop_is_made_good_by_a_step_up_the_dial() {
    // Common practice.
    let server = Server::start().await;
    let mut body = swap(&dial(500.0), "7", &dial(500.0));
    body["exposure"] = json!({"f_number": "f/11"});
    let answer = server.ask(EQUIVALENCE, body.clone()).await;
    assert_eq!(answer["candidates"][0]["setting"]["label"], "8");
    body["exposure"] = json!({"f_number": "f/8", "iso": 200});
    let answer = server.ask(EQUIVALENCE, body).await;
    assert_eq!(answer["candidates"][0]["setting"]["label"], "6");
}

#[tokio::test]
async fn too_weak_is_an_answer_with_what_would_do_it() {
    let server = Server::start().await;
    let mut body = swap(&dial(1000.0), "full", &dial(300.0));
    let answer = server.ask(EQUIVALENCE, body.clone()).await;
    let matched = &answer["candidates"][0];
    assert_eq!(matched["feasible"], false);
    assert_eq!(matched["setting"]["label"], "10");
    // log2(1000/300) = 1.7370.
    close(&matched["shortfall_stops"], 1.737, 1e-4);
    let remedies = matched["remedies"].as_array().expect("remedies");
    let by = |change: &str| {
        let found = remedies.iter().find(|remedy| remedy["change"] == change);
        found.unwrap_or_else(|| panic!("no {change} in {remedies:?}"))["by"].clone()
    };
    assert_eq!(by("pops"), json!({"pops": 4}));
    assert_eq!(by("aperture"), json!({"stops": 2.0}));
    assert_eq!(by("unit"), json!({"energy_j": 1000.0}));
    // What a remedy names works.
    body["max_pops"] = json!(4);
    let answer = server.ask(EQUIVALENCE, body.clone()).await;
    assert_eq!(answer["candidates"][0]["feasible"], true);
    assert_eq!(answer["candidates"][0]["pops"], 4);
    body["max_pops"] = json!(1);
    body["exposure"] = json!({"f_number": "f/4"});
    let answer = server.ask(EQUIVALENCE, body).await;
    assert_eq!(answer["candidates"][0]["feasible"], true);
}

#[tokio::test]
async fn too_strong_at_its_least_is_told_likewise() {
    let server = Server::start().await;
    let strong = json!({"energy": 3200, "scale": {"style": "dial", "full": 10, "least": 6, "click": 0.1}});
    let mut body = swap(&json!({"energy": 100}), "full", &strong);
    let answer = server.ask(EQUIVALENCE, body.clone()).await;
    let matched = &answer["candidates"][0];
    // 3200 J four stops down is 200 J: one stop too much.
    assert_eq!(matched["feasible"], false);
    close(&matched["excess_stops"], 1.0, 1e-4);
    assert_eq!(matched["shortfall_stops"], 0.0);
    let changes: Vec<&str> = matched["remedies"]
        .as_array()
        .expect("remedies")
        .iter()
        .filter_map(|r| r["change"].as_str())
        .collect();
    assert!(changes.contains(&"neutral_density") && changes.contains(&"aperture"), "{changes:?}");
    // No remedy goes beyond the limits.
    body["limits"] = json!({"f_number": ["f/8", "f/8"], "iso": [100, 100]});
    let answer = server.ask(EQUIVALENCE, body).await;
    let remedies = answer["candidates"][0]["remedies"].as_array().expect("remedies").clone();
    assert!(remedies.iter().all(|remedy| remedy["change"] == "neutral_density"), "{remedies:?}");
}

#[tokio::test]
async fn units_are_compared_by_what_they_state() {
    let server = Server::start().await;
    let guide = |value: f64| json!({"guide_number": {"value": value, "unit": "m"}, "coverage": {"focal_length_mm": 35}});
    let by = async |reference: &Value, candidate: &Value, modifier: bool| {
        let mut body = swap(reference, "full", candidate);
        if modifier {
            body["candidates"][0]["modifier_stops"] = json!(-1);
        }
        let answer = server.ask(EQUIVALENCE, body).await;
        (answer["candidates"][0]["compared_by"].clone(), answer["candidates"][0]["uncertainty_stops"].clone())
    };
    let energy = json!({"energy": 500});
    assert_eq!(by(&guide(40.0), &guide(56.0), false).await, (json!("guide_number"), Value::Null));
    let (how, off) = by(&guide(40.0), &guide(56.0), true).await;
    assert_eq!(how, "light");
    assert!(off.as_f64().is_some_and(|off| off > 0.0));
    let (how, off) = by(&energy, &energy, false).await;
    assert_eq!(how, "energy");
    // Efficacies of 15 and 50 lm·s per J at their worst: log2(50/15).
    close(&off, 1.737, 1e-4);
    assert_eq!(by(&energy, &guide(40.0), false).await.0, "energy");
}

#[tokio::test]
async fn units_with_nothing_in_common_are_told() {
    let server = Server::start().await;
    let bare = json!({"guide_number": {"value": 40, "unit": "m"}});
    let found = server.refused(EQUIVALENCE, swap(&json!({"energy": 500}), "full", &bare)).await;
    assert_eq!(pointers(&found), ["/candidates/0/unit"]);
    let mut body = swap(&bare, "full", &bare);
    body["candidates"][0]["distance"] = json!("2 m");
    let found = server.refused(EQUIVALENCE, body).await;
    assert_eq!(pointers(&found), ["/reference/distance"]);
}

#[tokio::test]
async fn a_stop_and_a_third_weaker_than_500_j_matches_198_j() {
    // Common practice.
    let server = Server::start().await;
    let body = json!({"reference": {"energy": "500 J", "f_number": "f/8"}, "other": {"f_number": "f/5"}});
    let answer = server.ask(MEASURED, body).await;
    close(&answer["matching_energy_j"], 198.0, 0.5);
    close(&answer["difference_stops"], -4.0 / 3.0, 1e-4);
    assert_eq!(answer["warnings"][0]["code"], "not_stored_energy");
}

#[tokio::test]
async fn the_match_is_found_between_frames() {
    let server = Server::start().await;
    let body = |level: f64| {
        json!({
            "reference": {"energy": 500, "f_number": "f/8", "patch_level": level},
            "other": {"frames": [{"f_number": "f/5.6", "patch_level": 100}, {"f_number": "f/5", "patch_level": 125}]}
        })
    };
    let answer = server.ask(MEASURED, body(112.5)).await;
    close(&answer["difference_stops"], -7.0 / 6.0, 1e-4);
    let found = server.refused(MEASURED, body(200.0)).await;
    assert_eq!(pointers(&found), ["/other/frames"]);
}
