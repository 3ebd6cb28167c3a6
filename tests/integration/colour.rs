//! `/v1/colour/gel`.

use serde_json::{Value, json};

use crate::support::{Server, close, number, pointers};

#[tokio::test]
async fn two_temperatures_are_enough_for_the_shift() {
    let server = Server::start().await;
    // Common practice: from 5600 K to 3200 K it takes 10^6/3200 - 10^6/5600, or +134 mired (full CTO is sold as +131 to +159).
    let answer = server.ask("/v1/colour/gel", json!({"from_k": 5600, "to_k": "3200 K"})).await;
    close(&answer["shift_mired"], 133.929, 1e-3);
    assert_eq!((&answer["stack"], &answer["warnings"]), (&Value::Null, &json!([])));
    assert_eq!(answer["summary"], "The light must be shifted by +133.9 mired, towards amber.");
    let back = server.ask("/v1/colour/gel", json!({"from_k": 3200, "to_k": 5600})).await;
    assert_eq!(back["summary"], "The light must be shifted by −133.9 mired, towards blue.");
    // A stack is of gels that are there.
    let faults = server.refused("/v1/colour/gel", json!({"from_k": 5600, "applied": ["full"]})).await;
    assert_eq!(pointers(&faults), ["/gels"]);
    assert_eq!(pointers(&server.refused("/v1/colour/gel", json!({"from_k": 5600})).await), ["/to_k"]);
}

#[tokio::test]
async fn gels_are_the_best_of_all_stacks() {
    let server = Server::start().await;
    // Forty gels with odd shifts, against a search of every stack.
    let gels: Vec<(f64, f64)> =
        (0..40).map(|k| (f64::from((k * 37) % 101) * 3.1 - 120.0, -f64::from(k % 7) / 10.0)).collect();
    let list: Vec<Value> = gels
        .iter()
        .enumerate()
        .map(|(index, (mired, stops))| json!({"name": format!("g{index}"), "mired": mired, "stops": stops}))
        .collect();
    for (from, to) in [(5600.0, 3200.0), (3200.0, 6500.0), (5600.0, 5600.0)] {
        let answer = server.ask("/v1/colour/gel", json!({"from_k": from, "to_k": to, "gels": list})).await;
        let wanted = 1e6 / to - 1e6 / from;
        close(&answer["shift_mired"], wanted, 1e-3);
        let mut best = wanted.abs();
        for a in 0..40 {
            best = best.min((gels[a].0 - wanted).abs());
            for b in a + 1..40 {
                best = best.min((gels[a].0 + gels[b].0 - wanted).abs());
                for c in b + 1..40 {
                    best = best.min((gels[a].0 + gels[b].0 + gels[c].0 - wanted).abs());
                }
            }
        }
        assert!((number(&answer["stack"]["error_mired"]).abs() - best).abs() < 1e-3, "{answer} {best}");
    }
    let applied = server
        .ask(
            "/v1/colour/gel",
            json!({"from_mired": 180, "gels": [{"name": "w", "mired": 100, "stops": -0.5}, {"name": "v", "mired": 20}], "applied": ["w", "v"],
                "unit": {"energy": 500, "scale": {"style": "dial", "full": 9, "least": 2}}, "setting": 8}),
        )
        .await;
    // By hand: 300 mired is 3333 K; half a stop from 8 is 8.5.
    close(&applied["applied"]["result_k"], 1e6 / 300.0, 0.01);
    assert_eq!(applied["applied"]["setting"]["label"], "8.5");
    assert_eq!(applied["stack"], Value::Null);
    let bad = json!({"from_k": 5600, "from_mired": 200, "gels": [{"name": "a", "mired": 1}, {"name": "a", "mired": 2}], "applied": ["b"]});
    assert_eq!(
        pointers(&server.refused("/v1/colour/gel", bad).await),
        ["/from_mired", "/gels/1/name", "/applied/0"]
    );
}
