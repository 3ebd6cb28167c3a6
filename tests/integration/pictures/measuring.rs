//! The pictures of ambient light, of motion and of readings together.

use serde_json::{Value, json};

use super::{
    curves::{count, drawn_of, holds},
    number,
};
use crate::support::Server;

/// Left and right ends of the rectangles with this fill and height.
fn bars(picture: &str, fill: &str, height: &str) -> Vec<[f64; 2]> {
    let document = roxmltree::Document::parse(picture).expect("XML");
    let bars = document.descendants().filter(|node| node.has_tag_name("rect"));
    let bars =
        bars.filter(|node| node.attribute("fill") == Some(fill) && node.attribute("height") == Some(height));
    bars.map(|bar| [number(bar, "x"), number(bar, "x") + number(bar, "width")]).collect()
}

/// The position of a value on a linear scale, by the ticks that are plain numbers.
fn place(picture: &str, value: f64) -> f64 {
    let document = roxmltree::Document::parse(picture).expect("XML");
    let middle = document.descendants().filter(|node| node.attribute("text-anchor") == Some("middle"));
    let ticks: Vec<(f64, f64)> = middle
        .filter_map(|node| {
            let tick = node.text()?.replace('−', "-").replace('+', "").parse().ok()?;
            Some((tick, number(node, "x")))
        })
        .collect();
    let [(a, at_a), .., (b, at_b)] = ticks[..] else { panic!("{ticks:?}") };
    at_a + (value - a) / (b - a) * (at_b - at_a)
}

#[tokio::test]
async fn ambient_light_beyond_the_limit_has_a_gap_and_a_remedy() {
    let server = Server::start().await;
    let path = "/v1/ambient/check";
    let body = json!({
        "exposure": {"f_number": "f/8", "iso": 100, "exposure_time": "1/60", "sync_time": "1/200"},
        "ambient": {"illuminance_lx": 3000}
    });
    let (answer, texts, picture) = drawn_of(&server, path, &body).await;
    let below = answer["ambient_below_flash_stops"].as_f64().expect("stops");
    // A brightening of 0.1 stop is 2^0.1 - 1 of the flash.
    let limit = (0.1_f64.exp2() - 1.0).log2();
    let [gap] = bars(&picture, "url(#hatched)", "18")[..] else { panic!("one gap: {picture}") };
    for (at, stops) in gap.iter().zip([limit, -below]) {
        assert!((at - place(&picture, stops)).abs() < 0.5, "{gap:?} {stops}");
    }
    let excess = format!("{} stops too much", ((-below - limit) * 100.0).round() / 100.0);
    assert!(holds(&texts, &excess) && holds(&texts, "0.37 stop"), "{excess}: {texts:?}");
    // The first remedy as lines, its marks in bold.
    let sets = answer["remedies"][0]["patch"].to_string();
    assert!(holds(&texts, "Aperture") && holds(&texts, "f/18"), "{sets}: {texts:?}");
    // Less of it is to spare, without a gap.
    let body = json!({"exposure": {"f_number": "f/8", "exposure_time": "1/200"}, "ambient": "300 lx"});
    let (_, texts, picture) = drawn_of(&server, path, &body).await;
    assert!(texts.iter().any(|text| text.ends_with("to spare")), "{texts:?}");
    assert_eq!(bars(&picture, "url(#hatched)", "18").len(), 0);
    // None at all.
    let body = json!({"exposure": {"f_number": "f/8", "exposure_time": "1/200"}, "ambient": "0 lx"});
    let (_, texts, _) = drawn_of(&server, path, &body).await;
    assert!(holds(&texts, "There is no ambient light."), "{texts:?}");
}

#[tokio::test]
async fn blur_and_flash_are_those_of_the_answer() {
    let server = Server::start().await;
    let path = "/v1/motion/freeze";
    let body = json!({
        "t0_5_s": "1/1500", "speed_m_s": 8, "field_width_m": "4 m", "pixels_across": 6000, "allowed_blur_px": 10,
        "exposure_time": "1/200",
        "duration_by_setting": [{"setting": "1/4", "t0_5_s": "1/4000"}, {"setting": "1/32", "t0_5_s": "1/12000"}]
    });
    let (answer, texts, picture) = drawn_of(&server, path, &body).await;
    let blurs = std::iter::once(&answer).chain(answer["by_setting"].as_array().expect("settings"));
    let ends: Vec<f64> = blurs.map(|row| row["blur_px"].as_f64().expect("pixels")).collect();
    let mut drawn: Vec<f64> = bars(&picture, "url(#hatched)", "16").iter().map(|[_, to]| *to).collect();
    drawn.extend(bars(&picture, "#2168b0", "16").iter().map(|[_, to]| *to));
    let drawn = drawn;
    let first = |value: f64| drawn.iter().any(|to| (to - place_of_first(&picture, value)).abs() < 0.5);
    assert!(ends.len() == 3 && ends.iter().all(|blur| first(*blur)), "{ends:?}: {drawn:?}");
    for wanted in ["27 px", "10 px", "t0.5 1/1500 s", "t0.1 1/452 s", "not sharp", "this flash", "1/32"] {
        assert!(texts.iter().any(|text| text.contains(wanted)), "{wanted}: {texts:?}");
    }
    // A flash that is cut off has no curve, for its form is not known.
    let curve = ("stroke-width", "2.5");
    assert!(count(&picture, "polyline", curve) >= 2);
    let body = json!({"t0_5_s": "1/2000", "t0_1_s": "1/1800", "shape": "cut_off", "exposure_time": "1/200"});
    let (_, texts, picture) = drawn_of(&server, path, &body).await;
    assert_eq!(count(&picture, "polyline", curve), 0);
    assert!(texts.join(" ").contains("is not known: only its two durations are drawn"), "{texts:?}");
}

/// The same by the first scale of a picture: its first two ticks on one height.
fn place_of_first(picture: &str, value: f64) -> f64 {
    let document = roxmltree::Document::parse(picture).expect("XML");
    let middle = document.descendants().filter(|node| node.attribute("text-anchor") == Some("middle"));
    let ticks: Vec<(f64, f64, f64)> = middle
        .filter_map(|node| Some((node.text()?.parse().ok()?, number(node, "x"), number(node, "y"))))
        .collect();
    let first: Vec<_> = ticks.iter().filter(|(.., y)| (y - ticks[0].2).abs() < 0.1).collect();
    let [(a, at_a, _), .., (b, at_b, _)] = first[..] else { panic!("{ticks:?}") };
    at_a + (value - a) / (b - a) * (at_b - at_a)
}

#[tokio::test]
async fn a_train_shows_its_flashes_and_those_that_are_cut() {
    let server = Server::start().await;
    let path = "/v1/motion/freeze";
    let upright = |picture: &str, stroke: &str| {
        let document = roxmltree::Document::parse(picture).expect("XML");
        let lines = document.descendants().filter(|node| node.has_tag_name("polyline"));
        let lines = lines.filter(|line| line.attribute("stroke") == Some(stroke));
        let height = |line: roxmltree::Node<'_, '_>| {
            let points = line.attribute("points").unwrap_or_default();
            let y: Vec<f64> =
                points.split(' ').filter_map(|point| point.split_once(',')?.1.parse().ok()).collect();
            matches!(y[..], [a, b] if (b - a - 32.0_f64).abs() < 0.1)
        };
        lines.filter(|line| height(*line)).count()
    };
    let body = json!({"pops": 10, "hz": 5, "exposure_time": "1 s", "t0_1_s": "1/1000"});
    let (answer, texts, picture) = drawn_of(&server, path, &body).await;
    let images = answer["train"]["images"].as_u64().expect("images") as usize;
    assert!(images < 10, "{answer}");
    assert_eq!((upright(&picture, "#2168b0"), upright(&picture, "#a32000")), (images, 10 - images));
    assert!(holds(&texts, "2 s") && holds(&texts, "or longer"), "{texts:?}");
    // A thousand are one strip.
    let body = json!({"pops": 1000, "hz": 50});
    let (_, _, picture) = drawn_of(&server, path, &body).await;
    assert_eq!(upright(&picture, "#2168b0"), 0);
    assert!(picture.len() < 12_000, "{}", picture.len());
}

#[tokio::test]
async fn readings_are_parts_of_the_whole_end_to_end() {
    const ADDED: &str = "#2168b0";
    const TAKEN: &str = "url(#hatched)";
    let server = Server::start().await;
    let path = "/v1/readings/combine";
    let at = |picture: &str, percent: f64| place(picture, percent);
    // f/8 is twice the light of f/5.6: 64 + 32 = 96; f/4 is 16 of it.
    let body = json!({"add": ["f/8", "f/5.6"], "subtract": ["f/4"]});
    let (answer, texts, picture) = drawn_of(&server, path, &body).await;
    let ends: Vec<[f64; 2]> =
        [[0.0, 200.0 / 3.0], [200.0 / 3.0, 100.0]].map(|ends| ends.map(|end| at(&picture, end))).into();
    let near = |bars: &[[f64; 2]], wanted: &[[f64; 2]]| {
        bars.len() == wanted.len()
            && bars.iter().flatten().zip(wanted.iter().flatten()).all(|(a, b)| (a - b).abs() < 0.5)
    };
    assert!(near(&bars(&picture, ADDED, "16"), &ends), "{ends:?}");
    let taken = [[500.0 / 6.0, 100.0].map(|end| at(&picture, end))];
    assert!(near(&bars(&picture, TAKEN, "16"), &taken), "{taken:?}");
    let whole = answer["f_number"]["meter"].as_str().expect("a reading");
    for wanted in [whole, "67 % (−0.58 stop)", "33 % (−1.58 stops)", "− f/4", "83 %"] {
        assert!(holds(&texts, wanted), "{wanted}: {texts:?}");
    }
    // More is taken away than there is.
    let (_, texts, _) = drawn_of(&server, path, &json!({"add": ["GN 40"], "subtract": ["GN 60"]})).await;
    assert!(holds(&texts, "1.17 stops") && holds(&texts, "GN 40 m"), "{texts:?}");
    // Of many, the strongest; the rest are one bar.
    let many: Vec<Value> = (0..32).map(|k| json!(8.0 + f64::from(k) / 10.0)).collect();
    let (_, texts, picture) = drawn_of(&server, path, &json!({"add": many})).await;
    assert!(holds(&texts, "20 more") && bars(&picture, ADDED, "16").len() == 13, "{texts:?}");
}
