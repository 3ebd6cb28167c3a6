//! Targets of one side: at most, or at least, so many stops. Expected values by hand from the readings (light is N²).

use serde_json::{Value, json};

use crate::support::{Server, close, pointers};

const BALANCE: &str = "/v1/ratios/balance";
const PREDICT: &str = "/v1/exposure/predict";

/// A key that at full power reads f/16 on the face and spills f/4 on the backdrop, and a background light that reads
/// f/8 on the backdrop. In light, against 64 for the working f/8: 256 and 16; 64.
fn set(backdrop: &Value) -> Value {
    let unit = json!({"energy": 500, "scale": {"style": "fraction", "least": "1/64", "click": 0.1}});
    json!({
        "exposure": {"f_number": 8}, "reading": "literal",
        "lights": [{"name": "key", "unit": unit}, {"name": "background", "unit": unit, "may_be_off": true}],
        "points": [{"name": "face", "target": {"stops": 0}}, {"name": "backdrop", "target": backdrop}],
        "readings": [
            {"light": "key", "point": "face", "setting": "1/1", "f_number": 16},
            {"light": "key", "point": "backdrop", "setting": "1/1", "f_number": 4},
            {"light": "background", "point": "backdrop", "setting": "1/1", "f_number": 8}
        ]
    })
}

#[tokio::test]
async fn the_backdrop_at_most_two_stops_under() {
    let server = Server::start().await;
    let answer = server.ask(BALANCE, set(&json!({"at_least_stops": -2}))).await;
    // The face needs the key two stops down, which leaves 4 on the backdrop. 16 is wanted there: 12 of 64 from the
    // background light is 2.415 stops down. The least energy that does is the click above, -2.4: 12.126 + 4 = 16.126.
    close(&answer["settings"][0]["setting"]["energy_j"], 125.0, 1e-3);
    close(&answer["settings"][1]["setting"]["energy_j"], 94.732, 1e-2);
    let [face, backdrop] = [0, 1].map(|point| &answer["points"][point]);
    assert_eq!([&face["target_side"], &backdrop["target_side"]], ["both", "at_least"]);
    close(&backdrop["target_stops"], -2.0, 1e-4);
    close(&backdrop["achieved_stops"], -1.9887, 1e-4);
    for field in ["error_stops", "shortfall_stops", "excess_stops"] {
        close(&face[field], 0.0, 1e-4);
        close(&backdrop[field], 0.0, 1e-4);
    }
    close(&answer["worst_error_stops"], 0.0, 1e-9);
    assert_eq!(answer["feasible"], true);
    assert_eq!([&answer["optimality"]["proven"], &answer["optimality"]["ties_proven"]], [true, true]);
    let summary = answer["summary"].as_str().expect("a summary");
    assert!(summary.contains("every point is as it is wanted"), "{summary}");
}

#[tokio::test]
async fn a_light_that_is_not_needed_is_off() {
    let server = Server::start().await;
    // Two stops under or darker: the key's spill alone is four under.
    let answer = server.ask(BALANCE, set(&json!({"at_most_stops": -2}))).await;
    assert_eq!(answer["settings"][1]["setting"], Value::Null, "{answer}");
    close(&answer["points"][1]["achieved_stops"], -4.0, 1e-4);
    close(&answer["points"][1]["error_stops"], 0.0, 1e-4);
    assert_eq!(answer["points"][1]["target_side"], "at_most");
    close(&answer["total_energy_j"], 125.0, 1e-3);
    // With the exact target in its place, the background light must be on.
    let both = server.ask(BALANCE, set(&json!({"stops": -2}))).await;
    assert!(both["settings"][1]["setting"].is_object(), "{both}");
    assert_eq!(both["points"][1]["target_side"], "both");
}

#[tokio::test]
async fn a_bound_that_is_broken_is_an_error_to_its_side() {
    let server = Server::start().await;
    let mut body = set(&json!({"at_most_stops": -3}));
    // The key is held at full power, two stops over on the face, and spills two stops under.
    body["lights"][0]["setting"] = json!("1/1");
    body["lights"][0]["hold"] = json!(true);
    body["points"][0]["target"] = json!({"at_least_stops": 1});
    let answer = server.ask(BALANCE, body.clone()).await;
    let [face, backdrop] = [0, 1].map(|point| &answer["points"][point]);
    close(&face["achieved_stops"], 2.0, 1e-4);
    close(&face["error_stops"], 0.0, 1e-4);
    close(&backdrop["error_stops"], 1.0, 1e-4);
    close(&backdrop["excess_stops"], 1.0, 1e-4);
    close(&backdrop["shortfall_stops"], 0.0, 1e-4);
    assert_eq!(answer["feasible"], false);
    let summary = answer["summary"].as_str().expect("a summary");
    assert!(summary.contains("\"backdrop\" is 1 stop too bright"), "{summary}");
    // A stop less of everything does it: the face may lose one.
    assert!(!answer["remedies"].as_array().expect("remedies").is_empty(), "{answer}");
    body["exposure"]["f_number"] = json!(128_f64.sqrt());
    let answer = server.ask(BALANCE, body).await;
    assert_eq!(answer["feasible"], true, "{answer}");
}

#[tokio::test]
async fn a_prediction_says_which_side_is_wanted() {
    let server = Server::start().await;
    let predicted = |target: Value| {
        let mut body = set(&target);
        for (light, setting) in ["1/4", "1/2"].into_iter().enumerate() {
            body["lights"][light]["setting"] = json!(setting);
        }
        server.ask(PREDICT, body)
    };
    // 4 of the key and 32 of the background light: 36 of 64 is 0.830 under.
    let met = predicted(json!({"at_least_stops": -2})).await;
    let backdrop = &met["points"][1];
    assert_eq!([&met["points"][0]["target_side"], &backdrop["target_side"]], ["both", "at_least"]);
    close(&backdrop["target_stops"], -2.0, 1e-4);
    close(&backdrop["achieved_stops"], -0.8301, 1e-4);
    close(&backdrop["error_stops"], 0.0, 1e-9);
    let missed = predicted(json!({"at_most_stops": -2})).await;
    close(&missed["points"][1]["error_stops"], 1.1699, 1e-4);
    assert_eq!(missed["points"][1]["target_side"], "at_most");
    // A ratio to the backdrop is a ratio to its bound, and has two sides: half of -2 is -3.
    let mut body = set(&json!({"at_least_stops": -2}));
    body["points"][0]["target"] = json!({"ratio": "2:1", "to": "backdrop"});
    let answer = server.ask(PREDICT, body).await;
    close(&answer["points"][0]["target_stops"], -3.0, 1e-4);
    assert_eq!(answer["points"][0]["target_side"], "both");
}

#[tokio::test]
async fn a_target_has_one_bound() {
    let server = Server::start().await;
    let refused = server.refused(BALANCE, set(&json!({"at_most_stops": 0, "at_least_stops": -2}))).await;
    assert_eq!(pointers(&refused), ["/points/1/target/at_least_stops"], "{refused:?}");
    let refused = server.refused(BALANCE, set(&json!({"stops": 0, "at_most_stops": 1}))).await;
    assert_eq!(pointers(&refused), ["/points/1/target/at_most_stops"], "{refused:?}");
}
