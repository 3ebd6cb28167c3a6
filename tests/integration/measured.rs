//! `/v1/energy/measured`.

use serde_json::json;

use crate::{
    equivalence::{EQUIVALENCE, nine, swap, weak_at_full},
    support::{Server, close, pointers},
};

const MEASURED: &str = "/v1/energy/measured";

#[tokio::test]
async fn a_stop_and_a_third_weaker_than_500_j_matches_198_j() {
    // Common practice.
    let server = Server::start().await;
    let body = json!({"reference": {"energy": "500 J", "f_number": "f/8"}, "other": {"f_number": "f/5"}});
    let answer = server.ask(MEASURED, body).await;
    close(&answer["matching_energy_j"], 198.0, 0.5);
    close(&answer["difference_stops"], -4.0 / 3.0, 1e-4);
    assert_eq!(answer["warnings"][0]["code"], "not_stored_energy");
}

#[tokio::test]
async fn the_match_is_found_between_frames() {
    let server = Server::start().await;
    let body = |level: f64| {
        json!({
            "reference": {"energy": 500, "f_number": "f/8", "level": level},
            "other": {"frames": [{"f_number": "f/5.6", "level": 100}, {"f_number": "f/5", "level": 125}]}
        })
    };
    let answer = server.ask(MEASURED, body(112.5)).await;
    close(&answer["difference_stops"], -7.0 / 6.0, 1e-4);
    let found = server.refused(MEASURED, body(200.0)).await;
    assert_eq!(pointers(&found), ["/other/frames"]);
}

#[tokio::test]
async fn corrections_of_the_reference_count_in_a_measured_swap() {
    let server = Server::start().await;
    let unit = nine(600.0, &weak_at_full());
    let body = json!({"reference": {"unit": unit, "setting": "9", "f_number": "f/11"}, "other": {"f_number": "f/8"}});
    let measured = server.ask(MEASURED, body).await;
    close(&measured["difference_stops"], -1.0, 1e-4);
    // By hand: the light 1.3 stops under full is that of 7.7, where the unit is accurate: 600·2^-1.3 = 243.68 J.
    close(&measured["matching_energy_j"], 600.0 * (-1.3_f64).exp2(), 1e-3);
    // The equivalence sets that unit to the same setting.
    let mut body = swap(&unit, "9", &unit);
    body["reference"]["exposure"] = json!({"f_number": "f/11"});
    body["exposure"] = json!({"f_number": "f/8"});
    let matched = server.ask(EQUIVALENCE, body).await["candidates"][0].clone();
    assert_eq!(matched["matching_energy_j"], measured["matching_energy_j"]);
    assert_eq!(matched["setting"]["label"], "7.7");
}
