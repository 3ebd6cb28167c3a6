//! The picture of falloff.

use serde_json::{Value, json};

use super::{checked, draw, number};
use crate::support::Server;

const FALLOFF: &str = "/v1/lights/falloff";
const CURVE: (&str, &str) = ("stroke", "#2168b0");
const DASHED: (&str, &str) = ("stroke-dasharray", "6 4");

/// The texts of a picture, the x positions of its rings, and the picture.
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

fn occurrences(texts: &[String], wanted: &str) -> usize {
    texts.iter().filter(|text| text.as_str() == wanted).count()
}

#[tokio::test]
async fn wide_ranges_are_laid_out_by_ratios() {
    const RATIO_AXIS: &str = "distance, m (logarithmic)";
    let server = Server::start().await;
    let distances: [f64; 10] = [0.05, 0.1, 0.3, 1.0, 3.0, 10.0, 30.0, 100.0, 300.0, 1000.0];
    let body = json!({"source": {"disc_m": 3}, "distances": distances});
    let (texts, rings, _) = drawn(&server, &body).await;
    assert_eq!(occurrences(&texts, RATIO_AXIS), 1, "{texts:?}");
    let [from, to] = [rings[0], rings[distances.len() - 1]];
    for (distance, ring) in distances.iter().zip(&rings) {
        let part = (distance / distances[0]).log10() / (1000.0 / distances[0]).log10();
        assert!((from + part * (to - from) - ring).abs() < 0.02, "{distance}: {ring} in {rings:?}");
    }
    // Each row has its label. By hand: (R² + d²)/(R² + d0²), R = 1.5 m. The first two differ by less than a hundredth.
    for distance in &distances[2..] {
        let stops = -((2.25 + distance * distance) / (2.25 + 0.0025_f64)).log2();
        let label = format!("{}", (stops * 100.0).round() / 100.0).replace('-', "−");
        assert_eq!(occurrences(&texts, &label), 1, "{label}: {texts:?}");
    }
    // Ticks; the first and the last enclose all values.
    for tick in ["0.05", "1", "20", "1000"] {
        assert!(occurrences(&texts, tick) > 0, "{tick}: {texts:?}");
    }
    // Up to a ratio of 20, the axis is linear.
    let (texts, rings, _) = drawn(&server, &json!({"distances": [1, 2, 20]})).await;
    assert_eq!((occurrences(&texts, RATIO_AXIS), occurrences(&texts, "distance, m")), (0, 1), "{texts:?}");
    assert!(((rings[1] - rings[0]) * 19.0 - (rings[2] - rings[0])).abs() < 0.5, "{rings:?}");
}

#[tokio::test]
async fn the_axis_covers_the_requested_distances() {
    let server = Server::start().await;
    let wide = |rings: &[f64]| (rings[1] - rings[0]).abs();
    let (texts, rings, _) = drawn(&server, &json!({"distances": ["1 m", "1.1 m"]})).await;
    // The panel is 652 px wide.
    assert!(wide(&rings) > 500.0 && occurrences(&texts, "1.05") == 1, "{rings:?} {texts:?}");
    // The reference is shown, however far it is.
    let body = json!({"distances": ["1 m", "1.1 m"], "reference_distance": "4 m"});
    let (texts, rings, _) = drawn(&server, &body).await;
    assert!(wide(&rings) < 50.0 && occurrences(&texts, "reference, 4 m") == 1, "{rings:?} {texts:?}");
    // A single distance: the axis goes from half of it to twice it.
    let (texts, _, _) = drawn(&server, &json!({"distances": [2]})).await;
    assert!(occurrences(&texts, "1") == 1 && occurrences(&texts, "4") == 1, "{texts:?}");
}

#[tokio::test]
async fn many_marks_do_not_hide_the_curve() {
    let server = Server::start().await;
    let row = |count: u32| json!({"source": {"disc_m": 1.5}, "from": 0.3, "to": 20, "count": count});
    let (texts, rings, _) = drawn(&server, &row(256)).await;
    assert!((5..=40).contains(&rings.len()), "{rings:?}");
    let note = format!("{} of 256 distances are labelled; the answer as JSON or text has all.", rings.len());
    assert_eq!(occurrences(&texts, &note), 1, "{note}: {texts:?}");
    let (_, rings, _) = drawn(&server, &row(40)).await;
    assert_eq!(rings.len(), 40);
    let (texts, rings, _) = drawn(&server, &row(10)).await;
    assert!(rings.len() == 10 && !texts.iter().any(|text| text.contains("labelled")), "{texts:?}");
}

#[tokio::test]
async fn equal_distances_have_one_label() {
    let server = Server::start().await;
    let (texts, rings, _) = drawn(&server, &json!({"distances": [4, 1, 3.999, 4]})).await;
    assert_eq!((rings.len(), occurrences(&texts, "+4")), (4, 2), "{texts:?}");
    // The tick of the axis, and one label.
    assert_eq!(occurrences(&texts, "0"), 2, "{texts:?}");
}

#[tokio::test]
async fn the_light_of_a_point_is_drawn_as_the_answer() {
    let server = Server::start().await;
    let mut body = json!({"from": 1, "to": 8, "count": 8});
    let (texts, _, picture) = drawn(&server, &body).await;
    // Once in the legend.
    assert_eq!((lines(&picture, CURVE), lines(&picture, DASHED)), (2, 0));
    assert_eq!(occurrences(&texts, "this source, a point: the inverse square"), 1, "{texts:?}");
    body["source"] = json!({"disc_m": 1});
    let (texts, _, picture) = drawn(&server, &body).await;
    assert_eq!((lines(&picture, CURVE), lines(&picture, DASHED)), (2, 2));
    assert!(
        occurrences(&texts, "this source") == 1 && occurrences(&texts, "inverse square (a point)") == 1,
        "{texts:?}"
    );
}
