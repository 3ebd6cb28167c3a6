//! `/v1/ambient/check`.

use serde_json::{Value, json};

use crate::{
    remedies::with_change,
    support::{Server, close, number},
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
