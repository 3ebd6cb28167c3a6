//! Feet beside metres, and the options of every request.

use serde_json::{Value, json};
use uom::si::{
    f64::Length,
    length::{foot, inch, meter},
};

use crate::support::{Server, close, document, pointers};

/// uom, a general-purpose library of units, is the reference.
fn feet(metres: &Value) -> f64 {
    Length::new::<meter>(metres.as_f64().expect("metres")).get::<foot>()
}

#[tokio::test]
async fn distances_are_in_feet_if_requested() {
    let server = Server::start().await;
    let body = json!({"source": {"disc_m": "3 ft"}, "distances": ["10 ft", "13 ft 7 in", 4.2], "depth": "4 ft",
        "within_stops": "1/3", "units": "imperial"});
    let answer = server.ask("/v1/lights/falloff", body.clone()).await;
    close(&answer["reference_distance_ft"], 10.0, 1e-9);
    // Published: ANSI/IES LS-1, 9.1.1: five times the largest dimension.
    close(&answer["inverse_square_from_ft"], 15.0, 1e-9);
    close(&answer["depth"]["depth_ft"], 4.0, 1e-9);
    close(&answer["rows"][1]["distance_ft"], 13.5833, 1e-9);
    close(&answer["rows"][2]["distance_ft"], 13.7795, 1e-9);
    let even = &answer["depth"];
    let expected = feet(&even["distance_for_evenness_m"]);
    close(&even["distance_for_evenness_ft"], expected, expected * 1e-5);

    let mut metric = body;
    metric["units"] = json!("metric");
    let answer = server.ask("/v1/lights/falloff", metric).await;
    assert!(!answer.to_string().contains("_ft"), "{answer}");

    let by_query = server.get("/v1/lights/falloff?distances=10%20ft,20%20ft&units=imperial").await;
    close(&by_query.body["rows"][1]["distance_ft"], 20.0, 1e-9);
}

#[tokio::test]
async fn positions_may_be_in_feet() {
    let server = Server::start().await;
    let set = |light: Value, point: Value| {
        json!({
            "exposure": {"f_number": "f/8"},
            "lights": [{"name": "key", "unit": {"energy": 600, "coverage": {"cone_deg": 70}},
                "position": light, "aim": point.clone(), "beam": {"half_power_deg": 60}}],
            "points": [{"name": "face", "position": point, "normal": [0, -1, 0]}]
        })
    };
    let metres =
        |feet: f64, inches: f64| (Length::new::<foot>(feet) + Length::new::<inch>(inches)).get::<meter>();
    let written = set(json!(["-2 ft", "\u{2212}6' 3\"", "+210 cm"]), json!([0, "6 in", "5 ft 6 in"]));
    let in_metres = set(
        json!([-metres(2.0, 0.0), -metres(6.0, 3.0), 2.1]),
        json!([0, metres(0.0, 6.0), metres(5.0, 6.0)]),
    );
    let answer = server.ask("/v1/exposure/predict", written).await;
    assert_eq!(answer, server.ask("/v1/exposure/predict", in_metres).await);

    let faults = server
        .refused("/v1/exposure/predict", set(json!(["6", "4000 ft", "2 m 3 ft"]), json!([0, 0, true])))
        .await;
    assert_eq!(
        pointers(&faults),
        [
            "/lights/0/position/0",
            "/lights/0/position/1",
            "/lights/0/position/2",
            "/lights/0/aim/2",
            "/points/0/position/2"
        ]
    );
    assert_eq!(faults[0][1], "\"6\" cannot be read as a coordinate");
    assert_eq!(faults[0][2], "a coordinate, as -0.4 (metres), \"-40 cm\" or \"6 ft 3 in\"");
    assert_eq!(faults[1][2], "a coordinate, as -0.4 (metres), \"-40 cm\" or \"6 ft 3 in\", -1000 to 1000 m");
}

#[tokio::test]
async fn conversions_have_feet() {
    let server = Server::start().await;
    let answer =
        server.ask("/v1/stops/convert", json!({"from": "8 ft", "to": "16 ft", "units": "imperial"})).await;
    close(&answer["from"]["value"], 2.4384, 1e-12);
    close(&answer["from"]["value_ft"], 8.0, 1e-12);
    close(&answer["to"]["value_ft"], 16.0, 1e-12);
    close(&answer["exposure_stops"], -2.0, 1e-12);
    // Guide numbers are in both units, whatever is asked for.
    let answer = server.ask("/v1/stops/convert", json!({"from": "GN 131 ft", "to": "GN 40"})).await;
    close(&answer["from"]["value_ft"], 131.0, 1e-9);
    close(&answer["to"]["value_ft"], 131.234, 1e-9);
    let answer =
        server.ask("/v1/stops/convert", json!({"from": "f/8", "to": "f/11", "units": "imperial"})).await;
    assert!(answer["from"].get("value_ft").is_none());
}

#[tokio::test]
async fn remedies_use_feet() {
    let server = Server::start().await;
    let answer = server
        .ask(
            "/v1/kit/check",
            json!({
                "kit": [{"unit": {"name": "small", "guide_number": {"value": 100, "unit": "ft"}}}],
                "shots": [{"name": "hall", "exposure": {"f_number": "f/8"},
                    "lights": [{"role": "key", "stops": 0, "distance": "25 ft"}]}],
                "units": "imperial"
            }),
        )
        .await;
    // ISO 1230: f/8 at 25 ft needs GN 200 ft.
    let missing = &answer["missing"][0];
    close(&missing["guide_number_ft"], 200.0, 1e-9);
    close(&missing["guide_number_m"], 60.96, 1e-9);
    let remedies = answer["shots"][0]["remedies"].as_array().expect("remedies");
    let nearer = remedies.iter().find(|remedy| remedy["change"] == "distance").expect("nearer");
    let by = &nearer["by"];
    close(&by["distance_ft"], feet(&by["distance_m"]), 1e-4);
    assert!(nearer["detail"].as_str().is_some_and(|text| text.contains("from 25 ft to")), "{nearer}");
    let unit = remedies.iter().find(|remedy| remedy["change"] == "unit").expect("a unit");
    close(&unit["by"]["guide_number_ft"], 200.0, 1e-9);
}

#[tokio::test]
async fn every_request_takes_the_options() {
    let server = Server::start().await;
    let mut asked = 0;
    // A batch has no options: each of its items may have them.
    let paths = document()["paths"].as_object().expect("paths").iter();
    for (path, methods) in paths.filter(|(path, _)| *path != "/v1/batch") {
        let examples = &methods["post"]["requestBody"]["content"]["application/json"]["examples"];
        for example in examples.as_object().into_iter().flat_map(|map| map.values()) {
            let mut body = example["value"].clone();
            body["units"] = json!("imperial");
            body["reading"] = json!("literal");
            body["step"] = json!("1/2");
            let answer = server.post(path, &body).await;
            // Literal numbers and half stops may make a request invalid, but the options are never the fault.
            if answer.status != 200 {
                let faults = crate::support::faults(&answer.body);
                let rules = ["/units", "/reading", "/step"];
                assert!(
                    pointers(&faults).iter().all(|pointer| !rules.contains(pointer)),
                    "{path}: {}",
                    answer.body
                );
            }
            body["units"] = json!("cubits");
            let answer = server.post(path, &body).await;
            assert_eq!(answer.status, 422);
            assert!(answer.body.to_string().contains("\\\"imperial\\\""), "{}", answer.body);
            asked += 1;
        }
    }
    assert!(asked > 40, "{asked}");
}
