//! How sure the light of roles is, and the chance that a kit reaches them.
//!
//! Half-widths are those of the table of defaults (our judgement, docs/values.md), combined by hand as the root of the
//! sum of squares (JCGM 100:2008, 5.1.2); chances are those of 100,000 draws of the distribution that the contract states: a
//! normal distribution of two halves for each part (JCGM 101:2008).

use serde_json::{Value, json};

use super::{CHECK, head, shot};
use crate::support::{Dice, Server, close, number};

const COMPARE: &str = "/v1/kit/compare";

/// Rating by guide number, setting, repeatability, and the meter against the camera.
const USUAL: [f64; 4] = [0.5, 0.1, 0.06, 0.2];
/// What a role may be too weak at full power, or too strong at the least, and still be reached, stops.
const FORGIVEN: f64 = 1.0 / 6.0;
const DRAWS: usize = 100_000;

fn square(values: &[f64]) -> f64 {
    values.iter().map(|value| value * value).sum::<f64>().sqrt()
}

/// A distance of so many metres, 4 cm nearer and farther, and an incidence of 6°, which darkens either way.
fn place(metres: f64) -> [[f64; 2]; 2] {
    let [far, near] = [metres + 0.04, metres - 0.04].map(|to: f64| 2.0 * (to / metres).log2().abs());
    [[far, near], [-6.0_f64.to_radians().cos().log2(), 0.0]]
}

fn sum(dice: &mut Dice, parts: &[[f64; 2]]) -> f64 {
    parts.iter().map(|part| dice.halves(*part)).sum()
}

fn share(of: impl FnMut() -> bool) -> f64 {
    std::iter::repeat_with(of).take(DRAWS).filter(|holds| *holds).count() as f64 / DRAWS as f64
}

/// Headroom and footroom as they are, negative beyond the ends: GN over the distance is the aperture (ISO 1230), against f/8,
/// on a scale of seven stops.
fn rooms(guide_number: f64, metres: f64, effect: f64) -> [f64; 2] {
    let headroom = 2.0 * (guide_number / metres / 8.0).log2() + effect;
    [headroom, 7.0 - headroom]
}

fn reaches([headroom, footroom]: [f64; 2], off: f64) -> bool {
    headroom + off >= -FORGIVEN && footroom - off >= -FORGIVEN
}

#[tokio::test]
async fn the_light_of_a_role_is_as_sure_as_its_parts() {
    let server = Server::start().await;
    let role = json!({"role": "key", "stops": 0, "distance": 5});
    let body = json!({"kit": [{"unit": head("a", 80.0, 1000.0)}], "shots": [shot("s", &json!([role]))]});
    let answer = server.ask(CHECK, body.clone()).await;
    let light = &answer["shots"][0]["lights"][0];
    let [distance, angle] = place(5.0);
    let low = square(&[square(&USUAL), distance[0], angle[0]]);
    close(&light["uncertainty"]["low_stops"], -low, 2e-4);
    close(&light["uncertainty"]["high_stops"], square(&[square(&USUAL), distance[1]]), 2e-4);
    assert_eq!(light["uncertainty"]["causes"][0]["cause"], "rating");
    assert_eq!(light["uncertainty"]["causes"][0]["light"], Value::Null);
    // Two stops to spare are more than all of that.
    close(&light["chance_reached"], 1.0, 1e-4);
    let usual = answer["assumptions"].to_string();
    assert!(
        usual.contains("guide number of a unit") && usual.contains("meter against the camera"),
        "{usual}"
    );
    // What is stated takes the place of the table, all of it.
    let mut body = body;
    for (field, stated) in
        [("plus_minus_stops", 0.1), ("dial_plus_minus_stops", 0.05), ("repeat_plus_minus_stops", 0.02)]
    {
        body["kit"][0]["unit"][field] = json!(stated);
    }
    body["shots"][0]["lights"][0] = json!({"role": "key", "stops": 0, "distance": "5 m ±10 cm",
        "modifier_stops": {"stops": -0.5, "plus_minus_stops": 0.3},
        "filters": [{"name": "silk", "stops": -0.5, "plus_minus_stops": 0.15}, "ND 0.3"]});
    let answer = server.ask(CHECK, body).await;
    let light = &answer["shots"][0]["lights"][0];
    let nearer = 2.0 * (5.0_f64 / 4.9).log2();
    // The neutral-density filter has the default, 0.1.
    let high = square(&[0.1, 0.05, 0.02, 0.3, 0.15, 0.1, 0.2, nearer]);
    close(&light["uncertainty"]["high_stops"], high, 2e-4);
    let usual = answer["assumptions"].to_string();
    assert!(!usual.contains("guide number of a unit"), "{usual}");
    // A lamp is known to 0.3 stop.
    let lamp = json!({"continuous": {"intensity_cd": 48_000}});
    let mut still = shot("s", &json!([{"role": "key", "stops": 0, "distance": 5}]));
    still["exposure"]["exposure_time"] = json!("1/60");
    let answer = server.ask(CHECK, json!({"kit": [{"unit": lamp}], "shots": [still]})).await;
    let high = square(&[0.3, 0.1, 0.06, 0.2, distance[1]]);
    close(&answer["shots"][0]["lights"][0]["uncertainty"]["high_stops"], high, 2e-4);
}

#[tokio::test]
async fn the_chance_of_a_role_is_that_of_draws() {
    let server = Server::start().await;
    let mut dice = Dice(18);
    // A quarter of a stop to spare; short by 0.6 stop; at the least setting; and a kind of modifier, whose range is uneven.
    let kind = json!({"kind": "dish"});
    for (guide_number, metres, modifier, effect, range) in [
        (43.6, 5.0, json!(0), 0.0, [0.0; 2]),
        (32.5, 5.0, json!(0), 0.0, [0.0; 2]),
        (66.0, 0.75, json!(0), 0.0, [0.0; 2]),
        (64.0, 5.0, kind, -1.0, [0.7, 1.0]),
    ] {
        let role = json!({"role": "key", "stops": 0, "distance": metres, "modifier_stops": modifier});
        let body =
            json!({"kit": [{"unit": head("a", guide_number, 400.0)}], "shots": [shot("s", &json!([role]))]});
        let answer = server.ask(CHECK, body).await;
        let light = &answer["shots"][0]["lights"][0];
        let rooms = rooms(guide_number, metres, effect);
        let usual = USUAL.map(|half_width| [half_width; 2]);
        let parts = [&usual[..], &place(metres), &[range]].concat();
        let chance = share(|| reaches(rooms, sum(&mut dice, &parts)));
        assert!((0.05..0.99).contains(&chance), "it tells nothing: {chance}");
        close(&light["chance_reached"], chance, 0.01);
        assert_eq!(answer["shots"][0]["chance_reached"], light["chance_reached"]);
    }
}

#[tokio::test]
async fn what_roles_share_counts_once() {
    let server = Server::start().await;
    let mut dice = Dice(19);
    let lights =
        json!([{"role": "left", "stops": 0, "distance": 5}, {"role": "right", "stops": 0, "distance": 5}]);
    let kit = |names: [&str; 2]| names.map(|name| json!({"unit": head(name, 41.0, 400.0)}));
    let mut chances = Vec::new();
    for (names, are_alike) in [(["a", "a"], true), (["a", "b"], false)] {
        let body = json!({"kit": kit(names), "shots": [shot("s", &lights)]});
        let answer = server.ask(CHECK, body).await;
        let rooms = rooms(41.0, 5.0, 0.0);
        // Setting, repeatability and place are each light's own; the meter is common, and the rating of one name.
        let own: Vec<[f64; 2]> = [[0.1; 2], [0.06; 2]].into_iter().chain(place(5.0)).collect();
        let chance = share(|| {
            let (rating, meter) = (dice.halves([0.5; 2]), dice.halves([0.2; 2]));
            let other = if are_alike { rating } else { dice.halves([0.5; 2]) };
            [rating, other].into_iter().all(|rating| reaches(rooms, rating + meter + sum(&mut dice, &own)))
        });
        close(&answer["shots"][0]["chance_reached"], chance, 0.01);
        chances.push(chance);
    }
    assert!(chances[0] > chances[1] + 0.03, "{chances:?}");
}

#[tokio::test]
async fn heads_with_one_setting_are_reached_together() {
    let server = Server::start().await;
    let mut dice = Dice(20);
    // Half the energy of GN 80 is GN 80/√2, at 5 m a stop over f/8; the scale has three stops.
    let at = |role: &str| json!({"role": role, "stops": 0, "distance": 5});
    for (names, distances) in [(["a", "a"], [5.0, 5.4]), (["a", "b"], [5.0, 5.0])] {
        let mut lights = [at("left"), at("right")];
        let mut kit = Vec::new();
        for index in 0..2 {
            lights[index]["distance"] = json!(distances[index]);
            kit.push(json!({"unit": {"name": names[index], "pack": "p", "guide_number": {"value": 80, "unit": "m"}}}));
        }
        let pack = json!({"name": "p", "energy": "1200 J", "split": "even",
            "scale": {"style": "dial", "full": 6, "least": 3}});
        let body = json!({"packs": [pack], "kit": kit, "shots": [shot("s", &json!(lights))]});
        let answer = server.ask(CHECK, body).await;
        let shot = &answer["shots"][0];
        assert_eq!(shot["feasible"], true, "{answer}");
        let headrooms = distances.map(|metres| 2.0 * (80.0 / 2.0_f64.sqrt() / metres / 8.0_f64).log2());
        let chance = share(|| {
            let (rating, meter) = (dice.halves([0.5; 2]), dice.halves([0.2; 2]));
            let mut light = [0.0; 2];
            for index in 0..2 {
                let rating = if index == 0 || names[0] == names[1] { rating } else { dice.halves([0.5; 2]) };
                // Setting, repeatability and the division of the pack.
                let own = sum(&mut dice, &[[0.1; 2], [0.06; 2], [0.1; 2]])
                    + sum(&mut dice, &place(distances[index]));
                light[index] = headrooms[index] + rating + meter + own;
            }
            // Some setting is within a sixth of a stop of both.
            light.iter().all(|light| (-FORGIVEN..=3.0 + FORGIVEN).contains(light))
                && (light[0] - light[1]).abs() <= 2.0 * FORGIVEN
        });
        assert!((0.2..0.95).contains(&chance), "it tells nothing: {chance}");
        close(&shot["chance_reached"], chance, 0.01);
        close(&shot["lights"][0]["chance_reached"], chance, 0.01);
        close(&shot["lights"][1]["chance_reached"], chance, 0.01);
    }
    // Where one setting does not do, each is judged at the setting that it has.
    let lights = json!([at("key"), {"role": "fill", "stops": -1, "distance": 5}]);
    let unit = json!({"name": "a", "pack": "p", "guide_number": {"value": 80, "unit": "m"}});
    let pack = json!({"name": "p", "energy": "1200 J", "split": "even", "scale": {"style": "dial", "full": 6, "least": 3}});
    let body = json!({"packs": [pack], "kit": [{"unit": unit, "count": 2}], "shots": [shot("s", &lights)]});
    let answer = server.ask(CHECK, body).await;
    let usual: Vec<[f64; 2]> =
        USUAL.into_iter().chain([0.1]).map(|half_width| [half_width; 2]).chain(place(5.0)).collect();
    for light in answer["shots"][0]["lights"].as_array().expect("lights") {
        let error = number(&light["error_stops"]);
        let chance = share(|| (error + sum(&mut dice, &usual)).abs() <= FORGIVEN);
        close(&light["chance_reached"], chance, 0.01);
    }
}

#[tokio::test]
async fn a_comparison_has_the_chance_of_the_least_sure_role() {
    let server = Server::start().await;
    let lights =
        json!([{"role": "key", "stops": 0, "distance": 5}, {"role": "fill", "stops": -1, "distance": 5}]);
    let shots = json!([shot("one", &lights), shot("two", &json!([lights[0]]))]);
    let kit = |guide_number: f64| json!([{"unit": head("a", guide_number, 400.0)}, {"unit": head("b", 42.0, 400.0)}]);
    let body = json!({"kits": [{"name": "small", "kit": kit(44.0)}, {"name": "big", "kit": kit(60.0)},
        {"name": "single", "kit": [kit(60.0)[0]]}], "shots": shots});
    let answer = server.ask(COMPARE, body).await;
    for (name, kit) in [("small", kit(44.0)), ("big", kit(60.0))] {
        let alone = server.ask(CHECK, json!({"kit": kit, "shots": shots})).await;
        let ranking = answer["ranking"].as_array().expect("kits");
        let ranked = ranking.iter().find(|kit| kit["name"] == name).expect("the kit");
        let least = |shot: &Value| {
            let lights = shot["lights"].as_array().expect("lights").iter();
            lights.map(|light| number(&light["chance_reached"])).fold(1.0, f64::min)
        };
        let shots = alone["shots"].as_array().expect("shots");
        for (shot, ranked) in shots.iter().zip(ranked["shots"].as_array().expect("shots")) {
            close(&ranked["chance_reached"], least(shot), 1e-9);
        }
        close(&ranked["chance_reached"], shots.iter().map(least).fold(1.0, f64::min), 1e-9);
        assert_eq!(answer["assumptions"], alone["assumptions"]);
    }
    // One light is missing.
    let single = answer["ranking"].as_array().expect("kits").last().expect("a kit");
    assert_eq!((&single["name"], &single["chance_reached"]), (&json!("single"), &Value::Null));
    assert_eq!(single["shots"][0]["chance_reached"], Value::Null);
    assert!(number(&single["shots"][1]["chance_reached"]) > 0.99, "{single}");
}

#[tokio::test]
async fn a_role_that_may_be_too_strong_is_named() {
    let server = Server::start().await;
    // By hand: seven stops less than 66 m over 0.75 m is f/7.8 at the least setting: 0.08 stop to spare below f/8.
    let role = json!({"role": "key", "stops": 0, "distance": 0.75});
    let body = json!({"kit": [{"unit": head("a", 66.0, 400.0)}], "shots": [shot("macro", &json!([role]))]});
    let answer = server.ask(CHECK, body).await;
    let light = &answer["shots"][0]["lights"][0];
    let over = number(&light["uncertainty"]["high_stops"]) - number(&light["footroom_stops"]);
    let summary = answer["summary"].as_str().expect("text");
    let expected = format!("\"key\" in \"macro\" may be {over:.1} stop too strong at its least setting.");
    assert!(summary.ends_with(&expected), "{summary}, not {expected}");
    assert!(number(&light["chance_reached"]) < 0.975, "{light}");
}
