//! Kits with packs.

use serde_json::{Value, json};

use super::{CHECK, head, shot};
use crate::{
    remedies::follow,
    support::{Server, close, pointers},
};

const COMPARE: &str = "/v1/kit/compare";

/// A pack of 1200 J, and two heads of guide number 80 at its full energy.
fn room(split: &Value, lights: &Value) -> Value {
    let mut pack = json!({"name": "p", "energy": "1200 J", "split": split});
    if split.get("each").is_none() {
        pack["scale"] = json!({"style": "dial", "full": 6, "least": 3});
    }
    let unit = |name: &str, outlet: u32| json!({"unit": {"name": name, "pack": "p", "outlet": outlet, "guide_number": {"value": 80, "unit": "m"}}});
    json!({"packs": [pack], "kit": [unit("a", 1), unit("b", 2)], "shots": [shot("pair", lights)]})
}

#[tokio::test]
async fn two_heads_share_a_pack_evenly() {
    let server = Server::start().await;
    // By hand: half the energy is GN 80/√2 = 56.57; at 5 m that is f/11.3, a stop more than f/8.
    let lights = json!([{"role": "key", "distance": 5}, {"role": "fill", "distance": 5}]);
    let answer = server.ask(CHECK, room(&json!("even"), &lights)).await;
    assert_eq!(answer["feasible"], true, "{}", answer["summary"]);
    let shot = &answer["shots"][0];
    for light in shot["lights"].as_array().expect("lights") {
        assert_eq!(light["setting"]["label"], "5");
        close(&light["setting"]["energy_j"], 300.0, 1e-6);
        close(&light["error_stops"], 0.0, 1e-3);
        close(&light["headroom_stops"], 1.0, 1e-3);
    }
    let pack = &shot["packs"][0];
    assert_eq!((&pack["pack"], &pack["setting"]["label"]), (&json!("p"), &json!("5")));
    close(&pack["energy_j"], 600.0, 1e-6);
    close(&pack["left_j"], 600.0, 1e-6);
    // Alone a head has all of it: two stops more than f/8.
    let answer = server.ask(CHECK, room(&json!("even"), &json!([{"role": "key", "distance": 5}]))).await;
    assert_eq!(answer["shots"][0]["lights"][0]["setting"]["label"], "4");
    close(&answer["shots"][0]["packs"][0]["energy_j"], 300.0, 1e-6);
}

#[tokio::test]
async fn one_setting_does_not_do_for_two_levels() {
    let server = Server::start().await;
    // By hand: the fill wants half of what the key wants, from the same place, and gets the same.
    let lights = json!([{"role": "key", "distance": 5}, {"role": "fill", "stops": -1, "distance": 5}]);
    let body = room(&json!("even"), &lights);
    let answer = server.ask(CHECK, body.clone()).await;
    assert_eq!(answer["feasible"], false);
    let lights = &answer["shots"][0]["lights"];
    let missed: f64 = [0, 1]
        .iter()
        .map(|&role: &usize| {
            lights[role]["shortfall_stops"].as_f64().expect("stops")
                + lights[role]["excess_stops"].as_f64().expect("stops")
        })
        .sum();
    // One of them is within a sixth of a stop, which leaves the other with the rest of the stop.
    assert!((0.83..=0.9).contains(&missed), "{missed}");
    // f/8 at 5 m is GN 40; no energy of the head would do, since the pack is set for the other.
    assert_eq!(answer["missing"][0]["energy_j"], json!(null));
    close(&answer["missing"][0]["guide_number_m"], 40.0, 1e-3);
    let kinds = follow(&server, CHECK, &body).await;
    assert!(kinds.iter().any(|kind| kind == "distance"), "{kinds:?}");
    // A unit of its own for one of them will do.
    let mut body = body;
    body["kit"].as_array_mut().expect("a kit").push(json!({"unit": head("small", 57.0, 600.0)}));
    let answer = server.ask(CHECK, body).await;
    assert_eq!(answer["feasible"], true, "{}", answer["summary"]);
    // 80 m over 5 m is two stops over f/8, and so is 57 m with a stop less to do.
    let lights = &answer["shots"][0]["lights"];
    assert_eq!((&lights[0]["unit"], &lights[1]["unit"]), (&json!("a"), &json!("small")));
}

#[tokio::test]
async fn fixed_shares_go_where_they_fit() {
    let server = Server::start().await;
    // By hand: shares of 2:1 are a stop apart. 80²·2/3 at 5 m is 1.415 stops over f/8, and so is 80²·1/3 over f/5.6.
    let lights = json!([{"role": "fill", "stops": -1, "distance": 5}, {"role": "key", "distance": 5}]);
    let answer = server.ask(CHECK, room(&json!({"shares": [2, 1]}), &lights)).await;
    assert_eq!(answer["feasible"], true, "{}", answer["summary"]);
    let lights = &answer["shots"][0]["lights"];
    assert_eq!((&lights[0]["unit"], &lights[1]["unit"]), (&json!("b"), &json!("a")));
    close(&lights[1]["error_stops"], 0.015, 1e-3);
    // 1200 J at 1.4 stops below full.
    close(&answer["shots"][0]["packs"][0]["energy_j"], 454.715, 1e-3);
    close(&lights[1]["setting"]["energy_j"], 303.143, 1e-3);
}

#[tokio::test]
async fn outlets_that_are_set_apart_have_one_total() {
    let server = Server::start().await;
    let split = json!({"each": {"most": "800 J", "scale": {"style": "dial", "full": 6, "least": 3}}});
    // By hand: 800 J of 1200 J is GN 65.32, which is f/8 at 8.165 m.
    let one = json!([{"role": "key", "distance": 8.165}]);
    let answer = server.ask(CHECK, room(&split, &one)).await;
    assert_eq!(answer["feasible"], true);
    assert_eq!(answer["shots"][0]["packs"][0]["setting"], json!(null));
    close(&answer["shots"][0]["packs"][0]["left_j"], 400.0, 0.1);
    // Two of them have 1200 J for 1600 J: 0.5 and 0.4 stop less make 1172 J, 0.4 for both 1213 J.
    let two = json!([{"role": "key", "distance": 8.165}, {"role": "back", "distance": 8.165}]);
    let body = room(&split, &two);
    let answer = server.ask(CHECK, body.clone()).await;
    assert_eq!(answer["feasible"], false);
    let lights = &answer["shots"][0]["lights"];
    let mut lack = [0, 1].map(|role: usize| lights[role]["shortfall_stops"].as_f64().expect("stops"));
    lack.sort_by(f64::total_cmp);
    assert!((lack[0] - 0.4).abs() < 1e-3 && (lack[1] - 0.5).abs() < 1e-3, "{lack:?}");
    close(&answer["shots"][0]["packs"][0]["energy_j"], 800.0 * ((-0.5_f64).exp2() + (-0.4_f64).exp2()), 1e-2);
    let kinds = follow(&server, CHECK, &body).await;
    assert!(kinds.iter().any(|kind| kind == "aperture" || kind == "iso"), "{kinds:?}");
}

#[tokio::test]
async fn a_pack_keeps_pace_as_one() {
    let server = Server::start().await;
    let lights = json!([{"role": "key", "distance": 5}, {"role": "fill", "distance": 5}]);
    let mut body = room(&json!("even"), &lights);
    body["shots"][0]["interval_s"] = json!(1);
    // Without a recycle time of the pack nobody knows.
    let answer = server.ask(CHECK, body.clone()).await;
    assert_eq!((&answer["keeps_pace"], &answer["complete"]), (&json!(null), &json!(false)));
    assert_eq!(
        answer["lacks"],
        json!([{"pointer": "/packs/0", "needs": [["recycle_s"], ["recycle_by_setting"]], "for": "recycle"}])
    );
    // Half of its energy in half of its time.
    for (recycle_s, keeps_pace) in [(1.9, true), (2.5, false)] {
        body["packs"][0]["recycle_s"] = json!(recycle_s);
        let answer = server.ask(CHECK, body.clone()).await;
        assert_eq!(answer["keeps_pace"], keeps_pace);
        assert_eq!(answer["warnings"].as_array().map(Vec::len), Some(usize::from(!keeps_pace)));
        if !keeps_pace {
            assert_eq!(answer["warnings"][0]["code"], "recycle_too_slow");
            assert_eq!(answer["warnings"][0]["at"], "/packs/0");
        }
    }
}

#[tokio::test]
async fn each_kit_has_its_own_packs() {
    let server = Server::start().await;
    let lights = json!([{"role": "key", "distance": 5}, {"role": "fill", "distance": 5}]);
    let big = room(&json!("even"), &lights);
    let mut small = big.clone();
    small["packs"][0]["energy"] = json!(300);
    small["packs"][0]["name"] = json!("q");
    for unit in small["kit"].as_array_mut().expect("a kit") {
        unit["unit"]["pack"] = json!("q");
        unit["unit"]["guide_number"]["value"] = json!(40);
    }
    let body = json!({"shots": big["shots"], "kits": [
        {"name": "small", "packs": small["packs"], "kit": small["kit"]},
        {"name": "big", "packs": big["packs"], "kit": big["kit"]}]});
    let answer = server.ask(COMPARE, body.clone()).await;
    assert_eq!(answer["ranking"][0]["name"], "big");
    // A quarter of the light: two stops less than what was a stop over.
    close(&answer["ranking"][1]["worst_shortfall_stops"], 1.0, 1e-3);
    // The packs of another kit are not known here.
    let mut body = body;
    body["kits"][1]["kit"][0]["unit"]["pack"] = json!("q");
    let faults = server.refused(COMPARE, body).await;
    assert_eq!(pointers(&faults), ["/kits/1/kit/0/unit/pack"]);
}

#[tokio::test]
async fn a_kit_without_heads_is_answered_as_before() {
    let server = Server::start().await;
    let lights = json!([{"role": "key", "distance": 5}]);
    let plain = json!({"kit": [{"unit": head("small", 57.0, 600.0)}], "shots": [shot("one", &lights)]});
    let mut with_pack = plain.clone();
    with_pack["packs"] = room(&json!("even"), &lights)["packs"].clone();
    let (plain, with_pack) = (server.ask(CHECK, plain).await, server.ask(CHECK, with_pack).await);
    assert_eq!(plain["shots"], with_pack["shots"]);
    assert_eq!(with_pack["warnings"][0]["code"], "pack_unused");
    assert_eq!(with_pack["warnings"][0]["at"], "/packs/0");
}
