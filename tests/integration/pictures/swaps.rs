//! The picture of a swap.

use serde_json::{Value, json};

use super::curves::{count, drawn_of, head, holds, list};
use crate::support::Server;

const SWAP: &str = "/v1/energy/equivalence";
const MISSING: (&str, &str) = ("fill", "url(#hatched)");

/// A swap of a head of GN 60 at its least power but two stops.
fn swap(candidates: &Value) -> Value {
    let reference = json!({"unit": head("old", 60.0), "exposure": {"f_number": "f/8"}, "distance": 2});
    json!({"reference": reference, "candidates": candidates})
}

fn starts(texts: &[String], wanted: &str) -> bool {
    texts.iter().any(|text| text.starts_with(wanted))
}

#[tokio::test]
async fn each_candidate_has_its_setting_and_what_it_lacks() {
    let server = Server::start().await;
    let candidates = json!([{"unit": head("strong", 85.0)}, {"unit": head("weak", 20.0)}]);
    for width in [390, 900] {
        let mut body = swap(&candidates);
        body["width"] = json!(width);
        let (answer, texts, picture) = drawn_of(&server, SWAP, &body).await;
        let words = texts.join(" ");
        assert!(words.contains(answer["summary"].as_str().expect("a summary")), "{words}");
        let found: Vec<&Value> = list(&answer, "candidates").collect();
        assert_eq!([&found[0]["feasible"], &found[1]["feasible"]], [true, false]);
        // Once in the lines on top, and once at its bar.
        let label = found[0]["setting"]["label"].as_str().expect("a label");
        assert_eq!(texts.iter().filter(|text| *text == label).count(), 2, "{label}: {texts:?}");
        let short = found[1]["shortfall_stops"].as_f64().expect("stops");
        let gap = format!(": {} stops short", (short * 100.0).round() / 100.0);
        assert!(texts.iter().filter(|text| text.ends_with(&gap)).count() == 2, "{gap}: {texts:?}");
        // The gap, and its entry in the legend. The reference and two candidates have a bar each; the legend one more.
        assert_eq!(count(&picture, "rect", MISSING), 2);
        assert!(holds(&texts, "light that is missing") && !holds(&texts, "light that is too much"));
        assert!(starts(&texts, "old (the reference)") && starts(&texts, "strong"), "{texts:?}");
    }
}

#[tokio::test]
async fn a_bar_reaches_as_far_as_the_unit() {
    let server = Server::start().await;
    let (answer, _, picture) = drawn_of(&server, SWAP, &swap(&json!([{"unit": head("a", 85.0)}]))).await;
    let found = &answer["candidates"][0];
    let stops = |name: &str| found[name].as_f64().expect("stops");
    let document = roxmltree::Document::parse(&picture).expect("XML");
    let rows = document.descendants().filter(|node| {
        node.has_tag_name(("http://www.w3.org/2000/svg", "rect")) && node.attribute("fill") == Some("#dbe9f6")
    });
    let bars: Vec<[f64; 2]> = rows
        .map(|node| ["x", "width"].map(|name| node.attribute(name).expect(name).parse().expect("a number")))
        .collect();
    // The reference, the candidate, and the legend.
    let [_, [left, width], _] = bars[..] else { panic!("{bars:?}") };
    let mut lines = document.descendants().filter(|node| {
        node.has_tag_name(("http://www.w3.org/2000/svg", "polyline"))
            && node.attribute("stroke") == Some("#1a1a1a")
            && node.attribute("stroke-width") == Some("2")
    });
    let needed = lines.find_map(|node| node.attribute("points")).expect("a line");
    let needed: f64 = needed.split(',').next().expect("x").parse().expect("a number");
    let part = (needed - left) / width;
    let expected = stops("footroom_stops") / (stops("footroom_stops") + stops("headroom_stops"));
    assert!((part - expected).abs() < 2e-3, "{part} {expected}");
}

#[tokio::test]
async fn of_many_candidates_the_nearest_are_drawn() {
    let server = Server::start().await;
    let all: Vec<Value> =
        (0..64).map(|k| json!({"unit": head(&format!("{k:&>60}"), 3.0 + 0.95 * f64::from(k))})).collect();
    let (answer, texts, picture) = drawn_of(&server, SWAP, &swap(&json!(all))).await;
    let able = list(&answer, "candidates").filter(|found| found["feasible"] == true).count();
    assert!(able < 8, "{able}");
    assert!(starts(&texts, "And 56 more candidates, of which 0 can replace it"), "{texts:?}");
    assert!(picture.len() < 120_000, "{}", picture.len());
    let one = list(&answer, "candidates").find(|found| found["feasible"] == true).expect("one");
    assert!(holds(&texts, one["setting"]["label"].as_str().expect("a label")), "{texts:?}");
}
