//! `/v1/patches/compare` and `/v1/patches/response`.

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
    assert!(number(&a["stops_range"]["low"]) < stops && stops < number(&a["stops_range"]["high"]));
    assert_eq!((&b["clipped"], &c["matches"]), (&json!(true), &json!(true)));
    assert_eq!(answer["assumptions"][0]["code"], "no_tone_curve");
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
    assert!(
        number(&reading["stops_range"]["low"]) < third && third < number(&reading["stops_range"]["high"])
    );
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
    let uncertainty = &measured["uncertainty"];
    let off = number(&uncertainty["high_stops"]);
    // By hand: an eighth of a third of a stop, and a level of the 25 to a third; ±0.06 stop from flash to flash of both units.
    close(&uncertainty["high_stops"], (1.0_f64 / 24.0 + 1.0 / 75.0).hypot(0.06_f64.hypot(0.06)), 1e-3);
    close(&uncertainty["low_stops"], -off, 1e-9);
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
    assert_eq!(codes(&answer), ["frames_clipped", "few_frames", "beyond_frames"]);
    let answer = fit(json!([{"stops": 0, "level": 5}, {"stops": 1, "level": 120}, {"stops": 2, "level": 110}, {"stops": 3, "level": 252}])).await;
    assert_eq!(codes(&answer), ["not_monotone"]);
    close(&answer["response"]["points"][1]["level"], 115.0, 1e-9);
    let mixed = json!({"frames": [{"stops": 0, "level": 100}, {"f_number": "f/8", "level": 120}]});
    assert_eq!(pointers(&server.refused("/v1/patches/response", mixed).await), ["/frames/1"]);
}

#[tokio::test]
async fn two_frames_are_a_response() {
    let server = Server::start().await;
    let fit = |frames: Value, between: Value| {
        server.ask("/v1/patches/response", json!({"frames": frames, "between": between}))
    };
    // Common practice: a third of a stop moves mid grey by some 25 levels.
    let frames = json!([{"f_number": "f/8", "level": 118}, {"f_number": "f/9", "level": 93}]);
    let answer = fit(frames, json!([[118, 93], [93, 118], [118, 255]])).await;
    close(&answer["frames"][1]["stops"], -1.0 / 3.0, 1e-4);
    close(&answer["frames"][0]["slope_levels_per_stop"], 75.0, 1e-3);
    let [down, up, white] = [0, 1, 2].map(|index| &answer["between"][index]);
    close(&down["stops"], -1.0 / 3.0, 1e-4);
    // Its doubt: the noise of both levels at least, 0.7 levels each at 75 a stop (JCGM 100:2008, 5.1.2).
    let [low, high] = ["low", "high"].map(|end| number(&down["stops_range"][end]));
    let noise = 1.96 * 0.7 * 2_f64.sqrt() / 75.0;
    assert!(low < -1.0 / 3.0 - noise && -1.0 / 3.0 + noise < high && high < 0.0, "{down}");
    close(&up["stops_range"]["low"], -high, 2e-4);
    close(&up["stops_range"]["high"], -low, 2e-4);
    // White may be any amount of light.
    assert_eq!((&white["extrapolated"], &white["stops_range"]["high"]), (&json!(true), &Value::Null));
    assert!(number(&white["stops_range"]["low"]) < number(&white["stops"]));
    assert!(answer["warnings"].to_string().contains("few_frames"), "{answer}");
    // Whatever the camera was turned by. One stop each (published: CIPA DC-008, APEX).
    let by = async |low: Value, high: Value| {
        let (mut low, mut high) = (low, high);
        low["level"] = json!(80);
        high["level"] = json!(140);
        fit(json!([low, high]), json!([])).await["response"].clone()
    };
    let stops = by(json!({"stops": 0}), json!({"stops": 1})).await;
    for (low, high) in [
        (json!({"f_number": "f/11"}), json!({"f_number": "f/8"})),
        (json!({"iso": 100}), json!({"iso": 200})),
        (json!({"exposure_time": "1/125"}), json!({"exposure_time": "1/60"})),
        (json!({"f_number": "f/8", "iso": 100}), json!({"f_number": "f/11", "iso": 400})),
    ] {
        assert_eq!(by(low.clone(), high).await, stops, "{low}");
    }
    // What means nothing: one frame, two of one exposure, a clipped one of two, and exposures in two ways.
    for (frames, pointer) in [
        (json!([{"stops": 0, "level": 100}]), "/frames"),
        (json!([{"stops": 0, "level": 100}, {"stops": 0, "level": 120}]), "/frames"),
        (json!([{"stops": 0, "level": 100}, {"stops": 1, "level": 255}]), "/frames"),
        (json!([{"iso": 100, "level": 100}, {"f_number": "f/8", "level": 120}]), "/frames/1"),
        (json!([{"iso": 100, "level": 100}, {"iso": 200, "stops": 1, "level": 120}]), "/frames/1"),
    ] {
        let found = server.refused("/v1/patches/response", json!({"frames": frames})).await;
        assert_eq!(pointers(&found), [pointer], "{frames}");
    }
}
