//! Kits as they come: what their entries lack, whether they keep the pace, and how kits compare shot by shot.

use serde_json::{Value, json};

use super::{CHECK, fed, head, shot};
use crate::support::{Server, close, pointers};

const COMPARE: &str = "/v1/kit/compare";

fn key(distance: f64) -> Value {
    json!([{"role": "key", "stops": 0, "distance": distance}])
}

#[tokio::test]
async fn an_entry_that_lacks_something_is_listed_and_the_rest_is_answered() {
    let server = Server::start().await;
    let kit = json!([
        {"unit": {"name": "bare"}},
        {"unit": {"name": "joules", "energy": 500}, "count": 2},
        {"unit": {"name": "beam", "coverage": {"cone_deg": 60}}},
        {"unit": head("big", 80.0, 1000.0)}
    ]);
    let answer = server.ask(CHECK, json!({"kit": kit, "shots": [shot("hall", &key(8.0))]})).await;
    assert_eq!((&answer["feasible"], &answer["complete"]), (&json!(true), &json!(false)));
    assert_eq!(answer["shots"][0]["lights"][0]["unit"], "big");
    let lacking = |entry: usize, needs: Value| json!({"pointer": format!("/kit/{entry}/unit"), "needs": needs, "for": "light"});
    let lacks = json!([
        lacking(0, json!([["guide_number"], ["energy", "coverage"]])),
        lacking(1, json!([["guide_number"], ["coverage"]])),
        lacking(2, json!([["guide_number"], ["energy"]]))
    ]);
    assert_eq!(answer["lacks"], lacks);
    let summary = answer["summary"].as_str().expect("a text");
    assert!(
        summary.contains("Left out, since their light is not known: bare, joules, joules #2, beam."),
        "{summary}"
    );
    // Each alternative does.
    let values =
        json!({"energy": 500, "coverage": {"cone_deg": 60}, "guide_number": {"value": 40, "unit": "m"}});
    for lacking in answer["lacks"].as_array().expect("a list") {
        for fields in lacking["needs"].as_array().expect("alternatives") {
            let mut kit = kit.clone();
            let unit =
                kit.pointer_mut(&lacking["pointer"].as_str().expect("a pointer")[4..]).expect("a unit");
            for field in fields.as_array().expect("fields") {
                let field = field.as_str().expect("a name");
                unit[field] = values[field].clone();
            }
            let again = server.ask(CHECK, json!({"kit": kit, "shots": [shot("hall", &key(8.0))]})).await;
            assert_eq!(again["lacks"].as_array().map(Vec::len), Some(2), "{fields}: {again}");
        }
    }
}

#[tokio::test]
async fn a_kit_without_a_usable_unit_is_answered() {
    let server = Server::start().await;
    let body = json!({"kit": [{"unit": {"energy": 500}}], "shots": [shot("hall", &key(8.0))]});
    let answer = server.ask(CHECK, body).await;
    assert_eq!((&answer["feasible"], &answer["complete"]), (&json!(false), &json!(false)));
    let light = &answer["shots"][0]["lights"][0];
    assert_eq!((&light["unit"], &light["reason"]), (&Value::Null, &json!("no_unit_left")));
    // f/8 at 8 m is GN 64 m.
    close(&answer["missing"][0]["guide_number_m"], 64.0, 1e-3);
    // A unit without any output stays a fault where it is needed.
    let swap = json!({"reference": {"unit": {"name": "bare"}, "setting": "full"}, "candidates": [{"unit": {"energy": 500}}]});
    let faults = server.refused("/v1/energy/equivalence", swap).await;
    assert!(pointers(&faults).contains(&"/reference/unit"), "{faults:?}");
}

#[tokio::test]
async fn the_pace_is_kept_missed_or_unknown() {
    let server = Server::start().await;
    let ask = async |recycle: Value, interval: Value| {
        let mut unit = head("head", 80.0, 1000.0);
        unit["recycle_s"] = recycle;
        let mut paced = shot("paced", &key(10.0));
        paced["interval_s"] = interval;
        let body = json!({"kit": [{"unit": unit}], "shots": [shot("free", &key(10.0)), paced]});
        server.ask(CHECK, body).await
    };
    for (recycle, interval, keeps, lacks) in [
        (json!(2), json!(2), json!(true), 0),
        (json!(2.1), json!(2), json!(false), 0),
        (Value::Null, json!(2), Value::Null, 1),
        (Value::Null, Value::Null, json!(true), 0),
    ] {
        let answer = ask(recycle.clone(), interval).await;
        assert_eq!([&answer["keeps_pace"], &answer["shots"][1]["keeps_pace"]], [&keeps, &keeps], "{recycle}");
        assert_eq!((&answer["feasible"], &answer["shots"][0]["keeps_pace"]), (&json!(true), &json!(true)));
        let listed = answer["lacks"].as_array().expect("a list");
        assert_eq!((listed.len(), &answer["complete"]), (lacks, &json!(lacks == 0)));
        assert!(
            listed.iter().all(|lacking| lacking["for"] == "recycle" && lacking["pointer"] == "/kit/0/unit")
        );
    }
}

#[tokio::test]
async fn kits_that_keep_the_pace_rank_before_cheaper_ones_that_do_not() {
    let server = Server::start().await;
    let mut paced = shot("paced", &key(10.0));
    paced["interval_s"] = json!(2);
    let kit =
        |name: &str, price: f64, unit: Value| json!({"name": name, "price": price, "kit": [{"unit": unit}]});
    let body = json!({
        "kits": [
            kit("slow", 10.0, fed(head("a", 80.0, 1000.0), 4.0, 100)),
            kit("weak", 1.0, fed(head("a", 40.0, 250.0), 1.0, 100)),
            kit("unknown", 20.0, head("a", 80.0, 1000.0)),
            kit("dear", 50.0, fed(head("a", 80.0, 1000.0), 1.0, 100)),
            kit("bare", 5.0, json!({"energy": 500})),
            kit("fair", 40.0, fed(head("a", 80.0, 1000.0), 1.0, 100))
        ],
        "shots": [paced]
    });
    let answer = server.ask(COMPARE, body).await;
    let ranking = answer["ranking"].as_array().expect("a ranking");
    let of = |field: &str| json!(ranking.iter().map(|kit| &kit[field]).collect::<Vec<_>>());
    assert_eq!(of("name"), json!(["fair", "dear", "unknown", "slow", "weak", "bare"]));
    assert_eq!(of("keeps_pace"), json!([true, true, null, false, true, true]));
    assert_eq!(of("complete"), json!([true, true, false, true, true, false]));
    assert_eq!(of("roles_without_unit"), json!([0, 0, 0, 0, 0, 1]));
    assert_eq!(ranking[5]["lacks"][0]["pointer"], "/kits/4/kit/0/unit");
}

#[tokio::test]
async fn a_comparison_has_the_worst_role_of_each_shot() {
    let server = Server::start().await;
    // GN 40 at 10 m is f/4: two stops short; at 5 m f/8; at 3 m 1.47 stops over.
    let role = |role: &str, distance: f64| json!({"role": role, "stops": 0, "distance": distance});
    let mut wide = shot("wide", &json!([role("near", 3.0), role("far", 10.0), role("exact", 5.0)]));
    wide["id"] = json!("w");
    let kit = |count: u32| json!([{"unit": head("a", 40.0, 250.0), "count": count}]);
    let body = json!({
        "kits": [{"name": "three", "kit": kit(3)}, {"name": "two", "kit": kit(2)}],
        "shots": [wide, shot("close", &json!([role("near", 3.0), role("exact", 5.0)]))]
    });
    let ranking = server.ask(COMPARE, body).await["ranking"].clone();
    let [first, second] = [&ranking[0]["shots"][0], &ranking[0]["shots"][1]];
    assert_eq!(
        (&first["id"], &first["name"], &first["worst_role"]),
        (&json!("w"), &json!("wide"), &json!("far"))
    );
    assert_eq!((&first["feasible"], &second["feasible"]), (&json!(false), &json!(true)));
    close(&first["shortfall_stops"], 2.0, 1e-4);
    close(&first["excess_stops"], 0.0, 1e-9);
    close(&first["footroom_stops"], 9.0, 1e-4);
    // Where all are reached, the tightest.
    assert_eq!(second["worst_role"], "exact");
    close(&second["headroom_stops"], 0.0, 1e-4);
    close(&second["shortfall_stops"], 0.0, 1e-9);
    // A role without a unit is worst of all.
    let left = &ranking[1]["shots"][0];
    assert_eq!((&ranking[1]["name"], &left["headroom_stops"]), (&json!("two"), &Value::Null));
    assert_eq!(ranking[1]["roles_without_unit"], 1);
}

#[tokio::test]
async fn sixty_four_kits_are_compared() {
    let server = Server::start().await;
    let kits = |count: u32| -> Vec<Value> {
        (0..count).map(|k| json!({"name": k.to_string(), "price": 64 - k, "kit": [{"unit": head("a", 80.0, 1000.0)}]})).collect()
    };
    let body = |count: u32| json!({"kits": kits(count), "shots": [shot("hall", &key(8.0))]});
    let ranking = server.ask(COMPARE, body(64)).await["ranking"].clone();
    assert_eq!((ranking.as_array().map(Vec::len), &ranking[0]["name"]), (Some(64), &json!("63")));
    assert_eq!(pointers(&server.refused(COMPARE, body(65)).await), ["/kits"]);
}
