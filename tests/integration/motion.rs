//! `/v1/motion/freeze`.

use serde_json::{Value, json};

use crate::support::{Server, close, faults, pointers};

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

#[tokio::test]
async fn what_is_known_is_enough() {
    let server = Server::start().await;
    let ask = async |body: Value| server.ask("/v1/motion/freeze", body).await;
    let absent = |answer: &Value, names: &[&str]| {
        assert!(names.iter().all(|name| answer.get(name).is_none()), "{answer}");
    };
    // ISO 2827: t0.5 and t0.1 of an exponential tail differ by ln 10/ln 2, or 3.32.
    let alone = ask(json!({"t0_5_s": "1/1000"})).await;
    close(&alone["t0_1_s"], 0.003_321_93, 1e-8);
    absent(&alone, &["blur_m", "blur_px", "sharp", "fastest_subject_m_s", "longest_t0_1_s", "frame_share"]);
    assert_eq!((&alone["summary"], &alone["bounded_by"]), (&json!("t0.1 is 1/301 s."), &json!("flash")));
    // Where a switch cuts the flash off, t0.1 alone does for the blur.
    let cut = ask(json!({"t0_1_s": 0.001, "shape": "cut_off", "speed_m_s": 3})).await;
    close(&cut["blur_m"], 0.003, 1e-9);
    absent(&cut, &["t0_5_s", "blur_px", "sharp"]);
    assert_eq!(cut["summary"], "The blur is 3 mm.");
    // Common practice: blur is speed by time. 3 m/s for 1/800 s is 3.75 mm.
    let blur = ask(json!({"t0_1_s": "1/800", "speed_m_s": 3, "allowed_blur_m": "5 mm"})).await;
    close(&blur["blur_m"], 0.003_75, 1e-8);
    close(&blur["fastest_subject_m_s"], 4.0, 1e-9);
    close(&blur["longest_t0_1_s"], 0.005 / 3.0, 1e-8);
    assert_eq!(blur["sharp"], true);
    // The shutter alone: lamps, or a flash whose duration is not known.
    let lamp = ask(json!({"speed_m_s": 2, "exposure_time": "1/500", "reading": "literal"})).await;
    close(&lamp["blur_m"], 0.004, 1e-9);
    close(&lamp["ghost"]["length_m"], 0.004, 1e-9);
    assert_eq!((&lamp["bounded_by"], &lamp["lost_flash_stops"]), (&json!("shutter"), &Value::Null));
    assert_eq!(lamp["warnings"], json!([]));
    assert!(lamp["ghost"].get("length_px").is_none(), "{lamp}");
    // A slower subject may be as fast as the allowed blur in the time, without a speed.
    let fastest = ask(json!({"t0_1_s": 0.001, "allowed_blur_m": 0.002})).await;
    close(&fastest["fastest_subject_m_s"], 2.0, 1e-9);
}

#[tokio::test]
async fn an_allowed_blur_asks_for_a_duration() {
    let server = Server::start().await;
    let durations = json!([{"setting": "1/16", "t0_1_s": "1/3000"}, {"setting": "1/64", "t0_1_s": "1/9000"}]);
    // By hand: 1 mm at 4 m/s is 1/4000 s, which the setting 1/64 keeps.
    let body = json!({"speed_m_s": 4, "allowed_blur_m": "1 mm", "unit": {"energy": 500, "duration_by_setting": durations}});
    let answer = server.ask("/v1/motion/freeze", body).await;
    close(&answer["longest_t0_1_s"], 0.000_25, 1e-9);
    assert_eq!([0, 1].map(|row| &answer["by_setting"][row]["sharp"]), [&json!(false), &json!(true)]);
    assert_eq!(answer["summary"], "A t0.1 of 1/4000 s or shorter would be sharp; short enough: 1/64.");
    // The same in pixels of half a millimetre: 2 of them are 1 mm.
    let body = json!({"speed_m_s": 4, "allowed_blur_px": 2, "field_width_m": 2, "pixels_across": 4000});
    let in_pixels = server.ask("/v1/motion/freeze", body).await;
    assert_eq!(in_pixels["longest_t0_1_s"], answer["longest_t0_1_s"]);
}

#[tokio::test]
async fn a_frame_that_is_not_lit_whole() {
    let server = Server::start().await;
    // Common practice: at twice the sync speed the slit lights half of the frame.
    let body = json!({"exposure_time": 0.0025, "sync_time": 0.005, "reading": "literal"});
    let answer = server.ask("/v1/motion/freeze", body).await;
    close(&answer["frame_share"], 0.5, 1e-9);
    assert_eq!(answer["warnings"][0]["code"], "faster_than_sync");
    let slow = json!({"exposure_time": "1/125", "sync_time": "1/200", "t0_1_s": "1/800"});
    close(&server.ask("/v1/motion/freeze", slow).await["frame_share"], 1.0, 1e-9);
}

#[tokio::test]
async fn motion_of_which_nothing_can_be_told() {
    let server = Server::start().await;
    for (body, pointer, code) in [
        (json!({}), "/t0_5_s", "nothing_asked"),
        (json!({"speed_m_s": 3}), "/t0_5_s", "nothing_asked"),
        (json!({"exposure_time": "1/125"}), "/t0_5_s", "nothing_asked"),
        (json!({"speed_m_s": 3, "allowed_blur_px": 1}), "/field_width_m", "missing"),
        (json!({"t0_5_s": 0.001, "field_width_m": 2}), "/pixels_across", "missing"),
        (json!({"t0_5_s": 0.001, "shape": "cut_off"}), "/t0_1_s", "unknown_duration"),
        (
            json!({"t0_5_s": 0.001, "magnification": 1, "pixel_pitch_um": 4, "allowed_blur_px": 1, "allowed_blur_m": 0.001}),
            "/allowed_blur_m",
            "conflict",
        ),
        (json!({"t0_5_s": 0.001, "allowed_blur_m": "2 lb"}), "/allowed_blur_m", "unreadable"),
    ] {
        let answer = server.post("/v1/motion/freeze", &body).await;
        assert_eq!(answer.status, 422, "{body}: {}", answer.body);
        assert_eq!(pointers(&faults(&answer.body)), [pointer], "{body}");
        assert_eq!(answer.body["errors"][0]["code"], code, "{body}");
    }
}

#[tokio::test]
async fn a_train_of_flashes() {
    let server = Server::start().await;
    let ask = async |body: Value| server.ask("/v1/motion/freeze", body).await;
    let absent = |value: &Value, names: &[&str]| {
        assert!(names.iter().all(|name| value.get(name).is_none()), "{value}");
    };
    // By hand: nine intervals of 0.2 s are 1.8 s. Handbooks (common practice) count ten, 10/5 Hz, which is the mark.
    let simplest = ask(json!({"pops": 10, "hz": 5})).await;
    let train = &simplest["train"];
    close(&train["span_s"], 1.8, 1e-9);
    close(&train["interval_s"], 0.2, 1e-9);
    close(&train["needed_exposure_time"]["value"], 1.8, 1e-9);
    assert_eq!(train["needed_exposure_time"]["mark"], "2 s");
    // log2(2/1.8) by hand.
    close(&train["needed_exposure_time"]["off_by_stops"], 0.152, 1e-4);
    // Common practice: n equal pops add log2(n) stops.
    close(&train["still_stops"], std::f64::consts::LOG2_10, 1e-4);
    close(&train["moving_stops"], 0.0, 1e-9);
    assert_eq!(train["images"], 10);
    absent(train, &["long_enough", "longest_interval_s", "spacing_m", "spacing_px", "work"]);
    absent(&simplest, &["t0_1_s", "blur_m"]);
    assert_eq!(
        simplest["summary"],
        "10 flashes at 5 Hz take an exposure time of 2 s or longer. What stands still gets 3.32 stops more light than from one; what moves shows in 10 images, each in the light of one."
    );
    // The pace as a time, and as a text.
    for pace in [json!({"interval_s": "0.2 s"}), json!({"interval_s": 0.2}), json!({"hz": "5 Hz"})] {
        let mut body = pace;
        body["pops"] = json!(10);
        assert_eq!(ask(body).await, simplest);
    }
    // The number of flashes alone.
    let bare = ask(json!({"pops": 4})).await;
    close(&bare["train"]["still_stops"], 2.0, 1e-9);
    absent(
        &bare["train"],
        &["interval_s", "hz", "span_s", "needed_exposure_time", "long_enough", "spacing_m"],
    );
    // By hand: 3 m/s for 0.1 s are 0.3 m between images, on pixels of half a millimetre 600; each is as sharp as by a single
    // flash of 1/1000 s. Four intervals and the flash itself are 0.401 s; the mark 0.4 s is 0.397 s.
    let golf = ask(
        json!({"pops": 5, "interval_s": "1/10 s", "t0_1_s": "1/1000", "speed_m_s": 3, "field_width_m": 2,
        "pixels_across": 4000, "ambient_below_flash_stops": 4, "exposure_time": "1 s"}),
    )
    .await;
    let train = &golf["train"];
    close(&train["spacing_m"], 0.3, 1e-9);
    close(&train["spacing_px"], 600.0, 1e-6);
    close(&train["needed_exposure_time"]["value"], 0.401, 1e-9);
    assert_eq!(
        (&train["needed_exposure_time"]["mark"], &train["long_enough"]),
        (&json!("0.5 s"), &json!(true))
    );
    close(&train["longest_interval_s"], 0.249_75, 1e-9);
    close(&golf["blur_m"], 0.003, 1e-9);
    // The ghost is as long as the whole exposure time.
    close(&golf["ghost"]["length_m"], 3.0, 1e-9);
    assert_eq!(golf["warnings"], json!([]));
}

#[tokio::test]
async fn an_exposure_time_that_holds_a_part_of_a_train() {
    let server = Server::start().await;
    let ask = async |body: Value| server.ask("/v1/motion/freeze", body).await;
    // By hand: flashes at 0, 0.2, 0.4, 0.6 and 0.8 s; the one at 1 s comes too late.
    let short = ask(json!({"pops": 10, "hz": 5, "exposure_time": "1 s"})).await;
    let train = &short["train"];
    assert_eq!((&train["long_enough"], &train["images"]), (&json!(false), &json!(5)));
    close(&train["still_stops"], 2.3219, 1e-4);
    close(&train["longest_interval_s"], 1.0 / 9.0, 1e-6);
    assert_eq!(short["warnings"][0]["code"], "train_cut");
    assert_eq!(short["warnings"][0]["params"], json!({"images": 5, "pops": 10}));
    // Without a number it is what the time holds; handbooks count 2 s by 5 Hz.
    let held = ask(json!({"hz": 5, "exposure_time": "2 s"})).await;
    assert_eq!((&held["train"]["pops"], &held["train"]["long_enough"]), (&json!(10), &json!(true)));
    // A focal-plane shutter: a single flash takes its sync time, so that the last takes it too.
    let synced =
        ask(json!({"pops": 2, "hz": 100, "t0_1_s": 0.001, "sync_time": 0.005, "reading": "literal"})).await;
    close(&synced["train"]["needed_exposure_time"]["value"], 0.015, 1e-9);
    // The mark that is proposed holds the train.
    for pops in [2, 3, 7, 16, 40] {
        let mut body = json!({"pops": pops, "hz": 7, "t0_1_s": "1/800"});
        let mark = ask(body.clone()).await["train"]["needed_exposure_time"]["mark"].clone();
        body["exposure_time"] = mark;
        assert_eq!(ask(body).await["train"]["long_enough"], true, "{pops}");
    }
}

#[tokio::test]
async fn a_train_by_its_unit() {
    let server = Server::start().await;
    let ask = async |body: Value| server.ask("/v1/motion/freeze", body).await;
    let unit = json!({"recycle_s": 2, "duty": {"flashes": 5, "in_s": 10},
        "scale": {"style": "fraction", "least": "1/64", "click": 1},
        "duration_by_setting": [{"setting": "1/8", "t0_1_s": "1/2000"}, {"setting": "1/2", "t0_1_s": "1/500"}]});
    // By hand: 2 s at full power are 0.25 s at 1/8 and 0.0625 s at 1/32; 20 flashes at 1/8 are 2.5 at full power.
    let fast = ask(json!({"pops": 20, "hz": 10, "unit": unit, "setting": "1/8"})).await;
    let work = &fast["train"]["work"];
    close(&work["recycle_s"], 0.25, 1e-9);
    close(&work["full_flashes"], 2.5, 1e-9);
    assert_eq!((&work["keeps_pace"], &work["heat"]["within_duty"]), (&json!(false), &json!(true)));
    assert_eq!(work["setting_that_keeps_pace"]["label"], "1/32");
    assert_eq!(fast["warnings"][0]["code"], "train_too_fast");
    assert_eq!(fast["warnings"][0]["at"], "/unit");
    // The duration that is listed for the setting is that of the flash.
    close(&fast["t0_1_s"], 0.0005, 1e-9);
    close(&fast["train"]["needed_exposure_time"]["value"], 1.9005, 1e-9);
    // 20 flashes at 1/2 within 10 s are 10 at full power, of 5.
    let hot = ask(json!({"pops": 20, "interval_s": 0.5, "unit": unit, "setting": "1/2"})).await;
    close(&hot["train"]["work"]["heat"]["most_full_flashes"], 10.0, 1e-9);
    let codes = |list: &Value| -> Vec<String> {
        let all = list.as_array().expect("a list").iter();
        all.map(|remark| remark["code"].as_str().expect("a code").to_owned()).collect()
    };
    assert_eq!(codes(&hot["warnings"]), ["train_too_fast", "train_over_duty"]);
    assert_eq!(codes(&hot["cautions"]), ["heat"]);
    // A setting left out is full power.
    let full = ask(json!({"pops": 3, "interval_s": 2, "unit": {"recycle_s": 2}})).await;
    assert_eq!(full["train"]["work"]["keeps_pace"], true);
    close(&full["train"]["work"]["setting"]["fraction"], 1.0, 1e-9);
    // Published: WCAG 2.x, success criterion 2.3.1: more than three flashes in a second.
    for (pops, hz, is_cautioned) in [(4, 3.1, true), (10, 3.0, false), (3, 10.0, false)] {
        let answer = ask(json!({"pops": pops, "hz": hz})).await;
        assert_eq!(codes(&answer["cautions"]) == ["photosensitivity"], is_cautioned, "{answer}");
    }
    assert_eq!(ask(json!({"t0_5_s": "1/1000"})).await["cautions"], json!([]));
}

#[tokio::test]
async fn an_exposure_time_for_one_flash_of_a_train() {
    let server = Server::start().await;
    let ask = async |body: Value| server.ask("/v1/motion/freeze", body).await;
    // By hand: 1/4 s holds one flash every half second. How long a single one takes is not known.
    let answer = ask(json!({"hz": 2, "exposure_time": "1/4"})).await;
    assert_eq!(answer["train"]["pops"], 1);
    assert_eq!(answer["train"].get("needed_exposure_time"), None);
    assert_eq!(answer["train"]["long_enough"], true);
    // 1/60 s is too short for the one that it gets: the sync time is 1/30 s.
    let answer = ask(json!({"hz": 100, "exposure_time": "1/60", "sync_time": "1/30"})).await;
    assert_eq!(answer["train"]["needed_exposure_time"]["mark"], "1/30 s");
    assert_eq!(answer["train"]["long_enough"], false);
    // Without a duration of the flash, the exposure time says nothing about the blur of one image.
    let answer = ask(json!({"pops": 6, "hz": 5, "exposure_time": "2 s", "speed_m_s": 2})).await;
    assert_eq!((answer.get("blur_m"), answer.get("bounded_by")), (None, None));
}

#[tokio::test]
async fn trains_that_are_refused() {
    let server = Server::start().await;
    for (body, pointer, code) in [
        (json!({"pops": 10, "hz": 5, "interval_s": 0.2}), "/hz", "conflict"),
        (json!({"pops": 1, "hz": 5}), "/pops", "out_of_range"),
        (json!({"pops": 2.5, "hz": 5}), "/pops", "not_whole"),
        (json!({"pops": 10, "hz": "5 rpm"}), "/hz", "unreadable"),
        (json!({"pops": 10, "hz": 0}), "/hz", "out_of_range"),
        (json!({"hz": 5}), "/pops", "missing"),
        (json!({"pops": 10, "hz": 5, "setting": "1/8"}), "/setting", "setting_without_unit"),
    ] {
        let answer = server.post("/v1/motion/freeze", &body).await;
        assert_eq!(answer.status, 422, "{body}: {}", answer.body);
        assert_eq!(pointers(&faults(&answer.body)), [pointer], "{body}");
        assert_eq!(answer.body["errors"][0]["code"], code, "{body}");
    }
}

#[tokio::test]
async fn a_setting_is_never_minus_0() {
    let server = Server::start().await;
    let rows = json!([{"setting": -0.0, "t0_5_s": 0.001}]);
    let answer = server.ask("/v1/motion/freeze", json!({"duration_by_setting": rows})).await;
    assert_eq!(answer["by_setting"][0]["setting"], "0");
}
