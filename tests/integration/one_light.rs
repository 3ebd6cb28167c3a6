//! `/v1/exposure/one-light`.

use serde_json::{Value, json};

use crate::{
    remedies::{follow_all, patched},
    support::{Dice, Server, close, number, pointers},
};

const ONE_LIGHT: &str = "/v1/exposure/one-light";

// GN = N·d at ISO 100, and with the square root of the ISO speed (ISO 1230).
#[tokio::test]
async fn the_one_that_is_left_out_is_found() {
    let server = Server::start().await;
    let aperture = server.get("/v1/exposure/one-light?guide_number=GN%2040&distance=5%20m").await.body;
    assert_eq!(aperture["solved_for"], "f_number");
    close(&aperture["f_number"]["value"], 8.0, 1e-9);
    assert_eq!(aperture["assumptions"][0]["code"], "full_power");
    let iso_400 = json!({"guide_number": "GN 40", "distance": "5 m", "iso": 400});
    close(&server.ask(ONE_LIGHT, iso_400).await["f_number"]["value"], 16.0, 1e-9);
    let distance = server.ask(ONE_LIGHT, json!({"guide_number": "GN 40", "f_number": "f/4"})).await;
    close(&distance["distance_m"], 10.0, 1e-6);
    let setting =
        server.ask(ONE_LIGHT, json!({"guide_number": "GN 40", "distance": 5, "f_number": "f/4"})).await;
    assert_eq!(setting["solved_for"], "setting");
    close(&setting["setting"]["stops_below_full"], 2.0, 1e-9);
    let all = json!({"guide_number": "GN 40", "distance": 5, "f_number": "f/4", "setting": "1/8"});
    let error = server.ask(ONE_LIGHT, all).await;
    assert_eq!((&error["solved_for"], &error["feasible"]), (&Value::Null, &json!(false)));
    close(&error["error_stops"], -1.0, 1e-9);
    close(&error["shortfall_stops"], 1.0, 1e-9);
}

// The inverse-square law (CIE e-ILV 17-25-104); a disc of radius R is at 1/(1 + (R/d)²) of it (Siegel & Howell).
#[tokio::test]
async fn a_metered_light_is_moved_and_set() {
    let server = Server::start().await;
    let metered = json!({"f_number": "f/8", "distance": "2 m", "setting": "1/4"});
    let point = server.ask(ONE_LIGHT, json!({"metered": metered, "distance": "1 m"})).await;
    close(&point["f_number"]["value"], 16.0, 1e-9);
    assert_eq!(point["setting"]["stops_below_full"], 2.0);
    let face = json!({"metered": metered, "distance": "1 m", "source": {"disc_m": 1}});
    let ratio: f64 = (4.0 + 0.25) / (1.0 + 0.25);
    close(&server.ask(ONE_LIGHT, face).await["f_number"]["value"], 8.0 * ratio.sqrt(), 1e-4);
    // Two stops nearer, at two stops less.
    let set = json!({"metered": metered, "distance": "1 m", "f_number": "f/8"});
    close(&server.ask(ONE_LIGHT, set).await["setting"]["stops_below_full"], 4.0, 1e-9);
    // Where it gives f/4: twice as far.
    let place = server.ask(ONE_LIGHT, json!({"metered": metered, "f_number": "f/4"})).await;
    assert_eq!(place["solved_for"], "distance");
    close(&place["distance_m"], 4.0, 1e-6);
    // Where it stands, at another aperture.
    let here = json!({"metered": {"f_number": "f/8", "setting": "1/1"}, "f_number": "f/5.6"});
    let here = server.ask(ONE_LIGHT, here).await;
    close(&here["setting"]["stops_below_full"], 1.0, 1e-9);
    assert_eq!(here["distance_m"], Value::Null);
    // Its setting need not be known to move it.
    let moved = json!({"metered": {"f_number": "f/8", "distance": "2 m"}, "distance": "1.5 m"});
    let moved = server.ask(ONE_LIGHT, moved).await;
    close(&moved["f_number"]["value"], 8.0 * 2.0 / 1.5, 1e-4);
    assert_eq!(moved["setting"], Value::Null);
}

#[tokio::test]
async fn what_is_missing_is_located() {
    let server = Server::start().await;
    for (body, expected) in [
        (json!({"distance": 2}), "/unit"),
        (json!({"guide_number": "GN 40"}), "/distance"),
        (json!({"guide_number": "GN 40", "unit": {"guide_number": "GN 40"}, "distance": 2}), "/guide_number"),
        (json!({"unit": {"energy": 500}, "distance": 2}), "/unit"),
        (json!({"unit": {"scale": {"style": "fraction", "least": "1/64"}}, "distance": 2}), "/unit"),
        (json!({"metered": {"f_number": 8}, "distance": 2}), "/metered/distance"),
        (
            json!({"metered": {"f_number": 8, "distance": 2}, "f_number": 11, "distance": 2}),
            "/metered/setting",
        ),
        (
            json!({"metered": {"f_number": 8, "distance": 2}, "distance": 1, "modifier_stops": -1}),
            "/modifier_stops",
        ),
        (json!({"guide_number": "GN 40", "distance": 2, "setting": "2/1"}), "/setting"),
    ] {
        assert_eq!(pointers(&server.refused(ONE_LIGHT, body.clone()).await), [expected], "{body}");
    }
}

/// A light that mostly does not reach, or is too strong.
fn one_light(dice: &mut Dice) -> Value {
    let scale = dice.pick(&[
        json!({"style": "fraction", "least": "1/64", "click": "1/3"}),
        json!({"style": "dial", "full": 9, "least": 3}),
    ]);
    let mut body = match dice.below(4) {
        0 => json!({"guide_number": format!("GN {}", dice.pick(&[12, 28, 58]))}),
        1 => {
            json!({"unit": {"name": "head", "guide_number": {"value": dice.pick(&[12, 28, 58]), "unit": "m"}, "scale": scale}})
        }
        2 => json!({"unit": {"energy": dice.pick(&[60, 300]), "coverage": {"cone_deg": 60}, "scale": scale}}),
        _ => {
            json!({"metered": {"f_number": dice.pick(&["f/4", "f/11"]), "distance": "2 m", "setting": "-2 stops"}, "unit": {"scale": scale}})
        }
    };
    body["distance"] = json!(dice.pick(&["0.8 m", "2.5 m", "6 m"]));
    body["f_number"] = json!(dice.pick(&["f/2", "f/8", "f/16", "f/22"]));
    if dice.one_in(3) {
        body["setting"] = json!(dice.pick(&["-1 stops", "-3 stops"]));
    }
    if dice.one_in(3) {
        body["source"] = json!({"disc_m": 0.9});
    }
    if dice.one_in(4) {
        body["limits"]["max_pops"] = json!(4);
    }
    if dice.one_in(4) {
        body["units"] = json!("imperial");
    }
    if dice.one_in(5) {
        body["reading"] = json!("literal");
    }
    body
}

#[tokio::test]
async fn every_remedy_of_one_light_does_what_it_says() {
    let expected = [
        ("distance", 50),
        ("aperture", 50),
        ("iso", 50),
        ("filter", 20),
        ("setting", 20),
        ("pops", 3),
        ("unit", 20),
    ];
    follow_all(ONE_LIGHT, one_light, 8, 400, &expected).await;
}

#[tokio::test]
async fn a_remedy_of_a_query_is_a_query_again() {
    let server = Server::start().await;
    let names = [("guide_number", "GN 30"), ("distance", "4 m"), ("f_number", "f/11")];
    let ask = async |parameters: &[(String, String)]| {
        let query = form_urlencoded::Serializer::new(String::new()).extend_pairs(parameters).finish();
        server.get(&format!("{ONE_LIGHT}?{query}")).await.body
    };
    let asked: Vec<(String, String)> = names.map(|(name, value)| (name.to_owned(), value.to_owned())).into();
    let answer = ask(&asked).await;
    let remedies = answer["remedies"].as_array().expect("remedies");
    assert!(remedies.len() >= 3, "{answer}");
    for remedy in remedies {
        let mut parameters = asked.clone();
        for operation in remedy["patch"].as_array().expect("operations") {
            let name = operation["path"].as_str().expect("a path")[1..].replacen('/', "[", 1);
            let name = if name.contains('[') { format!("{}]", name.replace('/', "][")) } else { name };
            let value = operation["value"].as_str().unwrap_or_else(|| panic!("no text: {operation}"));
            parameters.retain(|(known, _)| *known != name);
            parameters.push((name, value.to_owned()));
        }
        let then = ask(&parameters).await;
        assert_eq!(then["feasible"], true, "{remedy}: {then}");
        close(&then["error_stops"], number(&remedy["then"]["error_stops"]), 1e-3);
    }
}

// Each mark has its own error; GN = N·d (ISO 1230).
#[tokio::test]
async fn what_is_set_and_sent_back_is_off_by_what_was_told() {
    let server = Server::start().await;
    let lens = json!({"mark_corrections": [{"f_number": "f/8", "stops": 0.2}]});
    let found =
        server.ask(ONE_LIGHT, json!({"guide_number": "GN 40", "distance": 5, "lens": lens})).await["f_number"]
            .clone();
    // By hand: f/8 is exact but for its own 0.2; f/9 and f/7.1 are a third off.
    assert_eq!((&found["value"], &found["mark"]), (&json!(8.0), &json!("f/8")));
    close(&found["off_by_stops"], 0.2, 1e-9);
    let back = json!({"guide_number": "GN 40", "distance": 5, "setting": "1/1", "f_number": found["mark"], "lens": lens});
    close(&server.ask(ONE_LIGHT, back).await["error_stops"], 0.2, 1e-9);
}

#[tokio::test]
async fn a_patch_writes_what_requests_take() {
    let server = Server::start().await;
    // By hand: f/450 wants log2((512/450)²) or 0.37 stop more; at ISO 160 the meter would read f/567, which is out of range.
    let metered = json!({"f_number": 450, "distance": 2, "setting": "1/1"});
    let body = json!({"metered": metered, "distance": 2, "f_number": 512});
    let answer = server.ask(ONE_LIGHT, body.clone()).await;
    let remedies = answer["remedies"].as_array().expect("remedies");
    assert!(!remedies.is_empty(), "{answer}");
    for remedy in remedies {
        assert_eq!(
            server.ask(ONE_LIGHT, patched(&body, &remedy["patch"])).await["feasible"],
            true,
            "{remedy}"
        );
    }
}

#[tokio::test]
async fn what_no_lens_can_do_is_said() {
    let server = Server::start().await;
    // By hand: 0.1 m/10 m.
    let answer = server.ask(ONE_LIGHT, json!({"guide_number": "GN 0.1", "distance": "10 m"})).await;
    let warning = &answer["warnings"][0];
    assert_eq!(warning["code"], "beyond_range");
    assert_eq!(
        warning["params"],
        json!({"what": "f-number", "value": 0.01, "least": 0.5, "greatest": 512.0})
    );
    let summary = answer["summary"].as_str().expect("text");
    assert!(summary.contains("found is 0.01, outside the range of 0.5 to 512"), "{summary}");
}

#[tokio::test]
async fn an_aperture_is_named_as_it_was_asked_for() {
    let server = Server::start().await;
    for (f_number, named) in
        [("f/20", "for f/20"), ("f/8 +0.3", "for f/8 +0.3"), ("f/8.5", "for f/8.5"), ("f/9.5", "for f/9.5")]
    {
        let body = json!({"guide_number": "GN 80", "distance": 2, "f_number": f_number});
        let summary = server.ask(ONE_LIGHT, body).await["summary"].clone();
        assert!(summary.as_str().is_some_and(|text| text.contains(named)), "{summary}");
    }
    let half = json!({"guide_number": "GN 40", "distance": 5, "f_number": "f/8", "setting": "-0.5 stops"});
    let summary = server.ask(ONE_LIGHT, half).await["summary"].clone();
    assert!(summary.as_str().is_some_and(|text| text.contains("0.5 stop below full at 5 m")), "{summary}");
}
