//! The pictures of sets: missed targets, estimates, names.

use serde_json::{Value, json};

use super::{checked, draw, number};
use crate::support::{Answer, Server, number as value};

const BALANCE: &str = "/v1/ratios/balance";
const PREDICT: &str = "/v1/exposure/predict";

fn parsed(answer: &Answer) -> roxmltree::Document<'_> {
    roxmltree::Document::parse(answer.body.as_str().expect("a text")).expect("a picture")
}

/// The elements with this name and attribute.
fn all<'d>(
    picture: &'d roxmltree::Document<'d>,
    name: &str,
    attribute: (&str, &str),
) -> Vec<roxmltree::Node<'d, 'd>> {
    let elements = picture.descendants().filter(|node| node.has_tag_name(name));
    elements.filter(|node| node.attribute(attribute.0) == Some(attribute.1)).collect()
}

fn description(picture: &roxmltree::Document<'_>) -> String {
    let node = picture.descendants().find(|node| node.has_tag_name("desc")).expect("a description");
    node.text().expect("words").replace('\u{a0}', " ")
}

fn unit(guide_number: f64) -> Value {
    json!({"guide_number": {"value": guide_number, "unit": "m"}, "scale": {"style": "dial", "full": 9, "least": 5}})
}

/// One light for one point.
fn set(f_number: &str, points: &[(&str, f64, f64)]) -> Value {
    let named = |name: &str| format!("light of {name}");
    let lights = points.iter().map(|(name, guide, _)| json!({"name": named(name), "unit": unit(*guide)}));
    let placements = points
        .iter()
        .map(|(name, _, distance)| json!({"light": named(name), "point": name, "distance": distance}));
    let points = points.iter().map(|(name, ..)| json!({"name": name, "target": {"stops": 0}}));
    json!({
        "exposure": {"f_number": f_number},
        "lights": lights.collect::<Vec<_>>(), "points": points.collect::<Vec<_>>(),
        "placements": placements.collect::<Vec<_>>()
    })
}

#[tokio::test]
async fn missed_targets_are_marked() {
    let server = Server::start().await;
    // Guide number over distance: f/4 is two stops under f/8; at the least setting f/32 is four below f/128; f/8.
    let body = set("f/8", &[("weak", 40.0, 10.0), ("strong", 256.0, 2.0), ("right", 40.0, 5.0)]);
    let answer = draw(&server, BALANCE, &body).await;
    let texts = checked("misses", &answer);
    let has = |wanted: &str| assert!(texts.iter().any(|text| text == wanted), "{wanted}: {texts:?}");
    let summary = "The targets are out of reach: \"strong\" is 4 stops too bright and \"weak\" is 2 stops too dark at best.";
    assert!(texts.join(" ").contains(summary), "{texts:?}");
    // The end that holds the balance back is shown beside the setting.
    ["2.00 under", "4.00 over", "0.00"].into_iter().for_each(has);
    assert!(texts.iter().any(|text| text.contains("at its least")), "{texts:?}");
    let picture = parsed(&answer);
    // A bar from the edge of the tolerance to the cross, as long as the miss.
    let bars = all(&picture, "rect", ("fill", "url(#hatched)"));
    let [weak, strong] = bars.as_slice() else { panic!("{} bars", bars.len()) };
    let third = 1.0 / 3.0;
    let ratio = number(*strong, "width") / number(*weak, "width");
    assert!((ratio - (4.0 - third) / (2.0 - third)).abs() < 0.01, "{ratio}");
    assert!(number(*weak, "x") < number(*strong, "x"));

    let near = set("f/8", &[("right", 40.0, 5.0)]);
    let answer = draw(&server, BALANCE, &near).await;
    let texts = checked("no misses", &answer);
    let summary = "Set \"light of right\" to 9; every point is on its target, give or take 0.55 stop.";
    assert!(texts.join(" ").contains(summary), "{texts:?}");
    assert!(!texts.iter().any(|text| text == "missed" || text.contains("at its")), "{texts:?}");
    assert!(all(&parsed(&answer), "rect", ("fill", "url(#hatched)")).is_empty());
}

#[tokio::test]
async fn what_to_do_comes_before_the_points() {
    let server = Server::start().await;
    let body = set("f/8", &[("weak", 40.0, 10.0)]);
    let answer = draw(&server, BALANCE, &body).await;
    checked("remedies", &answer);
    let picture = parsed(&answer);
    let at = |wanted: &str| {
        let node =
            picture.descendants().find(|node| node.has_tag_name("text") && node.text() == Some(wanted));
        number(node.unwrap_or_else(|| panic!("{wanted}")), "y")
    };
    assert!(at("light of weak") < at("One of these would do it"));
    assert!(at("One of these would do it") < at("point") && at("point") < at("weak"));
}

#[tokio::test]
async fn estimates_have_error_bars() {
    let server = Server::start().await;
    let body = json!({
        "exposure": {"f_number": "f/8"},
        "lights": [{"name": "a", "unit": {"energy": 500, "coverage": {"cone_deg": 60}}}],
        "points": [{"name": "face", "target": {"stops": 0}}],
        "placements": [{"light": "a", "point": "face", "distance": 2}]
    });
    let spread = &server.ask(BALANCE, body.clone()).await["points"][0]["uncertainty"];
    let [low, high] = ["low_stops", "high_stops"].map(|end| (value(&spread[end]) * 100.0).round() / 100.0);
    assert!(low < 0.0 && high > 0.0);
    let range = format!("\u{2212}{} to +{high}", -low);
    let answer = draw(&server, BALANCE, &body).await;
    let texts = checked("an estimate", &answer);
    assert!(texts.contains(&range), "{range}: {texts:?}");
    let text = texts.join(" ");
    assert!(text.contains("at \"face\" is most of all: the rating of \"a\""), "{texts:?}");
    let described = description(&parsed(&answer));
    assert!(described.contains(&format!("may be {range} off that")), "{described}");
    // Metered light is known better.
    let metered = json!({
        "exposure": {"f_number": "f/8"},
        "lights": [{"name": "a", "unit": unit(40.0)}], "points": [{"name": "face"}],
        "readings": [{"light": "a", "point": "face", "setting": "9", "f_number": "f/8"}]
    });
    let answer = draw(&server, PREDICT, &metered).await;
    checked("metered", &answer);
    // A reading and its digit, the dial's part dropped, flash to flash, the meter's offset (JCGM 100:2008, 5.1.2).
    let expected = 0.1327_f64.hypot(0.06).hypot(0.2);
    let described = description(&parsed(&answer));
    assert!(
        described.contains(&format!("may be \u{2212}{expected:.2} to +{expected:.2} off that")),
        "{described}"
    );
}

#[tokio::test]
async fn readings_beyond_a_meters_range_are_marked() {
    let server = Server::start().await;
    let body = json!({
        "exposure": {"f_number": "f/8"},
        "lights": [{"name": "a", "unit": {"guide_number": {"value": 1, "unit": "m"}}}],
        "placements": [{"light": "a", "point": "far", "distance": 900}]
    });
    let texts = checked("far", &draw(&server, PREDICT, &body).await);
    // 1 m / 900 m is f/0.00111: 25.63 stops from f/8.
    assert!(texts.contains(&"< f/0.5".to_owned()) && texts.contains(&"25.63 under".to_owned()), "{texts:?}");
}

#[tokio::test]
async fn long_names_stay_distinct_and_descriptions_name_points() {
    let server = Server::start().await;
    let [left, right] =
        ["left", "right"].map(|side| format!("the whole of the backdrop behind, upper {side} corner"));
    let answer = draw(&server, BALANCE, &set("f/8", &[(&left, 40.0, 5.0), (&right, 40.0, 4.0)])).await;
    let texts = checked("long names", &answer);
    for end in ["left corner", "right corner"] {
        // Once as the name of a point, once as that of its light.
        assert_eq!(texts.iter().filter(|text| text.ends_with(end)).count(), 2, "{end}: {texts:?}");
    }
    let described = description(&parsed(&answer));
    assert!(
        described.contains(&format!("{right} 4 m")) && described.contains(&format!("{left} 5 m")),
        "{described}"
    );
}

#[tokio::test]
async fn plans_contain_their_circles_and_mark_lights_that_are_off() {
    let server = Server::start().await;
    let light = |name: &str, y: f64, setting: &str| json!({"name": name, "unit": unit(40.0), "position": [0, y, 2], "setting": setting});
    let body = json!({
        "exposure": {"f_number": "f/8"},
        "lights": [light("near", -2.0, "full"), light("far", 400.0, "off")],
        "points": [{"name": "face", "position": [0, 0, 1.6]}]
    });
    let answer = draw(&server, PREDICT, &body).await;
    let texts = checked("a far light", &answer);
    assert!(texts.contains(&"off".to_owned()), "{texts:?}");
    let picture = parsed(&answer);
    let frame = all(&picture, "rect", ("fill", "none"));
    let frame = frame.iter().max_by(|a, b| number(**a, "height").total_cmp(&number(**b, "height")));
    let frame = *frame.expect("a frame");
    let (top, height) = (number(frame, "y"), number(frame, "height"));
    // The first is a circle, the second a square that is dashed; both are in the list and in the plan.
    let circles = all(&picture, "circle", ("r", "12"));
    let squares = all(&picture, "rect", ("stroke-dasharray", "3 3"));
    assert_eq!([circles.len(), squares.len()], [2, 2]);
    let within = |y: f64| y - 12.0 > top && y + 12.0 < top + height;
    assert!(within(number(circles[1], "cy")) && within(number(squares[1], "y") + 11.0), "{top} {height}");
}

#[tokio::test]
async fn of_many_points_the_nearest_are_listed() {
    let server = Server::start().await;
    let points = (1..=9).map(|k| json!({"name": format!("p{k}"), "position": [10 - k, 0, 0]}));
    let body = json!({
        "exposure": {"f_number": "f/8"},
        "lights": [{"name": "a", "unit": unit(40.0), "position": [0, 0, 0]}],
        "points": points.collect::<Vec<_>>()
    });
    let texts = checked("many points", &draw(&server, PREDICT, &body).await);
    let text = texts.join(" ").replace('\u{a0}', " ");
    assert!(text.contains("p9 1 m, p8 2 m, and 7 more"), "{text}");
}

#[tokio::test]
async fn fixed_lights_are_marked() {
    let server = Server::start().await;
    let mut body = set("f/8", &[("near", 40.0, 5.0), ("far", 40.0, 5.0)]);
    body["lights"][0]["setting"] = json!("8");
    body["lights"][0]["hold"] = json!(true);
    let marks = async |body: &Value| {
        let answer = draw(&server, BALANCE, body).await;
        let texts = checked("fixed", &answer);
        let count = |wanted: &str| texts.iter().filter(|text| text.contains(wanted)).count();
        ["held, as you asked", "proven the best", "every light is fixed"].map(count)
    };
    assert_eq!(marks(&body).await, [1, 1, 0]);
    body["lights"][1]["setting"] = json!("8");
    body["lights"][1]["hold"] = json!(true);
    assert_eq!(marks(&body).await, [2, 0, 1]);
    // A fixed light that may be switched off leaves a choice.
    body["lights"][1]["may_be_off"] = json!(true);
    assert_eq!(marks(&body).await, [2, 1, 0]);
}

/// The largest set: each light has a beam, and reaches what is in front of it.
fn largest() -> Value {
    let lights = (0..32).map(|light| {
        json!({"name": format!("light {light}"), "unit": unit(60.0), "beam": {"half_power_deg": 50},
            "position": [light % 8 - 4, light / 8 * 2 - 5, 2], "aim": [0, 0, 1.5]})
    });
    let points = (0..64).map(|point| {
        json!({"name": format!("point {point}"), "target": {"stops": 0},
            "position": [f64::from(point % 8) * 0.7 - 2.5, f64::from(point / 8) * 0.6 - 2.3, 1.4]})
    });
    json!({"exposure": {"f_number": "f/16"}, "lights": lights.collect::<Vec<_>>(), "points": points.collect::<Vec<_>>()})
}

#[tokio::test]
async fn of_the_largest_set_the_worst_points_are_drawn() {
    let server = Server::start().await;
    let answer = draw(&server, PREDICT, &largest()).await;
    let texts = checked("the largest", &answer);
    let json = server.ask(PREDICT, largest()).await;
    let points = json["points"].as_array().expect("points");
    let off = |point: &Value| value(&point["error_stops"]).abs();
    let worst = points.iter().max_by(|a, b| off(a).total_cmp(&off(b))).expect("a point");
    let name = worst["name"].as_str().expect("a name");
    let first = texts.iter().position(|text| text.ends_with(name)).expect("the worst point");
    let rows = texts.iter().skip(first).filter(|text| text.contains("  point "));
    assert_eq!(rows.count(), 20, "{texts:?}");
    assert!(texts.iter().any(|text| text.starts_with("And 44 more points, none more than ")), "{texts:?}");
    // Every light is there to be set.
    assert!((0..32).all(|light| texts.contains(&format!("light {light}"))), "{texts:?}");
    assert!(answer.body.as_str().expect("a text").len() < 200_000);
}

#[tokio::test]
async fn a_plan_shows_beams_and_the_camera() {
    let server = Server::start().await;
    let body = |beam: Value| {
        let mut body = set("f/8", &[]);
        body["lights"] = json!([{"name": "key", "unit": unit(40.0), "position": [0, -2, 1.5], "aim": [0, 0, 1.5], "beam": beam}]);
        body["points"] = json!([{"name": "face", "position": [0, 0, 1.5]}]);
        body["camera"] = json!({"position": [1, -4, 1.5], "aim": [0, 0, 1.5]});
        body["reflectors"] = json!([{"name": "far wall", "position": [0, 40, 2], "normal": [0, -1, 0], "size_m": [90, 4], "reflectance": 0.5}]);
        body
    };
    let answer = draw(&server, PREDICT, &body(json!({"half_power_deg": 60}))).await;
    let texts = checked("a plan", &answer);
    let has = |wanted: &str| texts.iter().any(|text| text == wanted);
    assert!(has("key full") || has("key 9"), "{texts:?}");
    // A far wall does not shrink the set.
    assert!(has("camera") && has("1 face") && !has("far wall") && !has("board"), "{texts:?}");
    let picture = parsed(&answer);
    let beams = all(&picture, "polygon", ("fill", "#e0a800"));
    let [beam] = beams.as_slice() else { panic!("{} beams", beams.len()) };
    // A level beam of 60 degrees: its corners are in directions from 60 to 120 degrees.
    let corners: Vec<[f64; 2]> = beam
        .attribute("points")
        .expect("points")
        .split(' ')
        .map(|corner| {
            let (x, y) = corner.split_once(',').expect("a corner");
            [x.parse().expect("x"), y.parse().expect("y")]
        })
        .collect();
    let [apex, rest @ ..] = corners.as_slice() else { panic!("{corners:?}") };
    let angles = rest.iter().map(|[x, y]| (apex[1] - y).atan2(x - apex[0]).to_degrees());
    let (low, high) = angles.fold((f64::MAX, f64::MIN), |(low, high), it| (low.min(it), high.max(it)));
    assert!((low - 60.0).abs() < 0.1 && (high - 120.0).abs() < 0.1, "{low} to {high}");
    let even = draw(&server, PREDICT, &body(json!("even"))).await;
    assert!(all(&parsed(&even), "polygon", ("fill", "#e0a800")).is_empty());
}

#[tokio::test]
async fn a_correction_says_what_to_dial_and_what_comes_next() {
    let server = Server::start().await;
    let path = "/v1/sets/correct";
    let examples = &crate::support::document()["paths"][path]["post"]["requestBody"]["content"]["application/json"]
        ["examples"];
    for name in ["one_round", "did_not_fire"] {
        let body = &examples[name]["value"];
        let json = server.ask(path, body.clone()).await;
        let answer = draw(&server, path, body).await;
        let texts = checked(name, &answer);
        for (light, setting) in json["lights"]
            .as_array()
            .expect("lights")
            .iter()
            .zip(json["settings"].as_array().expect("settings"))
        {
            let [was, is] = [&light["setting_before"], &setting["setting"]]
                .map(|it| it["label"].as_str().expect("a label"));
            let wanted = if was == is { format!("leave it at {is}") } else { format!("{was} → {is}") };
            assert!(texts.contains(&wanted), "{wanted}: {texts:?}");
        }
        let next = json["next_reading"]["light"].as_str();
        assert_eq!(next.is_some(), texts.iter().any(|text| text.starts_with("Next: meter")), "{texts:?}");
        let known = all(&parsed(&answer), "rect", ("fill", "#d4d4d4")).len();
        // One for each light, and one in the legend.
        assert_eq!(known, json["lights"].as_array().expect("lights").len() + 1);
    }
}
