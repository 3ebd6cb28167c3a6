//! `/v1/lights/softness`.

use serde_json::{Value, json};

use crate::support::{Server, close, faults, number, pointers};

const SOFTNESS: &str = "/v1/lights/softness";

#[tokio::test]
async fn angular_size_and_penumbra() {
    let server = Server::start().await;
    // Published: the sun's diameter is 1.3914e6 km and its mean distance 1.496e8 km (IAU 2015 and 2012, rounded), 0.533
    // degrees; here as a model of 1 m at 107.52 m.
    let sun = server.ask(SOFTNESS, json!({"source": {"disc_m": 1}, "distance": 107.52, "behind": 2})).await;
    close(&sun["angular_size_deg"]["width"], 0.533, 5e-4);
    // Common practice: the sun's shadow is blurred by a 108th of its length.
    close(&sun["penumbra_m"]["width"], 2.0 / 107.52, 1e-6);
    // Similar triangles: 0.6 m wide and 0.9 m high at 1.5 m, 0.5 m before the wall; 2·atan(0.2) and 2·atan(0.3).
    let body = json!({"source": {"rectangle_m": [0.6, 0.9]}, "distance": 1.5, "behind": 0.5});
    let answer = server.ask(SOFTNESS, body).await;
    close(&answer["angular_size_deg"]["width"], 22.6199, 1e-3);
    close(&answer["angular_size_deg"]["height"], 33.3985, 1e-3);
    close(&answer["penumbra_m"]["width"], 0.2, 1e-9);
    close(&answer["penumbra_m"]["height"], 0.3, 1e-9);
    assert_eq!(
        answer["summary"],
        "The light is 22.6° by 33.4° across; the soft edge of its shadow is 0.2 m by 0.3 m wide."
    );
    // The simplest form: how large the light seems, nothing else.
    let plain = server.ask(SOFTNESS, json!({"source": {"disc_m": 1}, "distance": 0.5})).await;
    close(&plain["angular_size_deg"]["height"], 90.0, 1e-9);
    assert_eq!(plain["summary"], "The light is 90° across.");
    assert!(plain.get("penumbra_m").is_none() && plain.get("as_soft").is_none(), "{plain}");
}

#[tokio::test]
async fn what_is_as_soft() {
    let server = Server::start().await;
    // Similar triangles: at twice the distance twice the size.
    let source = json!({"rectangle_m": [0.6, 0.9]});
    let farther = server.ask(SOFTNESS, json!({"source": source, "distance": 1.5, "to_distance": 3})).await;
    assert_eq!(farther["as_soft"], json!({"source": {"rectangle_m": [1.2, 1.8]}}));
    // Sent back, it is as soft, and leads back to the distance.
    let back = json!({"source": farther["as_soft"]["source"], "distance": 3, "to_source": source});
    let back = server.ask(SOFTNESS, back).await;
    assert_eq!(back["angular_size_deg"], farther["angular_size_deg"]);
    close(&back["as_soft"]["distance_m"], 1.5, 1e-9);
    assert_eq!(back["warnings"], json!([]));
    // Half the size from half the distance; a square as wide as the disc is as soft in both directions.
    for (to, distance, is_other_shape) in [
        (json!({"disc_m": 0.6}), 1.0, false),
        (json!({"rectangle_m": [1.2, 1.2]}), 2.0, false),
        // By hand: √(0.3·1.2) is 0.6, half of the disc.
        (json!({"rectangle_m": [0.3, 1.2]}), 1.0, true),
    ] {
        let body = json!({"source": {"disc_m": 1.2}, "distance": 2, "to_source": to});
        let answer = server.ask(SOFTNESS, body).await;
        close(&answer["as_soft"]["distance_m"], distance, 1e-9);
        assert_eq!(answer["warnings"].to_string().contains("other_shape"), is_other_shape, "{answer}");
    }
}

#[tokio::test]
async fn softness_in_feet_and_by_query() {
    let server = Server::start().await;
    let body = json!({"source": {"disc_m": "3 ft"}, "distance": "6 ft", "behind": "1 ft", "to_distance": "10 ft", "units": "imperial"});
    let answer = server.ask(SOFTNESS, body).await;
    close(&answer["penumbra_ft"]["width"], 0.5, 1e-9);
    close(&answer["as_soft"]["source_ft"]["height"], 5.0, 1e-9);
    close(&answer["as_soft"]["source"]["disc_m"], 1.524, 1e-9);
    let query = "source[disc_m]=3%20ft&distance=6%20ft&behind=1%20ft&to_distance=10%20ft&units=imperial";
    let by_query = server.get(&format!("{SOFTNESS}?{query}")).await;
    assert_eq!(by_query.body, answer);
    let query = "source[disc_m]=3%20ft&distance=6%20ft&to_source[rectangle_m]=0.6,0.6&units=imperial";
    let to_source = server.get(&format!("{SOFTNESS}?{query}")).await.body;
    let (metres, feet) = (&to_source["as_soft"]["distance_m"], &to_source["as_soft"]["distance_ft"]);
    close(feet, number(metres) / 0.3048, 1e-4);
    for (query, expected, code) in [
        ("distance=2", "/source", "missing"),
        ("source[disc_m]=1", "/distance", "missing"),
        ("source[disc_m]=1&distance=0", "/distance", "out_of_range"),
        ("source[disc_m]=1&distance=2&behind=0", "/behind", "out_of_range"),
        ("source[disc_m]=1&distance=2&to_distance=3&to_source[disc_m]=1", "/to_source", "conflict"),
        ("source[disc_m]=1&distance=2&step=1/2", "/step", "unknown_field"),
    ] {
        let answer = server.get(&format!("{SOFTNESS}?{query}")).await;
        assert_eq!(answer.status, 422, "{query}: {}", answer.body);
        assert_eq!(pointers(&faults(&answer.body)), [expected], "{query}");
        assert_eq!(answer.body["errors"][0]["code"], code, "{query}");
    }
    let wrong = server.refused(SOFTNESS, json!({"source": Value::Null, "distance": true})).await;
    assert_eq!(pointers(&wrong), ["/source", "/distance"]);
}

#[tokio::test]
async fn what_no_room_holds_is_said() {
    let server = Server::start().await;
    // Similar triangles: 80 m is 8000 times 1 cm, and 8000 times 2 m is 16 km.
    let body = json!({"source": {"disc_m": 0.01}, "distance": 2, "to_source": {"disc_m": 80}});
    let far = server.ask(SOFTNESS, body).await;
    close(&far["as_soft"]["distance_m"], 16_000.0, 1e-6);
    assert_eq!(
        far["warnings"][0]["params"],
        json!({"what": "distance in m", "value": 16_000.0, "least": 0.01, "greatest": 1000.0})
    );
    let text = far["warnings"][0]["text"].as_str().expect("text");
    assert!(far["summary"].as_str().is_some_and(|summary| summary.ends_with(text)), "{far}");
    // 100 m at 0.1 m is 1000 km at 1 km.
    let body = json!({"source": {"disc_m": 100}, "distance": 0.1, "to_distance": 1000});
    let large = server.ask(SOFTNESS, body).await;
    assert_eq!(large["warnings"].as_array().map(Vec::len), Some(1), "{large}");
    assert_eq!(large["warnings"][0]["params"]["what"], "size in m");
}

#[tokio::test]
async fn short_lengths_have_four_digits() {
    let server = Server::start().await;
    // By hand: 1/12.9 is 0.0775194.
    let body = json!({"source": {"disc_m": 1}, "distance": 12.9, "behind": 1});
    let summary = server.ask(SOFTNESS, body).await["summary"].clone();
    assert!(
        summary.as_str().is_some_and(|text| text.ends_with("its shadow is 0.07752 m wide.")),
        "{summary}"
    );
}
