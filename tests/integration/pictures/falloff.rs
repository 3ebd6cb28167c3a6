//! What the picture of light by distance shows.

use serde_json::{Value, json};

use super::{checked, draw, number};
use crate::support::Server;

const FALLOFF: &str = "/v1/lights/falloff";
const CURVE: (&str, &str) = ("stroke", "#1f5a99");
const DASHED: (&str, &str) = ("stroke-dasharray", "6 4");

/// The texts of a picture, where its rings stand from the left, and the picture.
async fn drawn(server: &Server, body: &Value) -> (Vec<String>, Vec<f64>, String) {
    let answer = draw(server, FALLOFF, body).await;
    let texts = checked(FALLOFF, &answer);
    let picture = answer.body.as_str().expect("a text").to_owned();
    let document = roxmltree::Document::parse(&picture).expect("XML");
    let rings = document.descendants().filter(|node| node.has_tag_name("circle"));
    let rings = rings.map(|ring| number(ring, "cx")).collect();
    (texts, rings, picture)
}

fn lines(picture: &str, (name, value): (&str, &str)) -> usize {
    let document = roxmltree::Document::parse(picture).expect("XML");
    let lines = document.descendants().filter(|node| node.has_tag_name("polyline"));
    lines.filter(|line| line.attribute(name) == Some(value)).count()
}

fn told(texts: &[String], wanted: &str) -> usize {
    texts.iter().filter(|text| text.as_str() == wanted).count()
}

#[tokio::test]
async fn wide_ranges_are_laid_out_by_ratios() {
    const SAID: &str = "distance, m; equal ratios are equally far apart";
    let server = Server::start().await;
    let distances: [f64; 10] = [0.05, 0.1, 0.3, 1.0, 3.0, 10.0, 30.0, 100.0, 300.0, 1000.0];
    let body = json!({"source": {"disc_m": 3}, "distances": distances});
    let (texts, rings, _) = drawn(&server, &body).await;
    assert_eq!(told(&texts, SAID), 1, "{texts:?}");
    let [from, to] = [rings[0], rings[distances.len() - 1]];
    for (distance, ring) in distances.iter().zip(&rings) {
        let part = (distance / distances[0]).log10() / (1000.0 / distances[0]).log10();
        assert!((from + part * (to - from) - ring).abs() < 0.02, "{distance}: {ring} in {rings:?}");
    }
    // Each has its label. By hand: (R² + d²)/(R² + d0²), R = 1.5 m; the first two are less than a hundredth apart.
    for distance in &distances[2..] {
        let stops = -((2.25 + distance * distance) / (2.25 + 0.0025_f64)).log2();
        let said = format!("{}", (stops * 100.0).round() / 100.0).replace('-', "−");
        assert_eq!(told(&texts, &said), 1, "{said}: {texts:?}");
    }
    // Ticks, of which the first and the last hold what is shown.
    for tick in ["0.05", "1", "20", "1000"] {
        assert!(told(&texts, tick) > 0, "{tick}: {texts:?}");
    }
    // To 20 times as far distances themselves are laid out.
    let (texts, rings, _) = drawn(&server, &json!({"distances": [1, 2, 20]})).await;
    assert_eq!((told(&texts, SAID), told(&texts, "distance, m")), (0, 1), "{texts:?}");
    assert!(((rings[1] - rings[0]) * 19.0 - (rings[2] - rings[0])).abs() < 0.5, "{rings:?}");
}

#[tokio::test]
async fn the_axis_is_as_long_as_the_question() {
    let server = Server::start().await;
    let wide = |rings: &[f64]| (rings[1] - rings[0]).abs();
    let (texts, rings, _) = drawn(&server, &json!({"distances": ["1 m", "1.1 m"]})).await;
    // Of the 652 px of the panel.
    assert!(wide(&rings) > 500.0 && told(&texts, "1.05") == 1, "{rings:?} {texts:?}");
    // What they are against is shown, however far it is.
    let body = json!({"distances": ["1 m", "1.1 m"], "reference_distance": "4 m"});
    let (texts, rings, _) = drawn(&server, &body).await;
    assert!(wide(&rings) < 50.0 && told(&texts, "reference, 4 m") == 1, "{rings:?} {texts:?}");
    // One alone: half and twice as far.
    let (texts, _, _) = drawn(&server, &json!({"distances": [2]})).await;
    assert!(told(&texts, "1") == 1 && told(&texts, "4") == 1, "{texts:?}");
}

#[tokio::test]
async fn many_marks_do_not_hide_the_curve() {
    let server = Server::start().await;
    let row = |count: u32| json!({"source": {"disc_m": 1.5}, "from": 0.3, "to": 20, "count": count});
    let (texts, rings, _) = drawn(&server, &row(256)).await;
    assert!((5..=40).contains(&rings.len()), "{rings:?}");
    let said = format!("{} of 256 distances are labelled; the answer as JSON or text has all.", rings.len());
    assert_eq!(told(&texts, &said), 1, "{said}: {texts:?}");
    let (_, rings, _) = drawn(&server, &row(40)).await;
    assert_eq!(rings.len(), 40);
    let (texts, rings, _) = drawn(&server, &row(10)).await;
    assert!(rings.len() == 10 && !texts.iter().any(|text| text.contains("labelled")), "{texts:?}");
}

#[tokio::test]
async fn what_is_one_has_one_label() {
    let server = Server::start().await;
    let (texts, rings, _) = drawn(&server, &json!({"distances": [4, 1, 3.999, 4]})).await;
    assert_eq!((rings.len(), told(&texts, "+4")), (4, 2), "{texts:?}");
    // The tick of the axis, and one.
    assert_eq!(told(&texts, "0"), 2, "{texts:?}");
}

#[tokio::test]
async fn the_light_of_a_point_is_drawn_as_the_answer() {
    let server = Server::start().await;
    let mut body = json!({"from": 1, "to": 8, "count": 8});
    let (texts, _, picture) = drawn(&server, &body).await;
    // Once in the legend.
    assert_eq!((lines(&picture, CURVE), lines(&picture, DASHED)), (2, 0));
    assert_eq!(told(&texts, "this source, a point: the inverse square"), 1, "{texts:?}");
    body["source"] = json!({"disc_m": 1});
    let (texts, _, picture) = drawn(&server, &body).await;
    assert_eq!((lines(&picture, CURVE), lines(&picture, DASHED)), (2, 2));
    assert!(told(&texts, "this source") == 1 && told(&texts, "inverse square (a point)") == 1, "{texts:?}");
}
