//! The sentences of a kit check: its summary, needs and doubts.

use serde_json::{Value, json};

use super::{CHECK, fed, head, shot};
use crate::{
    remedies::{by, follow, patched},
    support::{Server, close, number},
};

#[tokio::test]
async fn the_summary_names_the_worst_and_counts_the_others() {
    let server = Server::start().await;
    let summary = async |lights: Value| {
        let kit = json!([{"unit": head("small", 40.0, 250.0), "count": 2}]);
        let answer = server.ask(CHECK, json!({"kit": kit, "shots": [shot("hall", &lights)]})).await;
        answer["summary"].as_str().expect("text").to_owned()
    };
    // GN 40 (ISO 1230): f/4 at 10 m, two stops short of f/8; f/2 at 20 m, four.
    let weak =
        json!([{"role": "near", "stops": 0, "distance": 10}, {"role": "far", "stops": 0, "distance": 20}]);
    let text = summary(weak).await;
    assert!(text.contains("\"far\" light is 4.0 stops short. And one more light is short."), "{text}");
    // A scale of seven stops: f/40 at 1 m is f/3.5 at the least setting.
    let strong = json!([{"role": "key", "f_number": "f/2", "distance": 1}, {"role": "fill", "f_number": "f/1", "distance": 1}]);
    let text = summary(strong).await;
    assert!(
        text.contains(
            "\"fill\" light is 3.6 stops too strong at its least setting. And one more light is too strong."
        ),
        "{text}"
    );
    let many = json!([{"role": "a", "stops": 0, "distance": 5}, {"role": "b", "stops": 0, "distance": 5},
        {"role": "c", "stops": 0, "distance": 5}, {"role": "d", "stops": 0, "distance": 5}]);
    let text = summary(many).await;
    assert!(text.contains("no unit is left for \"c\". And one more light has none."), "{text}");
}

#[tokio::test]
async fn the_summary_names_the_worst_of_each_kind() {
    let server = Server::start().await;
    let ask = async |shots: Value| {
        let kit = json!([{"unit": head("a", 40.0, 250.0)}, {"unit": head("b", 40.0, 250.0)}]);
        server.ask(CHECK, json!({"kit": kit, "shots": shots})).await
    };
    // f/40 at 1 m (ISO 1230) is 8 2/3 stops over f/2; the scale covers seven of them.
    let role = |role: &str, f_number: &str| json!({"role": role, "f_number": f_number, "distance": 1});
    let mixed = json!([role("key", "f/2"), role("fill", "f/64"), role("rim", "f/8"), role("hair", "f/11")]);
    let answer = ask(json!([shot("macro", &mixed)])).await;
    let summary = answer["summary"].as_str().expect("text");
    let lights = answer["shots"][0]["lights"].as_array().expect("lights");
    let without = lights.iter().filter(|light| light["unit"].is_null()).count();
    assert_eq!(without, 2, "{answer}");
    assert!(summary.contains("no unit is left for \"fill\". And one more light has none."), "{summary}");
    let strong = json!([role("key", "f/2"), role("fill", "f/1"), role("rim", "f/1")]);
    let answer = ask(json!([shot("macro", &strong)])).await;
    let summary = answer["summary"].as_str().expect("text");
    assert!(
        summary.contains("no unit is left for ")
            && summary.contains(" stops too strong at its least setting. And one more light is too strong."),
        "{summary}"
    );
    assert_eq!(answer["shots"][0]["remedies"], json!([]));
    assert!(summary.ends_with("No single change that would do it was found within the limits."), "{summary}");
    let answer = ask(json!([shot("macro", &strong), shot("hall", &json!([role("key", "f/8")]))])).await;
    let summary = answer["summary"].as_str().expect("text");
    assert!(
        summary.ends_with("For \"macro\" no single change that would do it was found within the limits."),
        "{summary}"
    );
    let answer =
        ask(json!([shot("one", &json!([role("key", "f/64")])), shot("two", &json!([role("key", "f/1")]))]))
            .await;
    let summary = answer["summary"].as_str().expect("text");
    assert!(
        summary.contains("In \"one\" the \"key\" light is 1.4 stops short.")
            && summary.contains("In \"two\" the \"key\" light is 3.6 stops too strong"),
        "{summary}"
    );
    let fine = shot("one", &json!([role("key", "f/8")]));
    let answer = ask(json!([fine, fine])).await;
    assert!(
        answer["summary"].as_str().is_some_and(|summary| summary.starts_with("Both shots can be done")),
        "{answer}"
    );
}

#[tokio::test]
async fn needs_are_rounded_up_alike_everywhere() {
    let server = Server::start().await;
    let role = |role: &str, distance: f64| json!({"role": role, "stops": 0, "distance": distance});
    let mut hall = shot("hall", &json!([role("left", 16.0), role("right", 9.05)]));
    hall["exposure"]["f_number"] = json!("f/11");
    let body = |kit: Value| json!({"kit": kit, "shots": [hall]});
    let small = json!({"unit": {"name": "small", "guide_number": {"value": 36, "unit": "m"}}});
    let answer = server.ask(CHECK, body(json!([small]))).await;
    // By hand: f/11 is 8·√2; 16 m needs GN 181.02 m, 593.9 ft; 9.05 m needs 102.4 m, 335.9 ft.
    let guides: Vec<[f64; 2]> = answer["missing"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|lack| {
            ["guide_number_m", "guide_number_ft"].map(|field| lack[field].as_f64().expect("a number"))
        })
        .collect();
    assert_eq!(guides, [[181.019, 593.895], [102.389, 335.922]]);
    // A remedy rounds them up to two digits: in its changes, its sentence and its patch alike.
    let remedies = answer["shots"][0]["remedies"].as_array().expect("remedies");
    let borrow = remedies.last().expect("a remedy");
    let changes = borrow["changes"].as_array().expect("changes").iter();
    let needs: Vec<&Value> = changes.map(|change| &change["to"]).collect();
    let expected = [(190.0, 623.36), (110.0, 360.892)];
    let expected = expected.map(|(metres, feet)| json!({"guide_number_m": metres, "guide_number_ft": feet}));
    assert_eq!(json!(needs), json!(expected));
    let text = borrow["text"].as_str().expect("a text");
    assert!(text.contains("190 m (624 ft)") && text.contains("110 m (361 ft)"), "{text}");
    let lent = patched(&body(json!([small])), &borrow["patch"])["kit"].as_array().expect("a kit").clone();
    let guides: Vec<f64> = lent.iter().map(|unit| number(&unit["unit"]["guide_number"]["value"])).collect();
    assert_eq!(guides, [36.0, 190.0, 110.0]);
    follow(&server, CHECK, &body(json!([small]))).await;
    // So do the needs rounded up to whole metres.
    let kit =
        [182, 103].iter().map(|metres| json!({"unit": {"guide_number": {"value": metres, "unit": "m"}}}));
    assert_eq!(server.ask(CHECK, body(kit.collect())).await["feasible"], true);
    // By hand: 1200 J have GN 90 m; 9 m at f/16·√2 needs 203.6 m, 6144 J to the last digit.
    let mut wide = shot("wide", &json!([role("key", 9.0)]));
    wide["exposure"]["f_number"] = json!("f/22");
    let body = json!({"kit": [{"unit": head("a", 90.0, 1200.0)}], "shots": [wide]});
    let answer = server.ask(CHECK, body.clone()).await;
    assert_eq!(answer["missing"][0]["energy_j"], json!(6144.0));
    assert!(
        answer["summary"]
            .as_str()
            .is_some_and(|text| text.contains("a unit like its own of 6144 J would do")),
        "{answer}"
    );
    let borrow = by(&answer["shots"][0], "unit");
    assert_eq!(borrow["changes"][0]["to"], json!({"energy_j": 6200.0}));
    assert!(borrow["text"].as_str().is_some_and(|text| text.contains("at least 6200 J")), "{borrow}");
    let lent = patched(&body, &borrow["patch"])["kit"][1]["unit"].clone();
    close(&lent["energy"], 6200.0, 1e-9);
    // By hand: 90·√(6200/1200).
    close(&lent["guide_number"]["value"], 204.573, 1e-3);
    follow(&server, CHECK, &body).await;
}

#[tokio::test]
async fn warnings_of_several_shots_are_merged_with_the_worst_first() {
    let server = Server::start().await;
    let slow = fed(head("slow", 60.0, 400.0), 4.0, 50);
    let lights = json!([{"role": "fill", "f_number": "f/10", "distance": 3}, {"role": "key", "f_number": "f/20", "distance": 3}]);
    let shots = |slow_ones: usize, of: usize| -> Vec<Value> {
        let one = |index: usize| {
            let mut shot = shot(&format!("s{index}"), &lights);
            shot["frames"] = json!(200);
            shot["interval_s"] = json!(if index < slow_ones { 1.5 } else { 10.0 });
            shot
        };
        (0..of).map(one).collect()
    };
    let ask = async |shots: Vec<Value>| {
        server.ask(CHECK, json!({"kit": [{"unit": slow, "count": 2}], "shots": shots})).await
    };
    let texts = |answer: &Value| -> Vec<String> {
        let warnings = answer["warnings"].as_array().expect("warnings");
        warnings.iter().map(|warning| warning["text"].as_str().expect("a text").to_owned()).collect()
    };
    // f/20 at 3 m is full power: four charges a shot. f/10 takes a quarter of that, and recycles in a quarter of the
    // time.
    let answer = ask(shots(5, 5)).await;
    let sentences = texts(&answer);
    let [recycles, charges, fewer] = sentences.as_slice() else { panic!("{sentences:?}") };
    assert!(
        recycles.contains("recycles in 4 s,") && recycles.ends_with("Shots: s0, s1, s2, s3, s4."),
        "{sentences:?}"
    );
    assert!(charges.contains("needs 20 charges") && fewer.contains("needs 5 charges"), "{sentences:?}");
    let summary = answer["summary"].as_str().expect("text");
    assert!(summary.ends_with(&format!("Mind: {recycles} {charges}")), "{summary}");
    for (slow, of, ends) in [
        (1, 2, "Shots: s0."),
        (2, 5, "Shots: s0, s1."),
        (9, 9, "Shots: s0, s1, s2, s3, s4, s5, s6, s7 and 1 more."),
    ] {
        let sentences = texts(&ask(shots(slow, of)).await);
        assert!(sentences[0].ends_with(ends) && !sentences[1].contains("recycles"), "{ends}: {sentences:?}");
    }
}

#[tokio::test]
async fn a_summary_names_lights_that_may_be_short() {
    let server = Server::start().await;
    let summary = async |spare: f64, exact: f64| {
        // f/8 at 5 m is GN 40 m (ISO 1230). The softbox takes about a stop and a half.
        let soft = json!({"role": "key", "stops": 0, "distance": 5, "modifier_stops": {"kind": "softbox_two_diffusers"}});
        let hard = json!({"role": "rim", "stops": 0, "distance": 5});
        let unit =
            |over: f64| json!({"unit": {"guide_number": {"value": 40.0 * (over / 2.0).exp2(), "unit": "m"}}});
        let body = json!({"kit": [unit(spare), unit(exact)], "shots": [shot("s", &json!([soft, hard]))]});
        let answer = server.ask(CHECK, body).await;
        (answer["summary"].as_str().expect("text").to_owned(), answer["shots"][0]["lights"].clone())
    };
    let (text, lights) = summary(2.5, 0.1).await;
    let low = number(&lights[0]["headroom_stops"]) + number(&lights[0]["uncertainty"]["low_stops"]);
    assert!(low < 0.0, "{lights}");
    let lack = format!("{:.1}", -low);
    let unit = if lack.parse::<f64>().expect("a number") > 1.0 { "stops" } else { "stop" };
    let expected = format!("has 0.1 stop to spare. \"key\" in \"s\" may be {lack} {unit} short.");
    assert!(text.ends_with(&expected), "{text}, not {expected}");
    let (text, _) = summary(2.5, 2.5).await;
    assert!(text.ends_with(&format!("to spare, and may be {lack} {unit} short.")), "{text}");
    // The hard light is no surer than its guide number, with the meter: 0.1 - 0.55.
    let (text, _) = summary(6.0, 0.1).await;
    assert!(text.ends_with("has 0.1 stop to spare, and may be 0.5 stop short."), "{text}");
    let (text, _) = summary(6.0, 1.0).await;
    assert!(text.ends_with("has 1.0 stop to spare."), "{text}");
}

#[tokio::test]
async fn amounts_that_round_to_zero_are_not_reported() {
    let server = Server::start().await;
    let ask = async |unit: Value, light: Value, pops: u32| {
        let mut shot = shot("s", &json!([light]));
        shot["frames"] = json!(pops);
        shot["interval_s"] = json!(1);
        let answer = server.ask(CHECK, json!({"kit": [{"unit": unit}], "shots": [shot]})).await;
        answer["summary"].as_str().expect("text").to_owned()
    };
    let kind = json!({"kind": "softbox_one_diffuser"});
    let placed =
        |distance: f64| json!({"role": "key", "stops": 0, "distance": distance, "modifier_stops": kind});
    let plain = || json!({"guide_number": {"value": 40, "unit": "m"}, "scale": {"style": "dial", "full": 9, "least": 2}});
    for distance in [2.1, 2.2, 2.26, 2.3, 2.4, 2.8, 3.0] {
        let text = ask(plain(), placed(distance), 2).await;
        assert!(!text.contains("0.0 stop"), "{distance}: {text}");
    }
    // By hand: GN 40 at 3.13 m with 1.5 stops less lacks 0.15 stop; the kind is 0.8, all else 0.55, together 0.97.
    let text = ask(plain(), placed(3.13), 2).await;
    assert!(text.contains("may be 1.1 stops short"), "{text}");
    // Full power at 5 m; 1.04 s is more than 1 s, and 102 flashes more than a charge of 100.
    let text =
        ask(fed(plain(), 1.04, 100), json!({"role": "key", "f_number": "f/8", "distance": 5}), 102).await;
    assert!(text.contains("recycles in 1.04 s") && text.contains("needs 1.1 charges"), "{text}");
}
