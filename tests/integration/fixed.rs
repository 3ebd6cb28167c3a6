//! Balances with fixed lights, and aims that have no effect.

use serde_json::{Value, json};

use crate::{
    balance::{BALANCE, dial},
    support::{Server, close, number},
};

/// A key and a fill, each metered alone; 3:1 by sides at f/8.
fn pair(key: Option<&str>, fill: Option<&str>) -> Value {
    let light = |name: &str, energy: f64, fixed: Option<&str>| {
        let mut light = dial(name, energy);
        if let Some(held) = fixed {
            light["setting"] = json!(held);
            light["hold"] = json!(true);
        }
        light
    };
    json!({
        "exposure": {"f_number": "f/8"},
        "lights": [light("key", 600.0, key), light("fill", 300.0, fill)],
        "ratio": {"value": 3, "key": "key", "fill": "fill"},
        "readings": [
            {"light": "key", "setting": "8", "f_number": "f/11"},
            {"light": "fill", "setting": "9", "f_number": "f/8"}
        ]
    })
}

/// The remedies that turn a held light: its name, its new setting, and the change in stops.
fn turns(answer: &Value) -> Vec<(String, String, f64)> {
    let remedies = answer["remedies"].as_array().expect("remedies").iter();
    let changes = remedies.map(|remedy| &remedy["changes"][0]).filter(|change| change["change"] == "setting");
    let text = |value: &Value| value.as_str().expect("a text").to_owned();
    let turn = |change: &Value| {
        (text(&change["light"]), text(&change["to"]["setting"]["label"]), number(&change["by_stops"]))
    };
    changes.map(turn).collect()
}

#[tokio::test]
async fn a_fixed_light_in_the_way_gets_a_remedy_with_its_new_setting() {
    let server = Server::start().await;
    // With both lights free it is feasible, and these are the settings that fixed lights must come to.
    let free = server.ask(BALANCE, pair(None, None)).await;
    assert_eq!(free["feasible"], true);
    let label =
        |light: usize| free["settings"][light]["setting"]["label"].as_str().expect("a label").to_owned();
    for (key, fill, turned) in
        [(Some(label(0)), Some("9".to_owned()), 1), (Some("9".to_owned()), Some(label(1)), 0)]
    {
        let body = pair(key.as_deref(), fill.as_deref());
        let answer = server.ask(BALANCE, body.clone()).await;
        assert_eq!(answer["feasible"], false);
        let turned_lights = turns(&answer);
        let [(name, to, stops)] = turned_lights.as_slice() else { panic!("{turned_lights:?}") };
        assert_eq!(*name, ["key", "fill"][turned]);
        // The dial has a step for a stop, and 9 is full power.
        close(&json!(to.parse::<f64>().expect("a number") - 9.0), *stops, 1e-9);
        assert!(!answer["remedies"][0].to_string().contains("reset"), "nothing else may be set: {answer}");
        // The remedy works.
        let followed = match turned {
            0 => pair(Some(to), fill.as_deref()),
            _ => pair(key.as_deref(), Some(to)),
        };
        let answer = server.ask(BALANCE, followed.clone()).await;
        assert_eq!(answer["feasible"], true, "{answer}");
        assert_eq!(turns(&answer), []);
    }
}

#[tokio::test]
async fn other_lights_are_reset_when_a_fixed_one_is_turned() {
    let server = Server::start().await;
    // The fill at full power alone reaches the exposure of the whole set. Only the key is free.
    let body = pair(None, Some("9"));
    let answer = server.ask(BALANCE, body.clone()).await;
    assert_eq!(answer["feasible"], false);
    let turned_lights = turns(&answer);
    let [(name, to, _)] = turned_lights.as_slice() else { panic!("{turned_lights:?}") };
    assert_eq!(name, "fill");
    assert!(answer["remedies"].to_string().contains(", then reset the lights"), "{answer}");
    let answer = server.ask(BALANCE, pair(None, Some(to))).await;
    assert_eq!(answer["feasible"], true, "{answer}");
    // A free light is not named in a remedy, though its setting is not the best one.
    let body = pair(Some("9"), None);
    let answer = server.ask(BALANCE, body.clone()).await;
    let turned_lights = turns(&answer);
    assert!(turned_lights.iter().all(|(name, ..)| name == "key"), "{answer}");
}

#[tokio::test]
async fn the_objective_decides_the_new_setting_of_a_fixed_light() {
    let server = Server::start().await;
    let unit = json!({"energy": 400, "scale": {"style": "dial", "full": 9, "least": 1}});
    let body = |fixed: Option<&str>, off: bool| {
        json!({
            "exposure": {"f_number": "f/8"}, "prefer": "least_energy",
            "lights": [{"name": "a", "unit": unit, "setting": fixed.unwrap_or("full"), "hold": fixed.is_some(), "may_be_off": off}],
            // By its weight p counts more than q. Any error within the tolerance is feasible.
            "points": [
                {"name": "p", "target": {"stops": 0}, "weight": 5},
                {"name": "q", "target": {"stops": 0}, "weight": 1}
            ],
            "readings": [
                {"light": "a", "point": "p", "setting": "8", "f_number": "f/8"},
                {"light": "a", "point": "q", "setting": "8", "f_number": "f/8 +0.6"}
            ]
        })
    };
    let free = server.ask(BALANCE, body(None, false)).await;
    assert_eq!(free["feasible"], true);
    let wanted = free["settings"][0]["setting"]["label"].as_str().expect("a label");
    for off in [false, true] {
        let answer = server.ask(BALANCE, body(Some("4"), off)).await;
        assert_eq!(answer["feasible"], false);
        let turned_lights = turns(&answer);
        let [(name, to, _)] = turned_lights.as_slice() else { panic!("{turned_lights:?}") };
        assert_eq!((name.as_str(), to.as_str()), ("a", wanted));
        let texts = answer["remedies"].to_string();
        assert!(texts.contains(&format!("to {wanted} (you hold it at 4)")), "{answer}");
        assert_eq!(server.ask(BALANCE, body(Some(to), off)).await["feasible"], true);
    }
}

#[tokio::test]
async fn if_no_single_light_helps_the_fixed_ones_are_named() {
    let server = Server::start().await;
    // Two stops over, and 5:1: no change at the camera and no single light corrects both.
    let answer = server.ask(BALANCE, pair(Some("9"), Some("9"))).await;
    let warnings = answer["warnings"].as_array().expect("warnings");
    let found = warnings.iter().find(|warning| warning["code"] == "lights_fixed");
    let found = found.unwrap_or_else(|| panic!("{answer}"));
    assert_eq!(found["params"], json!({"lights": ["key", "fill"]}), "{found}");
    assert_eq!(found["at"], "/lights");
}

#[tokio::test]
async fn an_aim_without_a_beam_is_warned_of_where_it_matters() {
    let server = Server::start().await;
    let unit = json!({"guide_number": {"value": 40, "unit": "m"}, "scale": {"style": "dial", "full": 9, "least": 2}});
    // The light is behind the face and shines on the wall.
    let light = json!({"name": "wall light", "unit": unit, "position": [0, 1, 1.6], "aim": [0, 3, 1.6]});
    let points = json!([
        {"name": "face", "position": [0, 0, 1.6], "target": {"stops": 0}},
        {"name": "wall", "position": [0, 3, 1.6], "target": {"stops": 0}}
    ]);
    let key = json!({"name": "key", "unit": unit, "position": [1, -2, 1.6]});
    let balance = json!({"exposure": {"f_number": "f/8"}, "lights": [key, light], "points": points});
    let doubted = async |path: &str, body: Value| {
        let answer = server.ask(path, body).await;
        let warnings = answer["warnings"].as_array().expect("warnings").clone();
        let found = warnings.into_iter().find(|warning| warning["code"] == "aimed_without_beam")?;
        Some(found["text"].as_str().expect("a text").to_owned())
    };
    let predict = |mut body: Value| {
        for light in body["lights"].as_array_mut().expect("lights") {
            light["setting"] = json!("9");
        }
        for point in body["points"].as_array_mut().expect("points") {
            point.as_object_mut().expect("fields").remove("target");
        }
        body
    };
    let text = doubted(BALANCE, balance.clone()).await.expect("a doubt");
    assert!(text.contains("backwards too: wall light. "), "{text}");
    assert_eq!(doubted("/v1/exposure/predict", predict(balance.clone())).await, Some(text));
    // There is no warning for a light that is off, nor for a point that faces away.
    let mut off = predict(balance.clone());
    off["lights"][1] = json!({"name": "wall light", "unit": unit, "position": [0, 1, 1.6], "aim": [0, 3, 1.6], "setting": "off"});
    assert_eq!(doubted("/v1/exposure/predict", off).await, None);
    let mut away = balance.clone();
    away["points"][0]["normal"] = json!([0, -1, 0]);
    assert_eq!(doubted(BALANCE, away).await, None);
    // With a beam, or with all points in front of the light, there is no warning.
    let mut with_beam = balance.clone();
    with_beam["lights"][1]["beam"] = json!({"half_power_deg": 60});
    assert_eq!(doubted(BALANCE, with_beam).await, None);
    let mut in_front = balance;
    in_front["points"] = json!([in_front["points"][1]]);
    assert_eq!(doubted(BALANCE, in_front).await, None);
}
