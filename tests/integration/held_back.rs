//! The ends of ranges that hold a balance back, checked against sets whose units go on beyond such an end in their own
//! clicks.

use serde_json::{Value, json};

use crate::{
    balance::BALANCE,
    support::{Dice, Server, number},
};

/// The least gain that is reported, stops; and the rounding of answers.
const NOTICED: f64 = 0.02;
const ROUNDING: f64 = 3e-4;

/// The set with a light whose range goes on for a stop beyond an end. The labels of readings stay valid.
fn extended(body: &Value, light: usize, end: &str) -> Value {
    let mut body = body.clone();
    let light = &mut body["lights"][light];
    let most = light["max_stops_below_full"].as_f64();
    let unit = &mut light["unit"];
    let full = number(&unit["energy"]);
    match (unit["scale"]["style"].as_str(), end) {
        (Some("dial"), "at_full") => {
            unit["scale"]["full"] = json!(number(&unit["scale"]["full"]) + 1.0);
            unit["energy"] = json!(2.0 * full);
        }
        (Some("dial"), _) => {
            let least = number(&unit["scale"]["least"]);
            let lower = number(&unit["scale"]["full"]) - most.unwrap_or(f64::INFINITY) - 1.0;
            unit["scale"]["least"] = json!(if most.is_some() { least.min(lower) } else { least - 1.0 });
        }
        // Joules: twice the energy, and steps that continue from it.
        (_, "at_full") => unit["energy"] = json!(2.0 * full),
        (_, _) => unit["scale"]["least"] = json!(number(&unit["scale"]["least"]) / 2.0),
    }
    if let Some(most) = most {
        light["max_stops_below_full"] = json!(most + 1.0);
    }
    body
}

/// The objective of an answer: its energy if least energy is asked for and feasible, else its error in stops.
fn objective(answer: &Value) -> (bool, f64) {
    match answer["optimality"]["lower_bound_energy_j"].as_f64() {
        Some(_) => (true, number(&answer["total_energy_j"]).log2()),
        None => (false, number(&answer["worst_weighted_error_stops"])),
    }
}

/// How much better an answer is than another, stops; infinite if it alone is feasible.
fn gain(then: &Value, now: &Value) -> f64 {
    if then["feasible"] == true && now["feasible"] == false {
        return f64::INFINITY;
    }
    let ((is_energy, then), (was_energy, now)) = (objective(then), objective(now));
    assert_eq!(is_energy, was_energy);
    now - then
}

fn set(dice: &mut Dice) -> Value {
    let lights: Vec<Value> = (0..=dice.below(3))
        .map(|index| {
            let scale = match dice.below(5) {
                0 => json!({"style": "joules", "least": 60, "step": 10}),
                at => {
                    let click = ["1/10", "1/3", "1/2", "1"][at - 1];
                    json!({"style": "dial", "full": 9, "least": dice.pick(&[5, 7]), "click": click})
                }
            };
            let mut light = json!({"name": format!("l{index}"), "unit": {"energy": 480, "scale": scale}});
            if scale["style"] == "dial" && dice.one_in(4) {
                light["max_stops_below_full"] = json!(dice.pick(&[0, 1, 2]));
            }
            match dice.below(6) {
                0 => {
                    light["setting"] = json!("0 stops");
                    light["hold"] = json!(true);
                }
                1 => light["may_be_off"] = json!(true),
                _ => {}
            }
            light
        })
        .collect();
    let points: Vec<Value> = (0..=dice.below(3))
        .map(|index| json!({"name": format!("p{index}"), "target": {"stops": (dice.between(-3.0, 3.0) * 10.0).round() / 10.0}}))
        .collect();
    let readings = lights.iter().flat_map(|light| points.iter().map(move |point| (light, point)));
    let mut read = Vec::new();
    for (light, point) in readings {
        let setting = if light["unit"]["scale"]["style"] == "joules" { "480 J" } else { "9" };
        read.push(json!({"light": light["name"], "point": point["name"], "setting": setting, "f_number": (dice.between(2.0, 20.0) * 10.0).round() / 10.0}));
    }
    json!({
        "exposure": {"f_number": "f/8"}, "lights": lights, "points": points, "readings": read, "reading": "literal",
        "prefer": dice.pick(&["accuracy", "least_energy"]), "tolerance_stops": dice.pick(&[0.1, 0.4, 1.0]),
        "time_limit_ms": 2000
    })
}

#[tokio::test]
async fn each_end_that_is_listed_holds_back_and_no_other_does() {
    let server = Server::start().await;
    let mut dice = Dice(3);
    let (mut listed, mut others) = (0, 0);
    for _ in 0..300 {
        let body = set(&mut dice);
        let now = server.ask(BALANCE, body.clone()).await;
        let held = &now["held_back_by"];
        assert_eq!(held["complete"], true, "{body}");
        for (index, clicks) in now["clicks"].as_array().expect("clicks").iter().enumerate() {
            let light = &body["lights"][index];
            let is_fixed = light.get("hold").is_some();
            for (end, click) in [("at_full", "up"), ("at_least", "down")] {
                let is_listed =
                    held[end].as_array().expect("lights").iter().any(|one| one["name"] == light["name"]);
                // A light at its least setting may still be switched off.
                let is_at_end = clicks[click].is_null() || clicks[click]["label"].is_null();
                if is_fixed || !is_at_end {
                    assert!(!is_listed, "{end} {index}\n{body}\n{now}");
                    continue;
                }
                let then = server.ask(BALANCE, extended(&body, index, end)).await;
                let gain = gain(&then, &now);
                if (gain - NOTICED).abs() < ROUNDING {
                    continue;
                }
                assert_eq!(is_listed, gain > NOTICED, "{end} {index} {gain}\n{body}\n{now}\n{then}");
                if is_listed { listed += 1 } else { others += 1 }
            }
        }
    }
    println!("{listed} listed, {others} not");
    assert!(listed > 100 && others > 100, "{listed} {others}");
}

/// One light at one point, metered at one setting.
fn alone(light: &Value, reading: &Value) -> Value {
    json!({
        "exposure": {"f_number": 8}, "reading": "literal", "lights": [light],
        "points": [{"name": "p", "target": {"stops": 0}}], "readings": [reading]
    })
}

#[tokio::test]
async fn least_energy_is_not_held_back_by_an_end_that_saves_none() {
    let server = Server::start().await;
    let light =
        json!({"name": "a", "unit": {"energy": 600, "scale": {"style": "dial", "full": 9, "least": 6}}});
    let mut body = alone(&light, &json!({"light": "a", "point": "p", "setting": "6", "f_number": 7.3}));
    body["prefer"] = json!("least_energy");
    // 2·log2(7.3/8) = -0.264: one click less is more than a third of a stop off, and more light takes more energy.
    let answer = server.ask(BALANCE, body.clone()).await;
    assert_eq!(answer["held_back_by"], json!({"at_full": [], "at_least": [], "complete": true}));
    // A third of a stop over at the least setting: lower settings would take less energy.
    body["readings"][0]["f_number"] = json!(8.0 * (0.15_f64).exp2());
    let answer = server.ask(BALANCE, body).await;
    assert_eq!(answer["held_back_by"], json!({"at_full": [], "at_least": [{"name": "a"}], "complete": true}));
}

#[tokio::test]
async fn a_light_with_one_setting_is_held_at_the_end_that_helps() {
    let server = Server::start().await;
    let held = async |f_number: f64| {
        let light = json!({"name": "k", "unit": {"energy": 600, "scale": {"style": "dial", "full": 9, "least": 2}}, "max_stops_below_full": 0});
        let reading = json!({"light": "k", "point": "p", "setting": "9", "f_number": f_number});
        server.ask(BALANCE, alone(&light, &reading)).await["held_back_by"].clone()
    };
    assert_eq!(held(4.0).await, json!({"at_full": [{"name": "k"}], "at_least": [], "complete": true}));
    assert_eq!(held(16.0).await, json!({"at_full": [], "at_least": [{"name": "k"}], "complete": true}));
    assert_eq!(held(8.0).await, json!({"at_full": [], "at_least": [], "complete": true}));
}

#[tokio::test]
async fn whole_stops_are_tried_in_whole_stops() {
    let server = Server::start().await;
    let held = async |f_number: f64| {
        let light = json!({"name": "k", "unit": {"energy": 600, "scale": {"style": "dial", "full": 9, "least": 5, "click": 1}}});
        let reading = json!({"light": "k", "point": "p", "setting": "9", "f_number": f_number});
        server.ask(BALANCE, alone(&light, &reading)).await["held_back_by"]["at_full"].clone()
    };
    // 0.4 stop short: the next click is 0.6 over. 0.6 short: it is 0.4 over.
    assert_eq!(held(8.0 * (-0.2_f64).exp2()).await, json!([]));
    assert_eq!(held(8.0 * (-0.3_f64).exp2()).await, json!([{"name": "k"}]));
}

#[tokio::test]
async fn a_fixed_light_is_held_by_being_fixed() {
    let server = Server::start().await;
    let light = json!({"name": "k", "unit": {"energy": 600, "scale": {"style": "dial", "full": 9, "least": 5}}, "setting": "9", "hold": true});
    let reading = json!({"light": "k", "point": "p", "setting": "9", "f_number": 4});
    let answer = server.ask(BALANCE, alone(&light, &reading)).await;
    assert_eq!(answer["held_back_by"], json!({"at_full": [], "at_least": [], "complete": true}));
}
