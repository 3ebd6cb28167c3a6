//! Units as they were measured, and what other calls make of them.

use serde_json::{Value, json};

use crate::support::{Server, close, pointers};

const CALIBRATE: &str = "/v1/units/calibrate";

#[tokio::test]
async fn what_is_to_spare_counts_the_correction_at_full_power() {
    let server = Server::start().await;
    let ask = async |correction: f64, distance: f64| {
        let unit = json!({"guide_number": {"value": 32, "unit": "m"},
            "scale": {"style": "fraction", "least": "1/64", "click": "1/10"},
            "corrections": [{"setting": "1/1", "stops": correction}, {"setting": "1/2", "stops": 0}]});
        let lights = json!([{"role": "key", "stops": 0, "distance": distance}]);
        let body = json!({"kit": [{"unit": unit}], "shots": [{"name": "s", "exposure": {"f_number": "f/16"}, "lights": lights}]});
        server.ask("/v1/kit/check", body).await["shots"][0]["lights"][0].clone()
    };
    // By hand, GN = N·d (ISO 1230): 32/1.6 is f/20, 0.6439 stop over f/16; half a stop of it is not there.
    let light = ask(-0.5, 1.6).await;
    close(&light["headroom_stops"], 2.0 * (20.0_f64 / 16.0).log2() - 0.5, 1e-4);
    // 32/1.8 is f/17.8, 0.304 over, less half a stop: 0.196 short.
    let light = ask(-0.5, 1.8).await;
    close(&light["shortfall_stops"], 0.5 - 2.0 * (32.0_f64 / 1.8 / 16.0).log2(), 1e-4);
    // What is there beyond its rating is to spare as well.
    let light = ask(0.8, 2.3).await;
    close(&light["headroom_stops"], 2.0 * (32.0_f64 / 2.3 / 16.0).log2() + 0.8, 1e-4);
}

#[tokio::test]
async fn a_unit_read_at_each_of_its_settings_is_taken_as_it_stands() {
    let server = Server::start().await;
    let unit = json!({"guide_number": {"value": 60, "unit": "m"}, "scale": {"style": "dial", "full": 9, "least": 2}});
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
    // Neither does an unknown name hide that nothing is asked.
    let faults = server.refused("/v1/stops/convert", json!({"stpe": 1})).await;
    assert_eq!(pointers(&faults), ["/stpe", "/from", "/to"]);
}

#[tokio::test]
async fn what_one_reading_cannot_tell_is_not_told() {
    let server = Server::start().await;
    let unit = json!({"guide_number": {"value": 32, "unit": "m"}});
    let ask = async |readings: Value| {
        server.ask(CALIBRATE, json!({"unit": unit, "distance": 2, "readings": readings})).await
    };
    let one = json!({"setting": "full", "f_number": "f/16"});
    let answer = ask(json!([one])).await;
    assert!(answer["offset_stops"].is_number() && answer["offset_stops_range"].is_null());
    assert!(answer["guide_number_m"].is_number() && answer["guide_number_m_range"].is_null());
    // Two settings lie on any line; a third tells how far it strays.
    let two = json!([one, {"setting": "-1 stops", "f_number": "f/11"}]);
    let answer = ask(two.clone()).await;
    assert!(answer["tracking"].is_number() && answer["tracking_range"].is_null());
    let mut three = two;
    three.as_array_mut().expect("readings").push(json!({"setting": "-2 stops", "f_number": "f/8 +0.2"}));
    assert!(ask(three).await["tracking_range"].is_array());
    let answer = ask(json!([one, {"setting": "full", "f_number": "f/16 +0.1"}])).await;
    assert!(answer["offset_stops_range"].is_array() && answer["guide_number_m_range"].is_array());
}

#[tokio::test]
async fn intervals_are_those_of_students_t_and_of_the_meters_digit() {
    let server = Server::start().await;
    // By the formulae of src/light/calibrate/interval.rs. At 2 m a unit of 32 m gives f/16. Quantiles of t: published.
    let unit = json!({"guide_number": {"value": 32, "unit": "m"}});
    let ask = async |readings: Vec<Value>| {
        let body = json!({"unit": unit, "distance": 2, "reading": "literal", "readings": readings});
        server.ask(CALIBRATE, body).await
    };
    let read =
        |below: u32, f_number: Value| json!({"setting": format!("-{below} stops"), "f_number": f_number});
    let holds = |range: &Value, value: f64, half: f64| {
        close(&range[0], value - half, 2e-4);
        close(&range[1], value + half, 2e-4);
    };
    let (of_median, of_slope) = (std::f64::consts::PI / 2.0, std::f64::consts::PI / 3.0);

    // Three at full power: s = 0.1, df = 2, and half of a tenth.
    let answer = ask(["f/16", "f/16 +0.1", "f/16 +0.2"].map(|told| read(0, json!(told))).to_vec()).await;
    let half = 4.303 * 0.1 * (of_median / 3.0).sqrt() + 0.05;
    holds(&answer["offset_stops_range"], 0.1, half);
    for (end, half) in [(0, -half), (1, half)] {
        let metres = 32.0 * f64::midpoint(0.1, half).exp2();
        close(&answer["guide_number_m_range"][end], metres, 0.01);
        close(&answer["guide_number_ft_range"][end], metres / 0.3048, 0.03);
    }

    // All alike to the digit, which may hide a scatter of half of it: Σ(x - x̄)² = 8 of settings 0, 2 and 4.
    let readings = [(0, "f/16 +0.1"), (2, "f/8 +0.1"), (4, "f/4 +0.1")];
    let answer = ask(readings.map(|(below, told)| read(below, json!(told))).to_vec()).await;
    let hidden = 1.96 * 0.05;
    holds(&answer["tracking_range"], 1.0, hidden * (of_slope / 8.0).sqrt());
    let half = hidden * (of_median / 3.0 + 4.0 * of_slope / 8.0).sqrt() + 0.05;
    holds(&answer["offset_stops_range"], 0.1, half);

    // Settings stray by +0.1, -0.1, -0.1 and +0.1, which repeats alike do not show: s² = 4·0.1²/2, df = 2, and
    // Σ(x - x̄)² = 5 of four settings.
    let mut readings = Vec::new();
    for (below, strays) in [(0_u32, 0.1), (1, -0.1), (2, -0.1), (3, 0.1)] {
        let light: f64 = 0.042 + strays - f64::from(below);
        readings.extend((0..3).map(|_| read(below, json!(16.0 * (light / 2.0).exp2()))));
    }
    let answer = ask(readings).await;
    holds(&answer["tracking_range"], 1.0, 4.303 * 0.02_f64.sqrt() * (of_slope / 5.0).sqrt());
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
        answer["warnings"].as_array().expect("warnings").iter().any(|warning| warning["code"] == "wide_gap")
    };
    assert!(!ask([0.0, 2.0, 4.0, 6.0]).await);
    assert!(ask([0.0, 1.0, 2.0, 5.0]).await);
    let frames = json!([{"stops": 0, "level": 20}, {"stops": 3, "level": 110}, {"stops": 6, "level": 230}]);
    let answer = server.ask("/v1/patches/response", json!({"frames": frames})).await;
    let told = answer["warnings"][0]["text"].as_str().expect("a text");
    assert!(told.contains("20 and 110, and between 110 and 230"), "{told}");
}
