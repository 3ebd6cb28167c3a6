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
