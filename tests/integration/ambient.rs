//! `/v1/ambient/check`.

use serde_json::{Value, json};

use crate::{
    remedies::{follow, with_change},
    support::{Server, close, number, pointers},
};

#[tokio::test]
async fn no_proposed_time_is_faster_than_the_sync_time() {
    let server = Server::start().await;
    let ask = async |time: &Value, lux: f64, sync: &str| {
        let exposure = json!({"f_number": "f/8", "exposure_time": time, "sync_time": sync});
        let body = json!({"exposure": exposure, "ambient": {"illuminance_lx": lux}});
        server.ask("/v1/ambient/check", body).await
    };
    // By hand (ISO 2720:1974, C = 250): 64·(2^0.1 - 1)·250/(2000·100) = 5.74 ms. The mark 1/180 s is 5.52 ms, which is
    // short enough. The longest third-stop mark that is, 1/200 s, is faster than the camera's sync time.
    for lux in [2000.0, 1900.0] {
        let answer = ask(&json!("1/60"), lux, "1/180").await;
        assert_eq!(
            (&answer["sync_allows"], &answer["longest_exposure_time"]["mark"]),
            (&json!(true), &json!("1/180 s"))
        );
        let longest = 64.0 * (0.1_f64.exp2() - 1.0) * 2.5 / lux;
        close(&answer["longest_exposure_time"]["off_by_stops"], -7.5 - longest.log2(), 1e-4);
        let remedy = &answer["remedies"][0];
        let change = &remedy["changes"][0];
        assert_eq!(
            (&change["change"], &change["to"]["exposure_time"]["mark"]),
            (&json!("exposure_time"), &json!("1/180 s"))
        );
        // From the mark 1/60 (exactly 1/64) to the mark 1/180 (exactly 2^-7.5).
        close(&change["by_stops"], -1.5, 1e-4);
    }
    // If the shutter is said to be fast enough, the time in the answer is a mark, and no faster than the sync time.
    for lux in [700.0, 1650.0, 1750.0, 1900.0, 2050.0, 2300.0, 3400.0] {
        for sync in ["1/125", "1/160", "1/170", "1/180", "1/250", "1/300"] {
            let answer = ask(&json!("1/15"), lux, sync).await;
            if answer["sync_allows"] == true {
                let mark = &answer["longest_exposure_time"]["mark"];
                let again = ask(mark, lux, sync).await;
                assert_eq!(
                    (&again["clean"], &again["warnings"]),
                    (&json!(true), &json!([])),
                    "{mark} {lux} {sync}"
                );
            }
        }
    }
}

#[tokio::test]
async fn ambient_light_by_lux_by_meter_and_by_patch() {
    let server = Server::start().await;
    let ask = |ambient: Value, more: Value| {
        let mut body = json!({"exposure": {"f_number": "f/8", "exposure_time": "1/125"}, "ambient": ambient});
        for (name, value) in more.as_object().expect("fields") {
            body[name] = value.clone();
        }
        server.ask("/v1/ambient/check", body)
    };
    // Published: ISO 2720:1974 with C = 250: E = N²·C/(t·S) is 64·250·128/100 lx for f/8 at 1/128 s, ISO 100. Three
    // stops less is an eighth of the flash.
    let lux = ask(json!({"illuminance_lx": 2560}), json!({})).await;
    close(&lux["ambient_below_flash_stops"], 3.0, 1e-4);
    close(&lux["ambient_share"], 1.0 / 9.0, 1e-5);
    close(&lux["brightening_stops"], (9.0_f64 / 8.0).log2(), 1e-4);
    assert_eq!(lux["clean"], false);
    // Derived: 18 % grey is 117.6 of 255 in sRGB; an eighth of its light is 44.8.
    close(&lux["darkest_level"], 255.0 * (1.055 * (0.18_f64 / 8.0).powf(1.0 / 2.4) - 0.055), 1e-3);
    let meter = ask(json!({"f_number": "f/2.8", "exposure_time": "1/125"}), json!({})).await;
    close(&meter["ambient_below_flash_stops"], 3.0, 1e-4);
    let meter = ask(json!({"f_number": "f/2.8", "exposure_time": "1/30", "iso": 400}), json!({})).await;
    close(&meter["ambient_below_flash_stops"], 7.0, 1e-4);
    let patch = ask(json!({"level": lux["darkest_level"]}), json!({})).await;
    close(&patch["ambient_below_flash_stops"], 3.0, 1e-3);
    // The longest time brightens by exactly the allowed amount.
    let time = number(&lux["longest_exposure_time"]["value"]);
    assert!((1.0 + time * 128.0 / 8.0).log2() - 0.1 < 1e-4);
    let mark = &lux["longest_exposure_time"]["mark"];
    let body =
        json!({"exposure": {"f_number": "f/8", "exposure_time": mark}, "ambient": {"illuminance_lx": 2560}});
    assert_eq!(server.ask("/v1/ambient/check", body).await["clean"], true, "{mark}");
    let synced = json!({"exposure": {"f_number": "f/8", "exposure_time": "1/125", "sync_time": "1/200"}});
    let sync = ask(json!({"illuminance_lx": 2560}), synced).await;
    assert_eq!(sync["sync_allows"], json!(time >= 1.0 / 203.2));
    // With intended ambient light two stops under the flash, the time is a stop longer than with three.
    let wanted = ask(json!({"illuminance_lx": 2560}), json!({"wanted_ambient_stops": -2})).await;
    assert_eq!(wanted["exposure_time"]["mark"], "1/60 s");
    // By hand: log2(1 + 1/16) is 0.0875, and a third of a stop less takes it to 0.11: the first mark that does it.
    let closed = with_change(&lux["remedies"], "aperture").expect("a smaller aperture");
    assert_eq!(closed["changes"][0]["to"]["f_number"]["mark"], "f/11");
    // The flash is turned up by as much as the lens is closed.
    assert_eq!(closed["changes"][1]["to"]["flash_f_number"]["mark"], "f/11");
    close(&closed["then"]["brightening_stops"], (17.0_f64 / 16.0).log2(), 1e-4);
    let none = ask(json!({"illuminance_lx": 0}), json!({})).await;
    assert_eq!((&none["clean"], &none["ambient_below_flash_stops"]), (&json!(true), &Value::Null));
}

#[tokio::test]
async fn what_the_shutter_can_do_is_done_first() {
    let server = Server::start().await;
    let ask = async |time: &str| {
        let body = json!({
            "exposure": {"f_number": "f/8", "exposure_time": time, "sync_time": "1/160"},
            "ambient": {"f_number": "f/4", "exposure_time": "1/60"}
        });
        server.ask("/v1/ambient/check", body).await
    };
    let (slow, at_sync) = (ask("1/60").await, ask("1/160").await);
    assert_eq!(slow["sync_allows"], false);
    // What is left to do at the sync time is what is done together with it.
    let both = slow["remedies"].as_array().expect("remedies").iter();
    let both: Vec<&Value> =
        both.filter(|remedy| remedy["changes"][0]["to"]["exposure_time"]["mark"] == "1/160 s").collect();
    assert_eq!(both.len(), 2, "{slow}");
    for remedy in both {
        let rest = remedy["changes"][1]["change"].as_str().expect("a word");
        let then = with_change(&at_sync["remedies"], rest).expect("the same remedy");
        assert_eq!(
            remedy["changes"].as_array().expect("changes")[1..],
            then["changes"].as_array().expect("changes")[..]
        );
        assert_eq!(remedy["then"], then["then"]);
    }
}

const CHECK: &str = "/v1/ambient/check";

fn codes(answer: &Value) -> Vec<&str> {
    let warnings = answer["warnings"].as_array().expect("a list").iter();
    warnings.map(|warning| warning["code"].as_str().expect("a word")).collect()
}

#[tokio::test]
async fn lux_and_an_aperture_alone_have_an_exposure_time() {
    let server = Server::start().await;
    let aperture = json!({"f_number": "f/8"});
    let answer = server.ask(CHECK, json!({"exposure": aperture, "ambient": "800 lx"})).await;
    // By hand (ISO 2720:1974, C = 250): 64·(2^0.1 - 1)·250/(800·100) = 14.35 ms; the longest mark is 1/80 s.
    close(&answer["longest_exposure_time"]["value"], 64.0 * (0.1_f64.exp2() - 1.0) * 2.5 / 800.0, 1e-6);
    assert_eq!(
        (&answer["set_exposure_time"]["mark"], &answer["clean"], &answer["exposure_time"]),
        (&json!("1/80 s"), &json!(true), &Value::Null)
    );
    assert_eq!(codes(&answer), ["sync_time_unknown"]);
    let summary = answer["summary"].as_str().expect("text");
    assert!(
        summary.starts_with("Set the exposure time to 1/80 s: ambient light is then 4.01 stops under"),
        "{summary}"
    );
    // All else is what it is at that time.
    let body =
        json!({"exposure": {"f_number": "f/8", "exposure_time": "1/80"}, "ambient": {"illuminance_lx": 800}});
    let stated = server.ask(CHECK, body).await;
    for field in [
        "ambient_below_flash_stops",
        "ambient_share",
        "brightening_stops",
        "darkest_level",
        "longest_exposure_time",
    ] {
        assert_eq!(answer[field], stated[field], "{field}");
    }
    assert_eq!((stated.get("set_exposure_time"), stated.get("error_stops")), (None, None));
    // By hand: f/8 at 800 lx and ISO 100 takes N²·C/(E·S) = 0.2 s; two stops under that 0.05 s.
    for (wanted, value, mark, stops) in [(0, 0.2, "1/5 s", -7.0 / 3.0), (-2, 0.05, "1/20 s", -13.0 / 3.0)] {
        let body = json!({"exposure": aperture, "ambient": 800, "wanted_ambient_stops": wanted});
        let answer = server.ask(CHECK, body).await;
        close(&answer["exposure_time"]["value"], value, 1e-9);
        let error = stops - f64::log2(value);
        close(&answer["exposure_time"]["off_by_stops"], error, 1e-4);
        close(&answer["error_stops"], error, 1e-4);
        close(&answer["ambient_below_flash_stops"], -f64::from(wanted) - error, 1e-4);
        assert_eq!(
            (&answer["exposure_time"]["mark"], &answer["set_exposure_time"]["mark"]),
            (&json!(mark), &json!(mark))
        );
    }
    // A meter's reading does as well: f/8 at 1/30 s is two stops over f/8 at 1/125 s.
    let reading = json!({"f_number": "f/8", "exposure_time": "1/30"});
    let body = json!({"exposure": aperture, "ambient": reading, "wanted_ambient_stops": -2});
    assert_eq!(server.ask(CHECK, body).await["set_exposure_time"]["mark"], "1/125 s");
    let none =
        server.ask(CHECK, json!({"exposure": aperture, "ambient": 0, "wanted_ambient_stops": -2})).await;
    assert_eq!((&none["clean"], none.get("set_exposure_time")), (&json!(true), None));
    // The level of a frame says nothing without the frame's time.
    for (ambient, pointer) in [(json!({"level": 12}), "/exposure/exposure_time"), (json!("800"), "/ambient")]
    {
        let faults = server.refused(CHECK, json!({"exposure": aperture, "ambient": ambient})).await;
        assert_eq!(pointers(&faults), [pointer]);
    }
}

#[tokio::test]
async fn what_the_sync_time_forbids_is_done_by_aperture_filter_and_power() {
    let server = Server::start().await;
    // Published: ISO 2720:1974 with C = 250: EV 15, the sun of the rule of f/16, is 2.5·2^15 = 81920 lx.
    let ask = |f_number: &str, limits: Value| {
        json!({"exposure": {"f_number": f_number, "sync_time": "1/250"}, "ambient": "81920 lx",
            "wanted_ambient_stops": -1, "limits": limits})
    };
    // By hand: a stop under f/8 at EV 15 is 1/1024 s, two stops faster than 1/256 s.
    let body = ask("f/8", json!({}));
    let answer = server.ask(CHECK, body.clone()).await;
    assert_eq!(
        (&answer["exposure_time"]["mark"], &answer["set_exposure_time"]["mark"]),
        (&json!("1/1000 s"), &json!("1/250 s"))
    );
    close(&answer["error_stops"], 2.0, 1e-4);
    assert_eq!(codes(&answer), ["wanted_faster_than_sync"]);
    let texts = [
        "Set the exposure time to 1/250 s, close the lens 2 stops, to f/16, and turn the flash up 2 stops, until a meter reads f/16 of it alone. It is then on target.",
        "Set the exposure time to 1/250 s, put ND 0.6 (2 stops) on the lens, and turn the flash up 2 stops, until a meter reads f/16 of it alone. It is then on target.",
    ];
    let found = answer["remedies"].as_array().expect("remedies").iter().map(|remedy| remedy["text"].clone());
    assert_eq!(found.collect::<Vec<_>>(), texts);
    assert!(answer["summary"].as_str().expect("text").ends_with(texts[0]), "{}", answer["summary"]);
    follow(&server, CHECK, &body).await;
    // Five stops from f/2.8: three by the only filter, two by the lens, all five by the flash.
    let body = ask("f/2.8", json!({"f_number": ["f/2.8", "f/5.6"], "filters": ["ND 0.9"]}));
    let answer = server.ask(CHECK, body.clone()).await;
    let changes = &answer["remedies"][0]["changes"];
    assert_eq!(
        (&changes[1]["to"]["f_number"]["mark"], &changes[2]["to"]["filter"]["mark"]),
        (&json!("f/5.6"), &json!("ND 0.9"))
    );
    close(&changes[3]["by_stops"], 5.0, 1e-4);
    close(&changes[3]["to"]["flash_f_number"]["value"], 16.0, 1e-4);
    assert_eq!(answer["remedies"].as_array().map(Vec::len), Some(1));
    follow(&server, CHECK, &body).await;
    // Nothing within the limits does it.
    let limits = json!({"f_number": ["f/2.8", "f/2.8"], "iso": [100, 100], "filters": []});
    let answer = server.ask(CHECK, ask("f/2.8", limits)).await;
    assert_eq!(answer["remedies"], json!([]));
    assert_eq!(codes(&answer), ["wanted_faster_than_sync", "high_speed_sync_needed"]);
    assert_eq!(answer["warnings"][1]["params"]["exposure_time"], "1/8000 s");
    assert!(answer["summary"].as_str().expect("text").starts_with("It takes 1/8000 s by high-speed sync."));
    // A time that is a little shorter than the sync time is rounded to it: by hand, 1/264 s.
    let mut body = ask("f/16", json!({}));
    body["ambient"] = json!(84_480);
    let answer = server.ask(CHECK, body).await;
    assert_eq!((codes(&answer), &answer["set_exposure_time"]["mark"]), (vec![], &json!("1/250 s")));
    // Ambient light that is not wanted, too bright for the sync time: by hand, 64·0.0718/(3000·0.4) = 1/261 s.
    let body = json!({"exposure": {"f_number": "f/8", "sync_time": "1/200"}, "ambient": 3000});
    let answer = server.ask(CHECK, body.clone()).await;
    assert_eq!(
        (&answer["set_exposure_time"]["mark"], &answer["clean"], &answer["sync_allows"]),
        (&json!("1/200 s"), &json!(false), &json!(false))
    );
    let changes = &answer["remedies"][0]["changes"];
    assert_eq!(
        (&changes[0]["to"]["exposure_time"]["mark"], &changes[1]["to"]["f_number"]["mark"]),
        (&json!("1/200 s"), &json!("f/10"))
    );
    follow(&server, CHECK, &body).await;
}

#[tokio::test]
async fn what_the_lens_takes_it_takes_from_both() {
    let server = Server::start().await;
    let ask = async |flash: Option<&str>| {
        let mut body = json!({"exposure": {"f_number": "f/8", "exposure_time": "1/125"}, "ambient": "2560 lx",
            "lens": {"filters": ["ND 0.9"]}});
        if let Some(flash) = flash {
            body["flash_f_number"] = json!(flash);
        }
        server.ask(CHECK, body).await
    };
    // By hand: 2560 lx are three stops under f/8 at 1/128 s. A flash that exposes correctly through three stops of filter
    // is three stops stronger.
    close(&ask(None).await["ambient_below_flash_stops"], 6.0, 1e-4);
    let answer = ask(Some("f/8")).await;
    close(&answer["ambient_below_flash_stops"], 3.0, 1e-4);
    // Published: IEC 61966-2-1; a grey card six stops under its exposure lies on the straight part of the curve.
    close(&answer["darkest_level"], 255.0 * 12.92 * 0.18 / 64.0, 1e-3);
}

#[tokio::test]
async fn no_mark_is_longer_than_the_longest_time() {
    let server = Server::start().await;
    let ask = |time: Value| {
        let mut body = json!({"exposure": {"f_number": "f/20"},
            "ambient": {"f_number": "f/11", "exposure_time": "1/4000"}});
        if !time.is_null() {
            body["exposure"]["exposure_time"] = time;
        }
        server.ask(CHECK, body)
    };
    let (found, stated) = (ask(Value::Null).await, ask(json!("1/16000")).await);
    // By hand: f/20 is 2^(13/3), N² = 406.37; f/11 at 1/4096 s is 128·4096 of it a second; times 2^0.1 - 1 that is 55.63 µs,
    // where the shortest mark, 1/16000 s, is 2^-14 s or 61.04 µs.
    for answer in [&found, &stated] {
        let longest = &answer["longest_exposure_time"];
        close(&longest["value"], 5.5631e-5, 1e-9);
        assert_eq!((&longest["mark"], &longest["off_by_stops"]), (&Value::Null, &Value::Null));
        assert_eq!(answer["clean"], false);
        close(&answer["brightening_stops"], (1.0_f64 + 32.0 / (26.0_f64 / 3.0).exp2()).log2(), 1e-4);
        // f/22: 32 of 512.
        let closed = with_change(&answer["remedies"], "aperture").expect("a smaller aperture");
        assert_eq!(closed["changes"][0]["to"]["f_number"]["mark"], "f/22");
        close(&closed["then"]["brightening_stops"], (1.0_f64 + 32.0 / 512.0).log2(), 1e-4);
    }
    assert_eq!(found["set_exposure_time"]["mark"], "1/16000 s");
    assert_eq!(found["remedies"], stated["remedies"]);
    let summary = found["summary"].as_str().expect("text");
    assert!(
        summary.starts_with("At the shortest time that can be set, 1/16000 s, ambient light is"),
        "{summary}"
    );
    let body = json!({"exposure": {"f_number": "f/20"},
        "ambient": {"f_number": "f/11", "exposure_time": "1/4000"}});
    follow(&server, CHECK, &body).await;
}

#[tokio::test]
async fn a_reading_of_the_flash_beyond_the_range_is_no_remedy() {
    let server = Server::start().await;
    // By hand: f/250 is two stops under f/500, and brightens by log2(1.25); with any more flash a meter would read more
    // than f/512, but at a lower ISO speed it reads the same of more light.
    let body = json!({"exposure": {"f_number": "f/8", "exposure_time": "1/125"}, "flash_f_number": 500,
        "ambient": {"f_number": 250, "exposure_time": "1/125"}});
    let answer = server.ask(CHECK, body.clone()).await;
    close(&answer["brightening_stops"], 1.25_f64.log2(), 1e-4);
    let remedies = answer["remedies"].as_array().expect("remedies");
    assert!(!remedies.is_empty() && with_change(&answer["remedies"], "aperture").is_none(), "{answer}");
    follow(&server, CHECK, &body).await;
}

#[tokio::test]
async fn a_warning_names_no_field() {
    let server = Server::start().await;
    let body = json!({"exposure": {"f_number": "f/8", "sync_time": "1/250"}, "ambient": "81920 lx",
        "wanted_ambient_stops": -1});
    let answer = server.ask(CHECK, body).await;
    let text = answer["warnings"][0]["text"].as_str().expect("text");
    assert!(text.starts_with("The exposure time for the ambient light that is wanted"), "{text}");
}
