//! `/v1/guide-number/energy` and `/v1/energy/guide-number`.

use serde_json::{Value, json};
use uom::si::{
    energy::{joule, kilojoule},
    f64::{Energy, Length},
    length::{foot, inch, meter},
};

use crate::support::{Server, close, codes, pointers};

const ENERGY: &str = "/v1/guide-number/energy";
const GUIDE: &str = "/v1/energy/guide-number";

#[tokio::test]
async fn there_and_back_gives_the_same_value() {
    let server = Server::start().await;
    let own = json!({"efficacy_lm_per_j": 35, "light_in_coverage": 0.6, "coverage": {"cone_deg": 65}});
    let mut there = own.clone();
    there["guide_number"] = json!({"value": 50, "unit": "m"});
    let energy = server.ask(ENERGY, there).await["energy_j"]["typical"].clone();
    let mut back = own;
    back["energy"] = energy;
    let answer = server.ask(GUIDE, back).await;
    close(&answer["guide_number_m"]["typical"], 50.0, 1e-3);
    assert_eq!(answer["guide_number_m"]["low"], answer["guide_number_m"]["high"], "nothing is left open");
}

#[tokio::test]
async fn the_steps_of_the_estimate_are_the_formulae() {
    // GN 40 at ISO 100, C = 250: Q = 40²·250/100 = 4000 cd·s; a 60° cone is 0.841787 sr (derived).
    let server = Server::start().await;
    let body = json!({"guide_number": {"value": 40, "unit": "m"}, "coverage": {"cone_deg": 60}});
    let answer = server.ask(ENERGY, body.clone()).await;
    close(&answer["beam_cd_s"], 4000.0, 0.01);
    close(&answer["light_lm_s"], 4000.0 * 0.841_787, 0.01);
    assert!(answer["energy_j"]["low"].as_f64() < answer["energy_j"]["typical"].as_f64());
    assert!(answer["energy_j"]["typical"].as_f64() < answer["energy_j"]["high"].as_f64());
    assert!(answer["assumptions"].as_array().is_some_and(|list| list.iter().all(|a| a["source"] != "")));
    // If the guide number holds for a quarter of full power, the energy at full power is four times as much.
    let mut quarter = body;
    quarter["setting_stops"] = json!(-2);
    let full = server.ask(ENERGY, quarter).await;
    close(
        &full["energy_j"]["typical"],
        4.0 * answer["energy_j"]["typical"].as_f64().expect("a number"),
        0.01,
    );
}

#[tokio::test]
async fn iso_goes_by_its_square_root() {
    // ISO 1230: the guide number goes with the square root of the ISO speed.
    let server = Server::start().await;
    let coverage = json!({"focal_length_mm": 35});
    let at_100 = json!({"guide_number": {"value": 40, "unit": "m", "iso": 100}, "coverage": coverage});
    let at_400 = json!({"guide_number": {"value": 80, "unit": "m", "iso": 400}, "coverage": coverage});
    assert_eq!(server.ask(ENERGY, at_100).await, server.ask(ENERGY, at_400).await);
}

#[tokio::test]
async fn a_known_unit_takes_the_assumptions_away() {
    let server = Server::start().await;
    let body = json!({
        "guide_number": {"value": 56, "unit": "m"},
        "against": {"energy": "200 J", "guide_number": {"value": 40, "unit": "m"}}
    });
    let answer = server.ask(ENERGY, body.clone()).await;
    // 200·(56/40)² = 392.
    close(&answer["energy_j"]["typical"], 392.0, 1e-3);
    assert_eq!(answer["energy_j"]["low"], answer["energy_j"]["high"]);
    let mut both = body;
    both["efficacy_lm_per_j"] = json!(40);
    assert_eq!(pointers(&server.refused(ENERGY, both).await), ["/efficacy_lm_per_j"]);
}

#[tokio::test]
async fn a_known_unit_counts_with_its_corrections() {
    let server = Server::start().await;
    let known = json!({"energy": "500 J", "guide_number": {"value": 58, "unit": "m"}, "offset_stops": -0.5});
    let guide = json!({"value": 50, "unit": "m"});
    let body = json!({"guide_number": guide, "against": known});
    let estimate = server.ask(ENERGY, body).await;
    // By hand: half a stop less light from 500 J than GN 58, so 500·(50/58)²·2^0.5 = 525.50 J for GN 50.
    close(&estimate["energy_j"]["typical"], 525.495, 0.01);
    // The known unit at this energy replaces a unit of that guide number.
    let swap = json!({"reference": {"unit": {"guide_number": guide}, "setting": "full", "exposure": {"f_number": "f/8"}},
        "candidates": [{"unit": known}]});
    let answer = server.ask("/v1/energy/equivalence", swap).await;
    assert_eq!(answer["candidates"][0]["matching_energy_j"], estimate["energy_j"]["typical"]);
    // And back, with its deficit at full power given as a correction.
    let mut corrected = known;
    corrected["offset_stops"] = json!(-0.2);
    corrected["corrections"] = json!([{"setting": "full", "stops": -0.3}, {"setting": "1/2", "stops": 0}]);
    let back = json!({"energy": estimate["energy_j"]["typical"], "against": corrected});
    close(&server.ask(GUIDE, back).await["guide_number_m"]["typical"], 50.0, 1e-3);
}

#[tokio::test]
async fn wrong_estimates_are_located() {
    let server = Server::start().await;
    let guide = json!({"value": 40, "unit": "m"});
    for (body, pointer) in [
        // A share of the light inside which coverage?
        (json!({"guide_number": guide, "light_in_coverage": 0.6}), "/coverage"),
        (json!({"guide_number": guide, "coverage": {"cone_deg": 60, "gain": 3}}), "/coverage/gain"),
        (json!({"guide_number": guide, "coverage": {"cone_deg": 400}}), "/coverage/cone_deg"),
        (json!({"guide_number": guide, "coverage": {"cone_deg": 60}, "setting_stops": 1}), "/setting_stops"),
        (json!({"guide_number": {"value": 40, "unit": "yd"}, "coverage": {"gain": 9}}), "/guide_number/unit"),
        (
            json!({"guide_number": guide, "coverage": {"gain": 9}, "light_in_coverage": 2}),
            "/light_in_coverage",
        ),
        (json!({"guide_number": 40, "coverage": {"gain": 9}}), "/guide_number"),
    ] {
        assert_eq!(pointers(&server.refused(ENERGY, body.clone()).await), [pointer], "{body}");
    }
}

#[tokio::test]
async fn feet_inches_and_joules_agree_with_a_unit_library() {
    // uom, a general-purpose library of units, is the reference.
    let server = Server::start().await;
    let value = async |from: &str| {
        let answer = server.ask("/v1/stops/convert", json!({"from": from, "shift": 0})).await;
        answer["from"]["value"].clone()
    };
    let metres =
        |feet: f64, inches: f64| (Length::new::<foot>(feet) + Length::new::<inch>(inches)).get::<meter>();
    for (text, metres) in [
        ("8 ft 6 in", metres(8.0, 6.0)),
        ("8'6\"", metres(8.0, 6.0)),
        ("102 in", metres(0.0, 102.0)),
        ("12.5 ft", metres(12.5, 0.0)),
    ] {
        close(&value(text).await, metres, 5e-6 * metres);
    }
    close(&value("1.2 kJ").await, Energy::new::<kilojoule>(1.2).get::<joule>(), 1e-9);
    close(&value("600 Ws").await, 600.0, 1e-9);
    close(&value("GN 131 ft").await, Length::new::<foot>(131.0).get::<meter>(), 2e-4);
}

/// The usual reflectors, as coverages that can be stated.
fn reflectors() -> [(&'static str, Value); 4] {
    [
        ("bare_bulb", json!({"gain": 1})),
        ("35_mm", json!({"focal_length_mm": 35})),
        ("50_mm", json!({"focal_length_mm": 50})),
        ("105_mm", json!({"focal_length_mm": 105})),
    ]
}

/// Checks low, typical and high, each to a thousandth of itself.
#[track_caller]
fn is_estimate(estimate: &Value, expected: [f64; 3]) {
    for (end, expected) in ["low", "typical", "high"].into_iter().zip(expected) {
        close(&estimate[end], expected, 1e-3 * expected);
    }
}

#[tokio::test]
async fn without_a_coverage_energies_stand_side_by_side() {
    let server = Server::start().await;
    let answer = server.ask(ENERGY, json!({"guide_number": "GN 40"})).await;
    // Worked in Python by the formulae of docs: 4000 cd·s; solid angles of a sphere and of pyramids (derived: geometry);
    // 15, 40 and 50 lm·s per J (common practice); shares from memory; ends as the root of the sum of squares in stops
    // (JCGM 100:2008, 5.1.2).
    let expected = [
        [1005.310, 1256.637, 3351.032],
        [60.790, 85.073, 239.955],
        [42.276, 63.304, 179.760],
        [18.246, 30.698, 117.501],
    ];
    let each = answer["by_coverage"].as_array().expect("a list");
    assert_eq!(each.len(), 4);
    for ((each, (name, coverage)), expected) in each.iter().zip(reflectors()).zip(expected) {
        assert_eq!(each["coverage"], name);
        is_estimate(&each["energy_j"], expected);
        // It is the answer for that coverage.
        let stated = json!({"guide_number": "GN 40", "coverage": coverage});
        let stated = server.ask(ENERGY, stated).await;
        assert_eq!(each["energy_j"], stated["energy_j"]);
        assert_eq!(each["solid_angle_sr"], stated["solid_angle_sr"]);
        assert_eq!(stated.get("by_coverage"), None);
    }
    // The top level spans all of them, about the typical value of 35 mm.
    is_estimate(&answer["energy_j"], [18.246, 85.073, 3351.032]);
    close(&answer["beam_cd_s"], 4000.0, 0.01);
    assert_eq!((&answer["solid_angle_sr"], &answer["light_lm_s"]), (&Value::Null, &Value::Null));
    let assumed = codes(&answer["assumptions"]);
    assert_eq!(assumed, ["efficacy_lm_per_j", "usual_reflectors", "constant_c", "even_beam"]);
    assert!(answer["summary"].as_str().is_some_and(|text| text.starts_with("About 85 J at full power with")));
    // At a quarter of its power the same guide number takes four times the energy at full power.
    let quarter = server.ask(ENERGY, json!({"guide_number": "GN 40", "setting_stops": -2})).await;
    is_estimate(&quarter["energy_j"], [4.0 * 18.246, 4.0 * 85.073, 4.0 * 3351.032]);
    // Common practice: shoe-mount units of guide number 58 at 105 mm store some 75 J.
    let shoe =
        server.ask(ENERGY, json!({"guide_number": "GN 58"})).await["by_coverage"][3]["energy_j"].clone();
    let [low, high] = ["low", "high"].map(|end| shoe[end].as_f64().expect("a number"));
    assert!(low < 75.0 && 75.0 < high, "{shoe}");
    // An efficacy of one's own counts for each.
    let own = server.ask(ENERGY, json!({"guide_number": "GN 40", "efficacy_lm_per_j": 40})).await;
    is_estimate(&own["by_coverage"][0]["energy_j"], [1256.637; 3]);
}

#[tokio::test]
async fn without_a_coverage_guide_numbers_stand_side_by_side() {
    let server = Server::start().await;
    let answer = server.ask(GUIDE, json!({"energy": "600 J"})).await;
    // As above.
    let expected = [
        [16.9257, 27.6395, 30.9019],
        [63.2515, 106.228, 125.666],
        [73.0784, 123.146, 150.692],
        [90.3887, 176.839, 229.381],
    ];
    let each = answer["by_coverage"].as_array().expect("a list");
    for ((each, (name, coverage)), expected) in each.iter().zip(reflectors()).zip(expected) {
        assert_eq!(each["coverage"], name);
        is_estimate(&each["guide_number_m"], expected);
        is_estimate(&each["guide_number_ft"], expected.map(|metres| metres / 0.3048));
        let stated = server.ask(GUIDE, json!({"energy": "600 J", "coverage": coverage})).await;
        assert_eq!(each["guide_number_m"], stated["guide_number_m"]);
    }
    is_estimate(&answer["guide_number_m"], [16.9257, 106.228, 229.381]);
    // All of the lamp's light needs no coverage: 600 J at 15, 40 and 50 lm·s per J.
    is_estimate(&answer["lamp_lm_s"], [9000.0, 24_000.0, 30_000.0]);
    assert_eq!((&answer["solid_angle_sr"], &answer["light_lm_s"]), (&Value::Null, &Value::Null));
    // A bare bulb lights all round: Q = lm·s/4π (derived).
    close(&answer["beam_cd_s"]["low"], 9000.0 / (4.0 * std::f64::consts::PI), 0.01);
}

#[tokio::test]
async fn the_second_constant_is_not_compared_with_itself() {
    let server = Server::start().await;
    let source = async |constant: f64| {
        let body = json!({"guide_number": "GN 40", "coverage": {"cone_deg": 60}, "constant_c": constant});
        let answer = server.ask(ENERGY, body).await;
        let stated = &answer["assumptions"][2];
        (stated["code"].clone(), stated["source"].as_str().expect("text").to_owned())
    };
    // From memory: the second constant is 1/(0.063·0.3048²), 170.86.
    let (code, text) = source(170.9).await;
    assert!(code == "second_constant_c" && !text.contains("stop"), "{code}: {text}");
    // By hand: log2(170.86/341.72) is -1.
    let (code, text) = source(341.72).await;
    assert!(code == "constant_c_stated" && text.ends_with("by −1"), "{code}: {text}");
}
