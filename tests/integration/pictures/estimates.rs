//! The pictures of one light, an energy and a guide number: what is likely, on a scale.

use serde_json::json;

use super::{
    curves::{drawn_of, holds},
    number,
};
use crate::support::Server;

/// The positions of the ticks of a scale, labelled with numbers after a prefix.
fn ticks(picture: &str, prefix: &str) -> Vec<(f64, f64)> {
    let document = roxmltree::Document::parse(picture).expect("XML");
    let middle = document.descendants().filter(|node| node.attribute("text-anchor") == Some("middle"));
    let tick = |node: roxmltree::Node<'_, '_>| {
        Some((node.text()?.strip_prefix(prefix)?.parse().ok()?, number(node, "x")))
    };
    middle.filter_map(tick).collect()
}

/// The ends of the bars of a colour, left and right, without the legend's.
fn bars(picture: &str, fill: &str) -> Vec<[f64; 2]> {
    let document = roxmltree::Document::parse(picture).expect("XML");
    let bars = document.descendants().filter(|node| node.has_tag_name("rect"));
    let bars =
        bars.filter(|node| node.attribute("fill") == Some(fill) && node.attribute("height") == Some("18"));
    bars.map(|bar| [number(bar, "x"), number(bar, "x") + number(bar, "width")]).collect()
}

/// The positions of values on a logarithmic scale with these ticks.
fn by_ratio(ticks: &[(f64, f64)], value: f64) -> f64 {
    let [(a, at_a), .., (b, at_b)] = ticks else { panic!("{ticks:?}") };
    at_a + (value / a).ln() / (b / a).ln() * (at_b - at_a)
}

const LIKELY: &str = "#dbe9f6";

#[tokio::test]
async fn an_aperture_is_drawn_with_its_likely_ends() {
    let server = Server::start().await;
    let body = json!({"guide_number": "GN 40", "distance": "5 m"});
    let (answer, texts, picture) = drawn_of(&server, "/v1/exposure/one-light", &body).await;
    assert!(holds(&texts, "Aperture") && holds(&texts, "f/8") && holds(&texts, "5 m"), "{texts:?}");
    let ends = ["low_stops", "high_stops"].map(|end| answer["uncertainty"][end].as_f64().expect("stops"));
    let expected = ends.map(|stops| by_ratio(&ticks(&picture, "f/"), 8.0 * (stops / 2.0).exp2()));
    let [bar] = bars(&picture, LIKELY)[..] else { panic!("one bar: {picture}") };
    // The printed f/5.6 is 5.657.
    assert!(bar.iter().zip(expected).all(|(at, wanted)| (at - wanted).abs() < 4.0), "{bar:?} {expected:?}");
    // Causes in order.
    assert!(texts.iter().any(|text| text.contains("mostly the rating, then the meter")), "{texts:?}");
}

#[tokio::test]
async fn a_distance_is_drawn_with_the_light_at_either_end() {
    let server = Server::start().await;
    let body = json!({"guide_number": "GN 40", "f_number": "f/8"});
    let (answer, _, picture) = drawn_of(&server, "/v1/exposure/one-light", &body).await;
    let found = answer["distance_m"].as_f64().expect("a distance");
    // By the inverse-square law: a light that is weaker by u stops has to stand 2^(u/2) times as near.
    let ends = ["low_stops", "high_stops"].map(|end| answer["uncertainty"][end].as_f64().expect("stops"));
    let ticks = ticks(&picture, "");
    let expected = ends.map(|stops| by_ratio(&ticks, found * (stops / 2.0).exp2()));
    let [bar] = bars(&picture, LIKELY)[..] else { panic!("one bar: {picture}") };
    assert!(
        bar.iter().zip(expected).all(|(at, wanted)| (at - wanted).abs() < 0.5),
        "{bar:?} {expected:?} {ticks:?}"
    );
}

#[tokio::test]
async fn a_light_that_does_not_reach_says_what_would_do() {
    let server = Server::start().await;
    let body = json!({"guide_number": "GN 30", "distance": "4 m", "f_number": "f/11"});
    let (answer, texts, _) = drawn_of(&server, "/v1/exposure/one-light", &body).await;
    assert_eq!(answer["feasible"], false);
    assert!(holds(&texts, "Too weak by") && holds(&texts, "1.19 stops"), "{texts:?}");
    let remedies = answer["remedies"].as_array().expect("remedies");
    assert!(remedies.len() > 1 && holds(&texts, "Or, instead"), "{texts:?}");
}

#[tokio::test]
async fn an_energy_is_drawn_for_each_reflector() {
    let server = Server::start().await;
    for (path, body, field, prefix) in [
        ("/v1/guide-number/energy", json!({"guide_number": "GN 36"}), "energy_j", " J"),
        ("/v1/energy/guide-number", json!({"energy": "600 J"}), "guide_number_m", " m"),
    ] {
        let (answer, texts, picture) = drawn_of(&server, path, &body).await;
        let rows = answer["by_coverage"].as_array().expect("reflectors").iter();
        let rows: Vec<_> = std::iter::once(&answer).chain(rows).map(|row| &row[field]).collect();
        let ticks = ticks(&picture, "");
        let bars = bars(&picture, LIKELY);
        assert_eq!(bars.len(), rows.len(), "{path}");
        for (row, bar) in rows.iter().zip(&bars) {
            let expected = ["low", "high"].map(|end| by_ratio(&ticks, row[end].as_f64().expect("a number")));
            assert!(bar.iter().zip(expected).all(|(at, wanted)| (at - wanted).abs() < 0.5), "{row}: {bar:?}");
        }
        assert!(holds(&texts, "bare bulb") && texts.iter().any(|text| text.ends_with(prefix)), "{texts:?}");
        assert!(texts.iter().any(|text| text.contains("the coverage, which is not stated")), "{texts:?}");
    }
    // A known unit leaves nothing open: no bar.
    let body = json!({"guide_number": "GN 36", "against": {"energy": "75 J", "guide_number": "GN 40"}});
    let (_, _, picture) = drawn_of(&server, "/v1/guide-number/energy", &body).await;
    assert_eq!(bars(&picture, LIKELY).len(), 0);
}
