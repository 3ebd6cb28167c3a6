//! Faces as what they are, boards, blockers and the room of a set, through `/v1/exposure/predict` and `/v1/ratios/balance`.

use serde_json::{Value, json};

use crate::support::{Server, close, number, sure, warned};

const PREDICT: &str = "/v1/exposure/predict";

/// A light of 4000 cd·s: GN 40 at C = 250 (ISO 1230, ISO 2720:1974).
fn unit() -> Value {
    json!({"guide_number": {"value": 40, "unit": "m"}})
}
const BEAM_CD_S: f64 = 4000.0;

fn set(light: &Value, point: &Value, more: &Value) -> Value {
    let mut body = json!({"exposure": {"f_number": "f/8"}, "lights": [{"name": "a", "unit": unit()}], "points": [{"name": "p"}]});
    for (own, fields) in [("lights", light), ("points", point)] {
        for (name, value) in fields.as_object().expect("an object") {
            body[own][0][name] = value.clone();
        }
    }
    for (name, value) in more.as_object().expect("an object") {
        body[name] = value.clone();
    }
    body
}

/// The light at the only point over the beam, 1/m².
async fn factor(server: &Server, body: Value) -> f64 {
    let answer = server.ask(PREDICT, body).await;
    number(&answer["points"][0]["luminous_exposure_lx_s"]) / BEAM_CD_S
}

/// The places of the faults, with their codes.
async fn codes(server: &Server, body: &Value) -> Vec<[String; 2]> {
    let answer = server.post(PREDICT, body).await;
    assert_eq!(answer.status, 422, "{}", answer.body);
    let text = |value: &Value| value.as_str().expect("text").to_owned();
    let errors = answer.body["errors"].as_array().expect("errors");
    errors.iter().map(|error| [text(&error["pointer"]), text(&error["code"])]).collect()
}

fn near(factor: f64, expected: f64) {
    assert!((factor / expected).log2().abs() < 1e-3, "{factor} {expected}");
}

#[tokio::test]
async fn a_face_is_summed_over_its_area() {
    let server = Server::start().await;
    let placed = |light: Value, placement: Value| {
        let mut placement = placement;
        placement["light"] = json!("a");
        placement["point"] = json!("p");
        set(&light, &json!({}), &json!({"placements": [placement]}))
    };
    // Sums of 1500 × 1500 parts (derived: distance law with the cosines at both ends, CIE e-ILV 17-25-104).
    for (source, placement, expected) in [
        // Under a chin: 0.34 stop more than the middle alone would give.
        (json!({"rectangle_m": [1.2, 1.2]}), json!({"distance": 1, "incidence_deg": 80}), 0.160_230_6),
        // A face turned aside falls off with the cosine; planes that are parallel where both angles are the same.
        (json!({"rectangle_m": [0.6, 0.9]}), json!({"distance": 2, "off_axis_deg": 60}), 0.124_437_4),
        (
            json!({"rectangle_m": [0.6, 0.9]}),
            json!({"distance": 2, "off_axis_deg": 40, "incidence_deg": 40}),
            0.144_940_9,
        ),
        // Published: Siegel & Howell: a disc on its axis, 1/(d² + R²).
        (json!({"disc_m": 1}), json!({"distance": 1}), 0.8),
    ] {
        near(factor(&server, placed(json!({"source": source}), placement)).await, expected);
    }
    let even = json!({"source": {"rectangle_m": [0.6, 0.9]}, "beam": "even"});
    near(factor(&server, placed(even, json!({"distance": 2, "off_axis_deg": 60}))).await, 0.247_113_2);
    // The same by positions. A rectangle's width is level.
    let (sine, cosine) = 60.0_f64.to_radians().sin_cos();
    let light =
        json!({"source": {"rectangle_m": [0.6, 0.9]}, "position": [0, 0, 1], "aim": [sine, cosine, 1]});
    let body = set(&light, &json!({"position": [0, 2, 1], "normal": [0, -1, 0]}), &json!({}));
    near(factor(&server, body.clone()).await, 0.124_437_4);
    // Aimed aside it needs no beam, and there is nothing to warn of.
    let answer = server.ask(PREDICT, body).await;
    assert!(warned(&answer).is_empty(), "{answer}");
}

#[tokio::test]
async fn a_beam_is_even_or_an_object() {
    let server = Server::start().await;
    let body =
        set(&json!({"beam": "wide", "position": [0, 0, 1]}), &json!({"position": [0, 2, 1]}), &json!({}));
    assert_eq!(codes(&server, &body).await, [["/lights/0/beam", "unknown_word"]]);
    // For a point, even is what it is without a beam.
    let light = json!({"beam": "even", "position": [0, 0, 1], "aim": [1, 0, 1]});
    close(
        &json!(factor(&server, set(&light, &json!({"position": [0, 2, 1]}), &json!({}))).await),
        0.25,
        1e-6,
    );
}

#[tokio::test]
async fn boards_send_light_on() {
    let server = Server::start().await;
    // Numeric integration by SciPy, version in the file.
    let data: Value = serde_json::from_str(include_str!("../data/boards.json")).expect("JSON");
    for case in data["cases"].as_array().expect("cases") {
        let mut light = json!({"position": case["light"]["position"], "aim": case["light"]["aim"]});
        if !case["light"]["rectangle_m"].is_null() {
            light["source"] = json!({"rectangle_m": case["light"]["rectangle_m"]});
        }
        if !case["light"]["half_power_deg"].is_null() {
            light["beam"] = json!({"half_power_deg": case["light"]["half_power_deg"]});
        }
        let mut board = case["board"].clone();
        board["name"] = json!("board");
        let direct = factor(&server, set(&light, &case["place"], &json!({}))).await;
        let both = factor(&server, set(&light, &case["place"], &json!({"reflectors": [board]}))).await;
        let sent = number(&case["factor_per_m2"]);
        let off = (both / (direct + sent)).log2();
        assert!(off.abs() < 1e-3, "{}: {direct} and {sent}: {both}", case["what"]);
    }
}

#[tokio::test]
async fn a_board_counts_in_a_balance_too() {
    let server = Server::start().await;
    // Only the board lights this side, and a reading has it already.
    let light = json!({"position": [-1.2, -1.6, 2.2]});
    let point = json!({"position": [0.1, 0, 1.6], "normal": [1, -0.05, 0], "target": {"f_number": "f/2.8"}});
    let board = json!({"name": "paper", "position": [0, 0.6, 1.5], "normal": [0, -1, 0], "size_m": [2.7, 3], "reflectance": "90 %"});
    let body = set(&light, &point, &json!({"reflectors": [board]}));
    let answer = server.ask("/v1/ratios/balance", body.clone()).await;
    // N² at full power is 1600 · 0.0178083; f/2.8 stands for √8.
    let below = number(&answer["settings"][0]["setting"]["stops_below_full"]);
    let full = (1600.0_f64 * 0.017_808_3 / 8.0).log2();
    assert!((below - full).abs() < 0.006, "{below} {full}");
    let mut metered = body;
    metered["readings"] = json!([{"light": "a", "point": "p", "setting": "full", "f_number": "f/5.6"}]);
    let answer = server.ask(PREDICT, metered).await;
    assert_eq!(answer["points"][0]["f_number"]["mark"], "f/5.6");
}

#[tokio::test]
async fn blockers_take_light_away() {
    let server = Server::start().await;
    let point = json!({"position": [0, 0, 1.5], "normal": [0, 1, 0]});
    let flag = |x: f64| json!({"blockers": [{"name": "flag", "board": {"position": [x, 1, 1.5], "normal": [0, 1, 0], "size_m": [4, 4]}}]});
    let body = |y: f64| json!({"blockers": [{"name": "guest", "cylinder": {"position": [0, y, 0], "height_m": 1.8, "diameter_m": 0.5}}]});
    let bulb = json!({"position": [0, 2, 1.5]});
    for (more, expected) in
        [(json!({}), 0.25), (flag(0.0), 0.0), (flag(3.0), 0.25), (body(1.0), 0.0), (body(-0.25), 0.25)]
    {
        let lit = factor(&server, set(&bulb, &point, &more)).await;
        assert!((lit - expected).abs() < 1e-6, "{more}: {lit}");
    }
    // A face of 1 × 1 m (a sum over its parts); by symmetry, a flag whose edge is on the line to its middle leaves half.
    let softbox = json!({"position": [0, 2, 1.5], "aim": [0, 0, 1.5], "source": {"rectangle_m": [1, 1]}});
    near(factor(&server, set(&softbox, &point, &json!({}))).await, 0.230_836_8);
    near(factor(&server, set(&softbox, &point, &flag(-2.0))).await, 0.115_418_4);
    let dark = server.ask(PREDICT, set(&softbox, &point, &flag(-1.0))).await;
    assert_eq!(dark["points"][0]["f_number"], Value::Null);
    assert_eq!(dark["warnings"][0]["code"], "unlit");
    // Half a millimetre before the point or the light it hides as well; on the point itself it hides nothing.
    for (y, expected) in [(5e-4, 0.0), (1.9995, 0.0), (0.0, 0.25)] {
        let near = json!({"blockers": [{"name": "near", "board": {
            "position": [0, y, 1.5], "normal": [0, 1, 0], "size_m": [1, 1]}}]});
        let lit = factor(&server, set(&bulb, &point, &near)).await;
        assert!((lit - expected).abs() < 1e-6, "{y}: {lit}");
    }
    // Inside a body it hides nothing, and the answer says so.
    let inside = server.ask(PREDICT, set(&bulb, &point, &body(0.0))).await;
    assert_eq!(inside["warnings"][0]["code"], "inside_blocker");
    assert_eq!(inside["warnings"][0]["at"], "/blockers/0");
    close(&inside["points"][0]["luminous_exposure_lx_s"], 1000.0, 1e-6);
}

#[tokio::test]
async fn a_room_sends_on_an_even_light() {
    let server = Server::start().await;
    // The integrating sphere's formula (from memory of radiometry texts): 4 × 5 × 2.5 m has 85 m²; a cone of 180 degrees has
    // 2π sr, so that 4000 cd·s are 4000·2π lm·s; with a reflectance of a half E = Φ/A, beside 4000/2² of the light itself.
    let room = json!({"room": {"size_m": [4, "5 m", 2.5], "reflectance": 0.5}, "placements": [{"light": "a", "point": "p", "distance": 2}]});
    let mut body = set(&json!({}), &json!({}), &room);
    body["lights"][0]["unit"]["coverage"] = json!({"cone_deg": 180});
    let answer = server.ask(PREDICT, sure(body.clone())).await;
    let point = &answer["points"][0];
    close(&point["luminous_exposure_lx_s"], 1295.68, 0.01);
    // A factor of two either way, of the room's part. The ends are quantiles of draws.
    close(&point["uncertainty"]["low_stops"], -0.1748, 0.003);
    close(&point["uncertainty"]["high_stops"], 0.2966, 0.003);
    assert_eq!(point["uncertainty"]["causes"][0]["cause"], "room");
    assert!(answer["assumptions"].to_string().contains("room_light"), "{answer}");
    // A Lambertian face gives π lm·s for each cd·s (derived).
    body["lights"][0]["source"] = json!({"disc_m": 0.01});
    let answer = server.ask(PREDICT, body.clone()).await;
    close(
        &answer["points"][0]["luminous_exposure_lx_s"],
        4000.0 * (0.25 + std::f64::consts::PI / 85.0),
        0.05,
    );
    // Nothing tells its lumens.
    body["lights"][0] = json!({"name": "a", "unit": unit()});
    let answer = server.ask(PREDICT, body).await;
    close(&answer["points"][0]["luminous_exposure_lx_s"], 1000.0, 1e-6);
    assert_eq!(answer["warnings"][0]["code"], "room_light_unknown");
    assert_eq!(answer["warnings"][0]["at"], "/lights/0");
}

#[tokio::test]
async fn bad_surroundings_are_located() {
    let server = Server::start().await;
    let board = |fields: Value| {
        let mut board = json!({"name": "b", "position": [0, 1, 1], "normal": [0, -1, 0], "size_m": [1, 1], "reflectance": 0.9});
        for (name, value) in fields.as_object().expect("an object") {
            board[name] = value.clone();
        }
        board
    };
    let flag = json!({"position": [0, 1, 1], "normal": [0, 1, 0], "size_m": [1, 1]});
    let cylinder = json!({"position": [0, 1, 0], "height_m": 1.8, "diameter_m": 0.5});
    let many =
        |count: usize| (0..count).map(|index| board(json!({"name": index.to_string()}))).collect::<Vec<_>>();
    for (more, at, code) in [
        (
            json!({"reflectors": [board(json!({"normal": [0, 0, 0]}))]}),
            "/reflectors/0/normal",
            "no_direction",
        ),
        (
            json!({"reflectors": [board(json!({"reflectance": 1.1}))]}),
            "/reflectors/0/reflectance",
            "out_of_range",
        ),
        (
            json!({"reflectors": [board(json!({"reflectance": 0}))]}),
            "/reflectors/0/reflectance",
            "out_of_range",
        ),
        (json!({"reflectors": [board(json!({"up": [0, 2, 0]}))]}), "/reflectors/0/up", "up_along_normal"),
        (json!({"reflectors": [board(json!({})), board(json!({}))]}), "/reflectors/1/name", "duplicate_name"),
        (json!({"reflectors": [board(json!({"name": null}))]}), "/reflectors/0/name", "missing"),
        (json!({"reflectors": many(17)}), "/reflectors", "too_many"),
        (json!({"blockers": [{"name": "c"}]}), "/blockers/0/board", "missing"),
        (
            json!({"blockers": [{"name": "c", "board": flag, "cylinder": cylinder}]}),
            "/blockers/0/cylinder",
            "conflict",
        ),
        (
            json!({"blockers": [{"name": "c", "cylinder": cylinder}, {"name": "c", "cylinder": cylinder}]}),
            "/blockers/1/name",
            "duplicate_name",
        ),
        (json!({"room": {"size_m": [4, 5], "reflectance": 0.5}}), "/room/size_m", "too_few"),
        (json!({"room": {"size_m": [4, 5, 3], "reflectance": 1}}), "/room/reflectance", "out_of_range"),
        (json!({"camera": {"aim": [0, 0, 1]}}), "/camera/position", "missing"),
        (json!({"camera": {"position": [0, "far", 1]}}), "/camera/position/1", "unreadable"),
        (json!({"camera": {"position": [0, -4, 1], "aim": [0, -4, 1]}}), "/camera/aim", "no_direction"),
    ] {
        let body = set(&json!({"position": [0, -1, 1]}), &json!({"position": [0, 0, 1]}), &more);
        assert_eq!(codes(&server, &body).await, [[at, code]], "{more}");
    }
    // A board that is edge-on to light and point reflects nothing.
    let edge_on = json!({"reflectors": [board(json!({"normal": [0, 0, 1]}))]});
    let body = set(&json!({"position": [0, -1, 1]}), &json!({"position": [0, 0, 1]}), &edge_on);
    let answer = server.ask(PREDICT, body).await;
    assert_eq!(answer["warnings"][0]["code"], "board_reflects_nothing");
    assert_eq!(answer["warnings"][0]["at"], "/reflectors/0");
}

#[tokio::test]
async fn a_camera_changes_no_number() {
    let server = Server::start().await;
    let placed = |more: Value| set(&json!({"position": [0, -1, 1]}), &json!({"position": [0, 0, 1]}), &more);
    let camera = json!({"camera": {"position": [0, "-4.5 m", "5 ft 3 in"], "aim": [0, 0, 1]}});
    let with = server.ask(PREDICT, placed(camera)).await;
    assert_eq!(with, server.ask(PREDICT, placed(json!({}))).await);
}
