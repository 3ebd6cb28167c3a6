//! Feet beside metres, and the options of every request.

use std::collections::BTreeSet;

use reqwest::Method;
use serde_json::{Value, json};
use uom::si::{
    f64::Length,
    length::{foot, inch, meter},
};

use crate::{
    openapi::alike,
    remedies::with_change,
    support::{Server, close, document, faults, pointers},
};

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
    assert_eq!(faults[1][2], "-1000 to 1000 m");
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
    let remedies = &answer["shots"][0]["remedies"];
    let nearer = with_change(remedies, "distance").expect("nearer");
    let to = &nearer["changes"][0]["to"];
    close(&to["distance_ft"], feet(&to["distance_m"]), 1e-4);
    // Inverse square (CIE e-ILV 17-25-104): half of 25 ft, on a tape to the inch.
    assert_eq!(nearer["patch"][0]["value"], "12 ft 6 in");
    assert!(
        nearer["text"].as_str().is_some_and(|text| text.contains("from 25 ft to 12 ft 6 in")),
        "{nearer}"
    );
    // A unit like it, in two digits of the metric number that is sent, rounded up.
    let unit = &with_change(remedies, "unit").expect("a unit")["changes"][0]["to"];
    close(&unit["guide_number_m"], 61.0, 1e-9);
    close(&unit["guide_number_ft"], feet(&unit["guide_number_m"]), 1e-3);
}

/// Whether what the document says at a value holds one of these, through all references.
fn holds(value: &'static Value, names: &[&str], seen: &mut BTreeSet<&'static str>) -> bool {
    match value {
        Value::Object(map) => {
            let name = map.get("$ref").and_then(Value::as_str).and_then(|path| path.rsplit('/').next());
            if let Some(name) = name
                && (names.contains(&name)
                    || seen.insert(name) && holds(&document()["components"]["schemas"][name], names, seen))
            {
                return true;
            }
            map.values().any(|value| holds(value, names, seen))
        }
        Value::Array(items) => items.iter().any(|value| holds(value, names, seen)),
        _ => false,
    }
}

#[tokio::test]
async fn requests_take_the_options_that_do_something() {
    let server = Server::start().await;
    let mut asked = 0;
    for (path, methods) in document()["paths"].as_object().expect("paths") {
        let content = &methods["post"]["requestBody"]["content"]["application/json"];
        let Some(schema) = content["schema"]["$ref"].as_str() else { continue };
        let takes = |option| document().pointer(&format!("{}/properties/{option}", &schema[1..])).is_some();
        let marks = ["FNumberInput", "ExposureTimeInput", "IsoInput", "ConvertInput"];
        let has_marks = holds(&content["schema"], &marks, &mut BTreeSet::new());
        assert_eq!(takes("reading"), has_marks, "{path}");
        assert_eq!(takes("step"), has_marks, "{path}");
        let mut has_lengths = false;
        let is_drawn = methods["post"]["responses"]["200"]["content"].get("image/svg+xml").is_some();
        // No example of these has a remedy by distance.
        let far_unit = json!({
            "reference": {"unit": {"energy": 600}, "setting": "full", "exposure": {"f_number": "f/8"}, "distance": 2},
            "candidates": [{"unit": {"energy": 100}, "distance": 2}]
        });
        let far_role = json!({
            "kit": [{"unit": {"guide_number": {"value": 40, "unit": "m"}}}],
            "shots": [{"name": "hall", "exposure": {"f_number": "f/8"}, "lights": [{"role": "key", "stops": 0, "distance": 8}]}]
        });
        let more = match path.as_str() {
            "/v1/energy/equivalence" => Some(&far_unit),
            "/v1/kit/check" => Some(&far_role),
            _ => None,
        };
        let examples = content["examples"].as_object().expect("examples").values();
        for example in examples.map(|example| &example["value"]).chain(more) {
            for (option, value, nonsense) in
                [("units", "imperial", "cubits"), ("reading", "literal", "liberal"), ("step", "1/2", "1/5")]
            {
                let mut body = example.clone();
                body[option] = json!(value);
                let answer = server.post(path, &body).await;
                let at = format!("/{option}");
                // Literal numbers and half stops may make a request invalid, but a known option is never the fault.
                let faults = if answer.status == 422 { faults(&answer.body) } else { Vec::new() };
                assert_eq!(
                    pointers(&faults).contains(&at.as_str()),
                    !takes(option),
                    "{path}: {}",
                    answer.body
                );
                if option == "units" && takes(option) && !has_lengths {
                    let metric = server.post(path, example).await;
                    has_lengths = alike(metric.body) != alike(answer.body)
                        || is_drawn && {
                            let picture = async |body: &Value| {
                                let request =
                                    server.request(Method::POST, path).header("accept", "image/svg+xml");
                                server.send(request.json(body)).await.body
                            };
                            picture(&body).await != picture(example).await
                        };
                }
                body[option] = json!(nonsense);
                let answer = server.post(path, &body).await;
                assert_eq!(answer.status, 422);
                asked += 1;
            }
        }
        // A correction takes all of a set, and answers no length that is not a place in its request.
        let is_taken_whole = path == "/v1/sets/correct";
        assert!(is_taken_whole || takes("units") == has_lengths, "{path}: units change no example's answer");
    }
    assert!(asked > 100, "{asked}");
}

#[tokio::test]
async fn measures_are_read_with_their_units() {
    let server = Server::start().await;
    let plan = |recycle: Value, between: Value, window: Value| {
        json!({"kit": [{"unit": {"name": "big", "energy": 500, "recycle_s": recycle, "duty": {"flashes": 60, "in_s": window}}}],
            "shots": [{"name": "crew", "frames": 10, "interval_s": between, "lights": [{"unit": "big", "setting": "full"}]}]})
    };
    let ambient = |lux: Value| json!({"exposure": {"f_number": "f/8", "exposure_time": "1/60"}, "ambient": {"illuminance_lx": lux}});
    let blur = |magnification: Value| json!({"t0_5_s": 0.001, "speed_m_s": 2, "magnification": magnification, "pixel_pitch_um": 4});
    let gel = |from: Value, to: Value| json!({"from_k": from, "to_k": to, "gels": [{"name": "full", "mired": 134, "stops": -0.7}]});
    for (path, text, number) in [
        (
            "/v1/supply/plan",
            plan(json!("1.8 s"), json!("3 s"), json!("300 s")),
            plan(json!(1.8), json!(3), json!(300)),
        ),
        ("/v1/ambient/check", ambient(json!("800 lx")), ambient(json!(800))),
        // Derived: 1/0.3048² lx are a foot-candle.
        ("/v1/ambient/check", ambient(json!("2 fc")), ambient(json!(21.527_820_833_419_446))),
        ("/v1/motion/freeze", blur(json!("1:2")), blur(json!(0.5))),
        ("/v1/colour/gel", gel(json!("5600 K"), json!("3200 K")), gel(json!(5600), json!(3200))),
    ] {
        assert_eq!(server.ask(path, text).await, server.ask(path, number).await, "{path}");
    }
    // A text without its unit may mean something else.
    let faults = server.refused("/v1/ambient/check", ambient(json!("800"))).await;
    assert_eq!(faults[0][0], "/ambient/illuminance_lx");
}
