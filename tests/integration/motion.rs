//! `/v1/motion/freeze`.

use serde_json::{Value, json};

use crate::support::{Server, close, pointers};

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
    close(&answer["blur_m"], 0.002, 1e-7);
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
    assert_eq!(pointers(&server.refused("/v1/motion/freeze", bad).await), ["/speed_m_s", "/pixels_across"]);
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
    close(&answer["blur_m"], 0.0035, 1e-9);
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
async fn a_time_shorter_than_the_sync_time_is_reported() {
    let server = Server::start().await;
    for (time, is_faster) in [("1/250", true), ("1/200", false)] {
        let body = json!({"t0_5_s": "1/2000 s", "speed_m_s": 2, "magnification": "1:2", "pixel_pitch_um": 4,
            "exposure_time": time, "sync_time": "1/200"});
        let answer = server.ask("/v1/motion/freeze", body).await;
        assert_eq!(answer["warnings"].to_string().contains("faster_than_sync"), is_faster, "{answer}");
    }
}
