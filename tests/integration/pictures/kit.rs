//! The picture of a kit check.

use serde_json::{Value, json};

use super::curves::{count, drawn_of, head, holds, list, shot};
use crate::support::Server;

const KIT: &str = "/v1/kit/check";
const HATCHED: (&str, &str) = ("fill", "url(#hatched)");
const SOLID: (&str, &str) = ("fill", "#a32000");

fn light(role: &str, distance: f64) -> Value {
    json!({"role": role, "stops": 0, "distance": distance})
}

/// Two heads and shots for them.
fn two_heads(shots: &Value) -> Value {
    json!({"kit": [{"unit": head("a", 50.0)}, {"unit": head("b", 40.0)}], "shots": shots})
}

/// The description for screen readers.
fn description(picture: &str) -> String {
    let document = roxmltree::Document::parse(picture).expect("XML");
    let element =
        document.descendants().find(|node| node.has_tag_name(("http://www.w3.org/2000/svg", "desc")));
    element.and_then(|node| node.text()).expect("a description").to_owned()
}

fn starts(texts: &[String], wanted: &str) -> bool {
    texts.iter().any(|text| text.starts_with(wanted))
}

#[tokio::test]
async fn shortfall_and_excess_look_different() {
    let server = Server::start().await;
    let near = shot("near", &json!([light("key", 2.0), light("fill", 1.5)]));
    let (answer, texts, picture) = drawn_of(&server, KIT, &two_heads(&json!([near]))).await;
    assert_eq!(answer["feasible"], true);
    assert!(holds(&texts, "reached") && !picture.contains("hatched"), "{texts:?}");
    // The legend and the column headings have only what is in use.
    for text in ["lacks", "lacks light at full power", "too strong", "not reached"] {
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
        let expected = match light["reason"].as_str() {
            Some("no_unit_left") => "no unit left".to_owned(),
            Some("too_strong") => format!("{} too strong", stops("excess_stops")),
            Some(_) => format!("lacks {}", stops("shortfall_stops")),
            None => format!("{} to spare", stops("headroom_stops")),
        };
        assert!(holds(&texts, &expected), "{expected}: {texts:?}");
        if let Some(label) = light["setting"]["label"].as_str() {
            assert!(holds(&texts, label), "{label}: {texts:?}");
        }
    }
    // One bar of each kind and one in the legend, and the fill is defined.
    assert_eq!([HATCHED, SOLID].map(|fill| count(&picture, "rect", fill)), [2, 2]);
    assert_eq!(count(&picture, "pattern", ("id", "hatched")), 1);
    // A bar for too much light points to the right: it begins where that of a shortfall ends.
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
    // A unit that moved has a mark before its name and no word beside its setting. One more mark is in the legend.
    let moved = lights.iter().filter(|light| light["moved"] == true).count();
    assert!(moved > 0 && !holds(&texts, "moved"), "{texts:?}");
    assert_eq!(count(&picture, "polygon", ("fill", "#5c5c5c")), 1 + moved);
    assert_eq!(description(&picture).matches(", moved here").count(), moved);
    assert!(starts(&texts, "Not reached: far; crowd; close."), "{texts:?}");
    assert!(description(&picture).contains("Not reached: far; crowd; close."));
}

#[tokio::test]
async fn bars_are_as_long_as_their_values() {
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
        list(&answer["shots"][0], "lights").filter_map(|light| light["excess_stops"].as_f64()).collect();
    let ([key, fill], [strong, stronger]) = (widths.as_slice(), much.as_slice()) else {
        panic!("{widths:?} {much:?}")
    };
    assert!(
        *strong > 1.0 && *stronger > 4.5 && (key / fill - strong / stronger).abs() < 1e-3,
        "{widths:?} {much:?}"
    );
}

#[tokio::test]
async fn doubtful_roles_are_not_shown_as_reached() {
    let server = Server::start().await;
    // f/11 at 3 m needs GN 33 m. The effect of a softbox is known to a stop or so.
    let doubtful = json!({"role": "key", "stops": 0, "distance": 3, "modifier_stops": {"kind": "softbox_two_diffusers"}});
    let body =
        |guide: f64| json!({"kit": [{"unit": head("a", guide)}], "shots": [shot("s", &json!([doubtful]))]});
    let (answer, texts, picture) = drawn_of(&server, KIT, &body(75.0)).await;
    let light = &answer["shots"][0]["lights"][0];
    let stops = |field: &Value| field.as_f64().expect("stops");
    let spare = stops(&light["headroom_stops"]);
    let [low, high] = ["low_stops", "high_stops"].map(|end| spare + stops(&light["uncertainty"][end]));
    assert!(spare < 0.99 && low < -0.01, "{light}");
    let range = format!("−{:.2} to +{high:.2}", -low);
    for text in ["reached, perhaps not", "perhaps not reached", "?", &range, "lacks"] {
        assert!(holds(&texts, text), "{text}: {texts:?}");
    }
    let described = description(&picture);
    assert!(
        described.contains(&format!("{spare:.2} to spare ({range}), perhaps not reached")),
        "{described}"
    );
    // At full power it is a little too weak already.
    let lack = -(low + stops(&light["error_stops"]).min(0.0));
    assert!(described.contains(&format!("may be {lack:.1} stops short.")), "{described} {lack}");
    // With more headroom than uncertainty there is no doubt, but the range is shown.
    let (_, texts, picture) = drawn_of(&server, KIT, &body(150.0)).await;
    assert!(holds(&texts, "reached") && !holds(&texts, "?") && !holds(&texts, "lacks"), "{texts:?}");
    assert!(description(&picture).contains(" to spare (+"), "{}", description(&picture));
}

#[tokio::test]
async fn long_names_of_a_kit_stay_distinct() {
    let server = Server::start().await;
    let long = |side: &str| format!("the head that stands behind the crew on the {side} of the jetty");
    let shots = ["left", "right"].map(|side| {
        let lights = ["left", "right"].map(|other| light(&long(other), 2.0));
        shot(&long(side), &json!(lights))
    });
    let kit = ["left", "right"].map(|side| json!({"unit": head(&long(side), 50.0)}));
    let (_, texts, _) = drawn_of(&server, KIT, &json!({"kit": kit, "shots": shots})).await;
    // Two lines for each role and unit, one for a shot; the second lines differ.
    for side in ["left", "right"] {
        let ends: Vec<&String> =
            texts.iter().filter(|text| text.ends_with(&format!("{side} of the jetty"))).collect();
        assert_eq!(ends.len(), 5, "{texts:?}");
    }
}

#[tokio::test]
async fn nothing_in_a_kit_is_shown_twice() {
    let server = Server::start().await;
    let mut slow = head("slow", 50.0);
    slow["recycle_s"] = json!(4);
    slow["flashes_per_charge"] = json!(10);
    let shots: Vec<Value> = (0..5)
        .map(|number| {
            let mut shot = shot(&format!("shot {number}"), &json!([light("key", 2.0), light("fill", 2.0)]));
            shot["interval_s"] = json!(0.1);
            shot["frames"] = json!(100);
            shot
        })
        .collect();
    let (answer, texts, picture) =
        drawn_of(&server, KIT, &json!({"kit": [{"unit": slow}], "shots": shots})).await;
    let words = texts.join(" ");
    for warning in list(&answer, "warnings") {
        let text = warning["text"].as_str().expect("a text");
        assert_eq!(words.matches(text).count(), 1, "{text}: {words}");
        assert_eq!(description(&picture).matches(text).count(), 1, "{text}");
    }
    assert_eq!(answer["warnings"].as_array().map(Vec::len), Some(2), "{answer}");
    // A unit to borrow has its figures once: f/11 at 2 m is 22.6 m with exact marks.
    assert_eq!(words.matches("guide number 22.7 m").count(), 5, "{words}");
    // The remedy of each shot is a unit of two digits.
    assert_eq!(words.matches("Borrow a unit of at least guide number 23 m").count(), 5, "{words}");
}

#[tokio::test]
async fn shots_without_a_remedy_are_listed() {
    let server = Server::start().await;
    // Too strong by more than distance, filter and lens together can take back, beside a role without a unit.
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
    let far = |number: usize| if number.is_multiple_of(3) { 30.0 } else { 2.0 };
    let shots: Vec<Value> =
        (1..=64).map(|n| shot(&format!("number {n}"), &json!([light("key", far(n))]))).collect();
    let (_, texts, picture) = drawn_of(&server, KIT, &two_heads(&json!(shots))).await;
    let described = description(&picture);
    let (_, index) = described.split_once("Not reached: ").expect("an index");
    let (index, _) = index.split_once('.').expect("its end");
    let names: Vec<String> = (1..=21).map(|n| format!("number {}", 3 * n)).collect();
    assert_eq!(index, names.join("; "));
    assert!(starts(&texts, "Not reached: number 3; number 6;"), "{texts:?}");
    let zeros = texts.iter().filter(|text| text.as_str() == "0").count();
    assert!((2..30).contains(&zeros), "{zeros}");
    // The size is bounded, whatever the names.
    let shots: Vec<Value> =
        (1..=64).map(|n| shot(&format!("{n:+>64}"), &json!([light("key", far(n))]))).collect();
    let (_, _, picture) = drawn_of(&server, KIT, &two_heads(&json!(shots))).await;
    let described = description(&picture);
    assert!(described.contains("and 15 more. "), "{described}");
}
