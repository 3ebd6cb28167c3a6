//! `/v1/units/calibrate`, and how other endpoints use corrections.

use serde_json::{Value, json};

use crate::support::{Server, close, number, pointers};

const CALIBRATE: &str = "/v1/units/calibrate";

#[tokio::test]
async fn headroom_counts_the_correction_at_full_power() {
    let server = Server::start().await;
    let ask = async |correction: f64, distance: f64| {
        let unit = json!({"guide_number": {"value": 32, "unit": "m"},
            "scale": {"style": "fraction", "least": "1/64", "click": "1/10"},
            "corrections": [{"setting": "1/1", "stops": correction}, {"setting": "1/2", "stops": 0}]});
        let lights = json!([{"role": "key", "stops": 0, "distance": distance}]);
        let body = json!({"kit": [{"unit": unit}], "shots": [{"name": "s", "exposure": {"f_number": "f/16"}, "lights": lights}]});
        server.ask("/v1/kit/check", body).await["shots"][0]["lights"][0].clone()
    };
    // By hand, GN = N·d (ISO 1230): 32/1.6 is f/20, 0.6439 stop over f/16; the unit lacks half a stop of it.
    let light = ask(-0.5, 1.6).await;
    close(&light["headroom_stops"], 2.0 * (20.0_f64 / 16.0).log2() - 0.5, 1e-4);
    // 32/1.8 is f/17.8, 0.304 over, less half a stop: 0.196 short.
    let light = ask(-0.5, 1.8).await;
    close(&light["shortfall_stops"], 0.5 - 2.0 * (32.0_f64 / 1.8 / 16.0).log2(), 1e-4);
    // Light beyond its rating adds to the headroom.
    let light = ask(0.8, 2.3).await;
    close(&light["headroom_stops"], 2.0 * (32.0_f64 / 2.3 / 16.0).log2() + 0.8, 1e-4);
}

#[tokio::test]
async fn a_unit_calibrated_at_every_setting_is_accepted_unchanged() {
    let server = Server::start().await;
    let unit = json!({"guide_number": {"value": 60, "unit": "m"}, "scale": {"style": "dial", "full": 9, "least": 2},
        // Its time above a tenth of the peak follows, and is longer than any that a request takes.
        "duration_by_setting": [{"setting": "9", "t0_5_s": 1}]});
    let readings: Vec<Value> = (0..=70)
        .map(|tenth| {
            let below = f64::from(tenth) / 10.0;
            json!({"setting": format!("{:.1}", 9.0 - below), "f_number": 30.0 * (-0.48 * below).exp2()})
        })
        .collect();
    let answer = server.ask(CALIBRATE, json!({"unit": unit, "distance": 2, "readings": readings})).await;
    let corrections = answer["unit"]["corrections"].as_array().expect("corrections");
    assert_eq!(corrections.len(), 71);
    let body = json!({"exposure": {"f_number": "f/8"}, "lights": [{"name": "a", "unit": answer["unit"]}],
        "placements": [{"light": "a", "point": "p", "distance": 2}]});
    server.ask("/v1/exposure/predict", body).await;
}

#[tokio::test]
async fn one_fault_does_not_hide_the_settings() {
    let server = Server::start().await;
    let faults = server
        .refused(
            CALIBRATE,
            json!({
                "unit": {"guide_number": {"value": 36, "unit": "m"}, "scale": {"style": "fraction", "least": "1/64"}},
                "distance": "x",
                "readings": [
                    {"setting": "1/128", "f_number": "f/16"},
                    {"setting": "half", "f_number": "f/0"},
                    {"setting": "1/4", "f_number": "f/8"}
                ]
            }),
        )
        .await;
    assert_eq!(
        pointers(&faults),
        ["/distance", "/readings/0/setting", "/readings/1/setting", "/readings/1/f_number"]
    );
    // An unknown name does not hide a missing field either.
    let faults = server.refused("/v1/stops/convert", json!({"stpe": 1})).await;
    assert_eq!(pointers(&faults), ["/stpe", "/from", "/to"]);
}

#[tokio::test]
async fn one_or_two_readings_are_known_to_tenths_of_a_stop() {
    let server = Server::start().await;
    let unit = json!({"guide_number": {"value": 32, "unit": "m"}});
    let ask = async |readings: Value| {
        server.ask(CALIBRATE, json!({"unit": unit, "distance": 2, "readings": readings})).await
    };
    let half = |range: &Value| (number(&range["high"]) - number(&range["low"])) / 2.0;
    let one = json!({"setting": "full", "f_number": "f/16 +0.1"});
    let answer = ask(json!([one])).await;
    // From the assumed repeatability and half a tenth. One setting gives no slope.
    let before = 4.303 * 0.06 / 1.96 / 1.201_12;
    close(&json!(half(&answer["offset_stops_range"])), f64::hypot(before, 0.0475), 2e-3);
    assert!(answer["guide_number_m_range"].is_object() && answer["tracking_range"].is_null());
    let names: Vec<&Value> = answer["assumptions"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|assumption| &assumption["code"])
        .collect();
    // The last three are a reading, the meter against the camera, and the dial, of which one setting tells nothing.
    let usual = "usual_plus_minus_stops";
    assert_eq!(names, ["repeat_plus_minus_stops", "meter_digit_stops", usual, usual, usual]);
    // Two settings always lie on a line, so the interval is that of each reading.
    let answer = ask(json!([one, {"setting": "-4 stops", "f_number": "f/4 +0.1"}])).await;
    assert!(half(&answer["offset_stops_range"]) < 0.15 && half(&answer["tracking_range"]) < 0.06, "{answer}");
    // Two readings at one setting, which agree, then contradict each other: either may be right.
    let answer = ask(json!([one, {"setting": "full", "f_number": "f/16 +0.2"}])).await;
    assert!(half(&answer["offset_stops_range"]) < 0.15, "{answer}");
    let answer = ask(json!([one, {"setting": "full", "f_number": "f/22 +0.1"}])).await;
    let [low, high] = ["low", "high"].map(|end| number(&answer["offset_stops_range"][end]));
    assert!(low < 0.1 && 1.1 < high && high - low < 2.0, "{answer}");
    assert!(answer["warnings"].to_string().contains("readings_disagree"), "{answer}");
}

#[tokio::test]
async fn three_readings_that_agree_within_a_tenth_are_known_to_a_fifth() {
    let server = Server::start().await;
    let unit = json!({"guide_number": {"value": 32, "unit": "m"}});
    let readings = json!([{"setting": "full", "f_number": "f/16"}, {"setting": "-2 stops", "f_number": "f/8 +0.1"},
        {"setting": "-4 stops", "f_number": "f/4"}]);
    let answer = server.ask(CALIBRATE, json!({"unit": unit, "distance": 2, "readings": readings})).await;
    // It once was -2.1 to +0.6.
    let [low, high] = ["low", "high"].map(|end| number(&answer["offset_stops_range"][end]));
    assert!(low > -0.2 && low < 0.0 && high > 0.0 && high < 0.2, "{answer}");
}

#[tokio::test]
async fn intervals_combine_prior_and_readings() {
    let server = Server::start().await;
    // By the formulae of src/light/measure/calibrate/interval.rs. At 2 m a unit of guide number 32 m gives f/16.
    // Quantiles of t: published.
    let ask = async |readings: Vec<Value>, stated: Option<f64>| {
        let unit = json!({"guide_number": {"value": 32, "unit": "m"}, "repeat_plus_minus_stops": stated});
        let body = json!({"unit": unit, "distance": 2, "reading": "literal", "readings": readings});
        server.ask(CALIBRATE, body).await
    };
    let read =
        |below: u32, f_number: Value| json!({"setting": format!("-{below} stops"), "f_number": f_number});
    let holds = |range: &Value, value: f64, half: f64| {
        close(&range["low"], value - half, 5e-4);
        close(&range["high"], value + half, 5e-4);
    };
    let before: f64 = 0.06 / 1.96 / 1.201_12;

    // Three readings at full power: a sum of squares of 0.02, and 95 % of half a tenth.
    let three = || ["f/16", "f/16 +0.1", "f/16 +0.2"].map(|mark| read(0, json!(mark))).to_vec();
    let answer = ask(three(), None).await;
    let half = f64::hypot(2.776 * ((2.0 * before.powi(2) + 0.02) / 4.0 / 3.0).sqrt(), 0.0475);
    holds(&answer["offset_stops_range"], 0.1, half);
    for (end, half) in [("low", -half), ("high", half)] {
        let metres = 32.0 * f64::midpoint(0.1, half).exp2();
        close(&answer["guide_number_m_range"][end], metres, 0.02);
        close(&answer["guide_number_ft_range"][end], metres / 0.3048, 0.06);
    }
    // A stated repeatability counts as ten readings: t of twelve degrees of freedom, and the scale of a t of ten. The
    // unit in the answer keeps it.
    let answer = ask(three(), Some(0.3)).await;
    let half = f64::hypot(2.179 * ((10.0 * (0.3_f64 / 2.228).powi(2) + 0.02) / 12.0 / 3.0).sqrt(), 0.0475);
    holds(&answer["offset_stops_range"], 0.1, half);
    close(&answer["unit"]["repeat_plus_minus_stops"], 0.3, 1e-9);

    // Settings deviate by +0.1, -0.1, -0.1 and +0.1, which repeated readings do not show: s² = 4·0.1²/2, df = 2, and
    // Σ(x - x̄)² = 5 over four settings.
    let mut readings = Vec::new();
    for (below, strays) in [(0_u32, 0.1), (1, -0.1), (2, -0.1), (3, 0.1)] {
        let light: f64 = 0.042 + strays - f64::from(below);
        readings.extend((0..3).map(|_| read(below, json!(16.0 * (light / 2.0).exp2()))));
    }
    let answer = ask(readings, None).await;
    holds(&answer["tracking_range"], 1.0, 4.303 * 0.02_f64.sqrt() / 5_f64.sqrt());
}

#[tokio::test]
async fn a_reading_that_is_too_bright_is_reported() {
    let server = Server::start().await;
    let unit = json!({"guide_number": {"value": 32, "unit": "m"}, "scale": {"style": "dial", "full": 9, "least": 2}});
    let mut readings = Vec::new();
    for below in 0..4_u32 {
        readings.extend(
            (0..3)
                .map(|_| json!({"setting": 9 - below, "f_number": 16.0 * (-f64::from(below) / 2.0).exp2()})),
        );
    }
    readings[4]["f_number"] = json!(16.0);
    readings[7]["f_number"] = json!(1.0);
    readings[10]["f_number"] = json!(64.0);
    let body = json!({"unit": unit, "distance": 2, "readings": readings, "reading": "literal"});
    let answer = server.ask(CALIBRATE, body.clone()).await;
    let indices = |list: &str| -> Vec<u64> {
        let all = answer[list].as_array().expect("a list").iter();
        all.map(|outlier| outlier["index"].as_u64().expect("an index")).collect()
    };
    assert_eq!((indices("too_bright"), indices("misfires")), (vec![4, 10], vec![7]));
    close(&answer["too_bright"][0]["off_by_stops"], 1.0, 1e-4);
    assert!(number(&answer["misfires"][0]["off_by_stops"]) < 0.0);
    let warned = answer["warnings"].to_string();
    assert!(warned.contains("\"misfires\"") && warned.contains("\"too_bright\""), "{warned}");
    close(&answer["offset_stops"], 0.0, 1e-4);
    // The picture shows the side of each outlier. Far outliers have a strip of their own.
    let request =
        server.request(reqwest::Method::POST, CALIBRATE).header("accept", "image/svg+xml").json(&body);
    let picture = server.send(request).await.body;
    let drawn = picture.as_str().expect("a picture");
    for expected in [
        "reading 5 (/readings/4), 1 stop above the rest",
        "reading 8 (/readings/7), 6 stops below the rest",
        "reading 11 (/readings/10), 7 stops above the rest",
        "Readings that are too bright, counted from 1",
    ] {
        assert!(drawn.contains(expected), "{expected}: {drawn}");
    }
}

#[tokio::test]
async fn a_gap_in_a_bracket_is_a_guess() {
    let server = Server::start().await;
    let ask = async |stops: [f64; 4]| {
        let frames: Vec<Value> = stops
            .iter()
            .zip([30, 80, 150, 220])
            .map(|(stops, level)| json!({"stops": stops, "level": level}))
            .collect();
        let answer = server.ask("/v1/patches/response", json!({"frames": frames})).await;
        answer["warnings"]
            .as_array()
            .expect("warnings")
            .iter()
            .any(|warning| warning["code"] == "wide_gap_between_frames")
    };
    assert!(!ask([0.0, 2.0, 4.0, 6.0]).await);
    assert!(ask([0.0, 1.0, 2.0, 5.0]).await);
    let frames = json!([{"stops": 0, "level": 20}, {"stops": 3, "level": 110}, {"stops": 6, "level": 230}]);
    let answer = server.ask("/v1/patches/response", json!({"frames": frames})).await;
    let gaps = [0, 1].map(|gap| answer["warnings"][gap]["params"].clone());
    assert_eq!(
        gaps,
        [json!({"from_level": 20.0, "to_level": 110.0}), json!({"from_level": 110.0, "to_level": 230.0})]
    );
}

#[tokio::test]
async fn a_patch_between_far_frames_has_a_wide_range_and_a_warning() {
    let server = Server::start().await;
    // A logistic tone curve, in levels to the hundredth.
    let level = |stops: f64| (25_500.0 / (1.0 + (-0.9 * stops).exp())).round() / 100.0;
    let ask = async |apart: f64, from: f64, to: f64| {
        let frames: Vec<Value> = [-2.0, -1.0, 0.0, 1.0, 2.0]
            .iter()
            .map(|frame| json!({"stops": frame * apart, "level": level(frame * apart)}))
            .collect();
        let fitted = server.ask("/v1/patches/response", json!({"frames": frames})).await;
        let body = json!({"reference": level(from), "readings": [{"name": "a", "level": level(to)}], "response": fitted["response"]});
        let answer = server.ask("/v1/patches/compare", body).await;
        let [low, high] = ["low", "high"].map(|end| number(&answer["readings"][0]["stops_range"][end]));
        let warnings = answer["warnings"].as_array().expect("a list").iter();
        let codes: Vec<String> =
            warnings.map(|warnings| warnings["code"].as_str().expect("a code").to_owned()).collect();
        assert!(low <= to - from && to - from <= high, "{apart} {from} {to}: {answer}");
        (high - low, codes)
    };
    let (far, warned) = ask(2.0, -3.0, 0.0).await;
    assert_eq!(warned, ["wide_gap_in_response"]);
    let (near, warned) = ask(0.5, -0.8, 0.7).await;
    assert!(warned.is_empty() && near < 0.25 && near < far, "{near} {far} {warned:?}");
    // Beyond the frames the range grows with the distance.
    let (beyond, warned) = ask(0.5, 0.0, 1.4).await;
    let (farther, _) = ask(0.5, 0.0, 2.2).await;
    assert_eq!(warned, ["beyond_response"]);
    assert!(near < beyond && beyond < farther, "{near} {beyond} {farther}");
}

#[tokio::test]
async fn corrections_count_everywhere() {
    let server = Server::start().await;
    let unit = json!({"name": "head", "energy": 400, "guide_number": {"value": 48, "unit": "m"},
        "scale": {"style": "fraction", "least": "1/64", "click": "1/3"}});
    // By hand: at 2.4 m, GN 48 should read f/20. The unit gives half a stop too much at full power, and tracks three
    // quarters of a stop for a stop.
    let readings: Vec<Value> = (0..5)
        .map(|below| {
            let stops = 2.0 * 20_f64.log2() + 0.5 - 0.75 * f64::from(below);
            json!({"setting": format!("1/{}", 1 << below), "f_number": (stops / 2.0).exp2()})
        })
        .collect();
    let answer = server
        .ask(
            "/v1/units/calibrate",
            json!({"unit": unit, "distance": 2.4, "readings": readings, "reading": "literal"}),
        )
        .await;
    close(&answer["offset_stops"], 0.5, 1e-4);
    close(&answer["tracking"], 0.75, 1e-4);
    close(&answer["guide_number_m"], 48.0 * 0.25_f64.exp2(), 1e-3);
    close(&answer["guide_number_ft"], 48.0 * 0.25_f64.exp2() / 0.3048, 0.01);
    for (value, range) in [
        ("offset_stops", "offset_stops_range"),
        ("tracking", "tracking_range"),
        ("guide_number_m", "guide_number_m_range"),
        ("guide_number_ft", "guide_number_ft_range"),
    ] {
        let (low, high) = (number(&answer[range]["low"]), number(&answer[range]["high"]));
        assert!((low..=high).contains(&number(&answer[value])), "{value}");
    }
    assert_eq!(answer["misfires"], json!([]));
    let corrected = &answer["unit"];
    close(&corrected["corrections"][4]["stops"], 1.0, 1e-4);
    // The prediction agrees with the meter, at a measured setting and between two.
    let predict = |setting: &str| {
        server.ask(
            "/v1/exposure/predict",
            json!({"exposure": {"f_number": "f/8"}, "lights": [{"name": "a", "unit": corrected, "setting": setting}],
                "placements": [{"light": "a", "point": "p", "distance": 2.4}]}),
        )
    };
    close(&predict("1/4").await["points"][0]["f_number"]["value"], 20.0 * (-0.5_f64).exp2(), 2e-3);
    close(&predict("1/4 +0.3").await["points"][0]["f_number"]["value"], 20.0 * (-0.375_f64).exp2(), 2e-3);
    // A balance whose target is the light at 1/8 sets the unit to 1/8.
    let target = 20.0 * ((0.5 - 2.25) / 2.0_f64).exp2();
    let balance = server
        .ask(
            "/v1/ratios/balance",
            json!({"exposure": {"f_number": "f/8"}, "lights": [{"name": "a", "unit": corrected}], "reading": "literal",
                "points": [{"name": "p", "target": {"f_number": target}}],
                "placements": [{"light": "a", "point": "p", "distance": 2.4}]}),
        )
        .await;
    assert_eq!(balance["settings"][0]["setting"]["label"], "1/8");
    close(&balance["settings"][0]["setting"]["energy_j"], 50.0, 1e-6);
    close(&balance["worst_error_stops"], 0.0, 1e-3);
    // Replaced by an accurate unit: 2.25 - 0.5 = 1.75 under full.
    let swap = server
        .ask(
            "/v1/energy/equivalence",
            json!({"reference": {"unit": corrected, "setting": "1/8", "exposure": {"f_number": "f/8"}},
                "candidates": [{"unit": {"guide_number": {"value": 48, "unit": "m"}}}, {"unit": corrected}]}),
        )
        .await;
    close(&swap["candidates"][0]["setting"]["stops_below_full"], 1.75, 1e-3);
    assert_eq!(swap["candidates"][1]["setting"]["label"], "1/8");
    let falloff = server
        .ask("/v1/lights/falloff", json!({"unit": corrected, "setting": "1/2", "distances": [2.4]}))
        .await;
    close(&falloff["rows"][0]["f_number"]["value"], 20.0 * (-0.125_f64).exp2(), 2e-3);
}

#[tokio::test]
async fn a_lost_pop_does_not_move_the_fit() {
    let server = Server::start().await;
    let unit = json!({"guide_number": {"value": 40, "unit": "m"}, "scale": {"style": "dial", "full": 9, "least": 3}});
    let reading = |setting: u32, f_number: f64| json!({"setting": setting, "f_number": f_number});
    let mut readings = Vec::new();
    for below in 0..5_u32 {
        for _ in 0..3 {
            readings.push(reading(9 - below, 16.0 * (-f64::from(below) / 2.0).exp2()));
        }
    }
    readings[7] = reading(7, 1.4);
    let answer = server
        .ask(
            "/v1/units/calibrate",
            json!({"unit": unit, "distance": 2.5, "readings": readings, "reading": "literal"}),
        )
        .await;
    assert_eq!(answer["misfires"].as_array().map(Vec::len), Some(1));
    assert_eq!(answer["misfires"][0]["index"], 7);
    close(&answer["offset_stops"], 0.0, 1e-4);
    close(&answer["tracking"], 1.0, 1e-4);
    close(&answer["repeatability_stops"], 0.0, 1e-9);
    // By levels, with a response.
    let by_level = json!({
        "unit": unit, "response": {"points": [{"level": 50, "stops": -2}, {"level": 100, "stops": 0}, {"level": 150, "stops": 2}]},
        "readings": [{"setting": 9, "level": 150}, {"setting": 7, "level": 100}, {"setting": 5, "level": 50}]
    });
    let answer = server.ask("/v1/units/calibrate", by_level.clone()).await;
    close(&answer["tracking"], 1.0, 1e-4);
    assert_eq!(answer["offset_stops"], Value::Null);
    let mut bad = by_level;
    bad["response"] = Value::Null;
    assert_eq!(pointers(&server.refused("/v1/units/calibrate", bad).await), ["/response"]);
}

#[tokio::test]
async fn one_reading_is_an_offset_with_its_doubt() {
    let server = Server::start().await;
    let codes = |list: &Value| -> Vec<String> {
        list.as_array()
            .expect("a list")
            .iter()
            .map(|one| one["code"].as_str().expect("a code").to_owned())
            .collect()
    };
    let warns = |answer: &Value, code: &str| codes(&answer["warnings"]).contains(&code.to_owned());
    // The simplest form. GN = N·d (ISO 1230): 40 at 5 m is f/8; the meter read f/5.6, a stop less.
    let body =
        json!({"unit": {"guide_number": "GN 40"}, "distance": "5 m", "readings": [{"f_number": "f/5.6"}]});
    let answer = server.ask(CALIBRATE, body.clone()).await;
    close(&answer["offset_stops"], -1.0, 1e-4);
    close(&answer["guide_number_m"], 40.0 / 2_f64.sqrt(), 1e-3);
    // The repeatability of t with two degrees of freedom (quantile: published), and 95 % of half a third of a stop, which
    // is the digit of whole stops.
    let half = f64::hypot(4.303 * 0.06 / 1.96 / 1.201_12, 0.95 / 6.0);
    close(&answer["offset_stops_range"]["low"], -1.0 - half, 2e-3);
    close(&answer["offset_stops_range"]["high"], -1.0 + half, 2e-3);
    assert_eq!(
        codes(&answer["assumptions"]),
        [
            "repeat_plus_minus_stops",
            "meter_digit_stops",
            "reading_at_full_power",
            "usual_plus_minus_stops",
            "usual_plus_minus_stops",
            "usual_plus_minus_stops"
        ]
    );
    assert_eq!((&answer["tracking"], &answer["repeatability_stops"]), (&Value::Null, &Value::Null));
    assert!(warns(&answer, "few_settings") && warns(&answer, "no_repeats") && !warns(&answer, "no_rating"));
    close(&answer["unit"]["offset_stops"], -1.0, 1e-4);
    // A setting that is stated is no assumption.
    let mut stated = body.clone();
    stated["readings"][0]["setting"] = json!("full");
    let stated = server.ask(CALIBRATE, stated).await;
    assert_eq!(stated["offset_stops"], answer["offset_stops"]);
    assert!(!codes(&stated["assumptions"]).contains(&"reading_at_full_power".to_owned()));
    // What cannot be told is null, and a warning says why.
    let mut nowhere = body.clone();
    nowhere.as_object_mut().expect("fields").remove("distance");
    let nowhere = server.ask(CALIBRATE, nowhere).await;
    assert_eq!((&nowhere["offset_stops"], &nowhere["guide_number_m"]), (&Value::Null, &Value::Null));
    assert!(warns(&nowhere, "no_distance"));
    let mut unrated = body.clone();
    unrated["unit"] = json!({"energy": "400 J"});
    let unrated = server.ask(CALIBRATE, unrated).await;
    assert_eq!(
        (&unrated["offset_stops"], &unrated["guide_number_m"]),
        (&Value::Null, &answer["guide_number_m"])
    );
    assert!(warns(&unrated, "no_rating"));
    // What it states none of is then measured, so that other calls can use the unit.
    assert_eq!(unrated["unit"]["guide_number"]["value"], answer["guide_number_m"]);
    // A level alone tells nothing of the unit's light.
    let response = json!({"points": [{"level": 50, "stops": -2}, {"level": 150, "stops": 2}]});
    let level = json!({"unit": {"guide_number": "GN 40"}, "distance": 5, "response": response, "readings": [{"level": 100}]});
    let level = server.ask(CALIBRATE, level).await;
    assert_eq!(level["offset_stops"], Value::Null);
    assert!(warns(&level, "levels_are_relative"));
}

#[tokio::test]
async fn a_unit_of_which_nothing_is_known_is_rated_by_its_meter_reading() {
    let server = Server::start().await;
    // f/8 at 5 m is guide number 40 (ISO 1230), at ISO 400 half of it.
    let body = json!({"distance": "5 m", "readings": [{"f_number": "f/8"}]});
    let answer = server.ask(CALIBRATE, body.clone()).await;
    close(&answer["guide_number_m"], 40.0, 1e-3);
    assert_eq!(answer["offset_stops"], Value::Null);
    close(&answer["unit"]["guide_number"]["value"], 40.0, 1e-3);
    let mut fast = body.clone();
    fast["iso"] = json!(400);
    fast["unit"] = json!({"name": "borrowed"});
    let fast = server.ask(CALIBRATE, fast).await;
    close(&fast["guide_number_m"], 20.0, 1e-3);
    assert_eq!(fast["unit"]["name"], "borrowed");
    // Other calls take the unit: at 2.5 m it is f/16.
    let predict = json!({"exposure": {"f_number": "f/8"}, "lights": [{"name": "a", "unit": answer["unit"], "setting": "full"}],
        "placements": [{"light": "a", "point": "p", "distance": 2.5}]});
    let predicted = server.ask("/v1/exposure/predict", predict).await;
    close(&predicted["points"][0]["f_number"]["value"], 16.0, 1e-3);
    // A setting that does not exist is found, though no unit states a scale.
    let mut odd = body.clone();
    odd["readings"][0]["setting"] = json!("odd");
    assert_eq!(pointers(&server.refused(CALIBRATE, odd).await), ["/readings/0/setting"]);
    // Without a distance there is nothing to rate it by.
    let nothing = json!({"readings": [{"f_number": "f/8"}]});
    assert_eq!(pointers(&server.refused(CALIBRATE, nothing).await), ["/unit"]);
}

#[tokio::test]
async fn a_calibrated_unit_is_surer_than_its_rating() {
    let server = Server::start().await;
    let rated = json!({"name": "head", "guide_number": {"value": 32, "unit": "m"},
        "scale": {"style": "fraction", "least": "1/64", "click": "1/10"}});
    let read = |setting: &str, f_number: &str| json!({"setting": setting, "f_number": f_number});
    let readings = json!([
        read("1/1", "f/16"),
        read("1/1", "f/16 +0.1"),
        read("1/1", "f/16 +0.1"),
        read("1/4", "f/8"),
        read("1/4", "f/8 +0.1"),
        read("1/4", "f/8")
    ]);
    let ask = async |distance: &str, meter: Value| {
        let body = json!({"unit": rated, "distance": distance, "meter": meter, "readings": readings});
        server.ask(CALIBRATE, body).await
    };
    let answer = ask("2 m ±1 cm", json!({})).await;
    let unit = &answer["unit"];
    let of_unit = |name: &str| number(&unit[name]);
    let [plus_minus, dial, repeat] =
        ["plus_minus_stops", "dial_plus_minus_stops", "repeat_plus_minus_stops"].map(of_unit);
    let [low, high] = ["low", "high"].map(|end| number(&answer["offset_stops_range"][end]));
    close(&answer["this_meter_plus_minus_stops"], (high - low) / 2.0, 2e-4);
    // By hand, with t of 97.5 % and four degrees of freedom (published): the squares of three readings a setting, a tenth
    // apart, are 0.0133. They scatter by more than the table's 0.12, 0.06 and digit, so that nothing is common to them.
    let each = 2.776 * (0.013_333_f64 / 4.0).sqrt();
    let of_three = each / 3_f64.sqrt();
    // A digit is off by up to half of it (JCGM 100:2008, 4.3.7).
    let [digit, rounding] = [0.95 * 0.05, 1.96 * 0.05 / 3_f64.sqrt()];
    close(&unit["plus_minus_stops"], of_three.hypot(digit), 1e-3);
    close(&unit["dial_plus_minus_stops"], of_three.hypot(digit), 1e-3);
    close(&unit["repeat_plus_minus_stops"], (each.powi(2) - rounding.powi(2)).sqrt(), 1e-3);
    // The meter against the camera is apart from the unit, and adds by squares (JCGM 100:2008, 5.1.2).
    close(&answer["camera_plus_minus_stops"], plus_minus.hypot(0.2), 2e-4);
    let told = answer["summary"].as_str().expect("a summary");
    assert_eq!(told.matches("give or take").count(), 1, "{told}");
    // A length that is less sure, or an offset that is stated.
    let rough = ask("2 m ±10 cm", json!({})).await;
    let by_distance = -2.0 * (1.9_f64 / 2.0).log2();
    close(&rough["unit"]["plus_minus_stops"], of_three.hypot(by_distance), 1e-3);
    let compared = ask("2 m ±1 cm", json!({"offset_stops": -0.3})).await;
    close(&compared["camera_plus_minus_stops"], plus_minus.hypot(0.06), 2e-4);
    close(&compared["offset_stops"], number(&answer["offset_stops"]) - 0.3, 2e-4);

    let predict = async |unit: &Value, setting: &str| {
        let body = json!({"exposure": {"f_number": "f/8"}, "lights": [{"name": "a", "unit": unit, "setting": setting}],
            "placements": [{"light": "a", "point": "p", "distance": "3 m ±4 cm"}]});
        let answer = server.ask("/v1/exposure/predict", body).await;
        (answer["points"][0]["uncertainty"].clone(), answer["assumptions"].to_string())
    };
    let share = |uncertainty: &Value, cause: &str| {
        let causes = uncertainty["causes"].as_array().expect("causes").iter();
        causes.filter(|it| it["cause"] == cause).map(|it| number(&it["share"])).sum::<f64>()
    };
    let (before, _) = predict(&rated, "1/4").await;
    let (after, _) = predict(unit, "1/4").await;
    assert!(share(&before, "rating") > 0.5, "{before}");
    assert!(after["causes"][0]["cause"] == "meter" && share(&after, "rating") < 0.2, "{after}");
    // By squares, the distance and the meter as they are by the table; the angle is too little to count here.
    let by_distance = -2.0 * (2.96_f64 / 3.0).log2();
    let rest = [repeat, by_distance, 0.2].into_iter().fold(0.0, f64::hypot);
    let high = plus_minus.hypot(dial).hypot(rest);
    close(&after["high_stops"], high, 2e-3);
    assert!(high < 0.6 * number(&before["high_stops"]), "{before} {after}");
    for (cause, own) in [("rating", plus_minus), ("setting", dial), ("repeatability", repeat), ("meter", 0.2)]
    {
        close(&json!(share(&after, cause)), (own / high).powi(2), 0.01);
    }
    // Between the settings that were read the dial is as sure as by the table, which is said where it matters.
    let mut fine = unit.clone();
    fine["dial_plus_minus_stops"] = json!(0.05);
    let (read, _) = predict(&fine, "1/4").await;
    close(&read["high_stops"], plus_minus.hypot(0.05).hypot(rest), 2e-3);
    let (between, assumed) = predict(&fine, "1/2").await;
    close(&between["high_stops"], plus_minus.hypot(0.1).hypot(rest), 2e-3);
    assert!(assumed.contains("setting of a unit"), "{assumed}");

    // So does a calculation of one light, and a calibration of the unit anew keeps what it states of its repeatability.
    let one = async |unit: &Value| {
        let body = json!({"unit": unit, "setting": "1/4", "distance": "3 m ±4 cm"});
        number(&server.ask("/v1/exposure/one-light", body).await["uncertainty"]["high_stops"])
    };
    let [rated_end, end] = [one(&rated).await, one(unit).await];
    close(&json!(end), high, 2e-3);
    assert!(end < rated_end, "{end} {rated_end}");
    let body = json!({"unit": unit, "distance": 2, "readings": readings, "reading": "literal"});
    let again = server.ask(CALIBRATE, body).await;
    close(&again["unit"]["repeat_plus_minus_stops"], repeat, 1e-4);
    // Readings that contradict each other beyond use: the most that requests take, and they take it.
    let wild = json!([{"f_number": 1}, {"f_number": 100}]);
    let wild = json!({"unit": rated, "distance": 2, "readings": wild});
    let wild = server.ask(CALIBRATE, wild).await;
    assert!(number(&wild["unit"]["plus_minus_stops"]) <= 4.0, "{wild}");
    predict(&wild["unit"], "1/1").await;
}
