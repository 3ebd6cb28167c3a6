//! The pictures of response curves and calibrations; names, and the largest pictures of all.

use std::time::{Duration, Instant};

use serde_json::{Value, json};

use super::{checked, draw};
use crate::support::Server;

/// Requests an answer and its picture. Returns the answer, the texts of the picture, and the picture.
pub(super) async fn drawn_of(server: &Server, path: &str, body: &Value) -> (Value, Vec<String>, String) {
    let answer = server.ask(path, body.clone()).await;
    let picture = draw(server, path, body).await;
    let texts = checked(path, &picture).into_iter().map(|text| text.trim().to_owned()).collect();
    (answer, texts, picture.body.as_str().expect("a text").to_owned())
}

/// A number as pictures write it: at most two decimals, one if it is large, with its sign if asked for.
fn written(value: &Value, with_sign: bool) -> String {
    let value = value.as_f64().expect("a number");
    let parts = if value.abs() >= 100.0 { 10.0 } else { 100.0 };
    // Zero has no sign.
    let rounded = (value * parts).round() / parts + 0.0;
    let text = if with_sign && rounded > 0.0 { format!("+{rounded}") } else { format!("{rounded}") };
    text.replace('-', "−")
}

/// Stops with their sign and unit, singular for one.
fn stops(value: &Value) -> String {
    let number = written(value, true);
    if (0.005..1.005).contains(&value.as_f64().expect("a number").abs()) {
        format!("{number} stop")
    } else {
        format!("{number} stops")
    }
}

pub(super) fn list<'v>(answer: &'v Value, name: &str) -> impl Iterator<Item = &'v Value> {
    answer[name].as_array().expect("a list").iter()
}

/// The number of elements with this name and attribute.
pub(super) fn count(picture: &str, name: &str, attribute: (&str, &str)) -> usize {
    let document = roxmltree::Document::parse(picture).expect("XML");
    let elements = document.descendants().filter(|node| node.tag_name().name() == name);
    elements.filter(|node| node.attribute(attribute.0) == Some(attribute.1)).count()
}

pub(super) fn holds(texts: &[String], wanted: &str) -> bool {
    texts.iter().any(|text| text == wanted)
}

/// The heights of readings and frames on the sheet, without the legend's.
fn heights(picture: &str, fill: &str) -> Vec<f64> {
    let document = roxmltree::Document::parse(picture).expect("XML");
    let circles = document.descendants().filter(|node| node.tag_name().name() == "circle");
    let circles = circles.filter(|node| node.attribute("fill") == Some(fill));
    circles.skip(1).map(|node| node.attribute("cy").expect("cy").parse().expect("a number")).collect()
}

#[tokio::test]
async fn frames_and_pairs_of_levels_are_those_of_the_answer() {
    const INK: &str = "#1a1a1a";
    let server = Server::start().await;
    let path = "/v1/patches/response";
    let frame = |stops: f64, level: f64| json!({"stops": stops, "level": level});
    let body = json!({
        "frames": [frame(0.0, 60.5), frame(1.0, 118.0), frame(2.0, 190.0), frame(3.0, 255.0), frame(-2.0, 0.0)],
        "between": [[100, 150], [150, 100], [118, 240]]
    });
    let (answer, texts, picture) = drawn_of(&server, path, &body).await;
    for frame in list(&answer, "frames").filter(|frame| frame["clipped"] == false) {
        let level = written(&frame["level"], false);
        // All slopes are over ten here, so they are whole levels.
        let slope = frame["slope_levels_per_stop"].as_f64().expect("a number").round();
        assert!(holds(&texts, &format!("{level}, {slope} a stop")), "{frame}: {texts:?}");
    }
    for (index, pair) in list(&answer, "between").enumerate() {
        let [from, to] = ["from", "to"].map(|end| written(&pair[end], false));
        let how = if pair["extrapolated"] == true { ", extrapolated" } else { "" };
        // Its number stands at its bracket, and before it in the list.
        let label = format!("{}\u{a0}\u{a0}{from} to {to}: {}{how}", index + 1, stops(&pair["stops"]));
        assert!(holds(&texts, &label) && holds(&texts, &(index + 1).to_string()), "{label}: {texts:?}");
    }
    // Brighter frames are higher on the sheet. Clipped ones are open circles, and have their own legend entry.
    let frames = heights(&picture, INK);
    assert!(frames.len() == 3 && frames.is_sorted_by(|a, b| a > b), "{frames:?}");
    assert!(holds(&texts, "clipped, left out") && count(&picture, "circle", ("fill", "#ffffff")) == 3);
    // Dashed beyond the frames on both sides, and in the legend.
    assert_eq!(count(&picture, "polyline", ("stroke-dasharray", "6 4")), 3);
    // Frames that were averaged are not on the curve; their mean is.
    let mean = "mean of frames taken together";
    assert!(!holds(&texts, mean), "{texts:?}");
    let body = json!({"frames": [frame(0.0, 60.0), frame(1.0, 118.0), frame(1.0, 120.0), frame(2.0, 190.0)]});
    let (_, texts, picture) = drawn_of(&server, path, &body).await;
    assert!(holds(&texts, mean) && count(&picture, "polygon", ("stroke", "#2168b0")) == 2, "{texts:?}");
    // A colour space has the name in its standard.
    let body = json!({"space": "adobe_rgb_1998", "frames": [frame(0.0, 60.0), frame(1.0, 118.0)]});
    let (_, texts, _) = drawn_of(&server, path, &body).await;
    assert!(texts.iter().any(|text| text.contains("levels of 8 bits, Adobe RGB (1998);")), "{texts:?}");
    // The axis has the whole range of 16 bits, unless the frames cover little of it.
    let body = |low: f64| json!({"bits": 16, "frames": [frame(0.0, low), frame(1.0, 60_000.0)]});
    let (_, texts, _) = drawn_of(&server, path, &body(10_000.0)).await;
    assert!(holds(&texts, "65535") && holds(&texts, "32768"), "{texts:?}");
    let (_, texts, _) = drawn_of(&server, path, &body(59_000.0)).await;
    assert!(!holds(&texts, "65535") && holds(&texts, "59600"), "{texts:?}");
}

pub(super) fn head(name: &str, guide_number: f64) -> Value {
    json!({
        "name": name, "energy": 400, "guide_number": {"value": guide_number, "unit": "m"},
        "scale": {"style": "dial", "full": 9, "least": 2}
    })
}

/// Readings of a unit that is a little weak, `lost` of them without light.
fn calibration(name: &str, readings: usize, lost: &[usize]) -> Value {
    let reading = |index: usize| {
        let below = index % 5;
        let noise = 1.0 + 0.01 * f64::from((index * 7 % 5) as u32);
        let light = 23.0 * noise * (-0.5 * below as f64).exp2();
        json!({"setting": (9 - below).to_string(), "f_number": if lost.contains(&index) { 0.5 } else { light }})
    };
    json!({
        "unit": head(name, 48.0), "distance": "2 m",
        "readings": (0..readings).map(reading).collect::<Vec<_>>()
    })
}

/// The ends of the bars of a calibration, left and right; the legend has none.
fn deviation_bars(picture: &str) -> Vec<[f64; 2]> {
    let document = roxmltree::Document::parse(picture).expect("XML");
    let at = |node: roxmltree::Node<'_, '_>, name| node.attribute(name)?.parse::<f64>().ok();
    let bars = document.descendants().filter(|node| node.attribute("fill") == Some("#2168b0"));
    bars.filter_map(|bar| at(bar, "x").zip(at(bar, "width"))).map(|(x, width)| [x, x + width]).collect()
}

#[tokio::test]
async fn deviations_are_bars_and_misfires_crosses_in_their_order() {
    let server = Server::start().await;
    let path = "/v1/units/calibrate";
    let crosses = |picture: &str| count(picture, "polyline", ("stroke", "#a32000"));
    let (answer, texts, calm) = drawn_of(&server, path, &calibration("head", 20, &[])).await;
    assert!(crosses(&calm) == 0 && !texts.iter().any(|text| text.starts_with("Misfires")), "{texts:?}");
    let settings: Vec<_> = list(&answer, "settings").collect();
    // Each bar begins at 0, to which all are in proportion.
    let bars = deviation_bars(&calm);
    assert_eq!(bars.len(), settings.len());
    let deviations: Vec<f64> =
        settings.iter().map(|setting| setting["deviation_stops"].as_f64().expect("stops")).collect();
    let (scale, zero) = (bars[0], if deviations[0] < 0.0 { bars[0][1] } else { bars[0][0] });
    let px_a_stop = (scale[1] - scale[0]) / deviations[0].abs();
    for (bar, deviation) in bars.iter().zip(&deviations) {
        let end = zero + deviation * px_a_stop;
        assert!(
            (bar[0] - end.min(zero)).abs() < 0.5 && (bar[1] - end.max(zero)).abs() < 0.5,
            "{bar:?}: {end}"
        );
    }
    for setting in settings {
        assert!(holds(&texts, setting["setting"].as_str().expect("a label")), "{setting}: {texts:?}");
        assert!(holds(&texts, &written(&setting["deviation_stops"], true)), "{setting}: {texts:?}");
    }
    for lost in [vec![3, 11], (0..256).filter(|index| index % 6 == 1).collect()] {
        let readings = if lost.len() == 2 { 20 } else { 256 };
        let (answer, texts, picture) = drawn_of(&server, path, &calibration("head", readings, &lost)).await;
        let misfires: Vec<_> = list(&answer, "misfires").collect();
        assert_eq!((misfires.len(), crosses(&picture)), (lost.len(), lost.len()), "{answer}");
        let listed = texts.join(" ");
        for misfire_entry in misfires {
            let label = misfire(misfire_entry, "", "\u{a0}by\u{a0}");
            assert!(listed.contains(&label), "{label}: {listed}");
        }
        // The first is in the description by its place in the request too.
        assert!(picture.contains(&format!("(/readings/{}), ", lost[0])), "{picture}");
    }
}

/// A misfire in a list: its reading, counted from 1, and how far it is below the rest in tenths of a stop.
fn misfire(outlier: &Value, before: &str, between: &str) -> String {
    let below = -outlier["off_by_stops"].as_f64().expect("a number");
    let reading = outlier["index"].as_u64().expect("an index") + 1;
    format!("{before}{reading}{between}{}", (below * 10.0).round() / 10.0)
}

#[tokio::test]
async fn a_true_dial_has_no_bars_and_many_settings_are_cut() {
    let server = Server::start().await;
    let path = "/v1/units/calibrate";
    // Each of 40 settings once, the 33rd a stop too bright at its setting.
    let reading = |k: u32| {
        let stops = f64::from(k) / 10.0 - if k == 32 { 0.25 } else { 0.0 };
        json!({"setting": format!("-{} stops", f64::from(k) / 10.0), "f_number": 32.0 * (-stops / 2.0).exp2()})
    };
    let body = json!({
        "unit": {"guide_number": {"value": 64, "unit": "m"}}, "distance": "2 m",
        "readings": (0..40).map(reading).collect::<Vec<_>>()
    });
    let (answer, texts, picture) = drawn_of(&server, path, &body).await;
    assert!(list(&answer, "settings").count() > 24);
    assert_eq!(deviation_bars(&picture).len(), 24);
    assert!(
        texts.iter().any(|text| text.starts_with("And ") && text.contains("more settings, all within")),
        "{texts:?}"
    );
}

#[tokio::test]
async fn intervals_and_singulars_read_naturally() {
    let server = Server::start().await;
    let path = "/v1/units/calibrate";
    // Every third reading is a little brighter.
    let reading = |index: u32| {
        let light =
            24.0 * (-0.5 * f64::from(index / 6)).exp2() * if index.is_multiple_of(3) { 1.06 } else { 1.0 };
        json!({"setting": (9 - index / 6).to_string(), "f_number": light})
    };
    let body = |reading: &dyn Fn(u32) -> Value| json!({"unit": head("head", 48.0), "distance": "2 m", "readings": (0..24).map(reading).collect::<Vec<_>>()});
    let (answer, texts, _) = drawn_of(&server, path, &body(&reading)).await;
    let [low, high] = ["low", "high"].map(|end| written(&answer["offset_stops_range"][end], true));
    assert_ne!(low, high, "{answer}");
    let offset = stops(&answer["offset_stops"]);
    let (side, offset) =
        offset.strip_prefix('−').map_or(("more", offset.trim_start_matches('+')), |less| ("less", less));
    let camera = written(&answer["camera_plus_minus_stops"], false);
    let sentence =
        format!("The unit gives {offset} {side} light than its rating, give or take {camera} stop;");
    // It is told once, in lines.
    let told = texts.join(" ");
    assert!(told.contains(&sentence) && !told.contains('±'), "{sentence}: {texts:?}");
    // Readings without scatter: one stop for a stop.
    let (_, texts, _) = drawn_of(&server, path, &body(&|index| {
        json!({"setting": (9 - index / 6).to_string(), "f_number": 45.64 / 2.0 * (-0.5 * f64::from(index / 6)).exp2()})
    }))
    .await;
    for sentence in [
        "Tracking: 1 stop measured for a stop set (95 %: the same to the hundredth); 1 is true.",
        // 45.64 m are 149.7 ft.
        "Guide number as measured: 45.6 m (150 ft) at ISO 100.",
        "Repeats at one setting: standard deviation less than 0.01 stop.",
    ] {
        assert!(holds(&texts, sentence), "{sentence}: {texts:?}");
    }
}

pub(super) fn shot(name: &str, lights: &Value) -> Value {
    json!({"name": name, "exposure": {"f_number": "f/11"}, "lights": lights})
}

#[tokio::test]
async fn names_cannot_break_a_picture() {
    let server = Server::start().await;
    let mut names = vec!["<script>alert(1)</script>&\"'\u{0}\u{202e}\u{fffe} ]]> x".to_owned()];
    names.extend(["W", "光", "מ", "Ж"].map(|letter| letter.repeat(64)));
    for name in &names {
        let (_, texts, _) = drawn_of(&server, "/v1/units/calibrate", &calibration(name, 5, &[])).await;
        let beginning: String = name.chars().take(6).collect();
        assert!(texts.iter().any(|text| text.contains(&beginning)), "{name}: {texts:?}");
        let lights = json!([{"role": name, "stops": 0, "distance": 30}]);
        let body = json!({"kit": [{"unit": head(name, 50.0)}], "shots": [shot(name, &lights)]});
        let (_, texts, picture) = drawn_of(&server, "/v1/kit/check", &body).await;
        assert!(texts.iter().filter(|text| text.starts_with(&beginning)).count() >= 3, "{name}: {texts:?}");
        // A name that is wrapped or cut has its full text as a tooltip.
        let document = roxmltree::Document::parse(&picture).expect("XML");
        let titles = document.descendants().filter(|node| node.tag_name().name() == "title");
        let whole: String =
            name.chars().map(|c| if "\0\u{202e}\u{fffe}".contains(c) { '\u{fffd}' } else { c }).collect();
        assert!(titles.filter(|title| title.text() == Some(&whole)).count() >= 3, "{picture}");
    }
}

#[tokio::test]
async fn the_largest_pictures_are_bounded() {
    let server = Server::start().await;
    let frame = |k: i32| json!({"stops": f64::from(k) / 8.0, "level": [k, f64::from(k) * 3.7, 1]});
    let response = json!({
        "frames": (1..65).map(frame).collect::<Vec<_>>(),
        "between": (1..65).map(|k| [f64::from(k) * 1.11, 200.0]).collect::<Vec<_>>()
    });
    let lost: Vec<usize> = (0..256).filter(|index| index % 3 == 1).collect();
    // A setting for each reading, so that no label fits beside the line.
    let astray = |k: i32| {
        let stops = f64::from(k) / 32.0 + if k % 2 == 0 { 0.2 } else { -0.2 };
        json!({"setting": format!("-{} stops", f64::from(k) / 32.0), "f_number": 32.0 * (-stops / 2.0).exp2()})
    };
    let zigzag = json!({
        "unit": {"guide_number": {"value": 60, "unit": "m"}},
        "readings": (0..256).map(astray).collect::<Vec<_>>()
    });
    let light = |role: usize| {
        json!({
            "role": format!("{role:&>64}"), "stops": 0, "distance": 1 + role % 9,
            "modifier_stops": {"kind": "softbox_two_diffusers"}
        })
    };
    let lights = json!((0..16).map(light).collect::<Vec<_>>());
    let kit = json!({
        "kit": [{"unit": head(&"<".repeat(64), 50.0), "count": 16}],
        "shots": (0..64).map(|_| shot(&"&".repeat(64), &lights)).collect::<Vec<_>>()
    });
    for (path, body, most) in [
        ("/v1/patches/response", response, 60_000),
        ("/v1/units/calibrate", calibration("head", 256, &lost), 120_000),
        ("/v1/units/calibrate", zigzag, 250_000),
        ("/v1/kit/check", kit, 3_000_000),
    ] {
        let begun = Instant::now();
        server.ask(path, body.clone()).await;
        let computed = begun.elapsed();
        let begun = Instant::now();
        let answer = draw(&server, path, &body).await;
        let drawn = begun.elapsed();
        checked(path, &answer);
        let bytes = answer.body.as_str().expect("a text").len();
        assert!(bytes < most, "{path}: {bytes} bytes");
        // The answer is computed again, and drawing adds little to that.
        assert!(drawn < computed * 3 + Duration::from_secs(3), "{path}: {drawn:?}, computed in {computed:?}");
    }
}
