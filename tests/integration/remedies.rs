//! Remedies, followed as a program follows them: each patch is applied to the request, which is sent again, and the answer
//! is what the remedy says. JSON Patch by the crate `json-patch` (RFC 6902).

use json_patch::Patch;
use serde_json::{Value, json};

use crate::{
    balance::BALANCE,
    support::{Dice, Server, number},
};

/// The remedy of a list whose first change is of this kind.
pub fn with_change<'a>(remedies: &'a Value, change: &str) -> Option<&'a Value> {
    let mut all = remedies.as_array().expect("remedies").iter();
    all.find(|remedy| remedy["changes"][0]["change"] == change)
}

/// The remedy of an answer, or of a part of one, that is a single change of this kind; the first of several.
pub fn single<'a>(answer: &'a Value, change: &str) -> Option<&'a Value> {
    let is_single = |remedy: &&Value| {
        let changes = remedy["changes"].as_array().expect("changes");
        changes.len() == 1 && changes[0]["change"] == change
    };
    answer["remedies"].as_array().expect("remedies").iter().find(is_single)
}

/// The same where there must be one.
#[track_caller]
pub fn by<'a>(answer: &'a Value, change: &str) -> &'a Value {
    single(answer, change).unwrap_or_else(|| panic!("no {change} in {}", answer["remedies"]))
}

/// The request with a patch applied.
pub fn patched(body: &Value, patch: &Value) -> Value {
    let patch: Patch = serde_json::from_value(patch.clone()).expect("a patch");
    let mut body = body.clone();
    json_patch::patch(&mut body, &patch).expect("a patch that fits the request");
    body
}

/// Finds the errors of a followed remedy in an answer.
type Outcome<'a> = Box<dyn Fn(&Value) -> Value + 'a>;

/// The worst error in size of some values.
fn worst<'a>(all: impl Iterator<Item = &'a Value>) -> f64 {
    all.map(|value| number(value).abs()).fold(0.0, f64::max)
}

/// The remedies of an answer, each with what the answer to the followed one says in its place.
fn remedies<'a>(path: &str, answer: &'a Value) -> Vec<(&'a Value, Outcome<'a>)> {
    let list = |value: &'a Value| value.as_array().expect("a list").iter();
    match path {
        "/v1/energy/equivalence" => list(&answer["candidates"])
            .enumerate()
            .flat_map(|(index, candidate)| {
                list(&candidate["remedies"]).map(move |remedy| {
                    let outcome = move |then: &Value| {
                        let candidate = &then["candidates"][index];
                        json!({"feasible": candidate["feasible"], "error_stops": candidate["error_stops"]})
                    };
                    (remedy, Box::new(outcome) as Outcome)
                })
            })
            .collect(),
        "/v1/kit/check" => list(&answer["shots"])
            .enumerate()
            .flat_map(|(index, shot)| {
                list(&shot["remedies"]).map(move |remedy| {
                    let outcome = move |then: &Value| {
                        let shot = &then["shots"][index];
                        let lights = shot["lights"].as_array().expect("lights").iter();
                        let role = &remedy["changes"][0]["role"];
                        let own = lights.clone().find(|light| light["role"] == *role);
                        json!({
                            "feasible": shot["feasible"],
                            "error_stops": own.map(|light| light["error_stops"].clone()),
                            "worst_error_stops": worst(lights.map(|light| &light["error_stops"]))
                        })
                    };
                    (remedy, Box::new(outcome) as Outcome)
                })
            })
            .collect(),
        "/v1/ambient/check" => list(&answer["remedies"])
            .map(|remedy| {
                let outcome = |then: &Value| {
                    // Where ambient light is wanted it is to come within half of the step of the marks.
                    let is_near = then.get("error_stops").map(|error| json!(number(error).abs() <= 0.51));
                    json!({"feasible": is_near.unwrap_or_else(|| then["clean"].clone()), "error_stops": then["error_stops"],
                        "brightening_stops": then["brightening_stops"]})
                };
                (remedy, Box::new(outcome) as Outcome)
            })
            .collect(),
        _ => list(&answer["remedies"])
            .map(|remedy| {
                let outcome = |then: &Value| json!({"feasible": then["feasible"], "error_stops": then["error_stops"], "worst_error_stops": then["worst_error_stops"]});
                (remedy, Box::new(outcome) as Outcome)
            })
            .collect(),
    }
}

/// Follows every remedy of an answer. Returns the kinds of change that were made.
pub async fn follow(server: &Server, path: &str, body: &Value) -> Vec<String> {
    let answer = server.post(path, body).await;
    let mut kinds = Vec::new();
    // A point that no light reaches.
    if answer.status == 422 {
        return kinds;
    }
    let answer = answer.body;
    for (remedy, outcome) in remedies(path, &answer) {
        let changed = patched(body, &remedy["patch"]);
        let then = server.ask(path, changed.clone()).await;
        let found = outcome(&then);
        for (name, said) in remedy["then"].as_object().expect("then") {
            let is_same = match said.as_f64() {
                Some(said) => found[name].as_f64().is_some_and(|found| (found - said).abs() < 1e-3),
                None => found[name] == *said,
            };
            assert!(is_same, "{name} is {} in\n{remedy}\nof\n{body}\nchanged to\n{changed}", found[name]);
        }
        check_form(remedy, body);
        let changes = remedy["changes"].as_array().expect("changes");
        kinds.extend(changes.iter().map(|change| change["change"].as_str().expect("a word").to_owned()));
    }
    kinds
}

/// Checks what every remedy must keep to: marks that exist, limits, and sizes that are worth it.
fn check_form(remedy: &Value, body: &Value) {
    let limit = |name: &str| body["limits"].get(name);
    for change in remedy["changes"].as_array().expect("changes") {
        let to = &change["to"];
        assert_eq!(to.as_object().map(serde_json::Map::is_empty), Some(false), "{remedy}");
        for dialled in ["f_number", "iso", "exposure_time"] {
            if let Some(dialled) = to.get(dialled) {
                assert!(number(&dialled["off_by_stops"]).abs() < 1e-3, "no mark in {remedy}");
            }
        }
        if let Some(f_number) = to.get("f_number") {
            assert!((1.4..22.7).contains(&number(&f_number["value"])), "{remedy}");
        }
        if let Some(time) = to.get("exposure_time") {
            assert!((1.0 / 8200.0..1.0 / 30.0).contains(&number(&time["value"])), "{remedy}");
        }
        if let Some(distance) = to.get("distance_m").map(number) {
            let [near, far] = if limit("distance").is_some() { [1.0, 5.0] } else { [0.3, 10.0] };
            assert!((near..=far).contains(&distance), "{remedy}");
        }
        if let Some(filter) = to.get("filter") {
            let sold =
                json!(["ND 0.3", "ND 0.6", "ND 0.9", "ND 1.2", "ND 1.5", "ND 1.8", "ND 2.4", "ND 3.0"]);
            let filters = limit("filters").unwrap_or(&sold).as_array().expect("filters");
            assert!(filters.contains(&filter["mark"]), "{remedy}");
        }
        if let Some(pops) = to.get("pops") {
            let most = limit("max_pops").map_or(1.0, number);
            assert!(number(pops) <= most, "{remedy}");
        }
        if let Some(by) = change.get("by_stops") {
            assert!(number(by).abs() > 0.05, "a useless change in {remedy}");
        }
    }
    let patch = remedy["patch"].as_array().expect("a patch");
    assert!(!patch.is_empty() && patch.len() <= 65, "{remedy}");
    assert!(
        patch.iter().all(|operation| ["add", "replace"].contains(&operation["op"].as_str().expect("a word")))
    );
    let text = remedy["text"].as_str().expect("a text");
    assert!(!text.contains("-0 ") && text.ends_with('.'), "{text}");
}

/// Follows the remedies of many requests. `expected` are the kinds of change that must be among them, each this often.
pub async fn follow_all(
    path: &str,
    make: fn(&mut Dice) -> Value,
    seed: u64,
    requests: usize,
    expected: &[(&str, usize)],
) {
    let server = Server::start().await;
    let mut dice = Dice(seed);
    let mut kinds = Vec::new();
    for _ in 0..requests {
        kinds.extend(follow(&server, path, &make(&mut dice)).await);
    }
    for (kind, least) in expected {
        let count = kinds.iter().filter(|other| other == kind).count();
        assert!(count >= *least, "{count} of {kind} in {} changes", kinds.len());
    }
    println!("{path}: {} changes", kinds.len());
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

/// Limits and rules that any request may have.
fn limits(dice: &mut Dice, body: &mut Value) {
    if dice.one_in(3) {
        body["limits"] = json!({"distance": ["1 m", "5 m"]});
    }
    if dice.one_in(2) {
        body["limits"]["max_pops"] = json!(4);
    }
    if dice.one_in(4) {
        body["limits"]["filters"] = json!(["ND 0.6", "ND 0.9"]);
    }
    if dice.one_in(4) {
        body["units"] = json!("imperial");
    }
    if dice.one_in(5) {
        body["reading"] = json!("literal");
    }
    if dice.one_in(5) {
        body["step"] = dice.pick(&[json!("1"), json!("1/2")]);
    }
}

/// Options that any set may have.
fn terms(dice: &mut Dice, body: &mut Value) {
    body["tolerance_stops"] = json!(dice.pick(&[0.05, 0.1, 0.2, 1.0 / 3.0]));
    body["time_limit_ms"] = json!(2000);
    if dice.one_in(4) {
        body["prefer"] = json!("least_energy");
    }
    limits(dice, body);
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
            light["setting"] = json!("-1 stops");
            light["hold"] = json!(true);
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
        body["lens"] = json!({"transmission_stops": -0.3, "filters": ["-0.5 stops"]});
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
            light["setting"] = json!("-1 stops");
            light["hold"] = json!(true);
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

/// A set in which lights were metered.
fn metered(dice: &mut Dice) -> Value {
    let count = 1 + dice.below(3);
    let lights: Vec<Value> = (0..count)
        .map(|index| {
            let mut light = json!({"name": format!("l{index}"), "id": index, "unit": unit(dice)});
            if dice.one_in(4) {
                light["setting"] = json!("-2 stops");
                light["hold"] = json!(true);
            }
            light
        })
        .collect();
    let points = 1 + dice.below(3);
    let mut readings = Vec::new();
    for (light, point) in (0..count).flat_map(|light| (0..points).map(move |point| (light, point))) {
        if light == 0 || dice.one_in(2) {
            let f_number = dice.pick(&["f/2.8", "f/5.6 +0.4", "f/8", "f/11 +0.7", "f/22"]);
            readings.push(json!({"light": format!("l{light}"), "point": format!("p{point}"), "setting": "full", "f_number": f_number}));
        }
    }
    let points: Vec<Value> = (0..points)
        .map(|point| {
            let target = match dice.below(3) {
                0 => json!({"f_number": dice.pick(&["f/4", "f/8", "f/11 +1/3"])}),
                _ => json!({"stops": (dice.between(-1.5, 1.5) * 10.0).round() / 10.0}),
            };
            json!({"name": format!("p{point}"), "target": target})
        })
        .collect();
    let mut body = json!({
        "exposure": {"f_number": dice.pick(&["f/2.8", "f/5.6", "f/8", "f/16"]), "iso": dice.pick(&[100, 400])},
        "lights": lights, "points": points, "readings": readings
    });
    if dice.one_in(3) {
        body["exposure"]["exposure_time"] = json!("1/60");
        body["exposure"]["sync_time"] = json!("1/200");
        body["ambient"] = json!([{"point": "p0", "f_number": dice.pick(&["f/2", "f/5.6", "f/16"])}]);
    }
    if dice.one_in(3) {
        body["meter"] = json!({"offset_stops": 0.3});
    }
    terms(dice, &mut body);
    body
}

/// A swap of units, mostly out of reach.
fn swap(dice: &mut Dice) -> Value {
    let any = |dice: &mut Dice| {
        let mut any = unit(dice);
        match dice.below(3) {
            0 => any["energy"] = Value::Null,
            1 => any["coverage"] = json!({"cone_deg": 60}),
            _ => {}
        }
        any
    };
    let candidates: Vec<Value> = (0..=dice.below(3))
        .map(|index| {
            let mut candidate = json!({"id": format!("c{index}"), "unit": any(dice)});
            if dice.one_in(2) {
                candidate["distance"] = json!(dice.pick(&["1 m", "2.5 m", "6 ft"]));
            }
            if dice.one_in(4) {
                candidate["filters"] = json!(["-1 stops"]);
            }
            candidate
        })
        .collect();
    let mut body = json!({
        "reference": {"unit": any(dice), "setting": dice.pick(&["full", "-2 stops", "-4 stops"]),
            "exposure": {"f_number": dice.pick(&["f/4", "f/8", "f/11"]), "iso": 200}, "distance": "2 m"},
        "candidates": candidates
    });
    if dice.one_in(3) {
        body["exposure"] = json!({"f_number": dice.pick(&["f/2.8", "f/8", "f/22"])});
    }
    if dice.one_in(4) {
        body["lens"] = json!({"magnification": 0.5});
    }
    if dice.one_in(4) {
        body["compare_by"] = json!("guide_number");
    }
    // A scale in labels of its own stays as it is; energies that are null are left out.
    for candidate in body["candidates"].as_array_mut().expect("candidates") {
        candidate["unit"].as_object_mut().expect("a unit").retain(|_, value| !value.is_null());
    }
    if dice.one_in(3) {
        body["reference"]["modifier_stops"] = dice.pick(&[json!(-1.5), json!({"kind": "grid"})]);
    }
    if dice.one_in(3) {
        body["candidates"][0]["modifier_stops"] = dice.pick(&[json!(0), json!({"kind": "grid"})]);
    }
    if dice.one_in(6) {
        body["reference"].as_object_mut().expect("fields").remove("exposure");
    }
    limits(dice, &mut body);
    body
}

/// A kit and shots that mostly ask too much or too little.
fn kit(dice: &mut Dice) -> Value {
    let kit: Vec<Value> =
        (0..=dice.below(4)).map(|_| json!({"unit": unit(dice), "count": 1 + dice.below(2)})).collect();
    let shots: Vec<Value> = (0..=dice.below(3))
        .map(|index| {
            let lights: Vec<Value> = (0..=dice.below(3))
                .map(|role| {
                    let mut light = json!({"role": format!("r{role}"), "distance": dice.pick(&["1.2 m", "3 m", "8 ft"])});
                    match dice.below(2) {
                        0 => light["f_number"] = dice.pick(&[json!("f/2.8"), json!("f/11"), json!("f/22")]),
                        _ => light["stops"] = json!((dice.between(-3.0, 2.0) * 10.0).round() / 10.0),
                    }
                    if dice.one_in(3) {
                        light["modifier_stops"] = json!(-1.5);
                    }
                    light
                })
                .collect();
            json!({"name": format!("s{index}"), "id": index, "lights": lights,
                "exposure": {"f_number": dice.pick(&["f/2.8", "f/8", "f/16"]), "iso": dice.pick(&[100, 400])}})
        })
        .collect();
    let mut body = json!({"kit": kit, "shots": shots});
    limits(dice, &mut body);
    body
}

/// Ambient light that is mostly too bright.
fn ambient(dice: &mut Dice) -> Value {
    let light = match dice.below(4) {
        0 => json!({"illuminance_lx": dice.pick(&[100, 1000, 20_000])}),
        1 => json!({"f_number": dice.pick(&["f/2", "f/5.6"]), "exposure_time": "1/60"}),
        2 => json!({"f_number": "f/4", "exposure_time": "1/30", "iso": 400}),
        _ => json!({"level": dice.pick(&[10, 60, 110])}),
    };
    let mut body = json!({
        "exposure": {"f_number": dice.pick(&["f/2.8", "f/5.6", "f/8"]), "exposure_time": dice.pick(&["1/60", "1/125"]), "iso": dice.pick(&[100, 200])},
        "ambient": light
    });
    if dice.one_in(2) {
        body["exposure"]["sync_time"] = json!(dice.pick(&["1/125", "1/200"]));
    }
    if dice.one_in(2) {
        body["flash_f_number"] = json!(dice.pick(&["f/5.6", "f/8 +0.3"]));
    }
    if dice.one_in(3) {
        body["wanted_ambient_stops"] = json!(dice.pick(&[-2.0, -1.0, 0.3]));
    }
    if dice.one_in(3) && body["ambient"].get("level").is_none() {
        body["exposure"].as_object_mut().expect("an exposure").remove("exposure_time");
    }
    if dice.one_in(4) {
        body["lens"] = json!({"filters": ["ND 0.3"]});
    }
    limits(dice, &mut body);
    body
}

#[tokio::test]
async fn every_remedy_of_a_set_in_space_does_what_it_says() {
    let expected =
        [("distance", 50), ("aperture", 50), ("iso", 50), ("filter", 30), ("setting", 10), ("unit", 30)];
    follow_all(BALANCE, in_space, 1, 300, &expected).await;
}

#[tokio::test]
async fn every_remedy_of_a_set_by_distances_does_what_it_says() {
    let expected =
        [("distance", 50), ("aperture", 50), ("filter", 30), ("pops", 10), ("ratio", 10), ("unit", 30)];
    follow_all(BALANCE, by_distance, 2, 250, &expected).await;
}

#[tokio::test]
async fn every_remedy_of_a_metered_set_does_what_it_says() {
    let expected = [("aperture", 50), ("iso", 50), ("exposure_time", 3), ("setting", 10)];
    follow_all(BALANCE, metered, 3, 250, &expected).await;
}

#[tokio::test]
async fn every_remedy_of_a_swap_does_what_it_says() {
    let expected =
        [("distance", 50), ("aperture", 50), ("iso", 50), ("filter", 30), ("pops", 10), ("unit", 30)];
    follow_all("/v1/energy/equivalence", swap, 4, 400, &expected).await;
}

#[tokio::test]
async fn every_remedy_of_a_kit_does_what_it_says() {
    let expected =
        [("distance", 30), ("aperture", 30), ("iso", 30), ("filter", 20), ("pops", 5), ("unit", 30)];
    follow_all("/v1/kit/check", kit, 5, 400, &expected).await;
}

#[tokio::test]
async fn every_remedy_against_ambient_light_does_what_it_says() {
    let expected = [("exposure_time", 30), ("aperture", 30), ("iso", 20), ("setting", 30)];
    follow_all("/v1/ambient/check", ambient, 6, 400, &expected).await;
}

#[tokio::test]
async fn a_balance_patched_into_its_request_predicts_what_it_found() {
    let server = Server::start().await;
    let mut dice = Dice(7);
    for make in [in_space, by_distance, metered] {
        for _ in 0..60 {
            let body = make(&mut dice);
            let answer = server.post(BALANCE, &body).await;
            if answer.status == 422 {
                continue;
            }
            let answer = answer.body;
            let predicted = server.ask("/v1/exposure/predict", patched(&body, &answer["patch"])).await;
            let points = |answer: &Value| answer["points"].as_array().expect("points").clone();
            for (balanced, predicted) in points(&answer).iter().zip(points(&predicted)) {
                if predicted["error_stops"].is_null() {
                    continue;
                }
                let off = number(&balanced["error_stops"]) - number(&predicted["error_stops"]);
                assert!(off.abs() < 1e-3, "{balanced}\n{predicted}\n{body}");
            }
        }
    }
}
