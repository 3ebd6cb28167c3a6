//! `/v1/exposure/compare`.

use serde_json::{Value, json};

use crate::support::{Server, close, faults, pointers};

const COMPARE: &str = "/v1/exposure/compare";

fn exposure(f_number: &str, exposure_time: &str) -> Value {
    json!({"f_number": f_number, "exposure_time": exposure_time})
}

#[tokio::test]
async fn exposures_have_their_exposure_value_and_illuminance() {
    let server = Server::start().await;
    for (f_number, exposure_time, iso, ev) in [
        // Published: the pairs of an encyclopaedia's table, encyclopedia.kids.net.au/page/ex/Exposure_value.
        ("f/1", "1 s", 100, 0.0),
        ("f/1.4", "1 s", 100, 1.0),
        ("f/5.6", "1/60", 100, 11.0),
        ("f/8", "1/60", 100, 12.0),
        ("f/8", "1/125", 100, 13.0),
        ("f/16", "1/2000", 100, 19.0),
        // Published: a dictionary of optics, optyczne.pl/index.php?slownik=83.
        ("f/11", "1/30", 100, 12.0),
        ("f/32", "1/4", 100, 12.0),
        // Common practice: in full sun f/16 and one over the ISO speed, which is EV 15.
        ("f/16", "1/125", 100, 15.0),
        ("f/16", "1/400", 400, 14.6667),
        // Published: CIPA DC-008, APEX units: two stops more speed suit two stops less light.
        ("f/8", "1/125", 400, 11.0),
    ] {
        let from = json!({"f_number": f_number, "exposure_time": exposure_time, "iso": iso});
        let answer = server.ask(COMPARE, json!({"from": from})).await;
        close(&answer["from"]["ev100"], ev, 1e-4);
        // Published: ISO 2720:1974 with C = 250: 2.5·2^EV.
        let lux = 2.5 * ev.exp2();
        close(&answer["from"]["illuminance_lx"], lux, lux * 1e-4);
        assert_eq!(answer["to"], answer["from"]);
        assert_eq!(answer["exposure_stops"], 0.0);
    }
    let answer = server.ask(COMPARE, json!({"from": exposure("f/8", "1/125")})).await;
    assert_eq!(answer["summary"], "f/8, 1/125 s, ISO 100 suits EV 13 at ISO 100, 20500 lx.");
    // Published: ISO 2720:1974; the numbers as they stand: 64·125·250/100.
    let literal = server.ask(COMPARE, json!({"from": exposure("f/8", "1/125"), "reading": "literal"})).await;
    close(&literal["from"]["illuminance_lx"], 20_000.0, 1e-3);
}

#[tokio::test]
async fn one_exposure_is_brighter_than_another_by_all_its_settings() {
    let server = Server::start().await;
    let to = json!({"f_number": "f/5.6", "exposure_time": "1/60", "iso": 400});
    let answer = server.ask(COMPARE, json!({"from": exposure("f/8", "1/125"), "to": to})).await;
    // By hand: one stop of aperture, one of time, two of speed.
    assert_eq!(answer["exposure_stops"], 4.0);
    assert_eq!(answer["solved_for"], Value::Null);
    assert_eq!(answer["summary"], "f/8, 1/125 s, ISO 100 to f/5.6, 1/60 s, ISO 400 is 4 stops brighter.");
    // The ISO speed of `to` is that of `from` if it is left out.
    let from = json!({"f_number": "f/8", "exposure_time": "1/125", "iso": 800});
    let answer = server.ask(COMPARE, json!({"from": from, "to": exposure("f/11", "1/125")})).await;
    assert_eq!(answer["exposure_stops"], -1.0);
    assert_eq!(answer["to"]["iso"]["mark"], "ISO 800");
    // By hand: a filter of three stops darkens, and suits three stops more light.
    let mut to = exposure("f/8", "1/125");
    to["filters"] = json!(["ND8"]);
    let answer = server.ask(COMPARE, json!({"from": exposure("f/8", "1/125"), "to": to})).await;
    assert_eq!(answer["exposure_stops"], -3.0);
    assert_eq!(answer["to"]["filter_stops"], -3.0);
    assert_eq!(answer["to"]["ev100"], 16.0);
}

#[tokio::test]
async fn what_is_left_out_is_found() {
    let server = Server::start().await;
    let from = exposure("f/8", "1/125");
    let find = |to: Value| server.ask(COMPARE, json!({"from": from, "to": to}));
    // Published: CIPA DC-008: Av 6 + Tv 7 = Av 3 + Tv 10.
    let answer = find(json!({"f_number": "f/2.8"})).await;
    close(&answer["to"]["exposure_time"]["value"], 1.0 / 1024.0, 1e-8);
    assert_eq!(answer["to"]["exposure_time"]["mark"], "1/1000 s");
    assert_eq!([&answer["solved_for"], &answer["exposure_stops"]], [&json!("exposure_time"), &json!(0.0)]);
    assert_eq!(answer["to"]["ev100"], 13.0);
    assert_eq!(answer["summary"], "Set 1/1000 s: f/2.8, 1/1000 s, ISO 100 exposes as f/8, 1/125 s, ISO 100.");
    // The same with Tv 5: Av 8.
    let answer = find(json!({"exposure_time": "1/30"})).await;
    assert_eq!(
        [&answer["solved_for"], &answer["to"]["f_number"]["mark"]],
        [&json!("f_number"), &json!("f/16")]
    );
    // Two stops more speed: Av 6 + Tv 9.
    let answer = find(json!({"f_number": "f/8", "iso": 400})).await;
    assert_eq!(answer["to"]["exposure_time"]["mark"], "1/500 s");
    // By hand: 0.3 stop on the lens is 0.3 stop of time, and the nearest mark is 0.0333 stop off.
    let answer = find(json!({"f_number": "f/8 +0.3"})).await;
    close(&answer["to"]["exposure_time"]["value"], (-6.7_f64).exp2(), 1e-7);
    assert_eq!(answer["to"]["exposure_time"]["mark"], "1/100 s");
    close(&answer["to"]["exposure_time"]["off_by_stops"], 0.0333, 1e-4);
    assert!(
        answer["summary"].as_str().is_some_and(|text| text.starts_with("Set 1/100 s (0.03 stop brighter): "))
    );
}

#[tokio::test]
async fn a_setting_that_is_named_is_found_and_the_others_stay() {
    let server = Server::start().await;
    let find = |from: Value, to: Value, find: &str| {
        server.ask(COMPARE, json!({"from": from, "to": to, "find": find}))
    };
    // By hand: two stops less time take two stops more speed.
    let answer = find(exposure("f/8", "1/60"), json!({"exposure_time": "1/250"}), "iso").await;
    assert_eq!(answer["to"]["iso"]["mark"], "ISO 400");
    assert_eq!(answer["to"]["f_number"]["mark"], "f/8");
    // Published: a table of practice, practiceadvices.com, "How are ND filters measured?": 1 s without a filter is 8 s behind
    // three stops.
    let answer = find(exposure("f/8", "1 s"), json!({"filters": ["ND 0.9"]}), "exposure_time").await;
    assert_eq!(answer["to"]["exposure_time"]["mark"], "8 s");
    assert_eq!(
        answer["summary"],
        "Set 8 s: f/8, 8 s, ISO 100 behind filters of −3 stops exposes as f/8, 1 s, ISO 100."
    );
    // The same page makes 1/4 s behind ten stops 250 s, with a factor of 1000; ten stops are 1024: 256 s (derived), beyond
    // the marks.
    let answer = find(exposure("f/8", "1/4"), json!({"filters": ["ND1000"]}), "exposure_time").await;
    close(&answer["to"]["exposure_time"]["value"], 256.0, 1e-3);
    assert_eq!(answer["to"]["exposure_time"]["mark"], Value::Null);
    // Twenty stops are more than an hour, and are told all the same.
    let to = json!({"filters": ["ND1000", "ND1000"]});
    let answer = find(exposure("f/8", "4 s"), to, "exposure_time").await;
    close(&answer["to"]["exposure_time"]["value"], 4_194_300.0, 10.0);
    // Filters open the lens by as much: Av 6 - 3.
    let answer = find(exposure("f/8", "1/60"), json!({"filters": ["ND8"]}), "f_number").await;
    assert_eq!(answer["to"]["f_number"]["mark"], "f/2.8");
}

#[tokio::test]
async fn a_query_asks_the_same() {
    let server = Server::start().await;
    let query = "from[f_number]=f/8&from[exposure_time]=1/125&from[iso]=200&to[f_number]=5.6&to[filters]=ND%200.9,ND4";
    let by_query = server.get(&format!("{COMPARE}?{query}")).await;
    assert_eq!(by_query.status, 200, "{}", by_query.body);
    assert!(!by_query.header("etag").is_empty());
    let from = json!({"f_number": "f/8", "exposure_time": "1/125", "iso": 200});
    let to = json!({"f_number": 5.6, "filters": ["ND 0.9", "ND4"]});
    assert_eq!(by_query.body, server.ask(COMPARE, json!({"from": from, "to": to})).await);
    // By hand: one stop of aperture less five of filters is four stops of time: Tv 3.
    assert_eq!(by_query.body["to"]["exposure_time"]["mark"], "1/8 s");
    let answer =
        server.get(&format!("{COMPARE}?from[f_number]=f/8&from[exposure_time]=1/125&format=text")).await;
    let text = answer.body.as_str().expect("text").to_owned();
    assert!(text.contains("EV at ISO 100") && !text.contains("wanted ambient"), "{text}");
}

#[tokio::test]
async fn faults_say_what_to_give() {
    let server = Server::start().await;
    let from = exposure("f/8", "1/125");
    for (body, pointer, code) in [
        (json!({}), "/from", "missing"),
        (json!({"from": {"f_number": "f/8"}}), "/from/exposure_time", "missing"),
        (json!({"from": from, "to": {}}), "/to/f_number", "missing"),
        (json!({"from": from, "to": {"iso": 400}}), "/to/f_number", "missing"),
        (json!({"from": from, "to": {"iso": 400}, "find": "iso"}), "/find", "conflict"),
        (json!({"from": from, "to": exposure("f/8", "1/60"), "find": "exposure_time"}), "/find", "conflict"),
        (json!({"from": from, "to": exposure("f/8", "1/60"), "find": "energy"}), "/find", "unknown_word"),
        (json!({"from": from, "to": {"f_number": "f/0"}}), "/to/f_number", "out_of_range"),
        (json!({"from": from, "to": {"f_number": "f/8", "filters": ["8"]}}), "/to/filters/0", "unreadable"),
    ] {
        let answer = server.post(COMPARE, &body).await;
        assert_eq!(answer.status, 422, "{body}: {}", answer.body);
        assert_eq!(pointers(&faults(&answer.body)), [pointer], "{body}");
        assert_eq!(answer.body["errors"][0]["code"], code, "{body}");
    }
    let found = server.refused(COMPARE, json!({"from": from, "to": {}})).await;
    assert!(found[0][2].contains("f_number or exposure_time"), "{found:?}");
    // A fault elsewhere does not hide it.
    let found = server.refused(COMPARE, json!({"from": exposure("f/8", "2 m"), "to": {}})).await;
    assert_eq!(pointers(&found), ["/from/exposure_time", "/to/f_number"]);
}

#[tokio::test]
async fn a_time_that_no_request_takes_is_said() {
    let server = Server::start().await;
    let from = json!({"f_number": 0.5, "exposure_time": 3600, "iso": 1e7});
    let body = json!({"from": from, "to": {"f_number": 512, "iso": 1}, "reading": "literal"});
    let answer = server.ask(COMPARE, body).await;
    // By hand: 3600 s times (512/0.5)² times 1e7.
    close(&answer["to"]["exposure_time"]["value"], 3600.0 * 1_048_576.0 * 1e7, 1e12);
    let warning = &answer["warnings"][0];
    assert_eq!((&warning["code"], &warning["params"]["greatest"]), (&json!("beyond_range"), &json!(3600.0)));
    let summary = answer["summary"].as_str().expect("text");
    assert!(summary.contains("The exposure time in s that was found is"), "{summary}");
    let plain = server.ask(COMPARE, json!({"from": exposure("f/8", "1/125")})).await;
    assert_eq!(plain["warnings"], json!([]));
}
