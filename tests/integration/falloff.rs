//! `/v1/lights/falloff`.

use serde_json::{Value, json};

use crate::support::{Server, close, number, pointers};

const FALLOFF: &str = "/v1/lights/falloff";

#[tokio::test]
async fn falloff_by_query_and_by_body_agree() {
    let server = Server::start().await;
    let query = format!(
        "{FALLOFF}?source[disc_m]=1&distances=1,2,5&unit[guide_number][value]=60&unit[guide_number][unit]=m"
    );
    let by_query = server.get(&query).await;
    assert_eq!(by_query.status, 200, "{}", by_query.body);
    assert!(!by_query.header("etag").is_empty());
    let by_body = server
        .ask(
            FALLOFF,
            json!({"source": {"disc_m": 1}, "distances": [1, 2, 5], "unit": {"guide_number": {"value": 60, "unit": "m"}}}),
        )
        .await;
    assert_eq!(by_query.body, by_body);
    // By hand: 1/(1 + (R/d)²) is 0.8 at 1 m and 1/1.0625 at 2 m.
    close(&by_body["rows"][1]["stops"], (0.25_f64 / 1.0625 / 0.8).log2(), 1e-4);
    close(&by_body["rows"][0]["f_number"]["value"], 60.0 * 0.8_f64.sqrt(), 1e-3);
    for (query, pointer) in [
        ("source[disc_m]=1&source[rectangle_m]=wide&distances=1", "/source/rectangle_m"),
        ("source[disc_m]=wide&distances=1", "/source/disc_m"),
        ("distances=1,far", "/distances/1"),
        ("from=1&to=2", "/count"),
        ("", "/distances"),
        ("depth=1&within_stops=17", "/within_stops"),
        ("distances=1&setting=full", "/setting"),
        ("distances=1&unit[energy]=100", "/unit"),
    ] {
        let answer = server.get(&format!("{FALLOFF}?{query}")).await;
        assert_eq!(answer.status, 422, "{query}: {}", answer.body);
        assert_eq!(pointers(&crate::support::faults(&answer.body)), [pointer], "{query}");
    }
}

#[tokio::test]
async fn a_softbox_takes_its_light_off_the_apertures() {
    let server = Server::start().await;
    let body = |modifier: Value| {
        json!({"source": {"disc_m": 1}, "distances": [1, 4], "modifier_stops": modifier,
            "unit": {"guide_number": {"value": 60, "unit": "m"}}})
    };
    let ask = async |modifier: Value| server.ask(FALLOFF, body(modifier)).await;
    let is_warned = |answer: &Value| answer["warnings"].to_string().contains("face_without_modifier");
    // A face with a guide number and no modifier counts as rated, and the answer warns of it.
    let bare = ask(Value::Null).await;
    close(&bare["rows"][0]["f_number"]["value"], 60.0 * 0.8_f64.sqrt(), 1e-3);
    assert!(is_warned(&bare), "{bare}");
    // By hand: -2 stops halve the f-number. The stops between distances do not change.
    let known = ask(json!(-2)).await;
    for row in 0..2 {
        let of = |answer: &Value| number(&answer["rows"][row]["f_number"]["value"]);
        close(&known["rows"][row]["f_number"]["value"], of(&bare) / 2.0, 1e-3);
        assert_eq!(known["rows"][row]["stops"], bare["rows"][row]["stops"]);
    }
    assert!(!is_warned(&known) && known["assumptions"] == json!([]), "{known}");
    // A kind has the typical effect of its kind, and the answer says that it is estimated.
    let kind = ask(json!({"kind": "softbox_one_diffuser"})).await;
    let typical = number(&bare["rows"][0]["f_number"]["value"]) * (-1.5_f64 / 2.0).exp2();
    close(&kind["rows"][0]["f_number"]["value"], typical, 1e-3);
    let assumed = &kind["assumptions"][0];
    assert_eq!(assumed["code"], "modifier_stops");
    assert!(assumed["value"].as_str().is_some_and(|text| text.contains("typical −1.5")), "{assumed}");
    // It agrees with a placement of the same light.
    let set = json!({"exposure": {"f_number": "f/8"}, "points": [{"name": "p"}],
        "lights": [{"name": "a", "unit": {"guide_number": {"value": 60, "unit": "m"}}, "setting": "full"}],
        "placements": [{"light": "a", "point": "p", "distance": 1, "source": {"disc_m": 1},
            "modifier_stops": {"kind": "softbox_one_diffuser"}}]});
    let predicted = server.ask("/v1/exposure/predict", set).await;
    close(&predicted["points"][0]["f_number"]["value"], number(&kind["rows"][0]["f_number"]["value"]), 1e-3);
    // A query gives the same answer, and the picture agrees.
    let unit = "unit[guide_number][value]=60&unit[guide_number][unit]=m&source[disc_m]=1&distances=1,4";
    for (words, answer) in [("-2", &known), ("[kind]=softbox_one_diffuser", &kind)] {
        let words = if words.starts_with('[') { words.to_owned() } else { format!("={words}") };
        let query = format!("{FALLOFF}?{unit}&modifier_stops{words}");
        assert_eq!(&server.get(&query).await.body, answer);
        let picture = server.get(&format!("{query}&format=svg")).await.body;
        let expected = if words.contains("kind") {
            "softbox one diffuser (about −1.5 stops)"
        } else {
            "modifier −2 stops"
        };
        assert!(picture.as_str().is_some_and(|drawn| drawn.contains(expected)), "{picture}");
    }
    // Without apertures the modifier has nothing to act on.
    let stops = server.ask(FALLOFF, json!({"source": {"disc_m": 1}, "distances": [1]})).await;
    assert!(!is_warned(&stops), "{stops}");
    let unknown = body(json!({"kind": "lampshade"}));
    assert_eq!(pointers(&server.refused(FALLOFF, unknown).await), ["/modifier_stops/kind"]);
}

#[tokio::test]
async fn evenness_over_a_depth() {
    let server = Server::start().await;
    // Derived: d = depth/(2^(x/2) - 1) for a point; 0.5 m within a stop is 1.2071 m.
    let ask = |body| server.ask(FALLOFF, body);
    let point = ask(json!({"depth": 0.5, "within_stops": 1, "reference_distance": 1})).await;
    close(&point["depth"]["distance_for_evenness_m"], 1.207_11, 1e-5);
    close(&point["depth"]["front_to_back_stops"], -2.0 * 1.5_f64.log2(), 1e-4);
    assert_eq!(point["inverse_square_from_m"], Value::Null);
    // Light from a large face falls off less near it, so it may be nearer.
    let disc =
        ask(json!({"depth": 0.5, "within_stops": 1, "reference_distance": 1, "source": {"disc_m": 1}})).await;
    let (near, far) = (&disc["depth"]["distance_for_evenness_m"], &point["depth"]["distance_for_evenness_m"]);
    assert!(number(near) < number(far), "{near} {far}");
    close(&disc["inverse_square_from_m"], 5.0, 1e-9);
}

#[tokio::test]
async fn a_depth_alone_is_enough() {
    let server = Server::start().await;
    // Derived: d = depth/(2^(x/2) - 1) for a point: 0.3 m within a third of a stop is 2.4497 m.
    let even = server.ask(FALLOFF, json!({"depth": 0.3})).await;
    close(&even["depth"]["distance_for_evenness_m"], 0.3 / ((1.0_f64 / 6.0).exp2() - 1.0), 1e-4);
    assert_eq!(even["reference_distance_m"], even["depth"]["distance_for_evenness_m"]);
    close(&even["depth"]["front_to_back_stops"], -1.0 / 3.0, 1e-4);
    assert_eq!(even["rows"], json!([]));
    // A face 2 m before a wall that is to go five stops darker: 2/(2^2.5 - 1) is 0.42945 m.
    let by_query = server.get(&format!("{FALLOFF}?depth=2&within_stops=5")).await;
    close(&by_query.body["reference_distance_m"], 0.429_45, 1e-4);
    close(&by_query.body["depth"]["front_to_back_stops"], -5.0, 1e-4);
    // Sixteen stops: 1/(2^8 - 1).
    let most = server.ask(FALLOFF, json!({"depth": 1, "within_stops": 16})).await;
    close(&most["depth"]["distance_for_evenness_m"], 1.0 / 255.0, 1e-6);
    // Beyond 1 km, and at every distance, it is told as before; the reference stays within the range of distances.
    let far = server.ask(FALLOFF, json!({"depth": 100, "within_stops": 0.01})).await;
    assert_eq!(far["depth"]["distance_for_evenness_m"], Value::Null);
    close(&far["reference_distance_m"], 1000.0, 1e-9);
    let near = server.ask(FALLOFF, json!({"depth": 0.1, "source": {"disc_m": 1.2}})).await;
    assert_eq!(near["depth"]["distance_for_evenness_m"], json!(0.0));
    close(&near["reference_distance_m"], 0.01, 1e-9);
}

#[tokio::test]
async fn filters_take_their_light_off_the_apertures() {
    let server = Server::start().await;
    let ask = async |filters: Value| {
        let body = json!({"distances": [1, 4], "unit": {"guide_number": "GN 60"}, "filters": filters});
        server.ask(FALLOFF, body).await
    };
    let (bare, filtered) = (ask(json!([])).await, ask(json!(["ND 0.9", "-1 stop"])).await);
    // Common practice: ND 0.9 takes three stops; with one more the f-number is a quarter.
    for row in 0..2 {
        let of = |answer: &Value| number(&answer["rows"][row]["f_number"]["value"]);
        assert!((of(&bare) / of(&filtered) - 4.0).abs() < 1e-4, "{filtered}");
        assert_eq!(bare["rows"][row]["stops"], filtered["rows"][row]["stops"]);
    }
    let unit = "unit[guide_number][value]=60&unit[guide_number][unit]=m";
    let by_query = server.get(&format!("{FALLOFF}?distances=1,4&{unit}&filters=ND%200.9,-1%20stop")).await;
    assert_eq!(by_query.body, filtered);
}

#[tokio::test]
async fn evenness_before_a_large_source_holds_from_there_on() {
    let server = Server::start().await;
    let ask = async |source: &Value, within: f64, front: f64| {
        let body = json!({"source": source, "depth": 0.3, "within_stops": within, "reference_distance": front, "distances": [front]});
        server.ask(FALLOFF, body).await
    };
    let disc = json!({"disc_m": 1.2});
    // Derived from 1/(1+(R/d)²): ((d+t)² + R²)/(d² + R²) = k at (t + √(t² - (k-1)((k-1)R² - t²)))/(k-1), here 0.537 m.
    // Nearer it is less even, down to the other root at 0.407 m.
    let k = 0.71_f64.exp2() - 1.0;
    let from = (0.3 + (0.09 - k * (k * 0.36 - 0.09)).sqrt()) / k;
    let depth = ask(&disc, 0.71, 0.47).await["depth"].clone();
    close(&depth["front_to_back_stops"], -0.714, 1e-3);
    close(&depth["distance_for_evenness_m"], from, 1e-4);
    for source in [disc, json!({"rectangle_m": [1.2, 1.2]}), json!({"rectangle_m": [0.3, 1.8]})] {
        for within in [0.2, 0.33, 0.5, 0.6, 0.65, 0.71, 0.9] {
            let answer = ask(&source, within, 1.0).await;
            let from = number(&answer["depth"]["distance_for_evenness_m"]);
            let codes = answer["warnings"].to_string();
            assert_eq!(from == 0.0, codes.contains("even_everywhere"), "{from}: {codes}");
            for front in [0.05, 0.1, 0.2, 0.35, 0.47, 0.6, 0.8, 1.2, 2.0, 4.0].map(|more| from + more) {
                let drop = -number(&ask(&source, within, front).await["depth"]["front_to_back_stops"]);
                assert!(drop <= within, "{source} within {within}: {drop} at {front}");
            }
            if from > 0.0 {
                let drop = -number(&ask(&source, within, from - 0.01).await["depth"]["front_to_back_stops"]);
                assert!(drop > within, "{source} within {within}: {drop} before {from}");
            }
        }
    }
}

#[tokio::test]
async fn evenness_at_every_distance_is_reported() {
    let server = Server::start().await;
    // Derived: with R = 0.6 m and t = 0.1 m the drop is greatest 0.552 m away, log2((0.652² + 0.36)/(0.552² + 0.36)) = 0.240.
    let query = format!(
        "{FALLOFF}?source[disc_m]=1.2&depth=0.1&within_stops=0.25&reference_distance=1&units=imperial"
    );
    let answer = server.get(&query).await.body;
    assert_eq!(
        (&answer["depth"]["distance_for_evenness_m"], &answer["depth"]["distance_for_evenness_ft"]),
        (&json!(0.0), &json!(0.0))
    );
    let picture = server.get(&format!("{query}&format=svg")).await.body;
    let drawn = picture.as_str().expect("a picture");
    assert!(drawn.contains("over the depth at every distance") && !drawn.contains("from 0 ft on"), "{drawn}");
    let text = server.get(&format!("{query}&format=text")).await.body;
    assert!(text.as_str().is_some_and(|text| text.contains("as even as wanted")), "{text}");
}

#[tokio::test]
async fn a_query_carries_settings_and_lists() {
    let server = Server::start().await;
    let unit = "unit[guide_number][value]=58&unit[guide_number][unit]=m&unit[scale][style]=fraction&unit[scale][least]=1/64";
    let answer = server
        .get(&format!("{FALLOFF}?distances=2&{unit}&setting=1/4&source[rectangle_m]=0.6,90%20cm"))
        .await;
    assert_eq!(answer.status, 200, "{}", answer.body);
    let body = json!({"distances": [2], "setting": "1/4", "source": {"rectangle_m": [0.6, "90 cm"]},
        "unit": {"guide_number": {"value": 58, "unit": "m"}, "scale": {"style": "fraction", "least": "1/64"}}});
    assert_eq!(answer.body, server.ask(FALLOFF, body).await);
    let short = server.get(&format!("{FALLOFF}?distances=2&source[rectangle_m]=0.6")).await;
    assert_eq!(pointers(&crate::support::faults(&short.body)), ["/source/rectangle_m"]);
}
