//! Lights beyond a flash that fires once through the open shutter: zoom heads, high-speed sync, lamps, gels; and lights
//! that were metered and then moved.

use serde_json::{Value, json};

use crate::{
    remedies::patched,
    support::{Server, assumed, close, codes, number, pointers, sure, warned},
};

const PREDICT: &str = "/v1/exposure/predict";
const BALANCE: &str = "/v1/ratios/balance";

/// One light at a distance from one point.
fn one(unit: Value, exposure: Value, distance: &str) -> Value {
    let mut body = json!({
        "lights": [{"name": "a"}], "placements": [{"light": "a", "point": "p", "distance": distance}]
    });
    body["exposure"] = exposure;
    body["lights"][0]["unit"] = unit;
    body
}

/// The codes of the faults of a refused request, with their places.
async fn faults(server: &Server, path: &str, body: &Value) -> Vec<[String; 2]> {
    let answer = server.post(path, body).await;
    assert_eq!(answer.status, 422, "{}", answer.body);
    let errors = answer.body["errors"].as_array().expect("errors").clone();
    let text = |value: &Value| value.as_str().expect("text").to_owned();
    errors.iter().map(|error| [text(&error["pointer"]), text(&error["code"])]).collect()
}

fn table() -> Value {
    json!({"unit": "m", "by_zoom": [
        {"focal_length_mm": 24, "value": 28}, {"focal_length_mm": 35, "value": 36},
        {"focal_length_mm": 105, "value": 58}
    ]})
}

#[tokio::test]
async fn a_zoom_head_has_the_guide_number_of_its_zoom() {
    let server = Server::start().await;
    // Common practice: makers state guide numbers by zoom, as 28 at 24 mm, 36 at 35 mm, 58 at 105 mm. GN = N·d (ISO 1230).
    // Between rows by hand: √(35·105) = 60.6218 mm is half-way in the logarithms, √(36·58) = 45.6946.
    for (zoom, guide) in [(24.0, 28.0), (35.0, 36.0), (105.0, 58.0), (60.6218, 45.6946)] {
        let mut body = one(json!({"guide_number": table()}), json!({"f_number": "f/8"}), "4 m");
        body["lights"][0]["zoom_mm"] = json!(zoom);
        let answer = server.ask(PREDICT, body).await;
        close(&answer["points"][0]["f_number"]["value"], guide / 4.0, 1e-3);
        assert_eq!(assumed(&answer), ["full_power", "guide_number_by_zoom_m"], "{answer}");
    }
    // In feet, at ISO 400: GN 118.11 ft is 36 m, and half of that at ISO 100 (ISO 1230: GN goes with √ISO).
    let in_feet = json!({"unit": "ft", "iso": 400, "by_zoom": [
        {"focal_length_mm": 35, "value": 118.110_236}, {"focal_length_mm": 50, "value": 140}
    ]});
    let asked = json!({"guide_number": in_feet, "zoom_mm": 35, "distance": "2 m"});
    let answer = server.ask("/v1/exposure/one-light", asked).await;
    close(&answer["f_number"]["value"], 9.0, 1e-4);
    // A head does not go beyond its table, and a table needs a zoom.
    let mut body = one(json!({"guide_number": table()}), json!({"f_number": "f/8"}), "4 m");
    assert_eq!(faults(&server, PREDICT, &body).await, [["/lights/0/zoom_mm", "zoom_missing"]]);
    body["lights"][0]["zoom_mm"] = json!(200);
    assert_eq!(faults(&server, PREDICT, &body).await, [["/lights/0/zoom_mm", "out_of_range"]]);
    body["lights"][0]["unit"]["guide_number"]["by_zoom"][1]["focal_length_mm"] = json!(24);
    let place = "/lights/0/unit/guide_number/by_zoom/1/focal_length_mm";
    assert_eq!(faults(&server, PREDICT, &body).await, [[place, "focal_lengths_not_rising"]]);
}

#[tokio::test]
async fn a_table_lights_the_axis_and_a_beam_what_is_off_it() {
    let server = Server::start().await;
    let mut body = one(json!({"guide_number": table()}), json!({"f_number": "f/8"}), "4 m");
    body["lights"][0]["zoom_mm"] = json!(35);
    body["lights"][0]["beam"] = json!({"half_power_deg": 60});
    body["placements"][0]["off_axis_deg"] = json!(30);
    let answer = server.ask(PREDICT, body).await;
    // Half the light of GN 36, half the full angle off the axis (by definition): 9 / √2.
    close(&answer["points"][0]["f_number"]["value"], 9.0 / 2_f64.sqrt(), 1e-4);
}

#[tokio::test]
async fn the_zoom_is_the_coverage_of_a_unit_that_states_none() {
    let server = Server::start().await;
    let stated = json!({"energy": 60, "coverage": {"focal_length_mm": 50}});
    let by_coverage = server.ask(PREDICT, one(stated, json!({"f_number": "f/8"}), "2 m")).await;
    let mut body = one(json!({"energy": 60}), json!({"f_number": "f/8"}), "2 m");
    body["lights"][0]["zoom_mm"] = json!(50);
    assert_eq!(server.ask(PREDICT, body).await, by_coverage);
}

#[tokio::test]
async fn elsewhere_the_zoom_stands_beside_the_unit() {
    let server = Server::start().await;
    let unit = json!({"name": "shoe-mount", "guide_number": table()});
    // GN 58 against GN 29: a quarter of the light of the other.
    let asked = json!({
        "reference": {"unit": {"guide_number": "GN 29"}},
        "candidates": [{"unit": unit, "zoom_mm": 105}]
    });
    let answer = server.ask("/v1/energy/equivalence", asked.clone()).await;
    close(&answer["candidates"][0]["setting"]["stops_below_full"], 2.0, 1e-4);
    let mut without = asked;
    without["candidates"][0].as_object_mut().expect("an object").remove("zoom_mm");
    let missing = faults(&server, "/v1/energy/equivalence", &without).await;
    assert_eq!(missing, [["/candidates/0/zoom_mm", "zoom_missing"]]);
    let falloff = json!({"unit": unit, "zoom_mm": 105, "distances": ["2 m"]});
    close(&server.ask("/v1/lights/falloff", falloff).await["rows"][0]["f_number"]["value"], 29.0, 1e-4);
    // A unit that reads f/14.5 at 4 m has GN 58, as rated.
    let reading = json!({"unit": unit, "zoom_mm": 105, "distance": "4 m",
        "readings": [{"f_number": 14.5}], "reading": "literal"});
    let calibrated = server.ask("/v1/units/calibrate", reading).await;
    close(&calibrated["offset_stops"], 0.0, 1e-4);
    // A kit answers the rest, and says what is lacking.
    let kit = json!({
        "kit": [{"unit": unit}],
        "shots": [{"name": "s", "exposure": {"f_number": "f/8"}, "lights": [{"role": "key", "distance": "2 m"}]}]
    });
    let answer = server.ask("/v1/kit/check", kit.clone()).await;
    assert_eq!(answer["lacks"], json!([{"pointer": "/kit/0", "needs": [["zoom_mm"]], "for": "light"}]));
    let mut with = kit;
    with["kit"][0]["zoom_mm"] = json!(35);
    let answer = server.ask("/v1/kit/check", with).await;
    // GN 36 at 2 m is f/18: 2·log2(18/8) = 2.34 stops to spare.
    close(&answer["shots"][0]["lights"][0]["headroom_stops"], 2.3399, 1e-3);
}

#[tokio::test]
async fn high_speed_sync_loses_on_entering_and_then_follows_the_time() {
    let server = Server::start().await;
    let exposure = |time: &str| json!({"f_number": "f/5.6", "exposure_time": time, "sync_time": "1/250"});
    let unit = |sync: Value| json!({"guide_number": "GN 40", "high_speed_sync": sync});
    let ask = async |sync: Value, time: &str| {
        server.ask(PREDICT, sure(one(unit(sync), exposure(time), "2 m"))).await
    };
    // f/20 against f/5.6 (N² 400 against 32) is 3.6439 stops over. By hand at 1/1000: 1.8 stops on entering (common
    // practice: 1.5 to 2.3), 2 for a quarter of the time.
    let answer = ask(json!(true), "1/1000").await;
    let point = &answer["points"][0];
    close(&point["error_stops"], 3.6439 - 3.8, 1e-3);
    // The draws of a long tail beside a short one are within 0.003.
    close(&point["uncertainty"]["low_stops"], -0.5, 3e-3);
    close(&point["uncertainty"]["high_stops"], 0.3, 3e-3);
    assert_eq!(point["uncertainty"]["causes"][0]["cause"], "high_speed_sync");
    assert_eq!(assumed(&answer), ["full_power", "high_speed_sync_loss_stops"]);
    assert_eq!(answer["settings"][0]["frame_share"], 1.0);
    assert!(warned(&answer).is_empty(), "{answer}");
    // A loss that is stated is known as well as it says.
    let answer = ask(json!({"loss_stops": -1.5, "plus_minus_stops": 0.1}), "1/500").await;
    close(&answer["points"][0]["error_stops"], 3.6439 - 2.5, 1e-3);
    close(&answer["points"][0]["uncertainty"]["high_stops"], 0.1, 2e-3);
    // Through the open shutter nothing changes; nor without a time.
    for body in [
        one(unit(json!(true)), exposure("1/250"), "2 m"),
        one(unit(json!(true)), json!({"f_number": "f/5.6"}), "2 m"),
    ] {
        let answer = server.ask(PREDICT, body).await;
        close(&answer["points"][0]["error_stops"], 3.6439, 1e-3);
        assert_eq!(assumed(&answer), ["full_power"]);
    }
    // A flash without it lights a quarter of the frame, and that as brightly as ever.
    let answer = ask(json!(false), "1/1000").await;
    close(&answer["points"][0]["error_stops"], 3.6439, 1e-3);
    assert_eq!(warned(&answer), ["faster_than_sync"]);
    assert_eq!(answer["warnings"][0]["params"], json!({"frame_share": 0.25}));
    assert_eq!(answer["settings"][0]["frame_share"], 0.25);
    // Whether it is in force cannot be told without the sync time.
    let body = one(unit(json!(true)), json!({"f_number": "f/5.6", "exposure_time": "1/1000"}), "2 m");
    assert_eq!(faults(&server, PREDICT, &body).await, [["/exposure/sync_time", "sync_time_missing"]]);
    let body = one(unit(json!({"loss_stops": 1})), exposure("1/500"), "2 m");
    let place = "/lights/0/unit/high_speed_sync/loss_stops";
    assert_eq!(faults(&server, PREDICT, &body).await, [[place, "loss_adds_light"]]);
}

#[tokio::test]
async fn a_remedy_may_enter_high_speed_sync_with_its_loss() {
    let server = Server::start().await;
    // GN 40 at 2 m is f/20: 2.98 stops too bright for f/7.1 (exactly 2^(17/6)), and held.
    let mut body = one(
        json!({"guide_number": "GN 40", "high_speed_sync": {"loss_stops": -1.8}}),
        json!({"f_number": "f/7.1", "exposure_time": "1/250", "sync_time": "1/250"}),
        "2 m",
    );
    body["lights"][0]["setting"] = json!("full");
    body["lights"][0]["hold"] = json!(true);
    body["points"] = json!([{"name": "p", "target": {"stops": 0}}]);
    let answer = server.ask(BALANCE, body.clone()).await;
    let remedies = answer["remedies"].as_array().expect("a list");
    let by = |kind: &str| remedies.iter().find(|remedy| remedy["changes"][0]["change"] == kind);
    // ND 0.9 does it too.
    assert!(by("filter").is_some(), "{answer}");
    // By hand: at 1/500 (1/512) 1.8 + 1 of 2.977 stops are gone; 0.18 is left. At 1/640 0.16 is too dark.
    let faster = by("exposure_time").expect("a shorter time");
    let then = server.ask(BALANCE, patched(&body, &faster["patch"])).await;
    assert_eq!(then["feasible"], true);
    assert_eq!(then["worst_error_stops"], faster["then"]["worst_error_stops"]);
    let time = number(&faster["changes"][0]["to"]["exposure_time"]["value"]);
    let left = 2.0 * (20.0_f64.log2() - 17.0 / 6.0) - 1.8 - (1.0 / 256.0 / time).log2();
    close(&then["points"][0]["error_stops"], left, 1e-3);
}

#[tokio::test]
async fn a_lamp_follows_the_meter_equation() {
    let server = Server::start().await;
    let exposure = json!({"f_number": "f/2.8", "iso": 400, "exposure_time": "1/60"});
    let ask = async |lamp: Value| {
        let unit = json!({"continuous": lamp, "coverage": {"gain": 5}});
        server.ask(PREDICT, one(unit, exposure.clone(), "2 m")).await
    };
    // Published: ISO 2720:1974: N² = E·t·S/C with C = 250. 1200 lx at 1 m are 300 at 2 m: 300/64·400/250 = 7.5.
    for lamp in [json!({"illuminance_lx": 1200, "distance": "1 m"}), json!({"intensity_cd": 1200})] {
        let answer = ask(lamp).await;
        close(&answer["points"][0]["f_number"]["value"], 7.5_f64.sqrt(), 1e-4);
        assert_eq!(assumed(&answer), ["full_power", "constant_c"]);
        assert_eq!(answer["settings"][0]["setting"]["energy_j"], Value::Null);
        // The stated light of a lamp is known to 0.3 stop, unless it says so itself.
        let causes = &answer["points"][0]["uncertainty"]["causes"];
        assert_eq!(causes[0]["cause"], "rating");
        assert!(codes(&answer["assumptions"]).contains(&"usual_plus_minus_stops"), "{answer}");
    }
    // A gain is the intensity over that of an isotropic source: 12000·5/(4π) = 4774.65 cd.
    let answer = ask(json!({"luminous_flux_lm": 12000})).await;
    close(&answer["points"][0]["f_number"]["value"], (4774.65_f64 / 4.0 / 64.0 * 400.0 / 250.0).sqrt(), 1e-4);
    assert_eq!(assumed(&answer), ["full_power", "lamp_intensity_cd", "constant_c"]);
    // Its scale is its dimmer, and a reading of it needs no time.
    let dimmed = json!({
        "exposure": {"f_number": "f/2.8"},
        "lights": [{"name": "a", "setting": "25 %",
            "unit": {"continuous": {"intensity_cd": 1200}, "scale": {"style": "percent", "least": 1, "step": 1}}}],
        "readings": [{"light": "a", "point": "p", "setting": "100 %", "f_number": "f/5.6"}]
    });
    let answer = server.ask(PREDICT, dimmed).await;
    close(&answer["points"][0]["error_stops"], 0.0, 1e-4);
}

#[tokio::test]
async fn a_lamp_is_no_flash() {
    let server = Server::start().await;
    let lamp = json!({"continuous": {"intensity_cd": 1200}});
    let exposure = json!({"f_number": "f/2.8", "exposure_time": "1/60"});
    let body = one(lamp.clone(), json!({"f_number": "f/2.8"}), "2 m");
    assert_eq!(faults(&server, PREDICT, &body).await, [["/exposure/exposure_time", "lamp_without_time"]]);
    let mut body = one(lamp.clone(), exposure.clone(), "2 m");
    body["lights"][0]["pops"] = json!(2);
    assert_eq!(faults(&server, PREDICT, &body).await, [["/lights/0/pops", "pops_of_lamp"]]);
    let mut body = one(lamp.clone(), exposure.clone(), "2 m");
    body["lights"][0]["unit"]["energy"] = json!(500);
    body["lights"][0]["unit"]["scale"] = json!({"style": "joules", "least": 10});
    assert_eq!(
        faults(&server, PREDICT, &body).await,
        [["/lights/0/unit/energy", "not_of_a_lamp"], ["/lights/0/unit/scale/style", "joules_on_lamp"]]
    );
    let flux = json!({"continuous": {"luminous_flux_lm": 5000}});
    assert_eq!(
        faults(&server, PREDICT, &one(flux, exposure, "2 m")).await,
        [["/lights/0/unit", "unknown_beam"]]
    );
    let one_light = json!({"unit": lamp, "distance": "2 m"});
    let missing = faults(&server, "/v1/exposure/one-light", &one_light).await;
    assert_eq!(missing, [["/exposure_time", "lamp_without_time"]]);
    let kit = json!({
        "kit": [{"unit": lamp}],
        "shots": [{"name": "s", "exposure": {"f_number": "f/8"}, "lights": [{"role": "key", "distance": "2 m"}]}]
    });
    let missing = faults(&server, "/v1/kit/check", &kit).await;
    assert_eq!(missing, [["/shots/0/exposure/exposure_time", "lamp_without_time"]]);
    let swap = json!({"reference": {"unit": {"guide_number": "GN 40"}}, "candidates": [{"unit": lamp}]});
    let missing = faults(&server, "/v1/energy/equivalence", &swap).await;
    assert_eq!(missing, [["/exposure/exposure_time", "lamp_without_time"]]);
}

#[tokio::test]
async fn a_lamp_takes_the_place_of_a_flash_for_a_time() {
    let server = Server::start().await;
    let lamp = |candela: f64| json!({"continuous": {"intensity_cd": candela}});
    // One lamp for another: the time cancels. A quarter of 4800 cd is 1200 cd.
    let asked = json!({"reference": {"unit": lamp(1200.0)}, "candidates": [{"unit": lamp(4800.0)}]});
    let answer = server.ask("/v1/energy/equivalence", asked).await;
    close(&answer["candidates"][0]["setting"]["stops_below_full"], 2.0, 1e-4);
    // ISO 1230 with ISO 2720:1974 (C = 250): GN 8 is 64·250/100 = 160 cd·s, which 10240 cd give in 1/64 s.
    let asked = json!({
        "reference": {"unit": {"guide_number": "GN 8"},
            "exposure": {"f_number": "f/4", "exposure_time": "1/60", "sync_time": "1/250"}},
        "candidates": [{"unit": lamp(10240.0)}]
    });
    let answer = server.ask("/v1/energy/equivalence", asked).await;
    close(&answer["candidates"][0]["setting"]["stops_below_full"], 0.0, 1e-4);
    // The same alone: 10240 cd for 1/64 s at 2 m is GN 8 at 2 m, f/4.
    let asked = json!({"unit": lamp(10240.0), "exposure_time": "1/60", "distance": "2 m"});
    let answer = server.ask("/v1/exposure/one-light", asked).await;
    close(&answer["f_number"]["value"], 4.0, 1e-4);
    let kit = json!({
        "kit": [{"unit": lamp(10240.0)}],
        "shots": [{"name": "s", "exposure": {"f_number": "f/4", "exposure_time": "1/60"}, "interval_s": 1,
            "frames": 20, "lights": [{"role": "key", "distance": "1 m"}]}]
    });
    let answer = server.ask("/v1/kit/check", kit).await;
    close(&answer["shots"][0]["lights"][0]["headroom_stops"], 2.0, 1e-3);
    assert_eq!([&answer["keeps_pace"], &answer["complete"]], [true, true], "{answer}");
}

#[tokio::test]
async fn a_longer_exposure_is_a_lever_for_lamps_and_leaves_flash_alone() {
    let server = Server::start().await;
    let body = |readings: Value, placements: Value| {
        json!({
            "exposure": {"f_number": "f/4", "exposure_time": "1/125", "sync_time": "1/250"},
            "lights": [
                {"name": "lamp", "unit": {"continuous": {"intensity_cd": 1600},
                    "scale": {"style": "percent", "least": 10, "step": 1}}},
                {"name": "flash", "unit": {"energy": 400, "scale": {"style": "dial", "full": 9, "least": 2}}}
            ],
            "points": [{"name": "mood", "target": {"stops": 0}}, {"name": "face", "target": {"stops": 0}}],
            "readings": readings, "placements": placements
        })
    };
    let flash = json!({"light": "flash", "point": "face", "setting": "9", "f_number": "f/8"});
    // By hand: 1600 cd at 1 m for 1/128 s read N² = 1600/128·100/250 = 5, which is 1.678 stops under f/4.
    let metered = json!({"light": "lamp", "point": "mood", "setting": "100 %", "f_number": 5_f64.sqrt()});
    for body in [
        body(json!([flash]), json!([{"light": "lamp", "point": "mood", "distance": "1 m"}])),
        body(json!([flash, metered]), json!([])),
    ] {
        let answer = server.ask(BALANCE, body.clone()).await;
        close(&answer["points"][0]["error_stops"], -1.6781, 1e-3);
        let remedies = answer["remedies"].as_array().expect("a list").iter();
        let mut longer = remedies.filter(|remedy| remedy["changes"][0]["change"] == "exposure_time");
        let longer = longer.next().expect("a longer time");
        let changed = patched(&body, &longer["patch"]);
        let then = server.ask(BALANCE, changed.clone()).await;
        assert_eq!(then["feasible"], true, "{changed}");
        assert_eq!(then["worst_error_stops"], longer["then"]["worst_error_stops"]);
        // The flash stays as it was.
        assert_eq!(then["settings"][1]["setting"], answer["settings"][1]["setting"]);
    }
}

#[tokio::test]
async fn gels_shift_colour_and_lights_that_differ_are_remarked() {
    let server = Server::start().await;
    let light = |name: &str, filters: Value| json!({"name": name, "unit": {"guide_number": "GN 40"}, "filters": filters});
    let gel = |mired: f64| json!({"name": "gel", "stops": -0.5, "mired": mired});
    let ask = async |lights: Value| {
        let placements: Vec<Value> = lights
            .as_array()
            .expect("a list")
            .iter()
            .map(|light| json!({"light": light["name"], "point": "p", "distance": "2 m"}))
            .collect();
        server
            .ask(
                PREDICT,
                json!({"exposure": {"f_number": "f/8"}, "lights": lights, "placements": placements}),
            )
            .await
    };
    // Mireds add (common practice).
    let answer =
        ask(json!([light("a", json!(["ND 0.3"])), light("b", json!([gel(100.0), gel(30.0)]))])).await;
    assert_eq!(answer["settings"][0]["light_mired"], Value::Null);
    assert_eq!(answer["settings"][1]["light_mired"], 130.0);
    assert_eq!(warned(&answer), ["mixed_colour"]);
    assert_eq!(answer["warnings"][0]["at"], "/lights/1");
    let params = json!({"light": "b", "other": "a", "difference_mired": 130.0});
    assert_eq!(answer["warnings"][0]["params"], params);
    // Two may differ, though neither from the usual one; a lamp is not compared with a flash.
    let three =
        json!([light("a", json!([gel(17.0)])), light("b", json!([])), light("c", json!([gel(-7.0)]))]);
    let answer = ask(three).await;
    assert_eq!(
        answer["warnings"][0]["params"],
        json!({"light": "a", "other": "c", "difference_mired": 24.0})
    );
    let mut lamp = light("lamp", json!([gel(130.0)]));
    lamp["unit"] = json!({"continuous": {"intensity_cd": 4800}});
    let body = json!({"exposure": {"f_number": "f/8", "exposure_time": "1/60"}, "lights": [light("a", json!([])), lamp],
        "placements": [{"light": "a", "point": "p", "distance": 2}, {"light": "lamp", "point": "p", "distance": 2}]});
    assert!(warned(&server.ask(PREDICT, body).await).is_empty());
    // The odd one is that which differs from most.
    let gelled = ["key", "fill"].map(|name| light(name, json!([gel(159.0)])));
    let answer = ask(json!([light("hair", json!([])), gelled[0], gelled[1]])).await;
    assert_eq!(answer["warnings"][0]["at"], "/lights/0");
    assert_eq!(answer["warnings"][0]["params"]["difference_mired"], -159.0);
    // Up to 20 mired is no difference.
    let answer = ask(json!([light("a", json!([])), light("b", json!([gel(20.0)]))])).await;
    assert!(warned(&answer).is_empty(), "{answer}");
}

#[tokio::test]
async fn a_lens_on_bellows_takes_light_in_a_set() {
    let server = Server::start().await;
    let ask = async |lens: Value| {
        let mut body = one(json!({"guide_number": "GN 40"}), json!({"f_number": "f/8"}), "5 m");
        body["lens"] = lens;
        server.ask(PREDICT, body).await["lens_stops"].clone()
    };
    // Common practice: 2·log2(1 + m/p), m = extension / focal length. m = 0.5: 1.17 stops; with p = 0.5: 2 stops.
    close(&ask(json!({"extension_mm": 50, "focal_length_mm": 100})).await, -1.1699, 1e-4);
    close(&ask(json!({"magnification": "1:2", "pupil_ratio": 0.5})).await, -2.0, 1e-9);
    let mut body = one(json!({"guide_number": "GN 40"}), json!({"f_number": "f/8"}), "5 m");
    body["lens"] = json!({"extension_mm": 50});
    assert_eq!(faults(&server, PREDICT, &body).await, [["/lens/focal_length_mm", "missing"]]);
    body["lens"] = json!({"extension_mm": 50, "focal_length_mm": 100, "magnification": 1});
    assert_eq!(faults(&server, PREDICT, &body).await[0][1], "conflict");
}

/// A softbox that read f/8 at 2 m, and what stands beside the reading.
fn metered(distance: Value, beside: &str, entry: Value) -> Value {
    let mut body = json!({
        "exposure": {"f_number": "f/8"},
        "lights": [{"name": "a", "unit": {"energy": 500}, "modifier_stops": {"kind": "softbox_one_diffuser"},
            "source": {"disc_m": 0.9}}],
        "readings": [{"light": "a", "point": "p", "setting": "full", "f_number": "f/8"}]
    });
    body["readings"][0]["distance"] = distance;
    body[beside] = entry;
    body
}

#[tokio::test]
async fn a_light_that_was_metered_can_be_moved() {
    let server = Server::start().await;
    let placed = |distance: &str| json!([{"light": "a", "point": "p", "distance": distance}]);
    // On the axis of a disc E goes with 1/(d² + R²) (derived from 1/(1+(R/d)²)/d²; published: Siegel & Howell): from 2 m to
    // 1 m (4 + 0.2025)/(1 + 0.2025) = 3.4948, 1.8052 stops. Neither energy nor modifier counts.
    let answer = server.ask(PREDICT, metered(json!("2 m"), "placements", placed("1 m"))).await;
    close(&answer["points"][0]["error_stops"], 1.8052, 1e-3);
    assert_eq!(assumed(&answer), ["full_power"]);
    let causes = answer["points"][0]["uncertainty"]["causes"].as_array().expect("causes");
    assert!(causes.iter().all(|one| one["cause"] != "rating" && one["cause"] != "modifier"), "{causes:?}");
    // Where it was metered nothing changes; without a placement the distance does nothing.
    let answer = server.ask(PREDICT, metered(json!("2 m"), "placements", placed("2 m"))).await;
    close(&answer["points"][0]["error_stops"], 0.0, 1e-4);
    let answer = server.ask(PREDICT, metered(json!("2 m"), "placements", json!([]))).await;
    close(&answer["points"][0]["error_stops"], 0.0, 1e-9);
    // Of a point source by the inverse square, and with the cosine of 60°, one stop.
    let mut body = metered(json!("2 m"), "placements", placed("1 m"));
    body["lights"][0].as_object_mut().expect("an object").remove("source");
    body["placements"][0]["incidence_deg"] = json!(60);
    let answer = server.ask(PREDICT, body).await;
    close(&answer["points"][0]["error_stops"], 1.0, 1e-4);
    // By positions: 4 m away a quarter of the light at 2 m.
    let mut body = metered(json!("2 m"), "points", json!([{"name": "p", "position": [0, 0, 0]}]));
    body["lights"][0] = json!({"name": "a", "unit": {"energy": 500}, "position": [0, 4, 0]});
    let answer = server.ask(PREDICT, body).await;
    close(&answer["points"][0]["error_stops"], -2.0, 1e-4);
}

#[tokio::test]
async fn a_reading_that_does_not_say_where_contradicts_a_placement() {
    let server = Server::start().await;
    let placed = json!([{"light": "a", "point": "p", "distance": "1 m"}]);
    let found = server.refused(PREDICT, metered(Value::Null, "placements", placed.clone())).await;
    assert_eq!(pointers(&found), ["/placements/0"]);
    assert!(found[0][2].contains("distance"), "{found:?}");
    let twice = json!([placed[0], placed[0]]);
    let found = server.refused(PREDICT, metered(json!("2 m"), "placements", twice)).await;
    assert_eq!(pointers(&found), ["/placements/1"]);
}

#[tokio::test]
async fn a_remedy_may_move_a_light_that_was_metered() {
    let server = Server::start().await;
    let mut body =
        metered(json!("2 m"), "placements", json!([{"light": "a", "point": "p", "distance": "2 m"}]));
    body["points"] = json!([{"name": "p", "target": {"stops": 1}}]);
    let answer = server.ask(BALANCE, body.clone()).await;
    close(&answer["points"][0]["error_stops"], -1.0, 1e-3);
    let remedies = answer["remedies"].as_array().expect("a list").iter();
    let mut nearer = remedies.filter(|remedy| remedy["changes"][0]["change"] == "distance");
    let nearer = nearer.next().expect("a shorter distance");
    let then = server.ask(BALANCE, patched(&body, &nearer["patch"])).await;
    assert_eq!(then["feasible"], true);
    assert_eq!(then["worst_error_stops"], nearer["then"]["worst_error_stops"]);
}
