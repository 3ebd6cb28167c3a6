//! Packs in `/v1/exposure/predict` and `/v1/ratios/balance`: heads that share the energy of one bank.
//!
//! Numbers are by hand: light goes with the energy, a guide number with its root (ISO 1230); how packs divide is common
//! practice.

use serde_json::{Value, json};

use crate::{
    balance::BALANCE,
    remedies::patched,
    support::{Server, close, number, pointers},
};

const PREDICT: &str = "/v1/exposure/predict";

/// A pack of 2400 J with two outlets, set by a dial from 9 to 4.
fn pack(split: Value) -> Value {
    let mut pack = json!({"name": "p", "energy": "2400 J"});
    if split.get("each").is_none() {
        pack["scale"] = json!({"style": "dial", "full": 9, "least": 4});
    }
    pack["split"] = split;
    pack
}

/// A head whose guide number at the pack's full energy is 80 m, with more fields.
fn head(name: &str, outlet: Option<u32>, more: &Value) -> Value {
    let mut light = json!({"name": name, "unit": {"pack": "p", "guide_number": "GN 80"}});
    if let Some(outlet) = outlet {
        light["unit"]["outlet"] = json!(outlet);
    }
    for (field, value) in more.as_object().expect("fields") {
        light[field] = value.clone();
    }
    light
}

/// A set with a point 2 m before each light, which that light alone reaches.
fn set(pack: &Value, lights: &[Value]) -> Value {
    let point = |light: &Value| json!({"name": light["name"], "target": {"stops": 0}});
    let placement = |light: &Value| json!({"light": light["name"], "point": light["name"], "distance": 2});
    json!({"exposure": {"f_number": "f/16"}, "packs": [pack], "lights": lights,
        "points": lights.iter().map(point).collect::<Value>(),
        "placements": lights.iter().map(placement).collect::<Value>()})
}

/// The f-number at each point.
fn f_numbers(answer: &Value) -> Vec<f64> {
    let points = answer["points"].as_array().expect("points").iter();
    points.map(|point| number(&point["f_number"]["value"])).collect()
}

#[track_caller]
fn near(found: &[f64], expected: &[f64]) {
    assert_eq!(found.len(), expected.len());
    for (found, expected) in found.iter().zip(expected) {
        assert!((found / expected - 1.0).abs() < 1e-5, "{found} {expected}");
    }
}

#[tokio::test]
async fn an_even_pack_divides_its_energy_among_its_heads() {
    let server = Server::start().await;
    // One head has all of it: 80 / 2 m.
    let alone = server.ask(PREDICT, set(&pack(json!("even")), &[head("a", None, &json!({}))])).await;
    near(&f_numbers(&alone), &[40.0]);
    close(&alone["settings"][0]["setting"]["energy_j"], 2400.0, 1e-6);
    // Two heads have half each, which is a stop less.
    let both = [head("a", None, &json!({"setting": "9"})), head("b", None, &json!({}))];
    let both = server.ask(PREDICT, set(&pack(json!("even")), &both)).await;
    near(&f_numbers(&both), &[40.0 / 2.0_f64.sqrt(); 2]);
    for light in 0..2 {
        let setting = &both["settings"][light]["setting"];
        assert_eq!(setting["label"], "9");
        close(&setting["energy_j"], 1200.0, 1e-6);
    }
    // A stop down it takes half of its energy, and the setting of one light is that of both.
    let half = [head("a", None, &json!({})), head("b", None, &json!({"setting": "8"}))];
    let half = server.ask(PREDICT, set(&pack(json!("even")), &half)).await;
    near(&f_numbers(&half), &[20.0; 2]);
    assert_eq!(half["settings"][0]["setting"]["label"], "8");
    let stated = json!({"label": "8", "stops_below_full": 1.0, "fraction": 0.5, "energy_j": 1200.0});
    assert_eq!(
        half["packs"],
        json!([{"pack": "p", "setting": stated, "energy_j": 1200.0, "left_j": 1200.0}])
    );
    // Off is off for both.
    let off = [head("a", None, &json!({})), head("b", None, &json!({"setting": "off"}))];
    let off = server.ask(PREDICT, set(&pack(json!("even")), &off)).await;
    assert_eq!(off["packs"], json!([{"pack": "p", "setting": null, "energy_j": 0.0, "left_j": 2400.0}]));
}

#[tokio::test]
async fn fixed_shares_hold_whatever_is_plugged_in() {
    let server = Server::start().await;
    let split = json!({"shares": [2, 1]});
    let lights = [head("a", Some(1), &json!({})), head("b", Some(2), &json!({}))];
    let both = server.ask(PREDICT, set(&pack(split.clone()), &lights)).await;
    let [strong, weak] = [2.0_f64, 1.0].map(|part| 40.0 * (part / 3.0).sqrt());
    near(&f_numbers(&both), &[strong, weak]);
    close(&both["settings"][0]["setting"]["energy_j"], 1600.0, 1e-6);
    close(&both["settings"][1]["setting"]["energy_j"], 800.0, 1e-6);
    close(&both["packs"][0]["left_j"], 0.0, 1e-6);
    // Alone on the second outlet it has no more.
    let alone = server.ask(PREDICT, set(&pack(split), &lights[1..])).await;
    near(&f_numbers(&alone), &[weak]);
    close(&alone["packs"][0]["energy_j"], 800.0, 1e-6);
    close(&alone["packs"][0]["left_j"], 1600.0, 1e-6);
    // The setting is the pack's.
    close(&alone["packs"][0]["setting"]["energy_j"], 2400.0, 1e-6);
}

#[tokio::test]
async fn outlets_that_are_set_apart_take_from_one_total() {
    let server = Server::start().await;
    let pack = pack(json!({"each": {"most": "1600 J"}}));
    let lights =
        |a: &str, b: &str| [head("a", None, &json!({"setting": a})), head("b", None, &json!({"setting": b}))];
    // The guide number is that at 2400 J: at 1600 J it is 80·√(2/3).
    let apart = server.ask(PREDICT, set(&pack, &lights("full", "-1 stops"))).await;
    near(&f_numbers(&apart), &[40.0 * (2.0_f64 / 3.0).sqrt(), 40.0 * (1.0_f64 / 3.0).sqrt()]);
    assert_eq!(apart["packs"], json!([{"pack": "p", "setting": null, "energy_j": 2400.0, "left_j": 0.0}]));
    // Both at 1600 J would take more than it has.
    let answer = server.post(PREDICT, &set(&pack, &lights("full", "full"))).await;
    assert_eq!(answer.status, 422);
    let fault = &answer.body["errors"][0];
    assert_eq!((&fault["pointer"], &fault["code"]), (&json!("/packs/0"), &json!("pack_overdrawn")));
    assert_eq!(fault["params"], json!({"pack": "p", "takes_j": 3200.0, "energy_j": 2400.0}));
    // A balance may change settings, but none that are held.
    let mut body = set(&pack, &lights("full", "full"));
    server.ask(BALANCE, body.clone()).await;
    for light in 0..2 {
        body["lights"][light]["hold"] = json!(true);
    }
    assert_eq!(pointers(&server.refused(BALANCE, body).await), ["/packs/0"]);
}

#[tokio::test]
async fn a_balance_sets_a_pack_as_one() {
    let server = Server::start().await;
    // Its own light at 2 m, and two heads at 2 m and 2.5 m. At full a head gives f/28.28 at 2 m, which is 1.644 stops over
    // f/16, and 0.644 less at 2.5 m. Best for both is what leaves half of the difference on each side.
    let lights = [
        json!({"name": "own", "unit": {"energy": 600, "guide_number": "GN 60",
            "scale": {"style": "dial", "full": 9, "least": 2}}}),
        head("a", None, &json!({})),
        head("b", None, &json!({})),
    ];
    let mut body = set(&pack(json!("even")), &lights);
    body["placements"][2]["distance"] = json!(2.5);
    let answer = server.ask(BALANCE, body.clone()).await;
    let spread = 2.0 * 1.25_f64.log2();
    let wanted = (2.0 * (800.0_f64.sqrt() / 16.0).log2()) - spread / 2.0;
    let below = (wanted * 10.0).round() / 10.0;
    for light in 1..3 {
        close(&answer["settings"][light]["setting"]["stops_below_full"], below, 1e-9);
        close(&answer["settings"][light]["setting"]["energy_j"], 1200.0 * (-below).exp2(), 1e-2);
    }
    close(&answer["worst_error_stops"], spread / 2.0 + (wanted - below).abs(), 2e-4);
    assert_eq!(answer["optimality"]["proven"], true);
    let pack = &answer["packs"][0];
    close(&pack["energy_j"], 2400.0 * (-below).exp2(), 1e-2);
    close(&pack["left_j"], 2400.0 - number(&pack["energy_j"]), 1e-2);
    let own = number(&answer["settings"][0]["setting"]["energy_j"]);
    close(&answer["total_energy_j"], own + number(&pack["energy_j"]), 1e-2);
    // A click of one head is a click of the pack: both points change by it.
    for light in 1..3 {
        assert_eq!(answer["clicks"][light]["up"]["change_stops"], json!([0.0, 0.1, 0.1]));
    }
    // The patch sets both heads, and a prediction then says the same.
    let then = server.ask(PREDICT, patched(&body, &answer["patch"])).await;
    assert_eq!(then["packs"], answer["packs"]);
    for point in 0..3 {
        let error = number(&answer["points"][point]["error_stops"]);
        close(&then["points"][point]["error_stops"], error, 2e-4);
    }
}

#[tokio::test]
async fn a_balance_keeps_to_what_a_pack_has() {
    let server = Server::start().await;
    // Both points want the light of 1600 J, and the pack has 2400 J: 1200 J each is log2(4/3) too little.
    let scale = json!({"style": "joules", "least": 100, "step": 100});
    let pack = pack(json!({"each": {"most": 1600, "scale": scale}}));
    let lights = [head("a", None, &json!({})), head("b", None, &json!({}))];
    let mut body = set(&pack, &lights);
    let full = 40.0 * (2.0_f64 / 3.0).sqrt();
    body["exposure"]["f_number"] = json!(full);
    body["reading"] = json!("literal");
    body["tolerance_stops"] = json!(0.5);
    let answer = server.ask(BALANCE, body.clone()).await;
    assert_eq!((&answer["feasible"], &answer["optimality"]["proven"]), (&json!(true), &json!(true)));
    for light in 0..2 {
        assert_eq!(answer["settings"][light]["setting"]["label"], "1200 J");
        // Nothing is left for a click up.
        assert_eq!(answer["clicks"][light]["up"], Value::Null);
        assert_eq!(answer["clicks"][light]["down"]["label"], "1100 J");
    }
    close(&answer["worst_error_stops"], (4.0_f64 / 3.0).log2(), 1e-4);
    // The pack holds it back, not its heads, which could go higher.
    assert_eq!(
        answer["held_back_by"],
        json!({"at_full": [], "at_least": [], "packs": [{"name": "p"}], "complete": true})
    );
    assert_eq!(answer["packs"], json!([{"pack": "p", "setting": null, "energy_j": 2400.0, "left_j": 0.0}]));
    let then = server.ask(PREDICT, patched(&body, &answer["patch"])).await;
    assert_eq!(then["packs"], answer["packs"]);
}

#[tokio::test]
async fn one_head_that_is_held_holds_its_pack_and_a_remedy_turns_it() {
    let server = Server::start().await;
    let lights = [head("a", None, &json!({"setting": "9", "hold": true})), head("b", None, &json!({}))];
    let mut body = set(&pack(json!("even")), &lights);
    // A filter on each light would do it too.
    body["limits"] =
        json!({"filters": [], "distance": ["2 m", "2 m"], "f_number": ["f/16", "f/16"], "iso": [100, 100]});
    let answer = server.ask(BALANCE, body.clone()).await;
    assert_eq!(answer["feasible"], false);
    assert_eq!(answer["settings"][1]["setting"]["label"], "9");
    // 1.644 stops too bright: 7.4 on the dial is 0.044 off.
    let remedy = &answer["remedies"][0];
    assert_eq!(remedy["changes"][0]["pack"], "p");
    assert_eq!(remedy["changes"][0]["to"]["setting"]["label"], "7.4");
    close(&remedy["changes"][0]["to"]["setting"]["energy_j"], 2400.0 * (-1.6_f64).exp2(), 1e-2);
    assert_eq!(remedy["patch"].as_array().map(Vec::len), Some(2));
    let then = server.ask(BALANCE, patched(&body, &remedy["patch"])).await;
    assert_eq!(then["feasible"], true);
    close(&then["worst_error_stops"], number(&remedy["then"]["worst_error_stops"]), 1e-4);
    // What a head gives is a matter of its pack: no stronger unit for it.
    let text = answer["remedies"].to_string();
    assert!(!text.contains("\"change\":\"unit\""), "{text}");
}

#[tokio::test]
async fn what_limits_a_pack_limits_all_its_heads() {
    let server = Server::start().await;
    // A head at full gives f/28.28 at 2 m, and f/45 is wanted.
    let lights = [head("a", None, &json!({})), head("b", None, &json!({}))];
    let mut body = set(&pack(json!("even")), &lights);
    body["exposure"]["f_number"] = json!("f/45");
    let answer = server.ask(BALANCE, body).await;
    assert_eq!(answer["held_back_by"]["at_full"], json!([{"name": "a"}, {"name": "b"}]));
    // The strictest lowest setting holds for both.
    let lights = [head("a", None, &json!({"max_stops_below_full": 1})), head("b", None, &json!({}))];
    let mut body = set(&pack(json!("even")), &lights);
    body["exposure"]["f_number"] = json!("f/8");
    let answer = server.ask(BALANCE, body).await;
    assert_eq!(answer["settings"][1]["setting"]["label"], "8");
    assert_eq!(answer["held_back_by"]["at_least"], json!([{"name": "a"}, {"name": "b"}]));
}

#[tokio::test]
async fn an_unused_pack_is_remarked() {
    let server = Server::start().await;
    let mut body = set(&pack(json!("even")), &[head("a", None, &json!({}))]);
    let apart = json!({"id": 7, "energy": 1200, "split": {"each": {"most": 600}}});
    body["packs"] = json!([body["packs"][0], apart]);
    for path in [PREDICT, BALANCE] {
        let answer = server.ask(path, body.clone()).await;
        let warnings = answer["warnings"].as_array().expect("warnings");
        let unused = warnings.iter().find(|warning| warning["code"] == "pack_unused").expect("a warning");
        assert_eq!((&unused["at"], &unused["params"]["packs"]), (&json!("/packs/1"), &json!(["7"])));
        let rest = json!({"pack": "7", "pack_id": 7, "setting": null, "energy_j": 0.0, "left_j": 1200.0});
        assert_eq!(answer["packs"][1], rest);
    }
    // Without packs the answer has none.
    let own = json!({"name": "a", "unit": {"guide_number": "GN 80"}});
    let mut body = set(&Value::Null, &[own]);
    body.as_object_mut().expect("fields").remove("packs");
    assert_eq!(server.ask(PREDICT, body).await.get("packs"), None);
}

#[tokio::test]
async fn faults_of_packs_have_their_place_and_code() {
    let server = Server::start().await;
    let even = || pack(json!("even"));
    let shares = |shares: Value| pack(json!({"shares": shares}));
    let a = || head("a", None, &json!({}));
    let unit = |name: &str, fields: Value| {
        let mut light = head(name, None, &json!({}));
        for (field, value) in fields.as_object().expect("fields") {
            light["unit"][field] = value.clone();
        }
        light
    };
    let with = |field: &str, value: Value| {
        let mut pack = even();
        pack[field] = value;
        pack
    };
    let scale = json!({"style": "dial", "full": 9, "least": 4});
    let setting = |name: &str, setting: &str| head(name, None, &json!({"setting": setting}));
    for (pack, lights, pointer, code) in [
        // Outlets.
        (
            even(),
            vec![head("a", Some(1), &json!({})), head("b", Some(1), &json!({}))],
            "/lights/1/unit/outlet",
            "outlet_taken",
        ),
        (even(), vec![head("a", Some(3), &json!({}))], "/lights/0/unit/outlet", "out_of_range"),
        (
            even(),
            vec![a(), head("b", None, &json!({})), head("c", None, &json!({}))],
            "/lights/2/unit/pack",
            "pack_too_small",
        ),
        (shares(json!([2, 1])), vec![a()], "/lights/0/unit/outlet", "missing"),
        (with("outlets", json!(9)), vec![a()], "/packs/0/outlets", "out_of_range"),
        // Division.
        (
            with("split", json!({"shares": [2, 1, 1]})),
            vec![head("a", Some(4), &json!({}))],
            "/lights/0/unit/outlet",
            "out_of_range",
        ),
        (with("split", json!("odd")), vec![a()], "/packs/0/split", "wrong_type"),
        (with("split", json!({})), vec![a()], "/packs/0/split/shares", "missing"),
        (
            with("split", json!({"shares": [1, 1], "each": {"most": 600}})),
            vec![a()],
            "/packs/0/split/each",
            "conflict",
        ),
        (with("split", json!({"each": {"most": 600}})), vec![a()], "/packs/0/scale", "scale_beside_each"),
        (pack(json!({"each": {"most": 2500}})), vec![a()], "/packs/0/split/each/most", "out_of_range"),
        (with("scale", Value::Null), vec![a()], "/packs/0/scale", "missing"),
        (with("name", json!("q")), vec![a()], "/lights/0/unit/pack", "unknown_name"),
        // What a head may not have.
        (even(), vec![unit("a", json!({"energy": 600}))], "/lights/0/unit/energy", "conflict"),
        (even(), vec![unit("a", json!({"scale": scale}))], "/lights/0/unit/scale", "conflict"),
        (
            even(),
            vec![unit("a", json!({"corrections": [{"setting": "8", "stops": 0.1}]}))],
            "/lights/0/unit/corrections",
            "corrections_on_pack",
        ),
        (even(), vec![unit("a", json!({"guide_number": null}))], "/lights/0/unit", "unknown_head_beam"),
        (
            even(),
            vec![unit("a", json!({"pack": null, "energy": 600, "outlet": 1}))],
            "/lights/0/unit/pack",
            "missing",
        ),
        // What lights on one pack must share.
        (even(), vec![setting("a", "9"), setting("b", "8")], "/lights/1/setting", "conflict"),
        (even(), vec![setting("a", "9"), setting("b", "off")], "/lights/1/setting", "conflict"),
        (
            even(),
            vec![head("a", None, &json!({"pops": 2})), head("b", None, &json!({}))],
            "/lights/1/pops",
            "conflict",
        ),
        (
            even(),
            vec![
                head("a", None, &json!({"setting": "6", "hold": true})),
                head("b", None, &json!({"max_stops_below_full": 2})),
            ],
            "/lights/0/setting",
            "below_least",
        ),
        (even(), vec![setting("a", "10")], "/lights/0/setting", "beyond_scale"),
    ] {
        for path in [PREDICT, BALANCE] {
            let body = set(&pack, &lights);
            let answer = server.post(path, &body).await;
            assert_eq!(answer.status, 422, "{path} {body}: {}", answer.body);
            let faults = answer.body["errors"].as_array().expect("faults");
            assert_eq!(faults.len(), 1, "{path} {body}: {}", answer.body);
            assert_eq!(
                (&faults[0]["pointer"], &faults[0]["code"]),
                (&json!(pointer), &json!(code)),
                "{body}"
            );
        }
    }
}

#[tokio::test]
async fn faults_that_concern_several_packs_or_none() {
    let server = Server::start().await;
    let even = || pack(json!("even"));
    let a = || head("a", None, &json!({}));
    let mut lengths = pack(json!({"shares": [2, 1, 1]}));
    lengths["outlets"] = json!(2);
    let refused = server.refused(PREDICT, set(&lengths, &[a()])).await;
    assert_eq!(pointers(&refused), ["/packs/0/split/shares"]);
    // Two packs of one name, and a unit where there are none.
    let mut twice = set(&even(), &[a()]);
    twice["packs"] = json!([even(), even()]);
    assert_eq!(pointers(&server.refused(PREDICT, twice).await), ["/packs/1/name"]);
    let mut none = set(&even(), &[a()]);
    none["packs"] = json!([]);
    assert_eq!(pointers(&server.refused(PREDICT, none).await), ["/lights/0/unit/pack"]);
    // Without packs, in a question that may have them.
    let candidate = json!({"unit": {"energy": 600}});
    let swap = json!({"reference": {"unit": a()["unit"], "setting": "full"}, "candidates": [candidate]});
    let refused = server.refused("/v1/energy/equivalence", swap).await;
    assert_eq!(pointers(&refused), ["/reference/unit/pack"]);
}

#[tokio::test]
async fn a_head_on_a_pack_is_swapped_for_a_monobloc_and_back() {
    let server = Server::start().await;
    // Half of 2400 J: the guide number is 80/√2.
    let head = json!({"pack": "p", "outlet": 1, "guide_number": "GN 80"});
    let scale = json!({"style": "dial", "full": 10, "least": 2});
    let monobloc = json!({"energy": 1200, "guide_number": {"value": 80.0 / 2.0_f64.sqrt(), "unit": "m"}, "scale": scale});
    for (reference, setting, candidate, label) in [(&head, "8", &monobloc, "9"), (&monobloc, "8", &head, "7")]
    {
        let body = json!({"packs": [pack(json!({"shares": [1, 1]}))],
            "reference": {"unit": reference, "setting": setting}, "candidates": [{"unit": candidate}]});
        let answer = server.ask("/v1/energy/equivalence", body).await;
        let found = &answer["candidates"][0];
        assert_eq!(
            (&found["compared_by"], &found["setting"]["label"]),
            (&json!("guide_number"), &json!(label))
        );
        close(&found["error_stops"], 0.0, 1e-4);
        let below = if label == "9" { 1.0 } else { 2.0_f64 };
        close(&found["setting"]["energy_j"], 1200.0 * (-below).exp2(), 1e-2);
        close(&found["matching_energy_j"], 1200.0 * (-below).exp2(), 0.5);
    }
    // A weaker head: a stronger unit is no remedy for what is on a pack.
    let body = json!({"packs": [pack(json!("even"))], "reference": {"unit": {"energy": 9600, "guide_number": "GN 160"}},
        "candidates": [{"unit": {"pack": "p", "guide_number": "GN 80"}}]});
    let answer = server.ask("/v1/energy/equivalence", body).await;
    let found = &answer["candidates"][0];
    close(&found["shortfall_stops"], 2.0, 1e-4);
    assert!(!found["remedies"].to_string().contains("\"change\":\"unit\""), "{found}");
}
