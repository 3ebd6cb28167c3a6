//! `/v1/patches/…`, `/v1/units/calibrate`, `/v1/motion/freeze`, `/v1/colour/gel`.

use palette::{IntoColor, LinSrgb, Srgb, encoding::AdobeRgb, rgb::Rgb};
use serde_json::{Value, json};
use stopwright::light::measure::space::{Encoding, Level, Space};

use crate::support::{Server, close, number, pointers};

#[test]
fn levels_agree_with_a_colour_library() {
    // Against a general-purpose library, the crate palette.
    for level in 0..=255_u32 {
        let part = f64::from(level) / 255.0;
        let ours = |space| Encoding { space, bits: 8 }.linear(Level::Grey(f64::from(level)));
        let theirs: LinSrgb<f64> = Srgb::new(part, part, part).into_linear();
        assert!((ours(Space::Srgb) - theirs.red).abs() < 1e-9, "sRGB {level}");
        let theirs = Rgb::<AdobeRgb, f64>::new(part, part, part).into_linear();
        assert!((ours(Space::AdobeRgb1998) - theirs.red).abs() < 1e-9, "Adobe RGB (1998) {level}");
    }
    // Luminance of a colour.
    let rgb = [200.0, 120.0, 40.0];
    let ours = Encoding { space: Space::Srgb, bits: 8 }.linear(Level::Rgb(rgb));
    let [r, g, b] = rgb.map(|level| level / 255.0);
    let theirs: palette::Xyz<palette::white_point::D65, f64> = Srgb::new(r, g, b).into_linear().into_color();
    assert!((ours - theirs.y).abs() < 1e-4, "{ours} {}", theirs.y);
}

#[tokio::test]
async fn patches_are_compared_by_the_curve_of_their_space() {
    let server = Server::start().await;
    let answer = server
        .ask(
            "/v1/patches/compare",
            json!({"reference": 118, "readings": [{"id": "7", "name": "a", "level": 145}, {"name": "b", "level": 255}, {"name": "c", "level": 118}],
                "exposure": {"f_number": "f/8"}}),
        )
        .await;
    let [a, b, c] = [0, 1, 2].map(|index| &answer["readings"][index]);
    // Published: IEC 61966-2-1: 118 is 0.1811642, 145 is 0.2831487.
    let stops = (0.283_148_7_f64 / 0.181_164_2).log2();
    close(&a["stops"], stops, 1e-4);
    close(&a["f_number"]["value"], 8.0 * (stops / 2.0).exp2(), 1e-3);
    close(&a["power_change_stops"], -stops, 1e-4);
    assert_eq!((&a["id"], &a["matches"], &a["clipped"]), (&json!("7"), &json!(false), &json!(false)));
    assert!(number(&a["stops_range"][0]) < stops && stops < number(&a["stops_range"][1]));
    assert_eq!((&b["clipped"], &c["matches"]), (&json!(true), &json!(true)));
    assert_eq!(answer["assumptions"][0]["name"], "no_tone_curve");
    // In a linear file twice the level is one stop.
    let linear = json!({"space": "linear", "bits": 16, "reference": 10000, "readings": [{"name": "a", "level": [20000, 20000, 20000]}]});
    close(&server.ask("/v1/patches/compare", linear).await["readings"][0]["stops"], 1.0, 1e-4);
    let bad = json!({"reference": 300, "readings": [{"name": "a", "level": [1, 2]}], "bits": 12});
    assert_eq!(pointers(&server.refused("/v1/patches/compare", bad).await), ["/readings/0/level", "/bits"],);
    let bad = json!({"reference": 300, "readings": [{"name": "a", "level": 20}]});
    assert_eq!(pointers(&server.refused("/v1/patches/compare", bad).await), ["/reference"]);
}

/// The level in a file whose tone curve has this slope at mid grey, levels a stop.
fn tone(stops: f64, levels_per_stop: f64) -> f64 {
    (118.0 + levels_per_stop * stops).round()
}

#[tokio::test]
async fn a_tone_curve_of_known_slope_is_found() {
    let server = Server::start().await;
    // Common practice: a third of a stop can move mid grey by some 25 levels; by the sRGB curve alone that would be
    // more than half a stop.
    let by_srgb = server
        .ask("/v1/patches/compare", json!({"reference": 118, "readings": [{"name": "a", "level": 143}]}))
        .await;
    let reading = &by_srgb["readings"][0];
    assert!(number(&reading["stops"]) > 0.5);
    let third = 1.0 / 3.0;
    assert!(number(&reading["stops_range"][0]) < third && third < number(&reading["stops_range"][1]));
    let frames: Vec<Value> = [
        ("f/11", -1.0),
        ("f/10", -2.0 * third),
        ("f/9", -third),
        ("f/8", 0.0),
        ("f/7.1", third),
        ("f/6.3", 2.0 * third),
    ]
    .iter()
    .map(|(f_number, stops)| json!({"f_number": f_number, "level": tone(*stops, 75.0)}))
    .collect();
    let fit = server
        .ask(
            "/v1/patches/response",
            json!({"frames": frames, "between": [[118, 143], [143, 118], [100, 150]]}),
        )
        .await;
    for frame in fit["frames"].as_array().expect("frames") {
        close(&frame["slope_levels_per_stop"], 75.0, 1.5);
    }
    close(&fit["between"][0]["stops"], third, 1e-3);
    close(&fit["between"][1]["stops"], -third, 1e-3);
    close(&fit["between"][2]["stops"], 50.0 / 75.0, 0.01);
    assert_eq!(fit["warnings"], json!([]));
    // The response is accepted by other endpoints as it is.
    let with = server
        .ask(
            "/v1/patches/compare",
            json!({"reference": 118, "readings": [{"name": "a", "level": 143}], "response": fit["response"]}),
        )
        .await;
    close(&with["readings"][0]["stops"], third, 1e-3);
    assert_eq!(with["assumptions"], json!([]));
    // One level at each of two apertures a third apart; the match lies between.
    let measured = server
        .ask(
            "/v1/energy/measured",
            json!({
                "reference": {"energy": "500 J", "f_number": "f/8", "level": 118},
                "other": {"frames": [{"f_number": "f/5.6", "level": 130}, {"f_number": "f/6.3", "level": 105}]}
            }),
        )
        .await;
    // By hand: 12 of the 25 levels of a third of a stop past f/5.6, which is a stop over f/8.
    close(&measured["difference_stops"], -1.0 + 12.0 / 25.0 / 3.0, 1e-3);
    let off = number(&measured["uncertainty_stops"]);
    assert!((0.01..0.1).contains(&off), "{off}");
}

#[tokio::test]
async fn a_response_has_warnings() {
    let server = Server::start().await;
    let fit =
        |frames: Value| server.ask("/v1/patches/response", json!({"frames": frames, "between": [[10, 250]]}));
    let codes = |answer: &Value| -> Vec<String> {
        let warnings = answer["warnings"].as_array().expect("warnings").iter();
        warnings.map(|warning| warning["code"].as_str().expect("a code").to_owned()).collect()
    };
    let answer =
        fit(json!([{"stops": 0, "level": 100}, {"stops": 1, "level": 160}, {"stops": 2, "level": 255}]))
            .await;
    assert_eq!(codes(&answer), ["clipped", "few_frames", "extrapolated"]);
    let answer = fit(json!([{"stops": 0, "level": 5}, {"stops": 1, "level": 120}, {"stops": 2, "level": 110}, {"stops": 3, "level": 252}])).await;
    assert_eq!(codes(&answer), ["not_monotone"]);
    close(&answer["response"]["points"][1]["level"], 115.0, 1e-9);
    let mixed = json!({"frames": [{"stops": 0, "level": 100}, {"f_number": "f/8", "level": 120}]});
    assert_eq!(pointers(&server.refused("/v1/patches/response", mixed).await), ["/frames/1"]);
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
        let (low, high) = (number(&answer[range][0]), number(&answer[range][1]));
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
async fn motion_by_the_definitions() {
    let server = Server::start().await;
    let answer = server
        .ask(
            "/v1/motion/freeze",
            json!({"t0_5_s": 0.001, "speed_m_s": 2, "field_width_m": 2, "pixels_across": 4000, "exposure_time": 0.001, "reading": "literal"}),
        )
        .await;
    // ISO 2827: at t0.1 a tenth is left. After t, an exponential tail has exp(-t/τ) left.
    let tau = 0.001 / std::f64::consts::LN_2;
    close(&answer["t0_1_s"], tau * 10_f64.ln(), 1e-8);
    // The shutter closes first: 2 m/s for 1 ms.
    close(&answer["blur_mm"], 2.0, 1e-4);
    close(&answer["blur_px"], 4.0, 1e-3);
    close(&answer["fastest_subject_m_s"], 0.5, 1e-5);
    // At t0.5 half of the peak is left and half of the light is out: one stop lost.
    close(&answer["lost_flash_stops"], 1.0, 1e-4);
    close(&answer["ghost"]["length_px"], 4.0, 1e-9);
    // The integral as a sum, for another time.
    let steps = 200_000;
    let until = 0.0007;
    let sum: f64 = (0..steps)
        .map(|k| (-(f64::from(k) + 0.5) * until / f64::from(steps) / tau).exp() * until / f64::from(steps))
        .sum();
    let answer = server
        .ask(
            "/v1/motion/freeze",
            json!({"t0_5_s": 0.001, "speed_m_s": 2, "magnification": 0.5, "pixel_pitch_um": 4, "exposure_time": until, "reading": "literal"}),
        )
        .await;
    close(&answer["lost_flash_stops"], -(sum / tau).log2(), 1e-4);
    // 4 µm at half life size is 8 µm at the subject.
    close(&answer["blur_px"], 2.0 * until / 8e-6, 0.01);
    let cut = json!({"t0_5_s": 0.001, "t0_1_s": 0.0012, "shape": "cut_off", "speed_m_s": 1, "field_width_m": 1, "pixels_across": 1000, "exposure_time": "1/200"});
    let answer = server.ask("/v1/motion/freeze", cut).await;
    assert_eq!(answer["lost_flash_stops"], Value::Null);
    assert_eq!(answer["warnings"][0]["code"], "cut_off_not_computed");
    let bad = json!({"shape": "cut_off", "t0_5_s": 0.001, "speed_m_s": 0, "field_width_m": 1});
    assert_eq!(pointers(&server.refused("/v1/motion/freeze", bad).await), ["/speed_m_s"]);
}

#[tokio::test]
async fn a_subject_blurs_no_longer_than_the_shutter_is_open() {
    let server = Server::start().await;
    let ask = async |exposure_time: Value| {
        let body = json!({"t0_5_s": 0.001, "speed_m_s": 10, "field_width_m": 2, "pixels_across": 4000, "reading": "literal",
            "exposure_time": exposure_time, "allowed_blur_px": 8,
            "duration_by_setting": [{"setting": "full", "t0_5_s": 0.002}, {"setting": "low", "t0_5_s": 0.0001}]});
        server.ask("/v1/motion/freeze", body).await
    };
    let is_warned = |answer: &Value| answer["warnings"].to_string().contains("shutter_bounds_blur");
    // ISO 2827: t0.1 = t0.5·ln 10/ln 2, and 10 m/s on pixels of 0.5 mm are 20 pixels a millisecond.
    let by_flash = |t0_5_ms: f64| 20.0 * t0_5_ms * 10_f64.ln() / 2_f64.ln();
    for open in [Value::Null, json!(0.01)] {
        let answer = ask(open).await;
        close(&answer["blur_px"], by_flash(1.0), 1e-3);
        assert_eq!((&answer["bounded_by"], is_warned(&answer)), (&json!("flash"), false));
    }
    // A shutter of 0.35 ms allows 7 pixels of movement, whatever the flash does afterwards.
    let answer = ask(json!(0.00035)).await;
    close(&answer["blur_px"], 7.0, 1e-6);
    close(&answer["blur_mm"], 3.5, 1e-6);
    close(&answer["fastest_subject_m_s"], 10.0 * 8.0 / 7.0, 1e-4);
    assert_eq!((&answer["bounded_by"], &answer["sharp"]), (&json!("shutter"), &json!(true)));
    assert!(is_warned(&answer), "{answer}");
    // Each setting by its own flash duration: one is longer than the shutter is open, one is shorter.
    let [full, low] = [0, 1].map(|index| &answer["by_setting"][index]);
    close(&full["blur_px"], 7.0, 1e-6);
    close(&low["blur_px"], by_flash(0.1), 1e-3);
    assert_eq!((&full["bounded_by"], &low["bounded_by"]), (&json!("shutter"), &json!("flash")));
    // The same for a flash that a switch cuts off.
    let cut = json!({"t0_5_s": 0.001, "t0_1_s": 0.0012, "shape": "cut_off", "speed_m_s": 1, "field_width_m": 1,
        "pixels_across": 1000, "exposure_time": 0.0005, "reading": "literal"});
    close(&server.ask("/v1/motion/freeze", cut).await["blur_px"], 0.5, 1e-6);
}

#[tokio::test]
async fn gels_are_the_best_of_all_stacks() {
    let server = Server::start().await;
    // Forty gels with odd shifts, against a search of every stack.
    let gels: Vec<(f64, f64)> =
        (0..40).map(|k| (f64::from((k * 37) % 101) * 3.1 - 120.0, -f64::from(k % 7) / 10.0)).collect();
    let list: Vec<Value> = gels
        .iter()
        .enumerate()
        .map(|(index, (mired, stops))| json!({"name": format!("g{index}"), "mired": mired, "stops": stops}))
        .collect();
    for (from, to) in [(5600.0, 3200.0), (3200.0, 6500.0), (5600.0, 5600.0)] {
        let answer = server.ask("/v1/colour/gel", json!({"from_k": from, "to_k": to, "gels": list})).await;
        let wanted = 1e6 / to - 1e6 / from;
        close(&answer["shift_mired"], wanted, 1e-3);
        let mut best = wanted.abs();
        for a in 0..40 {
            best = best.min((gels[a].0 - wanted).abs());
            for b in a + 1..40 {
                best = best.min((gels[a].0 + gels[b].0 - wanted).abs());
                for c in b + 1..40 {
                    best = best.min((gels[a].0 + gels[b].0 + gels[c].0 - wanted).abs());
                }
            }
        }
        assert!((number(&answer["stack"]["error_mired"]).abs() - best).abs() < 1e-3, "{answer} {best}");
    }
    let applied = server
        .ask(
            "/v1/colour/gel",
            json!({"from_mired": 180, "gels": [{"name": "w", "mired": 100, "stops": -0.5}, {"name": "v", "mired": 20}], "applied": ["w", "v"],
                "unit": {"energy": 500, "scale": {"style": "dial", "full": 9, "least": 2}}, "setting": 8}),
        )
        .await;
    // By hand: 300 mired is 3333 K; half a stop from 8 is 8.5.
    close(&applied["applied"]["result_k"], 1e6 / 300.0, 0.01);
    assert_eq!(applied["applied"]["setting"]["label"], "8.5");
    assert_eq!(applied["stack"], Value::Null);
    let bad = json!({"from_k": 5600, "from_mired": 200, "gels": [{"name": "a", "mired": 1}, {"name": "a", "mired": 2}], "applied": ["b"]});
    assert_eq!(
        pointers(&server.refused("/v1/colour/gel", bad).await),
        ["/from_mired", "/gels/1/name", "/applied/0"]
    );
}
