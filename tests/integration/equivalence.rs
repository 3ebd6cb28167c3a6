//! `/v1/energy/equivalence`.

use serde_json::{Value, json};

use crate::{
    remedies::{by, follow, patched},
    support::{Dice, Server, close, number, pointers},
};

pub const EQUIVALENCE: &str = "/v1/energy/equivalence";

fn square(values: &[f64]) -> f64 {
    values.iter().map(|value| value * value).sum::<f64>().sqrt()
}

fn dial(energy: f64) -> Value {
    json!({"energy": energy, "scale": {"style": "dial", "full": 10, "least": 3, "click": "1/10"}})
}

pub fn swap(reference: &Value, setting: &str, candidate: &Value) -> Value {
    json!({
        "reference": {"unit": reference, "setting": setting, "exposure": {"f_number": "f/8"}},
        "candidates": [{"unit": candidate}]
    })
}

#[tokio::test]
async fn a_whole_step_of_a_stop_dial_halves_the_energy() {
    // Common practice: a 500 J unit three steps down gives 62.5 J.
    let server = Server::start().await;
    let answer = server.ask(EQUIVALENCE, swap(&dial(500.0), "7", &dial(500.0))).await;
    assert_eq!(answer["reference"]["energy_j"], 62.5);
    let matched = &answer["candidates"][0];
    assert_eq!(matched["setting"]["label"], "7");
    assert_eq!(matched["error_stops"], 0.0);
    // Twice the energy is one step lower.
    let answer = server.ask(EQUIVALENCE, swap(&dial(500.0), "7", &dial(1000.0))).await;
    assert_eq!(answer["candidates"][0]["setting"]["label"], "6");
}

#[tokio::test]
async fn a_step_up_the_dial_compensates_a_stop_at_the_lens() {
    // Common practice.
    let server = Server::start().await;
    let mut body = swap(&dial(500.0), "7", &dial(500.0));
    body["exposure"] = json!({"f_number": "f/11"});
    let answer = server.ask(EQUIVALENCE, body.clone()).await;
    assert_eq!(answer["candidates"][0]["setting"]["label"], "8");
    body["exposure"] = json!({"f_number": "f/8", "iso": 200});
    let answer = server.ask(EQUIVALENCE, body).await;
    assert_eq!(answer["candidates"][0]["setting"]["label"], "6");
}

#[tokio::test]
async fn a_weak_candidate_has_remedies_that_work() {
    let server = Server::start().await;
    let mut body = swap(&dial(1000.0), "full", &dial(300.0));
    body["candidates"][0]["id"] = json!("c");
    body["limits"] = json!({"max_pops": 4});
    let answer = server.ask(EQUIVALENCE, body.clone()).await;
    let matched = &answer["candidates"][0];
    assert_eq!(matched["feasible"], false);
    assert_eq!(matched["setting"]["label"], "10");
    // log2(1000/300) = 1.7370.
    close(&matched["shortfall_stops"], 1.737, 1e-4);
    // Four flashes are 1200 J, the fewest that are enough.
    assert_eq!(
        by(matched, "pops")["changes"][0],
        json!({"change": "pops", "candidate": "c", "candidate_id": "c", "by_stops": 2.0, "to": {"pops": 4}})
    );
    // The first mark that is enough; three clicks take back all but 0.04 stop of what is too much.
    let wider = &by(matched, "aperture")["changes"][0];
    assert_eq!((&wider["to"]["f_number"]["mark"], &wider["by_stops"]), (&json!("f/4"), &json!(2.0)));
    assert_eq!(by(matched, "unit")["changes"][0]["to"], json!({"energy_j": 1000.0}));
    // Every remedy works.
    let kinds = follow(&server, EQUIVALENCE, &body).await;
    assert_eq!(kinds, ["unit", "aperture", "iso", "pops"]);
    let fired = server.ask(EQUIVALENCE, patched(&body, &by(matched, "pops")["patch"])).await;
    assert_eq!(
        (&fired["candidates"][0]["pops"], &fired["candidates"][0]["feasible"]),
        (&json!(4), &json!(true))
    );
    // The request states no exposure to hold, so the aperture comes with one; at ISO 100, which need not be stated.
    let changed = patched(&body, &by(matched, "aperture")["patch"]);
    assert_eq!(changed["exposure"], json!({"f_number": "f/4"}));
}

#[tokio::test]
async fn a_candidate_too_strong_at_its_least_has_remedies() {
    let server = Server::start().await;
    let strong = json!({"energy": 3200, "scale": {"style": "dial", "full": 10, "least": 6, "click": 0.1}});
    let mut body = swap(&json!({"energy": 100}), "full", &strong);
    body["candidates"][0]["id"] = json!("c");
    let answer = server.ask(EQUIVALENCE, body.clone()).await;
    let matched = &answer["candidates"][0];
    // 3200 J four stops down is 200 J: one stop too much.
    assert_eq!(matched["feasible"], false);
    close(&matched["excess_stops"], 1.0, 1e-4);
    assert_eq!(matched["shortfall_stops"], 0.0);
    // What is done to the one light at fault comes first.
    let filter = &by(matched, "filter")["changes"][0];
    assert_eq!(filter["candidate_id"], "c");
    assert_eq!(filter["to"], json!({"filter": {"stops": -1.0, "mark": "ND 0.3"}}));
    assert_eq!(by(matched, "aperture")["changes"][0]["to"]["f_number"]["mark"], "f/11");
    let kinds = follow(&server, EQUIVALENCE, &body).await;
    assert_eq!(kinds, ["filter", "aperture", "iso", "filter"]);
    // No remedy goes beyond the limits.
    body["limits"] = json!({"f_number": ["f/8", "f/8"], "iso": [100, 100]});
    let kinds = follow(&server, EQUIVALENCE, &body).await;
    assert_eq!(kinds, ["filter", "filter"]);
}

#[tokio::test]
async fn units_are_compared_by_what_they_state() {
    let server = Server::start().await;
    let guide = |value: f64| json!({"guide_number": {"value": value, "unit": "m"}, "coverage": {"focal_length_mm": 35}});
    let by = async |reference: &Value, candidate: &Value, modifier: bool| {
        let mut body = swap(reference, "full", candidate);
        if modifier {
            body["candidates"][0]["modifier_stops"] = json!(-1);
        }
        let answer = server.ask(EQUIVALENCE, body).await;
        (answer["candidates"][0]["compared_by"].clone(), answer["candidates"][0]["uncertainty"].clone())
    };
    let energy = json!({"energy": 500});
    let (how, off) = by(&guide(40.0), &guide(56.0), false).await;
    assert_eq!(how, "guide_number");
    // Rating, setting and repeatability of both (docs/values.md), by JCGM 100:2008, 5.1.2.
    close(&off["high_stops"], 2.0_f64.sqrt() * square(&[0.5, 0.1, 0.06]), 1e-4);
    let (how, off) = by(&guide(40.0), &guide(56.0), true).await;
    assert_eq!(how, "light");
    assert!(number(&off["low_stops"]) < 0.0 && number(&off["high_stops"]) > 0.0, "{off}");
    let (how, off) = by(&energy, &energy, false).await;
    assert_eq!(how, "energy");
    // Efficacies of 15 to 50, typically 40 lm·s per J, in place of a rating: a range of two uneven halves, whose ends are those
    // of 100,000 draws (JCGM 101:2008) with setting and repeatability of both.
    let mut dice = Dice(21);
    let efficacy = [(40.0_f64 / 15.0).log2(), (50.0_f64 / 40.0).log2()];
    let mut draw = || {
        let mut side = || dice.halves(efficacy) + dice.halves([0.1; 2]) + dice.halves([0.06; 2]);
        side() - side()
    };
    let mut draws: Vec<f64> = std::iter::repeat_with(&mut draw).take(100_000).collect();
    draws.sort_by(f64::total_cmp);
    close(&off["low_stops"], draws[2_500], 0.05);
    close(&off["high_stops"], draws[97_500], 0.05);
    assert_eq!(by(&energy, &guide(40.0), false).await.0, "energy");
}

#[tokio::test]
async fn units_with_nothing_in_common_are_faults() {
    let server = Server::start().await;
    let bare = json!({"guide_number": {"value": 40, "unit": "m"}});
    let found = server.refused(EQUIVALENCE, swap(&json!({"energy": 500}), "full", &bare)).await;
    assert_eq!(pointers(&found), ["/candidates/0/unit"]);
    let mut body = swap(&bare, "full", &bare);
    body["candidates"][0]["distance"] = json!("2 m");
    let found = server.refused(EQUIVALENCE, body).await;
    assert_eq!(pointers(&found), ["/reference/distance"]);
}

/// A dial of seven stops, 9 at full.
pub fn nine(energy: f64, corrections: &Value) -> Value {
    json!({"energy": energy, "scale": {"style": "dial", "full": 9, "least": 2}, "corrections": corrections})
}

/// A unit measured 0.3 stop short at full power, and accurate from a stop below it.
pub fn weak_at_full() -> Value {
    json!([{"setting": "9", "stops": -0.3}, {"setting": "8", "stops": 0}])
}

#[tokio::test]
async fn a_deficit_at_full_power_counts() {
    let server = Server::start().await;
    let mut body = swap(&nine(500.0, &json!([])), "9", &nine(536.0, &weak_at_full()));
    // The same without distances.
    let bare = server.ask(EQUIVALENCE, body.clone()).await;
    assert_eq!(by(&bare["candidates"][0], "aperture")["changes"][0]["by_stops"], 0.3333);
    body["reference"]["distance"] = json!("4 m");
    body["candidates"][0]["distance"] = json!("4 m");
    let matched = server.ask(EQUIVALENCE, body.clone()).await["candidates"][0].clone();
    // By hand: it gives log2(536/500) - 0.3 = -0.1997 stop relative to the target.
    close(&matched["shortfall_stops"], 0.3 - (536.0_f64 / 500.0).log2(), 1e-4);
    // A unit like it lacks as much at full power: 500·2^0.3 = 615.57 J, which a remedy rounds up to two digits.
    let like_it = by(&matched, "unit");
    close(&matched["matching_energy_j"], 615.572, 1e-3);
    assert_eq!(like_it["changes"][0]["to"], json!({"energy_j": 620.0}));
    // log2(620/615.57) = 0.0103.
    assert_eq!(
        like_it["text"],
        "Use a unit like it of at least 620 J, then set it to 9. It is then 0.01 stop over."
    );
    let kinds = follow(&server, EQUIVALENCE, &body).await;
    assert!(
        ["unit", "aperture", "iso", "distance"].iter().all(|kind| kinds.iter().any(|other| other == kind))
    );
    // 260 J are short by log2(500/260) + 0.3 = 1.243 stops. Three pops have 0.643 stop to spare apart from the
    // correction: between 9 and 8 its light is 0.3 + 0.7·s stops under full, 0.65 at 8.5.
    let mut body = swap(&nine(500.0, &json!([])), "9", &nine(260.0, &weak_at_full()));
    body["max_pops"] = json!(4);
    let matched = server.ask(EQUIVALENCE, body).await["candidates"][0].clone();
    assert_eq!((&matched["feasible"], &matched["pops"]), (&json!(true), &json!(3)));
    assert_eq!(matched["setting"]["label"], "8.5");
    close(&matched["error_stops"], (3.0_f64 * 260.0 / 500.0).log2() - 0.65, 1e-4);
    // Without a distance and with one flash, the remedy is the same.
    let mut body = swap(&nine(500.0, &json!([])), "9", &nine(260.0, &weak_at_full()));
    body["limits"] = json!({"max_pops": 4});
    let matched = server.ask(EQUIVALENCE, body.clone()).await["candidates"][0].clone();
    let more = by(&matched, "pops");
    assert_eq!(more["changes"][0]["to"]["pops"], 3);
    let fired = server.ask(EQUIVALENCE, patched(&body, &more["patch"])).await["candidates"][0].clone();
    assert_eq!((&fired["pops"], &fired["setting"]["label"]), (&json!(3), &json!("8.5")));
    assert_eq!(fired["error_stops"], more["then"]["error_stops"]);
}

#[tokio::test]
async fn a_unit_that_gives_most_below_full_power_is_set_there() {
    // Measured a stop and a half short at full power and accurate at 8: 8 gives most, a stop under its rating.
    let server = Server::start().await;
    let odd = json!([{"setting": "9", "stops": -1.5}, {"setting": "8", "stops": 0}]);
    let answer = server.ask(EQUIVALENCE, swap(&nine(500.0, &json!([])), "8", &nine(500.0, &odd))).await;
    assert_eq!(answer["candidates"][0]["setting"]["label"], "8");
    assert_eq!(answer["candidates"][0]["feasible"], true);
    let body = swap(&nine(500.0, &json!([])), "9", &nine(500.0, &odd));
    let answer = server.ask(EQUIVALENCE, body.clone()).await;
    let matched = &answer["candidates"][0];
    close(&matched["shortfall_stops"], 1.0, 1e-4);
    assert_eq!(by(matched, "unit")["changes"][0]["to"], json!({"energy_j": 1000.0}));
    for change in ["aperture", "unit"] {
        let remedy = by(matched, change);
        assert!(
            remedy["text"].as_str().is_some_and(|text| text.contains(", then set it to 8. ")),
            "{remedy}"
        );
        let then = server.ask(EQUIVALENCE, patched(&body, &remedy["patch"])).await;
        assert_eq!(then["candidates"][0]["setting"]["label"], "8", "{remedy}");
        assert_eq!(then["candidates"][0]["feasible"], true, "{remedy}");
    }
}

/// How much one light alone overexposes the picture, by `exposure/predict`, stops. `with` has the other fields of the
/// request.
async fn predicted(server: &Server, with: &Value, light: &Value, distance: f64) -> f64 {
    let mut body = with.clone();
    let mut light = light.clone();
    light["name"] = json!("a");
    body["lights"] = json!([light]);
    body["placements"] = json!([{"light": "a", "point": "p", "distance": distance}]);
    number(&server.ask("/v1/exposure/predict", body).await["points"][0]["error_stops"])
}

#[tokio::test]
async fn corrections_may_fall_faster_than_the_scale() {
    let server = Server::start().await;
    // By hand: 1.9 stops under full at -2, 2.4 at -2.2; log2(400/95) = 2.0740 is 0.348 of the way, at -2.0696.
    let steep = json!([{"setting": "-2 stops", "stops": 0.1}, {"setting": "-2.2 stops", "stops": -0.2}]);
    let candidate = json!({"energy": 400, "guide_number": {"value": 40, "unit": "m"}, "corrections": steep});
    let reference =
        json!({"energy": 95, "guide_number": {"value": 40.0 * (95.0_f64 / 400.0).sqrt(), "unit": "m"}});
    let answer = server.ask(EQUIVALENCE, swap(&reference, "full", &candidate)).await;
    let matched = &answer["candidates"][0];
    assert_eq!((&matched["feasible"], &matched["setting"]["label"]), (&json!(true), &json!("-2.07 stops")));
    close(&matched["setting"]["stops_below_full"], 2.0696, 1e-4);
    close(&matched["error_stops"], 0.0, 1e-4);
    let with = json!({"exposure": {"f_number": "f/8"}});
    let wanted = predicted(&server, &with, &json!({"unit": reference, "setting": "full"}), 3.0).await;
    let light = json!({"unit": candidate, "setting": matched["setting"]["label"]});
    let given = predicted(&server, &with, &light, 3.0).await;
    assert!((given - wanted).abs() < 2e-3, "{given} {wanted}");
    // log2(400/85) = 2.2345 is 0.669 of the way: 400·2^-2.1338 = 91.14 J.
    let steep = json!([{"setting": "7", "stops": 0.1}, {"setting": "6.8", "stops": -0.2}]);
    let answer = server.ask(EQUIVALENCE, swap(&json!({"energy": 85}), "full", &nine(400.0, &steep))).await;
    close(&answer["candidates"][0]["matching_energy_j"], 91.14, 0.01);
}

#[tokio::test]
async fn pops_are_the_fewest_that_suffice() {
    let server = Server::start().await;
    // By hand: seven pops of 52 J are 0.458 stop under 500 J, within half a click of a stop; six are 0.68 under.
    let coarse = |energy: f64, click: f64| json!({"energy": energy, "scale": {"style": "dial", "full": 9, "least": 2, "click": click}});
    let ask = async |energy: f64, click: f64, max_pops: u64| {
        let mut body = swap(&json!({"energy": 500}), "full", &coarse(energy, click));
        body["max_pops"] = json!(max_pops);
        server.ask(EQUIVALENCE, body).await["candidates"][0].clone()
    };
    assert_eq!(ask(52.0, 1.0, 16).await["pops"], 7);
    for (energy, click) in [(52.0, 2.0), (33.0, 0.5), (9.7, 3.0), (120.0, 1.0), (26.0, 0.1), (500.0, 1.0)] {
        let found = ask(energy, click, 64).await;
        let pops = found["pops"].as_u64().expect("pops");
        assert_eq!(found["feasible"], true);
        for fewer in 1..pops {
            assert_eq!(
                ask(energy, click, fewer).await["feasible"],
                false,
                "{energy} J, {click}: {fewer} of {pops}"
            );
        }
    }
}

/// The text between two others.
fn between<'t>(text: &'t str, from: &str, to: &str) -> Option<&'t str> {
    let after = text.split_once(from)?.1;
    Some(after.split_once(to).map_or(after, |(before, _)| before))
}

/// A unit whose energy is in proportion to its light.
fn guided(guide: f64, corrections: &Value) -> Value {
    let mut unit = nine(guide * guide / 10.0, corrections);
    unit["guide_number"] = json!({"value": guide, "unit": "m"});
    unit
}

/// The exposure error after a remedy is carried out by hand, as its sentence says, in `exposure/predict`.
async fn carried_out(server: &Server, body: &Value, remedy: &Value) -> f64 {
    let (reference, candidate) = (&body["reference"], &body["candidates"][0]);
    let text = remedy["text"].as_str().expect("a text");
    let says =
        |words: String| assert!(text.to_lowercase().contains(&words.to_lowercase()), "{words}: {remedy}");
    let dialled =
        ["then set it to ", " times at "].into_iter().find_map(|words| between(text, words, ". It is then "));
    // A change says it, or what is set afterwards.
    let changed =
        remedy["changes"].as_array().expect("changes").iter().find_map(|one| one["to"]["pops"].as_u64());
    let fired = between(text, "then fire it ", " times").map_or(1, |pops| pops.parse().expect("pops"));
    let pops = changed.unwrap_or(fired);
    let mut light = json!({"unit": candidate["unit"], "setting": dialled.expect("a setting"), "pops": pops});
    let before = json!({"step": body["step"], "exposure": reference["exposure"]});
    let (mut after, mut distance) = (before.clone(), 4.0);
    for change in remedy["changes"].as_array().expect("changes") {
        let to = &change["to"];
        match change["change"].as_str().expect("a word") {
            kind @ ("aperture" | "iso") => {
                let field = if kind == "iso" { "iso" } else { "f_number" };
                let mut turned = before.clone();
                turned["exposure"][field] = to[field]["mark"].clone();
                let at = async |with: &Value| predicted(server, with, &light, 4.0).await;
                close(&change["by_stops"], at(&turned).await - at(&before).await, 2e-4);
                says(format!("to {}", to[field]["mark"].as_str().expect("a mark")));
                after["exposure"][field] = to[field]["mark"].clone();
            }
            "filter" => {
                let mark = &to["filter"]["mark"];
                let is_on_unit = change["candidate_id"] == "c";
                let place = if is_on_unit { "\"c\"" } else { "the lens" };
                says(format!("put {} (", mark.as_str().expect("a mark")));
                says(format!(") on {place}"));
                let on = if is_on_unit { &mut light } else { &mut after["lens"] };
                on["filters"] = json!([mark]);
            }
            "distance" => {
                distance = number(&to["distance_m"]);
                says(format!("from 4 m to {distance} m"));
                close(&change["by_stops"], 2.0 * (4.0 / distance).log2(), 1e-4);
            }
            "unit" => {
                let guide = number(&to["guide_number_m"]);
                says(format!("a unit of at least guide number {guide} m"));
                light["unit"] = guided(guide, &candidate["unit"]["corrections"]);
            }
            "pops" => assert_eq!(to["pops"], pops, "{remedy}"),
            other => panic!("{other} in {remedy}"),
        }
    }
    let wanted = predicted(server, &before, &json!({"unit": reference["unit"], "setting": "9"}), 4.0).await;
    predicted(server, &after, &light, distance).await - wanted
}

#[tokio::test]
async fn remedies_work_as_worded() {
    let server = Server::start().await;
    let strong_at_full = json!([{"setting": "9", "stops": 0.4}, {"setting": "8", "stops": 0}]);
    let (mut tried, mut of_both) = (0, 0);
    for (case, f_number) in ["f/6.7", "f/9.5", "f/7.4", "f/8 +0.3", "f/8", "f/1.3"].into_iter().enumerate() {
        for (step, iso) in [("1/3", 100), ("1/2", 100), ("1", 150)] {
            for (corrections, over) in
                [(&json!([]), -5.3), (&weak_at_full(), -0.21), (&strong_at_full, -1.2), (&json!([]), 8.2)]
            {
                let unit = guided(40.0 * f64::exp2(over / 2.0), corrections);
                let mut body = json!({"step": step, "max_pops": 1 + case % 2, "limits": {"max_pops": 64},
                    "reference": {"unit": guided(40.0, &json!([])), "setting": "9", "distance": 4,
                        "exposure": {"f_number": f_number, "iso": iso}},
                    "candidates": [{"id": "c", "unit": unit, "distance": 4}]});
                if case % 2 == 1 {
                    // Neither aperture nor ISO speed does it alone.
                    body["limits"]["f_number"] = json!(["f/5", "f/16"]);
                    body["limits"]["iso"] = json!([100, 800]);
                }
                let matched = server.ask(EQUIVALENCE, body.clone()).await["candidates"][0].clone();
                for remedy in matched["remedies"].as_array().expect("remedies") {
                    let off = carried_out(&server, &body, remedy).await;
                    // Half a click of 0.1; with 0.4 stop more at full than at 8, one click is 0.14.
                    let most = if corrections == &strong_at_full { 0.07 } else { 0.05 };
                    assert!(off.abs() <= most + 2e-4, "{f_number} {step} {over}: {off} by {remedy}");
                    close(&remedy["then"]["error_stops"], off, 2e-4);
                    tried += 1;
                    let kinds = remedy["changes"].as_array().expect("changes").iter();
                    let kinds: Vec<&Value> = kinds.map(|change| &change["change"]).collect();
                    of_both += usize::from(kinds == ["aperture", "iso"]);
                }
            }
        }
    }
    assert!(tried > 200 && of_both >= 4, "{tried} {of_both}");
}

#[tokio::test]
async fn a_candidate_without_a_modifier_is_in_that_of_the_reference() {
    let server = Server::start().await;
    let mut body = swap(&dial(500.0), "8", &dial(500.0));
    body["reference"]["modifier_stops"] = json!(-1);
    let warned = |answer: &Value| {
        let warnings = answer["candidates"][0]["warnings"].as_array().expect("warnings").iter();
        warnings.filter(|warning| warning["code"] == "modifier_of_reference").count()
    };
    let answer = server.ask(EQUIVALENCE, body.clone()).await;
    assert_eq!((&answer["candidates"][0]["setting"]["label"], warned(&answer)), (&json!("8"), 1));
    // One that stands without it says so.
    body["candidates"][0]["modifier_stops"] = json!(0);
    let answer = server.ask(EQUIVALENCE, body.clone()).await;
    assert_eq!((&answer["candidates"][0]["setting"]["label"], warned(&answer)), (&json!("7"), 0));
    body["candidates"][0]["modifier_stops"] = json!(-1);
    let answer = server.ask(EQUIVALENCE, body.clone()).await;
    assert_eq!((&answer["candidates"][0]["setting"]["label"], warned(&answer)), (&json!("8"), 0));
    // There is no warning for a modifier without effect, or one on the candidate alone.
    let mut same = swap(&dial(500.0), "8", &dial(500.0));
    same["reference"]["modifier_stops"] = json!({"kind": "standard_reflector"});
    assert_eq!(warned(&server.ask(EQUIVALENCE, same).await), 0);
    body["reference"].as_object_mut().expect("fields").remove("modifier_stops");
    let answer = server.ask(EQUIVALENCE, body).await;
    assert_eq!((&answer["candidates"][0]["setting"]["label"], warned(&answer)), (&json!("9"), 0));
}

#[tokio::test]
async fn a_setting_barely_below_full_is_shown_as_full() {
    let server = Server::start().await;
    // A unit without a scale that is a thousandth of a stop too strong was once to be set to "-0 stops".
    let bare = json!({"energy": 500.0});
    let mut body = swap(&bare, "full", &json!({"energy": 500.0 * 0.001_f64.exp2()}));
    let answer = server.ask(EQUIVALENCE, body.clone()).await;
    let matched = &answer["candidates"][0];
    assert_eq!((&matched["feasible"], &matched["setting"]["label"]), (&json!(true), &json!("full")));
    body["candidates"][0]["unit"]["energy"] = json!(249.9);
    body["limits"] = json!({"max_pops": 1});
    let answer = server.ask(EQUIVALENCE, body).await;
    assert_eq!(answer["candidates"][0]["feasible"], false);
    assert!(!answer.to_string().contains("-0 "), "{answer}");
}

#[tokio::test]
async fn a_candidate_at_the_references_distance_may_be_moved() {
    let server = Server::start().await;
    let mut body = swap(&dial(500.0), "full", &dial(250.0));
    body["reference"]["distance"] = json!("4 m");
    let matched = server.ask(EQUIVALENCE, body.clone()).await["candidates"][0].clone();
    assert_eq!(matched["feasible"], false);
    let nearer = by(&matched, "distance");
    // Inverse square (CIE e-ILV 17-25-104), from the distance of the reference.
    let to = number(&nearer["changes"][0]["to"]["distance_m"]);
    close(&nearer["changes"][0]["by_stops"], 2.0 * (4.0 / to).log2(), 1e-4);
    let moved = patched(&body, &nearer["patch"]);
    assert_eq!(moved["candidates"][0]["distance"], to);
    assert_eq!(server.ask(EQUIVALENCE, moved).await["candidates"][0]["feasible"], true);
}

#[tokio::test]
async fn a_candidate_is_moved_no_farther_than_it_must() {
    let server = Server::start().await;
    let moved = async |reference: Value, candidate: Value| {
        let mut body = swap(&reference, "full", &candidate);
        body["reference"]["distance"] = json!("4 m");
        let matched = server.ask(EQUIVALENCE, body).await["candidates"][0].clone();
        by(&matched, "distance")["text"].as_str().expect("a text").to_owned()
    };
    // Half the energy: 4 m over the root of two, 2.828 m (inverse square, CIE e-ILV 17-25-104), to two digits.
    let text = moved(dial(500.0), dial(250.0)).await;
    assert!(text.starts_with("Move the unit from 4 m to 2.8 m, then set it to 10. "), "{text}");
    // It lacks 0.3 - log2(536/500) = 0.1997 stop: 4·2^(-0.1997/2) = 3.7325 m.
    let text = moved(nine(500.0, &json!([])), nine(536.0, &weak_at_full())).await;
    assert!(text.starts_with("Move the unit from 4 m to 3.7 m, then set it to 9. "), "{text}");
}

#[tokio::test]
async fn the_exposure_may_be_left_out() {
    let server = Server::start().await;
    let without = |body: &Value| {
        let mut body = body.clone();
        body["reference"].as_object_mut().expect("fields").remove("exposure");
        body
    };
    // The simplest form: what does 250 J on a 500 J unit take on a 1000 J unit? A quarter (common practice).
    let dialled = swap(&dial(500.0), "9", &dial(1000.0));
    let answer = server.ask(EQUIVALENCE, without(&dialled)).await;
    let matched = &answer["candidates"][0];
    assert_eq!((&matched["setting"]["label"], &matched["setting"]["energy_j"]), (&json!("8"), &json!(250.0)));
    assert_eq!(matched["full_power_f_number"], Value::Null);
    // A setting that is left out is full power.
    let mut at_full = without(&dialled);
    at_full["reference"].as_object_mut().expect("fields").remove("setting");
    let answer_at_full = server.ask(EQUIVALENCE, at_full).await;
    assert_eq!(answer_at_full["candidates"][0]["setting"]["energy_j"], 500.0);
    // All else is as with an exposure.
    let mut stated = server.ask(EQUIVALENCE, dialled.clone()).await;
    stated["candidates"][0]["full_power_f_number"] = Value::Null;
    assert_eq!(stated["candidates"], answer["candidates"]);
    // Stated once, to keep, it is that of the reference as well: two stops of power are left, f/8 to f/16.
    let mut kept = without(&dialled);
    kept["exposure"] = json!({"f_number": "f/8", "iso": 400});
    let kept = server.ask(EQUIVALENCE, kept).await;
    assert_eq!(kept["candidates"][0]["setting"]["label"], "8");
    close(&kept["candidates"][0]["full_power_f_number"]["value"], 16.0, 1e-3);
    // Remedies do without aperture and ISO speed, for nothing tells from what to change them.
    let mut weak = without(&swap(&dial(1000.0), "full", &dial(300.0)));
    weak["limits"] = json!({"max_pops": 4});
    assert_eq!(follow(&server, EQUIVALENCE, &weak).await, ["unit", "pops"]);
    weak["exposure"] = json!({"f_number": "f/8"});
    assert_eq!(follow(&server, EQUIVALENCE, &weak).await, ["unit", "pops"]);
    let strong = json!({"energy": 3200, "scale": {"style": "dial", "full": 10, "least": 6, "click": 0.1}});
    let strong = without(&swap(&json!({"energy": 100}), "full", &strong));
    assert_eq!(follow(&server, EQUIVALENCE, &strong).await, ["filter", "filter"]);
    // What a lens takes at a mark needs the aperture; what it takes at any does not.
    let mut lens = without(&swap(&dial(500.0), "7", &dial(500.0)));
    lens["lens"] = json!({"magnification": 1, "filters": ["ND 0.3"]});
    // Two stops at 1:1 (common practice: 2·log2(1 + m)), and one.
    assert_eq!(server.ask(EQUIVALENCE, lens.clone()).await["candidates"][0]["setting"]["label"], "10");
    lens["lens"] = json!({"mark_corrections": [{"f_number": "f/8", "stops": -0.2}]});
    assert_eq!(pointers(&server.refused(EQUIVALENCE, lens).await), ["/reference/exposure"]);
}

#[tokio::test]
async fn the_same_modifier_on_both_sides_cancels() {
    let server = Server::start().await;
    let guide = |value: f64, focal_length_mm: f64| {
        json!({"guide_number": {"value": value, "unit": "m", "coverage": {"focal_length_mm": focal_length_mm}},
            "scale": {"style": "fraction", "least": "1/64", "click": "1/3"}})
    };
    let ask = async |on: [Value; 2], focal_length_mm: f64| {
        let [reference, candidate] = on;
        let mut body = swap(&guide(40.0, 35.0), "1/4", &guide(56.0, focal_length_mm));
        body["reference"]["modifier_stops"] = reference;
        body["candidates"][0]["modifier_stops"] = candidate;
        server.ask(EQUIVALENCE, body).await["candidates"][0].clone()
    };
    let codes = |matched: &Value| -> Vec<String> {
        let warnings = matched["warnings"].as_array().expect("a list").iter();
        warnings.map(|warning| warning["code"].as_str().expect("a code").to_owned()).collect()
    };
    let softbox = json!({"kind": "softbox_two_diffusers"});
    let bare = ask([Value::Null, Value::Null], 35.0).await;
    // GN² is light (ISO 1230): 2 + 2·log2(56/40) = 2.9709 stops under full, 0.0291 from 1/8.
    assert_eq!(bare["setting"]["label"], "1/8");
    close(&bare["error_stops"], 2.0 * (56.0_f64 / 40.0).log2() - 1.0, 1e-4);
    for on in [[softbox.clone(), softbox.clone()], [json!(-1.5), json!("-1.5 stops")]] {
        let both = ask(on.clone(), 35.0).await;
        assert_eq!(both, bare, "as if there were none");
        // Beams of different width may fill it differently.
        let wide = ask(on, 50.0).await;
        assert_eq!((&wide["compared_by"], &wide["setting"]), (&json!("guide_number"), &bare["setting"]));
        assert_eq!(
            (&wide["uncertainty"], codes(&wide)),
            (&bare["uncertainty"], vec!["same_modifier_on_beams".to_owned()])
        );
    }
    // Left out, it is that of the reference.
    let left_out = ask([softbox.clone(), Value::Null], 35.0).await;
    assert_eq!(
        (&left_out["setting"], codes(&left_out)),
        (&bare["setting"], vec!["modifier_of_reference".to_owned()])
    );
    // Another one does not cancel: the light in the coverage is compared, and what is known of kinds only is uncertain.
    let other = ask([softbox.clone(), json!({"kind": "grid"})], 35.0).await;
    assert_eq!(other["compared_by"], "light");
    assert!(other["uncertainty"]["causes"].to_string().contains("modifier"), "{other}");
    // By energy it cancels as well: what is left is the efficacy of both.
    let energies = |on: Value| {
        let mut body = swap(&dial(500.0), "7", &dial(500.0));
        body["reference"]["modifier_stops"] = on;
        server.ask(EQUIVALENCE, body)
    };
    let (with, without) = (energies(softbox).await, energies(Value::Null).await);
    assert_eq!(with["candidates"][0]["uncertainty"], without["candidates"][0]["uncertainty"]);
}

/// A swap with a pack of 2400 J for two heads.
fn with_pack(reference: &Value, setting: &str, candidate: &Value) -> Value {
    let mut body = swap(reference, setting, candidate);
    body["packs"] = json!([{"name": "p", "energy": 2400, "split": "even",
        "scale": {"style": "dial", "full": 9, "least": 2}}]);
    body
}

#[tokio::test]
async fn a_head_on_a_pack_is_swapped_for_a_monobloc_and_back() {
    let server = Server::start().await;
    let head = json!({"pack": "p"});
    // Common practice: two heads share a pack evenly. 2400 J a stop down are 1200 J, 600 J for each.
    let mut body = with_pack(&head, "8", &dial(1000.0));
    body["reference"]["heads"] = json!(2);
    let answer = server.ask(EQUIVALENCE, body.clone()).await;
    close(&answer["reference"]["energy_j"], 600.0, 1e-9);
    let matched = &answer["candidates"][0];
    close(&matched["matching_energy_j"], 600.0, 1e-6);
    // log2(1000/600) = 0.737.
    assert_eq!(matched["setting"]["label"], "9.3");
    close(&matched["error_stops"], 0.737 - 0.7, 1e-3);
    // Alone it has all of it.
    body["reference"].as_object_mut().expect("a reference").remove("heads");
    let answer = server.ask(EQUIVALENCE, body).await;
    close(&answer["reference"]["energy_j"], 1200.0, 1e-9);
    // And back: 600 J are two stops below 2400 J, one below the 1200 J of one of two heads.
    for (heads, label) in [(1, "7"), (2, "8")] {
        let mut body = with_pack(&dial(600.0), "10", &head);
        body["candidates"][0]["heads"] = json!(heads);
        let answer = server.ask(EQUIVALENCE, body).await;
        assert_eq!(answer["candidates"][0]["setting"]["label"], label);
        close(&answer["candidates"][0]["setting"]["energy_j"], 600.0, 1e-6);
        assert_eq!(answer["warnings"], json!([]));
    }
}

#[tokio::test]
async fn the_guide_number_of_a_head_is_that_at_the_full_energy_of_its_pack() {
    let server = Server::start().await;
    // ISO 1230: the square of the guide number is in proportion to the light, so half the energy is a stop.
    let head = json!({"pack": "p", "guide_number": {"value": 80, "unit": "m"}});
    let unit = json!({"guide_number": {"value": 40, "unit": "m"}});
    let mut body = with_pack(&unit, "full", &head);
    body["candidates"][0]["heads"] = json!(2);
    let mut zoomed = body.clone();
    let table = [[24, 80], [105, 140]].map(|[mm, value]| json!({"focal_length_mm": mm, "value": value}));
    zoomed["candidates"][0]["unit"]["guide_number"] = json!({"unit": "m", "by_zoom": table});
    zoomed["candidates"][0]["zoom_mm"] = json!(24);
    // The same if the guide number is read from a table.
    for body in [body, zoomed] {
        let answer = server.ask(EQUIVALENCE, body).await;
        let matched = &answer["candidates"][0];
        assert_eq!(
            (&matched["compared_by"], &matched["setting"]["label"]),
            (&json!("guide_number"), &json!("8"))
        );
        close(&matched["error_stops"], 0.0, 1e-4);
    }
}

#[tokio::test]
async fn a_weak_head_is_not_told_to_be_a_stronger_one() {
    let server = Server::start().await;
    let mut body = with_pack(&dial(2000.0), "10", &json!({"name": "head", "pack": "p"}));
    body["candidates"][0]["heads"] = json!(2);
    body["limits"] = json!({"max_pops": 4});
    let answer = server.ask(EQUIVALENCE, body.clone()).await;
    close(&answer["candidates"][0]["shortfall_stops"], (2000.0_f64 / 1200.0).log2(), 1e-3);
    let kinds = follow(&server, EQUIVALENCE, &body).await;
    assert!(!kinds.is_empty() && !kinds.iter().any(|kind| kind == "unit"), "{kinds:?}");
}

#[tokio::test]
async fn heads_go_with_a_pack_that_takes_them() {
    let server = Server::start().await;
    let mut body = with_pack(&dial(600.0), "10", &json!({"pack": "p"}));
    body["reference"]["heads"] = json!(1);
    body["candidates"][0]["heads"] = json!(3);
    let faults = server.refused(EQUIVALENCE, body).await;
    assert_eq!(pointers(&faults), ["/reference/unit/pack", "/candidates/0/heads"]);
    let mut body = with_pack(&dial(600.0), "10", &dial(600.0));
    let answer = server.ask(EQUIVALENCE, body.clone()).await;
    assert_eq!(answer["warnings"][0]["code"], "pack_unused");
    body["candidates"][0]["unit"] = json!({"pack": "q"});
    let faults = server.refused(EQUIVALENCE, body).await;
    assert_eq!(pointers(&faults), ["/candidates/0/unit/pack"]);
}

/// Defaults of docs/values.md (our judgement) by hand, as the root of the sum of squares; what both sides have in common
/// cancels (JCGM 100:2008, 5.1.2 and 5.2.2).
#[tokio::test]
async fn a_swap_is_as_sure_as_both_sides() {
    let server = Server::start().await;
    let unit = |name: &str, value: f64| {
        json!({"name": name, "guide_number": {"value": value, "unit": "m"},
            "scale": {"style": "dial", "full": 10, "least": 3, "click": "1/10"}})
    };
    let ask = async |body: Value| server.ask(EQUIVALENCE, body).await;
    let ends = |answer: &Value| {
        let found = &answer["candidates"][0]["uncertainty"];
        ["low_stops", "high_stops"].map(|end| number(&found[end]).abs())
    };
    let near = |found: [f64; 2], wanted: [f64; 2]| {
        let off = (found[0] - wanted[0]).abs().max((found[1] - wanted[1]).abs());
        assert!(off < 2e-4, "{found:?}, not {wanted:?}");
    };
    let both = |half_widths: &[f64]| [2.0_f64.sqrt() * square(half_widths); 2];
    // Other names: all is each unit's own.
    let other = ask(swap(&unit("a", 40.0), "8", &unit("b", 56.0))).await;
    near(ends(&other), both(&[0.5, 0.1, 0.06]));
    let usual = other["assumptions"].to_string();
    assert!(usual.contains("guide number of a unit") && !usual.contains("setting of a unit"), "{usual}");
    let causes = other["candidates"][0]["uncertainty"]["causes"].as_array().expect("causes");
    assert_eq!([&causes[0]["cause"], &causes[1]["cause"]], ["rating", "rating"]);
    // One name: the rating cancels, settings and repeatability do not.
    let like = ask(swap(&unit("a", 40.0), "8", &unit("a", 56.0))).await;
    near(ends(&like), both(&[0.1, 0.06]));
    assert!(like["assumptions"].to_string().contains("setting of a unit"), "{like}");
    // The same unit at the same setting.
    near(ends(&ask(swap(&unit("a", 40.0), "8", &unit("a", 40.0))).await), both(&[0.06]));
    // What is stated takes the place of the table.
    let mut measured = unit("b", 56.0);
    for (field, stated) in
        [("plus_minus_stops", 0.08), ("dial_plus_minus_stops", 0.05), ("repeat_plus_minus_stops", 0.02)]
    {
        measured[field] = json!(stated);
    }
    let one_side = square(&[0.5, 0.1, 0.06, 0.08, 0.05, 0.02]);
    near(ends(&ask(swap(&unit("a", 40.0), "8", &measured)).await), [one_side; 2]);
    // Two distances, each with its own; one distance cancels.
    let mut body = swap(&unit("a", 40.0), "8", &unit("a", 56.0));
    body["reference"]["distance"] = json!("2 m ±10 cm");
    near(ends(&ask(body.clone()).await), both(&[0.1, 0.06]));
    body["candidates"][0]["distance"] = json!("3 m");
    let stops = |from: f64, to: f64| 2.0 * (from / to).log2().abs();
    let own = both(&[0.1, 0.06])[0];
    let low = square(&[own, stops(3.0, 3.04), stops(2.0, 1.9)]);
    let high = square(&[own, stops(3.0, 2.96), stops(2.0, 2.1)]);
    near(ends(&ask(body).await), [low, high]);
    // A filter of one name cancels; others do not.
    let mut body = swap(&unit("a", 40.0), "8", &unit("a", 56.0));
    let silk = json!({"name": "silk", "stops": -1});
    body["reference"]["filters"] = json!([silk, "ND 0.3"]);
    body["candidates"][0]["filters"] =
        json!([{"name": "tough", "stops": -0.5, "plus_minus_stops": 0.2}, silk]);
    near(ends(&ask(body).await), [square(&[own, 0.1, 0.2]); 2]);
    // A number of stops as a modifier on one side, and the other kind of it on the other.
    let mut body = swap(&unit("a", 40.0), "8", &unit("a", 56.0));
    body["reference"]["modifier_stops"] = json!({"stops": -0.5, "plus_minus_stops": 0.3});
    body["candidates"][0]["modifier_stops"] = json!(-1);
    near(ends(&ask(body).await), [square(&[own, 0.3, 0.2]); 2]);
    // One of two heads on a pack gets half of it, to 0.1 stop.
    let head = json!({"name": "a", "pack": "p", "guide_number": {"value": 80, "unit": "m"}});
    for (heads, division) in [(1, 0.0), (2, 0.1)] {
        let mut body = with_pack(&unit("a", 40.0), "8", &head);
        body["candidates"][0]["heads"] = json!(heads);
        near(ends(&ask(body).await), [square(&[own, division]); 2]);
    }
}
