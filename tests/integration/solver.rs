//! Balances that once failed, from `tests/data/hard_balances.json`.

use serde_json::{Value, json};

use crate::{
    balance::{BALANCE, check},
    support::{Server, close},
};

fn hard() -> Value {
    serde_json::from_str(include_str!("../data/hard_balances.json")).expect("JSON")
}

fn codes(answer: &Value) -> Vec<&str> {
    let warnings = answer["warnings"].as_array().expect("warnings");
    warnings.iter().filter_map(|warning| warning["code"].as_str()).collect()
}

#[tokio::test]
async fn a_point_in_the_dark_does_not_fail_the_whole_answer() {
    let server = Server::start().await;
    let answer = server.ask(BALANCE, hard()["dark"].clone()).await;
    check(&answer);
    assert_eq!(answer["settings"][0]["setting"], Value::Null);
    // No light reaches the far wall: it has no meter reading, and no click changes its light in stops.
    let wall = &answer["points"][1];
    assert_eq!(wall["f_number"], Value::Null);
    close(&wall["error_stops"], -60.0, 1e-9);
    let [hair, key] = [&answer["clicks"][0], &answer["clicks"][1]];
    assert_eq!(hair["up"]["change_stops"][1], Value::Null);
    assert!(hair["up"]["change_stops"][0].is_number());
    assert_eq!(key["down"]["change_stops"][1], Value::Null);
    close(&key["down"]["change_stops"][0], -0.1, 1e-4);
}

#[tokio::test]
async fn ties_are_searched_to_the_end_where_a_point_is_out_of_reach() {
    let server = Server::start().await;
    for set in hard()["ties"].as_array().expect("sets") {
        let mut body = set["request"].clone();
        body["time_limit_ms"] = json!(2000);
        let answer = server.ask(BALANCE, body).await;
        check(&answer);
        assert_eq!(answer["optimality"]["ties_proven"], true);
        let points = answer["points"].as_array().expect("points");
        let errors = points.iter().filter_map(|point| point["error_stops"].as_f64());
        let squares: f64 = errors.map(|error| error * error).sum();
        // Errors are rounded to four digits after the point.
        let better = set["better_squares"].as_f64().expect("a number");
        assert!(squares <= better + 1e-3, "{squares}, and {better} was found by another search");
    }
}

#[tokio::test]
async fn of_settings_with_the_same_light_the_least_energy_is_taken() {
    let server = Server::start().await;
    for set in hard()["same_light"].as_array().expect("sets") {
        let answer = server.ask(BALANCE, set["request"].clone()).await;
        assert_eq!(answer["settings"][0]["setting"]["label"], set["label"]);
        // Only clicks that change the light are listed.
        for click in [&answer["clicks"][0]["up"], &answer["clicks"][0]["down"]] {
            let change = click["change_stops"][0].as_f64();
            assert!(change.is_none_or(|stops| stops.abs() > 0.01), "{click}");
        }
    }
}

#[tokio::test]
async fn equal_lights_are_proven_and_the_first_is_the_brightest() {
    let server = Server::start().await;
    let answer = server.ask(BALANCE, hard()["equal"].clone()).await;
    check(&answer);
    assert_eq!(answer["optimality"]["proven"], true);
    let settings = answer["settings"].as_array().expect("settings");
    let below: Vec<_> = settings.iter().map(|one| one["setting"]["stops_below_full"].as_f64()).collect();
    assert!(below.is_sorted(), "{below:?}");
}

#[tokio::test]
async fn a_light_that_reaches_no_point_is_named_and_spoils_no_proof() {
    let server = Server::start().await;
    for mut body in hard()["idle"].as_array().expect("sets").clone() {
        let answer = server.ask(BALANCE, body.clone()).await;
        check(&answer);
        let optimality = &answer["optimality"];
        assert_eq!((&optimality["proven"], &optimality["ties_proven"]), (&json!(true), &json!(true)));
        assert!(optimality["nodes"].as_u64().expect("nodes") < 200, "{optimality}");
        assert!(codes(&answer).contains(&"light_reaches_no_point"), "{:?}", codes(&answer));
        // A light that may be switched off is off.
        let readings = body["readings"].as_array().expect("readings").clone();
        let lights = body["lights"].as_array_mut().expect("lights");
        let is_idle = |light: &Value| readings.iter().all(|reading| reading["light"] != light["name"]);
        let idle = lights.iter().position(is_idle).expect("an idle light");
        lights[idle]["may_be_off"] = json!(true);
        let answer = server.ask(BALANCE, body).await;
        assert_eq!(answer["settings"][idle]["setting"], Value::Null);
    }
}
