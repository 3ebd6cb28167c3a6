//! What is told by the pictures of frames, of readings and of a kit.

use std::time::{Duration, Instant};

use serde_json::{Value, json};

use super::{checked, draw};
use crate::support::Server;

/// Asks for the answer, and for its picture: the answer, the texts of the picture, the picture.
async fn drawn_of(server: &Server, path: &str, body: &Value) -> (Value, Vec<String>, String) {
    let answer = server.ask(path, body.clone()).await;
    let picture = draw(server, path, body).await;
    let texts = checked(path, &picture);
    (answer, texts, picture.body.as_str().expect("a text").to_owned())
}

/// A number with two decimals at the most, one where it is large, and its sign where asked, as pictures write it.
fn written(value: &Value, with_sign: bool) -> String {
    let value = value.as_f64().expect("a number");
    let parts = if value.abs() >= 100.0 { 10.0 } else { 100.0 };
    let rounded = (value * parts).round() / parts;
    let text = if with_sign && rounded > 0.0 { format!("+{rounded}") } else { format!("{rounded}") };
    text.replace('-', "−")
}

fn list<'v>(answer: &'v Value, name: &str) -> impl Iterator<Item = &'v Value> {
    answer[name].as_array().expect("a list").iter()
}

/// Elements of a name with an attribute of a value.
fn count(picture: &str, name: &str, attribute: (&str, &str)) -> usize {
    let document = roxmltree::Document::parse(picture).expect("XML");
    let elements = document.descendants().filter(|node| node.tag_name().name() == name);
    elements.filter(|node| node.attribute(attribute.0) == Some(attribute.1)).count()
}

fn holds(texts: &[String], wanted: &str) -> bool {
    texts.iter().any(|text| text == wanted)
}

/// Centres of readings and frames by their height on the sheet; those of the legend left out.
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
    for told in list(&answer, "frames").filter(|frame| frame["clipped"] == false) {
        let level = written(&told["level"], false);
        let slope = written(&told["slope_levels_per_stop"], false);
        assert!(holds(&texts, &format!("{level}, {slope} a stop")), "{told}: {texts:?}");
    }
    for told in list(&answer, "between") {
        let [from, to] = ["from", "to"].map(|end| written(&told[end], false));
        let how = if told["extrapolated"] == true { ", extrapolated" } else { "" };
        let said = format!("{from} to {to}: {} stops{how}", written(&told["stops"], true));
        assert!(holds(&texts, &said), "{said}: {texts:?}");
    }
    // Higher on the sheet is brighter; clipped ones are open, and told apart in the legend.
    let frames = heights(&picture, INK);
    assert!(frames.len() == 3 && frames.is_sorted_by(|a, b| a > b), "{frames:?}");
    assert!(holds(&texts, "clipped, left out") && count(&picture, "circle", ("fill", "#ffffff")) == 3);
    // Dashed beyond the frames on both sides, and in the legend.
    assert_eq!(count(&picture, "polyline", ("stroke-dasharray", "6 4")), 3);
    // Frames that were taken together are on no curve; their mean is.
    let mean = "mean of frames taken together";
    assert!(!holds(&texts, mean), "{texts:?}");
    let body = json!({"frames": [frame(0.0, 60.0), frame(1.0, 118.0), frame(1.0, 120.0), frame(2.0, 190.0)]});
    let (_, texts, picture) = drawn_of(&server, path, &body).await;
    assert!(holds(&texts, mean) && count(&picture, "polygon", ("stroke", "#1f5a99")) == 2, "{texts:?}");
    // The whole range of 16 bits, unless the frames take little of it.
    let body = |low: f64| json!({"bits": 16, "frames": [frame(0.0, low), frame(1.0, 60_000.0)]});
    let (_, texts, _) = drawn_of(&server, path, &body(10_000.0)).await;
    assert!(holds(&texts, "65535") && holds(&texts, "32768"), "{texts:?}");
    let (_, texts, _) = drawn_of(&server, path, &body(59_000.0)).await;
    assert!(!holds(&texts, "65535") && holds(&texts, "59600"), "{texts:?}");
}

fn head(name: &str, guide_number: f64) -> Value {
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

#[tokio::test]
async fn misfires_are_marked_with_their_index_and_do_not_squash_the_scale() {
    const OPEN: &str = "#ffffff";
    let server = Server::start().await;
    let path = "/v1/units/calibrate";
    let (_, texts, calm) = drawn_of(&server, path, &calibration("head", 20, &[])).await;
    assert!(!texts.iter().any(|text| text.starts_with("misfire")), "{texts:?}");
    let (answer, texts, picture) = drawn_of(&server, path, &calibration("head", 20, &[3, 11])).await;
    let misfires: Vec<_> = list(&answer, "misfires").collect();
    assert_eq!(misfires.len(), 2, "{answer}");
    for told in misfires {
        let said = format!("{}: {}", told["index"], written(&told["off_by_stops"], true));
        assert!(holds(&texts, &said), "{said}: {texts:?}");
    }
    for told in list(&answer, "settings") {
        assert!(holds(&texts, told["setting"].as_str().expect("a label")), "{told}: {texts:?}");
        assert!(holds(&texts, &written(&told["deviation_stops"], true)), "{told}: {texts:?}");
    }
    let [low, high] = [0, 1].map(|end| written(&answer["offset_stops_range"][end], true));
    let offset = written(&answer["offset_stops"], true);
    let said = format!("Light at full power against the rating: {offset} stops (95 %: {low} to {high}).");
    assert!(holds(&texts, &said), "{said}: {texts:?}");
    // Two crosses, two arrows at the edge; in the legend one cross.
    assert_eq!(count(&picture, "polyline", ("stroke-width", "2")), 3);
    assert_eq!(count(&picture, "polygon", ("fill", "#b23a00")), 2);
    let span = |picture: &str, readings: usize| {
        let heights = &heights(picture, OPEN)[..readings];
        let ends = heights.iter().fold((f64::MAX, 0.0_f64), |(low, high), y| (low.min(*y), high.max(*y)));
        ends.1 - ends.0
    };
    assert!(span(&picture, 18) > 0.7 * span(&calm, 20), "{} {}", span(&picture, 18), span(&calm, 20));
    // Where there is no room to label all, they are listed.
    let lost: Vec<usize> = (0..256).filter(|index| index % 6 == 1).collect();
    let (answer, texts, _) = drawn_of(&server, path, &calibration("head", 256, &lost)).await;
    let told = texts.join(" ");
    let misfires: Vec<_> = list(&answer, "misfires").collect();
    assert_eq!(misfires.len(), lost.len());
    for misfire in misfires {
        let said = format!("{}:\u{a0}{}", misfire["index"], written(&misfire["off_by_stops"], true));
        assert!(told.contains(&said), "{said}: {told}");
    }
}

fn shot(name: &str, lights: &Value) -> Value {
    json!({"name": name, "exposure": {"f_number": "f/11"}, "lights": lights})
}

const KIT: &str = "/v1/kit/check";
const HATCHED: (&str, &str) = ("fill", "url(#hatched)");
const SOLID: (&str, &str) = ("fill", "#b23a00");

fn light(role: &str, distance: f64) -> Value {
    json!({"role": role, "stops": 0, "distance": distance})
}

/// Two heads and shots of them.
fn two_heads(shots: &Value) -> Value {
    json!({"kit": [{"unit": head("a", 50.0)}, {"unit": head("b", 40.0)}], "shots": shots})
}

/// What a screen reader says.
fn description(picture: &str) -> String {
    let document = roxmltree::Document::parse(picture).expect("XML");
    let told = document.descendants().find(|node| node.has_tag_name(("http://www.w3.org/2000/svg", "desc")));
    told.and_then(|node| node.text()).expect("a description").to_owned()
}

fn starts(texts: &[String], wanted: &str) -> bool {
    texts.iter().any(|text| text.starts_with(wanted))
}

#[tokio::test]
async fn what_lacks_and_what_is_too_strong_are_told_apart() {
    let server = Server::start().await;
    let near = shot("near", &json!([light("key", 2.0), light("fill", 1.5)]));
    let (answer, texts, picture) = drawn_of(&server, KIT, &two_heads(&json!([near]))).await;
    assert_eq!(answer["feasible"], true);
    assert!(holds(&texts, "reached") && !picture.contains("hatched"), "{texts:?}");
    // The legend and the heads of the columns know of nothing else.
    for text in ["lacks", "lacks light at full power", "too strong", "not reached", "may be off by so much"] {
        assert!(!holds(&texts, text), "{text}: {texts:?}");
    }
    assert!(holds(&texts, "to spare at full power") && holds(&texts, "to spare"), "{texts:?}");
    let far = shot("far", &json!([light("key", 9.0), light("fill", 2.0)]));
    let crowd = shot("crowd", &json!([light("key", 3.0), light("fill", 2.0), light("hair", 2.0)]));
    let close = shot("close", &json!([light("key", 0.1)]));
    let (answer, texts, picture) =
        drawn_of(&server, KIT, &two_heads(&json!([near, far, crowd, close]))).await;
    let lights: Vec<&Value> = list(&answer, "shots").flat_map(|shot| list(shot, "lights")).collect();
    for light in &lights {
        let stops = |name: &str| format!("{:.2}", light[name].as_f64().expect("stops"));
        let said = match (&light["headroom_stops"], &light["shortfall_stops"]) {
            (Value::Null, Value::Null) => "no unit left".to_owned(),
            (Value::Null, _) if light["error_stops"].as_f64() > Some(0.0) => {
                format!("{} too strong", stops("shortfall_stops"))
            }
            (Value::Null, _) => format!("lacks {}", stops("shortfall_stops")),
            _ => format!("{} to spare", stops("headroom_stops")),
        };
        assert!(holds(&texts, &said), "{said}: {texts:?}");
        if let Some(label) = light["setting"]["label"].as_str() {
            assert!(holds(&texts, label), "{label}: {texts:?}");
        }
    }
    // One of each, and one of the legend; and what fills is there.
    assert_eq!([HATCHED, SOLID].map(|fill| count(&picture, "rect", fill)), [2, 2]);
    assert_eq!(count(&picture, "pattern", ("id", "hatched")), 1);
    // Too strong points to the right: its bar begins where that of what lacks ends.
    let side = |fill: (&str, &str)| {
        let document = roxmltree::Document::parse(&picture).expect("XML");
        let bars = document.descendants().filter(|node| node.attribute(fill.0) == Some(fill.1));
        let bar = bars
            .filter(|node| node.has_tag_name(("http://www.w3.org/2000/svg", "rect")))
            .nth(1)
            .expect("a bar");
        ["x", "width"].map(|name| bar.attribute(name).expect(name).parse::<f64>().expect("a number"))
    };
    let ([lacks, wide], [strong, _]) = (side(HATCHED), side(SOLID));
    assert!((lacks + wide - strong).abs() < 0.05, "{lacks} {wide} {strong}");
    for text in [
        "lacks",
        "to spare",
        "too strong",
        "lacks light at full power",
        "too strong at its least setting",
        "not reached",
    ] {
        assert!(holds(&texts, text), "{text}: {texts:?}");
    }
    for text in [
        "not reached: 1 of 2",
        "not reached: 1 of 3",
        "not reached: 1 of 1",
        "What is missing",
        "What is too strong",
    ] {
        assert!(holds(&texts, text), "{text}: {texts:?}");
    }
    let has = |end: &str| texts.iter().any(|text| text.ends_with(end));
    assert!(has(" would do.") && has("would do it, for each shot"), "{texts:?}");
    // What moved has a mark before its unit, and no word beside its setting; and one of the legend.
    let moved = lights.iter().filter(|light| light["moved"] == true).count();
    assert!(moved > 0 && !holds(&texts, "moved"), "{texts:?}");
    assert_eq!(count(&picture, "polygon", ("fill", "#5c5c5c")), 1 + moved);
    assert_eq!(description(&picture).matches(", moved here").count(), moved);
    assert!(starts(&texts, "Not reached: far; crowd; close."), "{texts:?}");
    assert!(description(&picture).contains("Not reached: far; crowd; close."));
}

#[tokio::test]
async fn bars_are_as_long_as_what_they_tell() {
    let server = Server::start().await;
    // f/11 at 10 cm and at 7 cm are a stop apart.
    let shots = json!([shot("close", &json!([light("key", 0.1), light("fill", 0.05)]))]);
    let (answer, _, picture) = drawn_of(&server, KIT, &two_heads(&shots)).await;
    let document = roxmltree::Document::parse(&picture).expect("XML");
    let bars = document.descendants().filter(|node| node.attribute(SOLID.0) == Some(SOLID.1));
    let widths = bars
        .filter_map(|node| node.attribute("width"))
        .skip(1)
        .map(|width| width.parse::<f64>().expect("px"));
    let widths: Vec<f64> = widths.collect();
    let much: Vec<f64> =
        list(&answer["shots"][0], "lights").filter_map(|light| light["shortfall_stops"].as_f64()).collect();
    let ([key, fill], [strong, stronger]) = (widths.as_slice(), much.as_slice()) else {
        panic!("{widths:?} {much:?}")
    };
    assert!(
        *strong > 1.0 && *stronger > 4.5 && (key / fill - strong / stronger).abs() < 1e-3,
        "{widths:?} {much:?}"
    );
}

#[tokio::test]
async fn what_may_not_be_reached_is_not_told_as_reached() {
    let server = Server::start().await;
    // f/11 at 3 m wants N of 33 m. A softbox is known to a stop or so.
    let doubtful = json!({"role": "key", "stops": 0, "distance": 3, "modifier_stops": {"kind": "softbox_two_diffusers"}});
    let body =
        |guide: f64| json!({"kit": [{"unit": head("a", guide)}], "shots": [shot("s", &json!([doubtful]))]});
    let (answer, texts, picture) = drawn_of(&server, KIT, &body(75.0)).await;
    let light = &answer["shots"][0]["lights"][0];
    let stops = |field: &Value| field.as_f64().expect("stops");
    let spare = stops(&light["headroom_stops"]);
    let [low, high] = ["low", "high"].map(|end| spare + stops(&light["uncertainty_stops"][end]));
    assert!(spare < 0.99 && low < -0.01, "{light}");
    let range = format!("−{:.2} to +{high:.2}", -low);
    for text in ["reached, perhaps not", "perhaps not reached", "?", &range, "lacks"] {
        assert!(holds(&texts, text), "{text}: {texts:?}");
    }
    let told = description(&picture);
    assert!(told.contains(&format!("{spare:.2} to spare ({range}), perhaps not reached")), "{told}");
    assert!(told.contains(&format!("may be {:.1} stops short.", -low)), "{told}");
    // With more to spare than it may be off there is no doubt, but its range is told.
    let (_, texts, picture) = drawn_of(&server, KIT, &body(150.0)).await;
    assert!(holds(&texts, "reached") && !holds(&texts, "?") && !holds(&texts, "lacks"), "{texts:?}");
    assert!(description(&picture).contains(" to spare (+"), "{}", description(&picture));
}

#[tokio::test]
async fn long_names_of_a_kit_are_told_apart() {
    let server = Server::start().await;
    let long = |side: &str| format!("the head that stands behind the crew on the {side} of the jetty");
    let shots = ["left", "right"].map(|side| {
        let lights = ["left", "right"].map(|other| light(&long(other), 2.0));
        shot(&long(side), &json!(lights))
    });
    let kit = ["left", "right"].map(|side| json!({"unit": head(&long(side), 50.0)}));
    let (_, texts, _) = drawn_of(&server, KIT, &json!({"kit": kit, "shots": shots})).await;
    // Twice a role and a unit, once a shot, whose second lines differ.
    for side in ["left", "right"] {
        let ends: Vec<&String> =
            texts.iter().filter(|text| text.ends_with(&format!("{side} of the jetty"))).collect();
        assert_eq!(ends.len(), 5, "{texts:?}");
    }
}

#[tokio::test]
async fn each_thing_of_a_kit_is_told_once() {
    let server = Server::start().await;
    let mut slow = head("slow", 50.0);
    slow["recycle_s"] = json!(4);
    slow["pops_per_charge"] = json!(10);
    let shots: Vec<Value> = (0..5)
        .map(|number| {
            let mut shot = shot(&format!("shot {number}"), &json!([light("key", 2.0), light("fill", 2.0)]));
            shot["seconds_between"] = json!(0.1);
            shot["pops"] = json!(100);
            shot
        })
        .collect();
    let (answer, texts, picture) =
        drawn_of(&server, KIT, &json!({"kit": [{"unit": slow}], "shots": shots})).await;
    let told = texts.join(" ");
    for warning in list(&answer, "warnings") {
        let text = warning["text"].as_str().expect("a text");
        assert_eq!(told.matches(text).count(), 1, "{text}: {told}");
        assert_eq!(description(&picture).matches(text).count(), 1, "{text}");
    }
    assert_eq!(answer["warnings"].as_array().map(Vec::len), Some(2), "{answer}");
    // What to borrow has its figures once: f/11 at 2 m is 22.6 m with exact marks.
    assert_eq!(told.matches("guide number 22.7 m").count(), 5, "{told}");
    assert_eq!(texts.iter().filter(|text| text.ends_with("Borrow what is missing.")).count(), 5, "{texts:?}");
}

#[tokio::test]
async fn where_nothing_would_do_it_the_picture_says_so() {
    let server = Server::start().await;
    // Too strong by more than distance, filter and lens can take back together with a role that has no unit.
    let hopeless =
        |name: &str| shot(name, &json!([light("key", 0.1), light("fill", 0.1), light("rim", 0.1)]));
    let (answer, texts, picture) =
        drawn_of(&server, KIT, &two_heads(&json!([hopeless("one"), hopeless("two")]))).await;
    assert_eq!(answer["shots"][0]["remedies"], json!([]));
    assert!(holds(&texts, "No single change that would do it was found within the limits"), "{texts:?}");
    assert!(holds(&texts, "one; two."), "{texts:?}");
    assert!(
        description(&picture).contains("For 2 shots no single change that would do it was found"),
        "{picture}"
    );
}

#[tokio::test]
async fn a_vast_kit_names_the_shots_that_fail_and_repeats_its_axis_seldom() {
    let server = Server::start().await;
    let far = |number: usize| if number % 3 == 0 { 30.0 } else { 2.0 };
    let shots: Vec<Value> =
        (1..=64).map(|n| shot(&format!("number {n}"), &json!([light("key", far(n))]))).collect();
    let (_, texts, picture) = drawn_of(&server, KIT, &two_heads(&json!(shots))).await;
    let told = description(&picture);
    let (_, index) = told.split_once("Not reached: ").expect("an index");
    let (index, _) = index.split_once('.').expect("its end");
    let names: Vec<String> = (1..=21).map(|n| format!("number {}", 3 * n)).collect();
    assert_eq!(index, names.join("; "));
    assert!(starts(&texts, "Not reached: number 3; number 6;"), "{texts:?}");
    let zeros = texts.iter().filter(|text| text.as_str() == "0").count();
    assert!((2..30).contains(&zeros), "{zeros}");
    // Bounded, whatever their names.
    let shots: Vec<Value> =
        (1..=64).map(|n| shot(&format!("{n:+>64}"), &json!([light("key", far(n))]))).collect();
    let (_, _, picture) = drawn_of(&server, KIT, &two_heads(&json!(shots))).await;
    let told = description(&picture);
    assert!(told.contains("and 15 more. "), "{told}");
}

#[tokio::test]
async fn names_cannot_break_a_picture() {
    let server = Server::start().await;
    let mut names = vec!["<script>alert(1)</script>&\"'\u{0}\u{202e}\u{fffe} ]]> x".to_owned()];
    names.extend(["W", "光", "מ", "Ж"].map(|letter| letter.repeat(64)));
    for name in &names {
        let (_, texts, _) = drawn_of(&server, "/v1/units/calibrate", &calibration(name, 5, &[])).await;
        let told: String = name.chars().take(6).collect();
        assert!(texts.iter().any(|text| text.contains(&told)), "{name}: {texts:?}");
        let lights = json!([{"role": name, "stops": 0, "distance": 30}]);
        let body = json!({"kit": [{"unit": head(name, 50.0)}], "shots": [shot(name, &lights)]});
        let (_, texts, picture) = drawn_of(&server, "/v1/kit/check", &body).await;
        assert!(texts.iter().filter(|text| text.starts_with(&told)).count() >= 3, "{name}: {texts:?}");
        // What was cut is told whole where a pointer rests on it.
        let document = roxmltree::Document::parse(&picture).expect("XML");
        let titles = document.descendants().filter(|node| node.tag_name().name() == "title");
        let whole: String =
            name.chars().map(|c| if "\0\u{202e}\u{fffe}".contains(c) { '\u{fffd}' } else { c }).collect();
        let cut = texts.iter().filter(|text| text.starts_with(&told) && text.contains('…')).count();
        assert!(cut >= 3, "{name}: {texts:?}");
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
    // As many settings as there are readings, and no label beside the line.
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
        // It is computed anew, and drawing adds little to that.
        assert!(drawn < computed * 3 + Duration::from_secs(3), "{path}: {drawn:?}, computed in {computed:?}");
    }
}
