//! Remedies of a balance, carried out: each is written into the request, which is sent again.

use serde_json::{Value, json};

use crate::{
    balance::BALANCE,
    fixed::turned,
    support::{Dice, Server, number},
};

/// Remedies of an answer.
fn remedies(answer: &Value) -> &[Value] {
    answer["remedies"].as_array().expect("remedies")
}

/// The light that a remedy names.
fn light<'a>(body: &'a mut Value, remedy: &Value) -> &'a mut Value {
    let name =
        remedy["detail"].as_str().and_then(|detail| detail.split('"').nth(1)).expect("a name").to_owned();
    let lights = body["lights"].as_array_mut().expect("lights");
    lights.iter_mut().find(|light| light["name"] == name.as_str()).expect("the light")
}

/// The part of a remedy's sentence after `before`, up to the next comma, semicolon, or full stop with a space.
fn after<'a>(detail: &'a str, before: &str) -> Option<&'a str> {
    let rest = detail.split(before).nth(1)?;
    rest.split([',', ';']).next()?.split(". ").next().map(|mark| mark.trim_end_matches('.'))
}

/// The placements of a light.
fn placements<'a>(body: &'a mut Value, name: &str) -> impl Iterator<Item = &'a mut Value> {
    let placements = body["placements"].as_array_mut().into_iter().flatten();
    placements.filter(move |placement| placement["light"] == name)
}

/// The request with a remedy carried out, or `None` if a request cannot express it. If `rounded`, distances that the
/// remedy does not give are rounded to the centimetre.
async fn followed(server: &Server, body: &Value, remedy: &Value, rounded: bool) -> Option<Value> {
    let mut body = body.clone();
    let (by, detail) = (&remedy["by"], remedy["detail"].as_str().expect("a text"));
    match remedy["change"].as_str().expect("a change") {
        "distance" => {
            let light = light(&mut body, remedy);
            let name = light["name"].as_str().expect("a name").to_owned();
            if let Some(position) = by.get("position") {
                if light.get("position").is_some() {
                    light["position"] = position.clone();
                }
                for placement in placements(&mut body, &name) {
                    if placement.get("position").is_some() {
                        placement["position"] = position.clone();
                    }
                }
            } else {
                let mut first = None;
                for placement in placements(&mut body, &name) {
                    let from = number(&placement["distance"]);
                    let first = *first.get_or_insert(from);
                    let to = number(&by["distance_m"]) / first * from;
                    placement["distance"] = json!(if rounded { (to * 100.0).round() / 100.0 } else { to });
                }
            }
        }
        // The remedy leaves it to the photographer how long the shutter is open.
        "pops" if body.get("ambient").is_none() => light(&mut body, remedy)["pops"] = by["pops"].clone(),
        "power" => {
            let (light, to) = turned(server, &body, remedy).await.expect("a setting");
            body["lights"][light]["fixed_setting"] = json!(to);
        }
        "ratio" => body["ratio"]["value"] = by["ratio"].clone(),
        "exposure_time" => body["exposure"]["exposure_time"] = json!(after(detail, ", to ")?),
        "aperture" | "iso" => {
            let mark =
                |before: &str| detail.split(before).nth(1)?.split([',', '.', ' ']).next().map(str::to_owned);
            // An f-number with a decimal point.
            let f_number = detail.split("to f/").nth(1).and_then(|rest| rest.split([',', ' ']).next());
            if let Some(f_number) = f_number.map(|text| text.trim_end_matches('.')) {
                body["exposure"]["f_number"] = json!(format!("f/{f_number}"));
            }
            if let Some(iso) = mark("to ISO ") {
                body["exposure"]["iso"] = json!(format!("ISO {iso}"));
            }
        }
        _ => return None,
    }
    Some(body)
}

#[tokio::test]
async fn a_distance_remedy_in_space_does_not_make_it_worse() {
    // A regression: the angles of the key were kept and its other distance was not scaled, so that the remedy made
    // 1.57 stops into 2.38.
    let server = Server::start().await;
    let dial = |guide: f64| json!({"energy": 300, "guide_number": {"value": guide, "unit": "m"}, "scale": {"style": "dial", "full": 9, "least": 4}});
    let body = json!({
        "exposure": {"f_number": "f/8"},
        "lights": [
            {"name": "key", "unit": dial(20.0), "position": [1.85, -4.81, 1.67], "aim": [0, 0, 1.6],
             "beam": {"half_power_deg": 60}, "modifier_stops": -1.5},
            {"name": "fill", "unit": dial(40.0), "position": [-1.24, -2.26, 1.7], "modifier_stops": -2}
        ],
        "points": [
            {"name": "face", "position": [0, 0, 1.6], "normal": [0.2, -1, 0], "target": {"stops": 0}},
            {"name": "hand", "position": [1.49, -1.5, 1.0], "normal": [0, -1, 0], "target": {"stops": 0}},
            {"name": "shadow", "position": [-0.1, 0, 1.6], "normal": [-1, -0.4, 0], "target": {"ratio": 2, "to": "face"}}
        ],
        "tolerance_stops": 0.1, "time_limit_ms": 2000
    });
    for tolerance in [0.1, 0.2, 0.3, 0.5, 0.8] {
        let mut body = body.clone();
        body["tolerance_stops"] = json!(tolerance);
        let answer = server.ask(BALANCE, body.clone()).await;
        for remedy in remedies(&answer).iter().filter(|remedy| remedy["change"] == "distance") {
            let [x, y, z] = [0, 1, 2].map(|axis| number(&remedy["by"]["position"][axis]));
            // Along the line from its aim: the key has an aim, the fill is aimed at each point and moves along the
            // line from the first.
            let from = if remedy["detail"].to_string().contains("key") {
                [1.85, -4.81, 0.07]
            } else {
                [-1.24, -2.26, 0.1]
            };
            let factor = x.hypot(y) / f64::hypot(from[0], from[1]);
            for (moved, from) in [x, y, z - 1.6].into_iter().zip(from) {
                assert!((moved - from * factor).abs() < 0.011, "{remedy}");
            }
            let distance = x.hypot(y).hypot(z - 1.6);
            assert!((number(&remedy["by"]["distance_m"]) - distance).abs() < 1e-4, "{remedy}");
            let changed = followed(&server, &body, remedy, false).await.expect("a request");
            assert_eq!(server.ask(BALANCE, changed).await["feasible"], true, "{remedy}");
        }
    }
}

/// A unit with a guide number on one of several scales.
fn unit(dice: &mut Dice) -> Value {
    let scale = dice.pick(&[
        json!({"style": "dial", "full": 9, "least": 4}),
        json!({"style": "fraction", "least": "1/64", "click": "1/3"}),
        json!({"style": "dial", "full": 5, "least": 0, "click": 1}),
        json!({"style": "percent", "least": 4}),
    ]);
    json!({"energy": 300, "guide_number": {"value": dice.pick(&[20, 30, 45, 60]), "unit": "m"}, "scale": scale})
}

/// The optics of a light.
fn outfit(dice: &mut Dice, light: &mut Value) {
    if dice.one_in(2) {
        light["beam"] = json!({"half_power_deg": dice.pick(&[40, 60, 90])});
    }
    if dice.one_in(3) {
        light["modifier_stops"] = json!(-1.5);
    }
    if dice.one_in(3) {
        light["source"] =
            dice.pick(&[json!({"disc_m": 0.9}), json!({"rectangle_m": [0.6, 1.2]}), json!({"disc_m": 1.5})]);
    }
}

/// Options that any set may have.
fn terms(dice: &mut Dice, body: &mut Value) {
    body["tolerance_stops"] = json!(dice.pick(&[0.05, 0.1, 0.2, 1.0 / 3.0]));
    body["time_limit_ms"] = json!(2000);
    if dice.one_in(4) {
        body["prefer"] = json!("least_energy");
    }
    if dice.one_in(3) {
        body["limits"] = json!({"distance": ["1 m", "5 m"]});
    }
    if dice.one_in(4) {
        body["units"] = json!("imperial");
    }
}

/// A set in space: lights in front of points, aimed or not.
fn in_space(dice: &mut Dice) -> Value {
    let coordinate = |dice: &mut Dice, low: f64, high: f64| (dice.between(low, high) * 100.0).round() / 100.0;
    let lights = (0..=dice.below(3)).map(|index| {
        let mut light = json!({"name": format!("l{index}"), "unit": unit(dice),
            "position": [coordinate(dice, -3.0, 3.0), coordinate(dice, -5.0, -0.8), coordinate(dice, 1.0, 2.8)]});
        if dice.one_in(2) {
            light["aim"] = json!([coordinate(dice, -0.3, 0.3), 0, 1.6]);
        }
        outfit(dice, &mut light);
        if dice.one_in(5) {
            light["fixed_setting"] = json!("-1 stops");
        }
        light
    });
    let lights: Vec<Value> = lights.collect();
    let points = (0..=dice.below(3)).map(|index| {
        let mut point = json!({"name": format!("p{index}"),
            "position": [coordinate(dice, -1.5, 1.5), coordinate(dice, -0.5, 1.5), coordinate(dice, 0.5, 1.8)],
            "target": {"stops": coordinate(dice, -1.0, 1.0)}});
        if dice.one_in(2) {
            point["normal"] = json!([coordinate(dice, -1.0, 1.0), -1, coordinate(dice, -0.3, 0.3)]);
        }
        if dice.one_in(8) {
            point["weight"] = json!(2);
        }
        point
    });
    let points: Vec<Value> = points.collect();
    let mut body = json!({
        "exposure": {"f_number": dice.pick(&["f/2.8", "f/5.6", "f/8", "f/11", "f/22"])}, "lights": lights, "points": points
    });
    if dice.one_in(4) {
        // The position is given with the placement instead.
        let position = body["lights"][0]["position"].take();
        body["lights"][0].as_object_mut().expect("a light").remove("position");
        let points = body["points"].as_array().expect("points").iter();
        let placements: Vec<Value> = points
            .map(|point| json!({"light": "l0", "point": point["name"], "position": position}))
            .collect();
        body["placements"] = json!(placements);
    }
    if dice.one_in(4) {
        body["exposure"]["exposure_time"] = json!("1/60");
        body["ambient"] = json!([{"point": "p0", "illuminance_lx": dice.pick(&[50, 400, 3000])}]);
    }
    terms(dice, &mut body);
    body
}

/// A set by distances, one in three with a lighting ratio.
fn by_distance(dice: &mut Dice) -> Value {
    let metres = |dice: &mut Dice| (dice.between(0.6, 6.0) * 100.0).round() / 100.0;
    if dice.one_in(3) {
        let mut body = json!({
            "exposure": {"f_number": dice.pick(&["f/4", "f/8", "f/16"])},
            "lights": [{"name": "key", "unit": unit(dice)}, {"name": "fill", "unit": unit(dice)}],
            "ratio": {"value": dice.pick(&[2.0, 4.0, 8.0]), "key": "key", "fill": "fill", "counting": dice.pick(&["sides", "lights"])},
            "placements": [{"light": "key", "distance": metres(dice)}, {"light": "fill", "distance": metres(dice)}]
        });
        outfit(dice, &mut body["lights"][0]);
        terms(dice, &mut body);
        return body;
    }
    let count = 1 + dice.below(3);
    let lights = (0..count).map(|index| {
        let mut light = json!({"name": format!("l{index}"), "unit": unit(dice)});
        outfit(dice, &mut light);
        if dice.one_in(4) {
            light["fixed_setting"] = json!("-1 stops");
        }
        light
    });
    let lights: Vec<Value> = lights.collect();
    let points = 1 + dice.below(3);
    let mut placements = Vec::new();
    for (light, point) in (0..count).flat_map(|light| (0..points).map(move |point| (light, point))) {
        if point == 0 || dice.one_in(2) {
            let mut placement =
                json!({"light": format!("l{light}"), "point": format!("p{point}"), "distance": metres(dice)});
            if dice.one_in(2) {
                placement["incidence_deg"] = json!(dice.pick(&[0, 30, 60]));
                placement["off_axis_deg"] = json!(dice.pick(&[0, 15, 40]));
            }
            placements.push(placement);
        }
    }
    let lit = |point: usize| placements.iter().any(|placement| placement["point"] == format!("p{point}"));
    let points = (0..points).filter(|point| lit(*point));
    let points = points.map(|point| json!({"name": format!("p{point}"), "target": {"stops": (dice.between(-1.5, 1.5) * 10.0).round() / 10.0}}));
    let points: Vec<Value> = points.collect();
    let mut body = json!({
        "exposure": {"f_number": dice.pick(&["f/2.8", "f/5.6", "f/8", "f/16"])},
        "lights": lights, "points": points, "placements": placements
    });
    terms(dice, &mut body);
    body
}

/// Carries out every remedy of many sets. Returns how many there were, by distance and otherwise.
async fn follow(make: fn(&mut Dice) -> Value, seed: u64, sets: usize) -> [usize; 2] {
    let server = Server::start().await;
    let mut dice = Dice(seed);
    let mut counts = [0; 2];
    for _ in 0..sets {
        let body = make(&mut dice);
        let answer = server.ask(BALANCE, body.clone()).await;
        for remedy in remedies(&answer) {
            if remedy["change"] == "distance" && body.get("limits").is_some() {
                assert!((1.0..=5.0).contains(&number(&remedy["by"]["distance_m"])), "{remedy}\n{body}");
            }
            for rounded in [false, true] {
                let Some(changed) = followed(&server, &body, remedy, rounded).await else { continue };
                let then = server.ask(BALANCE, changed.clone()).await;
                assert_eq!(then["feasible"], true, "{remedy}\n{body}\n{changed}\n{then}");
                counts[usize::from(remedy["change"] != "distance")] += 1;
                if remedy["change"] != "distance" || body["units"] == "imperial" {
                    break;
                }
            }
        }
    }
    counts
}

#[tokio::test]
async fn every_move_in_space_has_the_effect_in_its_remedy() {
    let [distances, others] = follow(in_space, 1, 250).await;
    println!("{distances} distances, {others} others");
    assert!(distances > 100 && others > 100, "{distances} {others}");
}

#[tokio::test]
async fn every_move_by_distance_has_the_effect_in_its_remedy() {
    let [distances, others] = follow(by_distance, 2, 250).await;
    println!("{distances} distances, {others} others");
    assert!(distances > 100 && others > 100, "{distances} {others}");
}
