//! `/v1/ratios/balance`.

use serde_json::{Value, json};

use crate::{
    remedies::{patched, with_change},
    support::{Server, close, codes, number, pointers},
};

pub const BALANCE: &str = "/v1/ratios/balance";

pub fn dial(name: &str, energy: f64) -> Value {
    json!({"name": name, "unit": {"energy": energy, "scale": {"style": "dial", "full": 9, "least": 1, "click": 0.1}}})
}

pub fn three_lights() -> Value {
    json!({
        "exposure": {"f_number": "f/8"},
        "lights": [dial("key", 1000.0), dial("fill", 500.0), dial("wall", 250.0)],
        "points": [
            {"name": "face", "target": {"f_number": "f/8"}},
            {"name": "cheek", "target": {"ratio": "3:1", "to": "face"}},
            {"name": "wall", "target": {"stops": -1}}
        ],
        "readings": [
            {"light": "key", "point": "face", "setting": "9", "f_number": "f/22"},
            {"light": "key", "point": "cheek", "setting": "9", "f_number": "f/4"},
            {"light": "fill", "point": "face", "setting": "8", "f_number": "f/8"},
            {"light": "fill", "point": "cheek", "setting": "8", "f_number": "f/11"},
            {"light": "wall", "point": "wall", "setting": "9", "f_number": "f/11 +0.5"}
        ]
    })
}

/// Checks what every balance must satisfy: the errors agree with the points, and a proven answer equals its bound.
pub fn check(answer: &Value) {
    let worst = answer["points"]
        .as_array()
        .expect("points")
        .iter()
        .map(|point| point["error_stops"].as_f64().expect("a number").abs())
        .fold(0.0, f64::max);
    close(&answer["worst_error_stops"], worst, 1e-4);
    for point in answer["points"].as_array().expect("points") {
        let [target, achieved, error] = ["target_stops", "achieved_stops", "error_stops"]
            .map(|name| point[name].as_f64().expect("a number"));
        assert!((achieved - target - error).abs() < 2e-4);
    }
    if answer["optimality"]["proven"] == true {
        assert_eq!(answer["optimality"]["lower_bound_stops"], answer["worst_weighted_error_stops"]);
    }
}

#[tokio::test]
async fn three_lights_come_within_a_tenth() {
    let server = Server::start().await;
    let answer = server.ask(BALANCE, three_lights()).await;
    check(&answer);
    assert_eq!(answer["feasible"], true);
    assert_eq!(answer["optimality"]["proven"], true);
    assert!(answer["worst_error_stops"].as_f64().is_some_and(|worst| worst < 0.05), "{answer}");
    // A ratio sets the target: 3:1 is log2(3) stops under the face.
    close(&answer["points"][1]["target_stops"], -1.585, 1e-4);
    // The wall light: f/11 +0.5 at full power is 1.5 + 1 stops over the target of f/8 less a stop, so 2.5 stops below
    // full.
    assert_eq!(answer["settings"][2]["setting"]["label"], "6.5");
}

#[tokio::test]
async fn three_to_one_by_sides_is_two_to_one_by_lights() {
    // Common practice: with the key a stop over a fill that reaches both sides, the ratio is 3:1.
    let server = Server::start().await;
    let body = |value: &str, counting: &str| {
        json!({
            "exposure": {"f_number": "f/8"},
            "lights": [
                {"name": "key", "unit": {"guide_number": {"value": 80, "unit": "m"}, "scale": {"style": "fraction", "least": "1/256", "click": 0.1}}},
                {"name": "fill", "unit": {"guide_number": {"value": 80, "unit": "m"}, "scale": {"style": "fraction", "least": "1/256", "click": 0.1}}}
            ],
            "ratio": {"value": value, "key": "key", "fill": "fill", "counting": counting},
            "placements": [{"light": "key", "distance": "2 m"}, {"light": "fill", "distance": "2 m"}]
        })
    };
    let sides = server.ask(BALANCE, body("3:1", "sides")).await;
    let lights = server.ask(BALANCE, body("2:1", "lights")).await;
    assert_eq!(sides["settings"], lights["settings"]);
    assert_eq!(sides["points"][0]["name"], "lit side");
    assert_eq!(sides["points"][1]["name"], "shadow side");
    let below =
        |index: usize| sides["settings"][index]["setting"]["stops_below_full"].as_f64().expect("a number");
    close(&(below(1) - below(0)).into(), 1.0, 1e-9);
    close(&sides["ratio"]["sides"]["achieved"], 3.0, 1e-4);
    close(&sides["ratio"]["lights"]["achieved"], 2.0, 1e-4);
    assert_eq!(sides["ratio"]["sides"]["target"], lights["ratio"]["sides"]["target"]);
}

#[tokio::test]
async fn placements_and_readings_of_the_same_set_agree() {
    let server = Server::start().await;
    let light = json!({"name": "a", "unit": {"guide_number": {"value": 40, "unit": "m"}, "scale": {"style": "fraction", "least": "1/128", "click": 0.1}}});
    let set = |field: &str, entry: Value| json!({"exposure": {"f_number": "f/4"}, "lights": [light.clone()], "points": [{"name": "p", "target": {"stops": 0}}], field: [entry]});
    // GN 40 at 5 m meters f/8 (ISO 1230).
    let placed =
        server.ask(BALANCE, set("placements", json!({"light": "a", "point": "p", "distance": "5 m"}))).await;
    let read = server
        .ask(
            BALANCE,
            set("readings", json!({"light": "a", "point": "p", "setting": "1/1", "f_number": "f/8"})),
        )
        .await;
    assert_eq!(placed["settings"], read["settings"]);
    assert_eq!(placed["settings"][0]["setting"]["label"], "1/4");
    // Sixty degrees off the normal (cosine law) and half the light lost in the modifier: two stops.
    let tilted = set(
        "placements",
        json!({"light": "a", "point": "p", "distance": 5, "incidence_deg": 60, "modifier_stops": -1}),
    );
    assert_eq!(server.ask(BALANCE, tilted).await["settings"][0]["setting"]["label"], "1/1");
    // A meter that reads half a stop less than the camera gets.
    let mut offset =
        set("readings", json!({"light": "a", "point": "p", "setting": "1/1", "f_number": "f/8"}));
    offset["meter"] = json!({"offset_stops": 0.5});
    assert_eq!(server.ask(BALANCE, offset).await["settings"][0]["setting"]["stops_below_full"], 2.5);
}

#[tokio::test]
async fn a_target_out_of_reach_is_an_answer_with_remedies_that_work() {
    let server = Server::start().await;
    let mut body = three_lights();
    body["exposure"]["f_number"] = json!("f/32");
    body["points"][0]["target"] = json!({"stops": 0});
    let answer = server.ask(BALANCE, body.clone()).await;
    check(&answer);
    assert_eq!(answer["feasible"], false);
    let aperture = with_change(&answer["remedies"], "aperture").expect("an aperture");
    let stops = number(&aperture["changes"][0]["by_stops"]);
    assert!(stops > 0.0);
    // With the lens set as the remedy says, the set is feasible; two thirds of a stop less, it is not: that is more than
    // the tolerance.
    let followed = patched(&body, &aperture["patch"]);
    assert_eq!(server.ask(BALANCE, followed.clone()).await["feasible"], true);
    let mut less = followed;
    less["exposure"]["f_number"] = json!(32.0 * (-(stops - 2.0 / 3.0) / 2.0).exp2());
    assert_eq!(server.ask(BALANCE, less).await["feasible"], false);
}

#[tokio::test]
async fn a_lens_between_two_marks_is_set_to_a_mark_that_works() {
    let server = Server::start().await;
    let ask = async |f_number: &str| {
        let body = json!({
            "exposure": {"f_number": f_number},
            "lights": [{"name": "a", "unit": {"guide_number": {"value": 40, "unit": "m"}}}],
            "points": [{"name": "p", "target": {"stops": 0}}],
            "placements": [{"light": "a", "point": "p", "distance": "8 m"}],
            "tolerance_stops": 0.05
        });
        server.ask(BALANCE, body).await
    };
    // GN = N·d (ISO 1230): f/5 at 8 m, within 0.03 stop of the mark f/5 (5.04). f/6.7 is 0.86 stop more.
    let answer = ask("f/6.7").await;
    let wider = with_change(&answer["remedies"], "aperture").expect("a wider aperture");
    // From 2^2.75 to 2^(7/3).
    close(&wider["changes"][0]["by_stops"], 5.0 / 6.0, 1e-4);
    assert_eq!(wider["changes"][0]["to"]["f_number"]["mark"], "f/5");
    assert_eq!(ask("f/5").await["feasible"], true);
}

#[tokio::test]
async fn lights_that_are_too_strong_are_reported() {
    let server = Server::start().await;
    let body = json!({
        "exposure": {"f_number": "f/2"},
        "lights": [{"name": "a", "unit": {"guide_number": {"value": 60, "unit": "m"}, "scale": {"style": "dial", "full": 10, "least": 6}}}],
        "points": [{"name": "p", "target": {"stops": 0}}],
        "placements": [{"light": "a", "point": "p", "distance": "2 m"}]
    });
    // f/30 at full power, f/7.5 four stops down: 3.8 stops over f/2.
    let answer = server.ask(BALANCE, body).await;
    assert_eq!(answer["feasible"], false);
    let remedy =
        |change: &str| with_change(&answer["remedies"], change).expect("a remedy")["changes"][0].clone();
    // The filter that comes nearest of those sold; the light is first weakened where it is (at the light).
    assert_eq!(remedy("filter")["to"]["filter"], json!({"stops": -4.0, "mark": "ND 1.2"}));
    assert_eq!(remedy("filter")["light"], "a");
    // GN = N·d (ISO 1230): 60/4 m·f at the least setting is 7.5 m at f/2; 8 m is the nearest of two digits within reach.
    close(&remedy("distance")["to"]["distance_m"], 7.5, 0.5);
}

#[tokio::test]
async fn a_light_may_be_off_fixed_or_held_up() {
    let server = Server::start().await;
    let mut body = three_lights();
    // The window alone gives the face its target, so the key is too much.
    body["ambient"] = json!([{"point": "face", "f_number": "f/8"}]);
    body["exposure"]["exposure_time"] = json!("1/60");
    body["points"] =
        json!([{"name": "face", "target": {"stops": 0}}, {"name": "wall", "target": {"stops": -1}}]);
    body["readings"] = json!([body["readings"][0].clone(), body["readings"][4].clone()]);
    body["lights"] = json!([dial("key", 1000.0), dial("wall", 250.0)]);
    body["lights"][0]["may_be_off"] = json!(true);
    let answer = server.ask(BALANCE, body.clone()).await;
    assert_eq!(answer["settings"][0]["setting"], Value::Null);
    body["lights"][0] =
        json!({"name": "key", "unit": body["lights"][0]["unit"], "setting": "3", "hold": true});
    let answer = server.ask(BALANCE, body.clone()).await;
    assert_eq!(answer["settings"][0]["setting"]["label"], "3");
    body["lights"][1]["max_stops_below_full"] = json!(2);
    let answer = server.ask(BALANCE, body).await;
    assert_eq!(answer["settings"][1]["setting"]["label"], "7");
    assert_eq!(answer["optimality"]["proven"], true);
}

#[tokio::test]
async fn least_energy_saves_within_the_tolerance() {
    let server = Server::start().await;
    let accurate = server.ask(BALANCE, three_lights()).await;
    let mut body = three_lights();
    body["prefer"] = json!("least_energy");
    body["tolerance_stops"] = json!("1/4");
    let thrifty = server.ask(BALANCE, body).await;
    check(&json!({"points": thrifty["points"], "worst_error_stops": thrifty["worst_error_stops"]}));
    assert!(number(&thrifty["total_energy_j"]) < number(&accurate["total_energy_j"]));
    assert!(number(&thrifty["worst_error_stops"]) <= 0.25);
    assert_eq!(thrifty["feasible"], true);
}

#[tokio::test]
async fn ids_are_returned() {
    let server = Server::start().await;
    let mut body = three_lights();
    body["lights"][1]["id"] = json!("l-2");
    body["points"][2]["id"] = json!("p-3");
    let answer = server.ask(BALANCE, body).await;
    assert_eq!(answer["settings"][1]["light_id"], "l-2");
    assert_eq!(answer["points"][2]["id"], "p-3");
}

#[tokio::test]
async fn an_entry_without_a_name_goes_by_its_id() {
    let server = Server::start().await;
    let mut body = json!({
        "exposure": {"f_number": "f/8"},
        "lights": [{"id": 9, "unit": {"guide_number": {"value": 40, "unit": "m"}}}],
        "points": [{"id": 1, "target": {"stops": 0}}, {"id": 2, "target": {"ratio": "1:1", "to": 1}}],
        "placements": [
            {"light": 9, "point": 1, "distance": "2 m"}, {"light": "9", "point": 2, "distance": "2 m"}
        ],
        "ambient": []
    });
    let answer = server.ask(BALANCE, body.clone()).await;
    assert_eq!((&answer["settings"][0]["light_id"], &answer["points"][1]["id"]), (&json!(9), &json!(2)));
    // 2 m at f/8 is guide number 16, which is 2.64 stops below 40.
    // A setting without a scale is told to the hundredth of a stop.
    close(&answer["settings"][0]["setting"]["stops_below_full"], 2.0 * (40.0_f64 / 16.0).log2(), 5e-3);
    body["placements"][1]["point"] = json!(2.5);
    assert_eq!(pointers(&server.refused(BALANCE, body).await), ["/placements/1/point"]);
}

#[tokio::test]
async fn every_fault_of_a_set_is_located_in_the_order_of_the_document() {
    let server = Server::start().await;
    let change = |path: &str, value: Value| {
        let mut body = three_lights();
        *body.pointer_mut(path).unwrap_or_else(|| panic!("{path} is not there")) = value;
        body
    };
    for (body, expected) in [
        (
            change("/lights/1/name", json!("key")),
            vec!["/lights/1/name", "/readings/2/light", "/readings/3/light"],
        ),
        (change("/points/1/target/to", json!("nose")), vec!["/points/1/target/to"]),
        (
            change("/points/0/target", json!({"ratio": 2, "to": "cheek"})),
            vec!["/points/0/target/to", "/points/1/target/to"],
        ),
        (change("/points/0/target", json!({"stops": 1, "f_number": 8})), vec!["/points/0/target/stops"]),
        (change("/readings/4/light", json!("kay")), vec!["/readings/4/light"]),
        (change("/readings/1/point", json!("face")), vec!["/readings/1"]),
        (change("/readings/0/setting", json!("11")), vec!["/readings/0/setting"]),
        (change("/lights/0/unit/scale/click", json!(0)), vec!["/lights/0/unit/scale/click"]),
        (change("/lights/0/unit", json!({})), vec!["/lights/0/unit"]),
        (change("/readings", json!([])), vec!["/points/0", "/points/1", "/points/2"]),
        (change("/points", Value::Null), vec!["/points"]),
    ] {
        let faults = server.refused(BALANCE, body).await;
        let places = pointers(&faults);
        assert_eq!(places, expected);
    }
    let mut ambient = three_lights();
    ambient["ambient"] = json!([{"point": "face", "illuminance_lx": 100}]);
    assert_eq!(pointers(&server.refused(BALANCE, ambient).await), ["/exposure/exposure_time"]);
    let two = json!({
        "exposure": {"f_number": "f/8"},
        "lights": [dial("a", 500.0)],
        "points": [{"name": "p", "target": {"ratio": 2, "to": "wall"}}],
        "placements": [{"light": "b", "point": "p", "distance": 2}]
    });
    assert_eq!(pointers(&server.refused(BALANCE, two).await), ["/points/0/target/to", "/placements/0/light"]);
}

#[tokio::test]
async fn a_beam_behind_energy_is_an_estimate_and_says_so() {
    let server = Server::start().await;
    let mut body = json!({
        "exposure": {"f_number": "f/8"},
        "lights": [{"name": "a", "unit": {"energy": 600}}],
        "points": [{"name": "p", "target": {"stops": 0}}],
        "placements": [{"light": "a", "point": "p", "distance": 2}]
    });
    assert_eq!(pointers(&server.refused(BALANCE, body.clone()).await), ["/lights/0/unit"]);
    body["lights"][0]["unit"]["coverage"] = json!({"cone_deg": 70});
    let answer = server.ask(BALANCE, body).await;
    assert_eq!(answer["assumptions"][0]["code"], "guide_number_m");
    assert_eq!(answer["assumptions"][0]["at"], "/lights/0");
    assert_eq!(codes(&answer["warnings"]), ["continuous_scale", "set_beam_estimated", "meter_alone"]);
}

#[tokio::test]
async fn the_same_request_has_the_same_answer() {
    let server = Server::start().await;
    let first = server.ask(BALANCE, three_lights()).await;
    for _ in 0..3 {
        assert_eq!(server.ask(BALANCE, three_lights()).await, first);
    }
}

#[tokio::test]
async fn a_shorter_time_keeps_ambient_light_out() {
    let server = Server::start().await;
    let body = json!({
        "exposure": {"f_number": "f/8", "exposure_time": "1/60"},
        "lights": [dial("key", 600.0)],
        "points": [{"name": "face", "target": {"stops": 0}}],
        "readings": [{"light": "key", "point": "face", "setting": "8", "f_number": "f/11"}],
        "ambient": [{"point": "face", "f_number": "f/11"}]
    });
    let answer = server.ask(BALANCE, body.clone()).await;
    assert_eq!(answer["feasible"], false);
    let shorter = with_change(&answer["remedies"], "exposure_time").expect("a shorter time");
    let stops = number(&shorter["changes"][0]["by_stops"]);
    // By hand, in N²: the key at its least gives 256/256 = 1, ambient light 128; a third of a stop over f/8 is 80.63.
    // Two thirds of a stop less ambient light leaves 81.6, a stop less 65 (0.02 stop over).
    assert!((stops + 1.0).abs() < 1e-3, "{shorter}");
    let mut shortened = body;
    shortened["exposure"]["exposure_time"] = json!("1/125");
    // The metered ambient light falls with the exposure time.
    shortened["ambient"][0] = json!({"point": "face", "f_number": "f/8"});
    let answer = server.ask(BALANCE, shortened).await;
    assert_eq!(answer["feasible"], true, "{answer}");
}

#[tokio::test]
async fn contradicting_targets_are_reported() {
    let server = Server::start().await;
    let answer = server
        .ask(
            BALANCE,
            json!({
                "exposure": {"f_number": "f/8"},
                "lights": [dial("key", 600.0)],
                "points": [
                    {"name": "left", "target": {"f_number": "f/8"}},
                    {"name": "right", "target": {"f_number": "f/16"}}
                ],
                "readings": [
                    {"light": "key", "point": "left", "setting": "8", "f_number": "f/11"},
                    {"light": "key", "point": "right", "setting": "8", "f_number": "f/11"}
                ]
            }),
        )
        .await;
    check(&answer);
    // The targets are two stops apart, the light is the same: one stop too much here, one too little there.
    close(&answer["worst_error_stops"], 1.0, 1e-4);
    assert_eq!(answer["warnings"][0]["code"], "no_single_remedy");
}

#[tokio::test]
async fn the_shorthand_names_a_light_without_any_data() {
    let server = Server::start().await;
    let mut body = json!({
        "exposure": {"f_number": "f/8"},
        "lights": [dial("key", 600.0), dial("fill", 300.0)],
        "ratio": {"value": "3:1", "key": "key", "fill": "fill"},
        "readings": [{"light": "key", "setting": "8", "f_number": "f/11"}]
    });
    assert_eq!(pointers(&server.refused(BALANCE, body.clone()).await), ["/ratio/fill"]);
    body["ratio"]["fill"] = json!("fil");
    assert_eq!(pointers(&server.refused(BALANCE, body.clone()).await), ["/ratio/fill"]);
    body["ratio"]["value"] = json!("1:3");
    let faults = server.refused(BALANCE, body).await;
    assert_eq!(pointers(&faults), ["/ratio/value", "/ratio/fill"]);
    assert!(faults[0][2].contains("swap key and fill"), "{faults:?}");
}
