//! The picture of a supply plan.

use serde_json::{Value, json};

use super::curves::{count, drawn_of, holds};
use crate::support::Server;

const SUPPLY: &str = "/v1/supply/plan";
const HATCHED: (&str, &str) = ("fill", "url(#hatched)");

/// A head on the mains that recycles in 1.8 s, with a duty limit.
fn mains(name: &str) -> Value {
    json!({
        "name": name, "energy": "1000 J", "recycle_s": 1.8, "duty": {"flashes": 60, "in_s": 300},
        "draw": {"charging_efficiency": 0.8, "power_factor": 1, "modelling_lamp_w": 250}
    })
}

fn plan(breaker_a: f64, interval_s: f64) -> Value {
    let lights = |units: &[&str]| json!(units.iter().map(|unit| json!({"unit": unit})).collect::<Vec<_>>());
    json!({
        "kit": [
            {"unit": mains("big"), "count": 2},
            {"unit": {"name": "battery", "energy": "500 J", "recycle_s": 1, "flashes_per_charge": 100}}
        ],
        "shots": [
            {"name": "one", "frames": 40, "interval_s": 4, "lights": lights(&["big", "battery"])},
            {"name": "all", "frames": 60, "interval_s": interval_s, "lights": lights(&["big", "big #2", "battery"])}
        ],
        "circuits": [{"name": "wall", "volts": 230, "breaker_a": breaker_a, "units": ["big", "big #2"]}]
    })
}

#[tokio::test]
async fn what_is_too_much_is_hatched_and_said() {
    let server = Server::start().await;
    for width in [390, 900] {
        let mut body = plan(6.0, 1.5);
        body["width"] = json!(width);
        let (answer, texts, picture) = drawn_of(&server, SUPPLY, &body).await;
        let words = texts.join(" ");
        assert!(words.contains(answer["summary"].as_str().expect("a summary")), "{words}");
        assert_eq!(answer["circuits"][0]["verdict"], "over");
        for text in ["wall", "wait 1.8 s a frame", "beyond what it may carry", "too much", "6 A"] {
            assert!(holds(&texts, text), "{text}: {texts:?}");
        }
        // One flash draws 1250 J: 694 W in 1.8 s, so 4.1 A a head with its lamp. Only both are too much for 6 A. Both heads
        // recycle too slowly, and get too hot; each kind has an entry in its legend.
        let hatched = count(&picture, "rect", HATCHED) + count(&picture, "polygon", HATCHED);
        let hot = answer["units"].as_array().expect("units").iter();
        let hot = hot.filter(|unit| unit["heat"]["within_duty"] == false).count();
        assert_eq!(hatched, 2 + 3 + if hot > 0 { hot + 1 } else { 0 }, "{answer}");
        let needed = answer["units"][2]["charges"]["needed"].as_u64().expect("charges");
        assert!(holds(&texts, &format!("{needed} charges")), "{texts:?}");
    }
}

#[tokio::test]
async fn a_plan_that_holds_has_no_hatching() {
    let server = Server::start().await;
    let (answer, texts, picture) = drawn_of(&server, SUPPLY, &plan(16.0, 8.0)).await;
    assert_eq!(answer["feasible"], true, "{answer}");
    assert!(!picture.contains("hatched") && !holds(&texts, "too much"), "{texts:?}");
    assert!(holds(&texts, "It carries its load."), "{texts:?}");
}

#[tokio::test]
async fn a_circuit_alone_is_drawn_with_all_on_at_once() {
    let server = Server::start().await;
    let mut body = plan(16.0, 8.0);
    body.as_object_mut().expect("an object").remove("shots");
    let (_, texts, _) = drawn_of(&server, SUPPLY, &body).await;
    assert!(holds(&texts, "all on at once"), "{texts:?}");
    let devices = json!({"circuits": [{"volts": 230, "breaker_a": 10, "devices": [{"watts": 500}]}]});
    let (_, texts, _) = drawn_of(&server, SUPPLY, &devices).await;
    assert!(holds(&texts, "10 A"), "{texts:?}");
}

#[tokio::test]
async fn the_largest_plan_is_bounded() {
    let server = Server::start().await;
    let unit = |k: usize| {
        let mut unit = mains(&format!("{k:&>24}"));
        unit["flashes_per_charge"] = json!(100 + k);
        json!({"unit": unit})
    };
    let name = |k: usize| format!("{k:&>24}");
    let shot = |k: usize| {
        let lights: Vec<Value> = (0..64).map(|unit| json!({"unit": name(unit)})).collect();
        json!({"name": format!("{k:W>64}"), "frames": 100, "interval_s": 1 + k % 3, "lights": lights})
    };
    let circuit = |k: usize| json!({"name": format!("{k:光>64}"), "volts": 230, "breaker_a": 10, "units": [name(2 * k), name(2 * k + 1)]});
    let body = json!({
        "kit": (0..64).map(unit).collect::<Vec<_>>(), "shots": (0..64).map(shot).collect::<Vec<_>>(),
        "circuits": (0..32).map(circuit).collect::<Vec<_>>()
    });
    let (_, texts, picture) = drawn_of(&server, SUPPLY, &body).await;
    assert!(picture.len() < 250_000, "{}", picture.len());
    assert!(texts.iter().any(|text| text.starts_with("And 28 more circuits, ")), "{texts:?}");
    assert!(texts.iter().any(|text| text.starts_with("And 56 more, with no more charges each")), "{texts:?}");
}
