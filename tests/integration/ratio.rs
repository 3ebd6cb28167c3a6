//! Two lights by their lighting ratio, counted by lights (each light alone) or by sides; and remedies with metered and
//! ambient light.

use serde_json::{Value, json};

use crate::{
    remedies::{patched, with_change},
    support::{Server, close, number, pointers},
};

const BALANCE: &str = "/v1/ratios/balance";
const PREDICT: &str = "/v1/exposure/predict";

/// A unit whose clicks are a hundredth of a stop.
fn fine(name: &str) -> Value {
    json!({"name": name, "unit": {"energy": 600, "scale": {"style": "dial", "full": 10, "least": 1, "click": 0.01}}})
}

/// The f-number of an amount of light, in units of f/1.
fn f_number(light: f64) -> Value {
    json!(light.sqrt())
}

/// Readings of both lights at full power on both sides, the ambient light there, and the target ratio.
struct Sides {
    key: [f64; 2],
    fill: [f64; 2],
    ambient: [f64; 2],
    ratio: f64,
}

impl Sides {
    fn question(&self) -> Value {
        let sides = ["lit side", "shadow side"];
        let readings = [("key", self.key), ("fill", self.fill)].map(|(light, at)| {
            [0, 1].map(|side| {
                json!({"light": light, "point": sides[side], "setting": "10", "f_number": f_number(at[side])})
            })
        });
        let ambient =
            [0, 1].map(|side| json!({"point": sides[side], "f_number": f_number(self.ambient[side])}));
        json!({
            "exposure": {"f_number": 8, "exposure_time": "1/125"},
            "lights": [fine("key"), fine("fill")],
            "ratio": {"value": self.ratio, "key": "key", "fill": "fill", "counting": "lights"},
            "readings": readings.concat(), "ambient": ambient, "reading": "literal"
        })
    }
}

#[tokio::test]
async fn by_lights_means_each_light_alone_despite_spill() {
    let server = Server::start().await;
    let mut seed = 20_u64;
    // A linear congruential generator (constants: Knuth, MMIX), 0 to 1.
    let mut random = || {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (seed >> 11) as f64 / (1_u64 << 53) as f64
    };
    for _ in 0..40 {
        let sides = Sides {
            // The key spills onto the shadow side; the fill reaches the lit side more or less than the shadow side.
            key: [600.0, 600.0 * 0.3 * random()],
            fill: [500.0 * (0.2 + random()), 500.0],
            ambient: [16.0 * random() + 1.0, 8.0 * random() + 1.0],
            ratio: 1.0 + 7.0 * random(),
        };
        // The key alone on the lit side is r times the fill alone on the shadow side, x = r·y, and the lit side gets
        // f/8: x + y·(fill on the lit side over fill on the shadow side) + ambient = 64.
        let y = (64.0 - sides.ambient[0]) / (sides.ratio + sides.fill[0] / sides.fill[1]);
        let powers = [sides.ratio * y / sides.key[0], y / sides.fill[1]];
        let answer = server.ask(BALANCE, sides.question()).await;
        assert_eq!(answer["feasible"], true);
        for (light, power) in powers.into_iter().enumerate() {
            let below = number(&answer["settings"][light]["setting"]["stops_below_full"]);
            assert!((below + power.log2()).abs() < 0.03, "{answer}: {} for {power}", sides.question());
        }
        close(&answer["ratio"]["lights"]["target"], sides.ratio, 1e-4);
        close(&answer["ratio"]["lights"]["achieved"], sides.ratio, sides.ratio * 0.03);
        let achieved = ["sides", "lights"].map(|counting| number(&answer["ratio"][counting]["achieved"]));
        // The target by sides is the ratio that these lights give by sides.
        close(&answer["ratio"]["sides"]["target"], achieved[0], achieved[0] * 0.03);
        // Asked for by sides, the answer has the same settings, and the ratio by lights that they give.
        let mut by_sides = sides.question();
        by_sides["ratio"]["counting"] = json!("sides");
        by_sides["ratio"]["value"] = answer["ratio"]["sides"]["target"].clone();
        if achieved[0] >= 1.0 {
            let same = server.ask(BALANCE, by_sides).await;
            close(&same["ratio"]["lights"]["target"], sides.ratio, sides.ratio * 1e-3);
        }
    }
}

#[tokio::test]
async fn a_proposed_ratio_can_be_requested() {
    let server = Server::start().await;
    let mut proposed = 0;
    for (key, fill, value, counting) in [
        (2.8, 8.0, 2.0, "lights"),
        (2.8, 8.0, 3.0, "sides"),
        (4.0, 8.0, 3.0, "lights"),
        (5.6, 6.7, 8.0, "sides"),
    ] {
        let body = |value: f64| {
            json!({
                "exposure": {"f_number": "f/11"},
                "lights": [
                    {"name": "key", "unit": {"energy": 200, "scale": {"style": "dial", "full": 9, "least": 2}}},
                    {"name": "fill", "unit": {"energy": 600, "scale": {"style": "dial", "full": 9, "least": 8}}}
                ],
                "ratio": {"value": value, "key": "key", "fill": "fill", "counting": counting},
                "readings": [
                    {"light": "key", "setting": "9", "f_number": key},
                    {"light": "fill", "setting": "8", "f_number": fill}
                ],
                "reading": "literal"
            })
        };
        let answer = server.ask(BALANCE, body(value)).await;
        for remedy in answer["remedies"].as_array().expect("remedies") {
            if let Some(ratio) = remedy["changes"][0]["to"].get("ratio") {
                proposed += 1;
                let other = server.ask(BALANCE, body(number(ratio))).await;
                assert_eq!(other["feasible"], true, "{remedy}: {other}");
            }
        }
    }
    assert!(proposed > 0);
}

#[tokio::test]
async fn ratios_between_points_are_reported_as_achieved() {
    let server = Server::start().await;
    // Whole stops only: the target is 3:1 at f/8; the clicks give 4:1 or 2:1 for each light alone.
    let unit = json!({"energy": 400, "scale": {"style": "dial", "full": 9, "least": 2, "click": 1}});
    let body = json!({
        "exposure": {"f_number": "f/8"},
        "lights": [{"name": "a", "unit": unit}, {"name": "b", "unit": unit}],
        "points": [
            {"name": "lit", "target": {"stops": 0}},
            {"name": "shadow", "target": {"ratio": "3:1", "to": "lit"}}
        ],
        "readings": [
            {"light": "a", "point": "lit", "setting": "9", "f_number": "f/11"},
            {"light": "b", "point": "shadow", "setting": "9", "f_number": "f/8"}
        ]
    });
    let answer = server.ask(BALANCE, body.clone()).await;
    assert!(answer["points"][0].get("ratio").is_none());
    let ratio = &answer["points"][1]["ratio"];
    assert_eq!((&ratio["to"], &ratio["target"]), (&json!("lit"), &json!(3.0)));
    // By hand: a at 8 is f/8; b two stops lower is f/4, which is nearer to f/8 over √3 than f/5.6 is: 4 to 1.
    close(&ratio["achieved"], 4.0, 1e-6);
    let between = [0, 1].map(|point| number(&answer["points"][point]["achieved_stops"]));
    close(&ratio["achieved"], (between[0] - between[1]).exp2(), 1e-3);
    let drawn = server
        .send(server.request(reqwest::Method::POST, BALANCE).header("accept", "image/svg+xml").json(&body))
        .await;
    let drawn = drawn.body.as_str().expect("a picture").to_owned();
    assert!(drawn.contains("lit to shadow is 4:1, wanted 3:1"), "{drawn}");
}

#[tokio::test]
async fn a_ratio_hidden_by_other_light_is_reported() {
    let server = Server::start().await;
    let dial = |least: u32| json!({"energy": 600, "scale": {"style": "dial", "full": 9, "least": least}});
    let set = |value: f64, readings: Value, ambient: Value, least: u32| {
        json!({
            "exposure": {"f_number": "f/8", "exposure_time": "1/60"},
            "lights": [{"name": "key", "unit": dial(2)}, {"name": "fill", "unit": dial(least)}],
            "ratio": {"value": value, "key": "key", "fill": "fill", "counting": "lights"},
            "readings": readings, "ambient": ambient
        })
    };
    let codes = |answer: &Value| answer["warnings"].to_string();
    // The ambient light on the lit side is more than its target: no lights make 8:1.
    let readings = json!([
        {"light": "key", "setting": "9", "f_number": "f/5.6"}, {"light": "fill", "setting": "9", "f_number": "f/16"}
    ]);
    let answer = server
        .ask(BALANCE, set(8.0, readings, json!([{"point": "lit side", "f_number": "f/8 +0.1"}]), 2))
        .await;
    assert_eq!(answer["feasible"], false);
    assert!(codes(&answer).contains("no_lights_make_it"), "{answer}");
    // No remedy leads there either: with the lens opened a stop, the ambient light alone would reach the target.
    let readings = json!([
        {"light": "key", "setting": "9", "f_number": "f/2"},
        {"light": "fill", "point": "lit side", "setting": "9", "f_number": "f/16"},
        {"light": "fill", "point": "shadow side", "setting": "5", "f_number": "f/4"}
    ]);
    let answer =
        server.ask(BALANCE, set(8.0, readings, json!([{"point": "lit side", "f_number": "f/5.6"}]), 2)).await;
    for remedy in answer["remedies"].as_array().expect("remedies") {
        let stops = remedy["by"].get("stops").map_or(0.0, number);
        assert!(stops < 0.99, "{remedy}");
    }
    // Ambient light on the shadow side hides that the fill alone gives far less than half of the key.
    let readings = json!([
        {"light": "key", "point": "lit side", "setting": "9", "f_number": "f/11"},
        {"light": "fill", "point": "shadow side", "setting": "9", "f_number": "f/1.4"}
    ]);
    let ambient = json!([{"point": "shadow side", "f_number": "f/11"}]);
    let answer = server.ask(BALANCE, set(2.0, readings, ambient, 5)).await;
    assert_eq!(answer["feasible"], true);
    let found = codes(&answer);
    // f/8 to f/1.4 is five stops.
    assert!(
        found.contains("lights_ratio_missed")
            && found.contains("Key alone to fill alone comes out 32:1, not the 2:1"),
        "{found}"
    );
}

#[tokio::test]
async fn a_misspelt_light_is_the_only_fault() {
    let server = Server::start().await;
    let body = json!({
        "exposure": {"f_number": "f/8"}, "lights": [fine("key"), fine("fill")],
        "ratio": {"value": 3, "key": "key", "fill": "fill"},
        "readings": [
            {"light": "kee", "setting": "10", "f_number": "f/11"},
            {"light": "fill", "setting": "10", "f_number": "f/11"}
        ]
    });
    assert_eq!(pointers(&server.refused(BALANCE, body).await), ["/readings/0/light"]);
}

#[tokio::test]
async fn meter_readings_are_reported_as_the_meter_shows_them() {
    let server = Server::start().await;
    let unit = json!({"energy": "600 J", "scale": {"style": "dial", "full": 9, "least": 2}});
    let reading = json!([{"light": "key", "point": "face", "setting": "8", "f_number": "f/8"}]);
    // The camera gets half a stop more than the meter shows. Where the meter showed f/8, the answer has f/8 again.
    let predicted = json!({
        "exposure": {"f_number": "f/8"}, "meter": {"offset_stops": 0.5},
        "lights": [{"name": "key", "unit": unit, "setting": "8"}], "readings": reading
    });
    let point = &server.ask(PREDICT, predicted).await["points"][0];
    assert_eq!(point["f_number"]["mark"], "f/8");
    close(&point["f_number"]["value"], 8.0, 1e-9);
    close(&point["error_stops"], 0.5, 1e-9);
    let wanted = |target: Value| {
        json!({
            "exposure": {"f_number": "f/8"}, "meter": {"offset_stops": 0.5},
            "lights": [{"name": "key", "unit": unit}],
            "points": [{"name": "face", "target": target}], "readings": reading
        })
    };
    // A target of f/8 is what the lens is set to, as a target of 0 stops is here.
    let same = server.ask(BALANCE, wanted(json!({"f_number": "f/8"}))).await;
    assert_eq!(same["settings"][0]["setting"]["label"], "7.5");
    // The camera's exposure at f/8 is half a stop less on the meter: 8/2^(1/4) = 6.727.
    let answer = server.ask(BALANCE, wanted(json!({"stops": 0}))).await;
    assert_eq!(answer["settings"][0]["setting"]["label"], "7.5");
    close(&answer["points"][0]["f_number"]["value"], 6.727_17, 1e-4);
    assert_eq!(same["points"][0]["f_number"], answer["points"][0]["f_number"]);
}

/// One weak light on a face, with ambient light on the face.
fn weak(unit: &Value, ambient: &Value) -> Value {
    json!({
        "exposure": {"f_number": "f/11", "exposure_time": "1/125"},
        "lights": [{"name": "key", "unit": unit}],
        "points": [{"name": "face", "target": {"stops": 0}}],
        "placements": [{"light": "key", "point": "face", "distance": 4}],
        "ambient": ambient, "limits": {"max_pops": 16}
    })
}

#[tokio::test]
async fn more_flashes_take_time_in_which_ambient_light_gathers() {
    let server = Server::start().await;
    let unit = json!({"energy": 100, "guide_number": {"value": 20, "unit": "m"}, "recycle_s": 2,
        "scale": {"style": "dial", "full": 9, "least": 2}});
    let mut dim = weak(&unit, &json!([{"point": "face", "illuminance_lx": 3}]));
    // By hand: f/5 at 4 m (ISO 1230) is 2.36 stops under f/11: five flashes, 8 s from the first to the last. The shutter
    // is not open for as long.
    let answer = server.ask(BALANCE, dim.clone()).await;
    assert_eq!(with_change(&answer["remedies"], "pops"), None, "{answer}");
    // Where it is, 3 lx for 8 s at ISO 100 are N² = E·t·S/C = 9.6 (ISO 2720), which leaves room for the flash.
    dim["exposure"]["exposure_time"] = json!(8);
    let answer = server.ask(BALANCE, dim.clone()).await;
    let more = with_change(&answer["remedies"], "pops").expect("pops");
    assert_eq!(more["changes"][0]["to"]["pops"], 5);
    assert_eq!(server.ask(BALANCE, patched(&dim, &more["patch"])).await["feasible"], true);
    // Without a recycle time nobody knows how long they take.
    let mut unknown = unit.clone();
    unknown.as_object_mut().expect("a unit").remove("recycle_s");
    let mut body = weak(&unknown, &json!([{"point": "face", "illuminance_lx": 3}]));
    body["exposure"]["exposure_time"] = json!(8);
    let answer = server.ask(BALANCE, body).await;
    assert_eq!(with_change(&answer["remedies"], "pops"), None, "{answer}");
    // Without ambient light nothing gathers.
    let answer = server.ask(BALANCE, weak(&unit, &json!([]))).await;
    let more = with_change(&answer["remedies"], "pops").expect("pops");
    assert_eq!(more["changes"][0]["to"]["pops"], 5);
}

#[tokio::test]
async fn readings_of_ambient_light_hold_for_their_exposure() {
    let server = Server::start().await;
    let unit = json!({"guide_number": {"value": 60, "unit": "m"}, "scale": {"style": "dial", "full": 9, "least": 2}});
    let set = |ambient: Value, distance: f64| {
        json!({
            "exposure": {"f_number": "f/8", "exposure_time": "1/60"},
            "lights": [{"name": "key", "unit": unit}],
            "points": [{"name": "face", "target": {"stops": 0}}, {"name": "wall", "target": {"stops": -1}}],
            "placements": [{"light": "key", "point": "face", "distance": distance}],
            "ambient": [ambient], "limits": {"exposure_time": ["1/250", "1/8"]}
        })
    };
    let paths = |remedy: &Value| -> Vec<String> {
        let operations = remedy["patch"].as_array().expect("a patch").iter();
        operations.map(|operation| operation["path"].as_str().expect("a path").to_owned()).collect()
    };
    // The wall has f/2.8, and its target is f/5.6: two stops longer, and a meter then reads f/5.6.
    let answer = server.ask(BALANCE, set(json!({"point": "wall", "f_number": "f/2.8"}), 3.0)).await;
    let longer = with_change(&answer["remedies"], "exposure_time").expect("longer");
    assert_eq!(longer["changes"][0]["to"]["exposure_time"]["mark"], "1/15 s");
    assert_eq!(paths(longer), ["/exposure/exposure_time", "/ambient/0/f_number"]);
    close(&longer["patch"][1]["value"], 32_f64.sqrt(), 1e-4);
    // The same light in lux does not depend on the exposure: N² = E·t·S/C gives 1250 lx for f/2.8 at 1/64 s.
    let lux = 8.0 * 250.0 * 64.0 / 100.0;
    let answer = server.ask(BALANCE, set(json!({"point": "wall", "illuminance_lx": lux}), 3.0)).await;
    let longer = with_change(&answer["remedies"], "exposure_time").expect("longer");
    assert_eq!(paths(longer), ["/exposure/exposure_time"]);
    // The key gives f/5 and the wall f/1.8; their targets are f/8 and f/2.8: both need 1 1/3 stops more.
    let mut slow = set(json!({"point": "wall", "f_number": "f/1.8"}), 12.0);
    slow["points"][1]["target"]["stops"] = json!(-3);
    let answer = server.ask(BALANCE, slow).await;
    let faster = with_change(&answer["remedies"], "iso").expect("a higher speed");
    assert_eq!(paths(faster), ["/exposure/iso", "/ambient/0/f_number"]);
    close(&faster["patch"][1]["value"], 8_f64.sqrt(), 1e-4);
}

#[tokio::test]
async fn a_proposed_exposure_time_is_a_mark() {
    let server = Server::start().await;
    let unit = json!({"guide_number": {"value": 60, "unit": "m"}, "scale": {"style": "dial", "full": 9, "least": 2}});
    for time in [0.009, 0.0113, 0.0205] {
        let body = |exposure_time: Value, reading: &str| {
            json!({
                "exposure": {"f_number": 8, "exposure_time": exposure_time},
                "lights": [{"name": "key", "unit": unit}],
                "points": [{"name": "face", "target": {"stops": 0}}, {"name": "wall", "target": {"stops": -1}}],
                "placements": [{"light": "key", "point": "face", "distance": 3}],
                "ambient": [{"point": "wall", "illuminance_lx": 900}],
                "limits": {"exposure_time": [0.001, 1]}, "tolerance_stops": 0.2, "reading": reading
            })
        };
        let answer = server.ask(BALANCE, body(json!(time), "literal")).await;
        assert_eq!(answer["feasible"], false);
        let longer = &with_change(&answer["remedies"], "exposure_time").expect("longer")["changes"][0];
        let mark = &longer["to"]["exposure_time"]["mark"];
        let again = server.ask(BALANCE, body(mark.clone(), "marked")).await;
        assert_eq!(again["feasible"], true, "{longer}: {again}");
        // The change is given in stops, exactly to the mark.
        let converted =
            server.ask("/v1/stops/convert", json!({"kind": "exposure_time", "from": time, "to": mark})).await;
        close(&converted["exposure_stops"], number(&longer["by_stops"]), 1e-3);
    }
}

#[tokio::test]
async fn from_between_marks_a_mark_that_works_is_found() {
    let server = Server::start().await;
    let set = |f_number: &str, iso: f64, reading: &str, step: &str| {
        json!({
            "exposure": {"f_number": f_number, "iso": iso},
            "lights": [{"name": "k", "unit": {"energy": 400, "scale": {"style": "dial", "full": 9, "least": 3, "click": 1}}}],
            "points": [{"name": "p", "target": {"stops": 0}}],
            "readings": [{"light": "k", "point": "p", "setting": "3", "f_number": reading}],
            "tolerance_stops": 0.1, "step": step
        })
    };
    // At its least setting the light gives f/16 (f/11). Only the lens at that mark corrects it, and that is not a
    // whole step away.
    for (from, iso, mark, step) in [("f/8 +0.2", 110.0, "f/16", "1/3"), ("f/6.3", 125.0, "f/11", "1")] {
        let answer = server.ask(BALANCE, set(from, iso, mark, step)).await;
        let closed = with_change(&answer["remedies"], "aperture").unwrap_or_else(|| panic!("{answer}"));
        assert_eq!(closed["changes"][0]["to"]["f_number"]["mark"], mark);
        assert_eq!(server.ask(BALANCE, set(mark, iso, mark, step)).await["feasible"], true);
    }
}
