//! The picture of a kit check.

use serde_json::{Value, json};

use super::curves::{drawn_of, head, holds, list, shot};
use crate::support::Server;

const KIT: &str = "/v1/kit/check";

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

/// The positions and widths of the bars of one kind. Cells of a grid have another outline.
fn bars(picture: &str, fill: &str, stroke: &str) -> Vec<[f64; 2]> {
    let document = roxmltree::Document::parse(picture).expect("XML");
    let rectangles =
        document.descendants().filter(|node| node.has_tag_name(("http://www.w3.org/2000/svg", "rect")));
    let bars = rectangles
        .filter(|node| node.attribute("fill") == Some(fill) && node.attribute("stroke") == Some(stroke));
    bars.map(|bar| ["x", "width"].map(|name| bar.attribute(name).expect(name).parse().expect("a number")))
        .collect()
}

/// What a cell says of a light of the answer, as pictures write numbers.
fn cell(light: &Value) -> String {
    let stops = |name: &str| (light[name].as_f64().expect("stops") * 100.0).round() / 100.0;
    match light["reason"].as_str() {
        Some("no_unit_left") => "no unit".to_owned(),
        Some("too_strong") => format!("↑ {}", stops("excess_stops")),
        Some(_) => format!("−{}", stops("shortfall_stops")),
        None if stops("headroom_stops") == 0.0 => "0".to_owned(),
        None => format!("+{}", stops("headroom_stops")),
    }
}

#[tokio::test]
async fn the_grid_says_how_each_light_comes_out() {
    let server = Server::start().await;
    let near = shot("near", &json!([light("key", 2.0), light("fill", 1.5)]));
    let (answer, texts, picture) = drawn_of(&server, KIT, &two_heads(&json!([near]))).await;
    assert_eq!(answer["feasible"], true);
    // The legend has only what is in use, and there are no bars of what is fine.
    for text in ["− too weak by so much", "lacks light at full power", "? perhaps not reached"] {
        assert!(!holds(&texts, text), "{text}: {texts:?}");
    }
    assert!(holds(&texts, "+ reached, with so much to spare") && !picture.contains("hatched"), "{texts:?}");
    assert!(starts(&texts, "All 2 lights have at least "), "{texts:?}");
    let far = shot("far", &json!([light("key", 9.0), light("fill", 2.0)]));
    let crowd = shot("crowd", &json!([light("key", 3.0), light("fill", 2.0), light("hair", 2.0)]));
    let close = shot("close", &json!([light("key", 0.1)]));
    for width in [390, 900] {
        let mut body = two_heads(&json!([near, far, crowd, close]));
        body["width"] = json!(width);
        let (answer, texts, picture) = drawn_of(&server, KIT, &body).await;
        let lights: Vec<&Value> = list(&answer, "shots").flat_map(|shot| list(shot, "lights")).collect();
        for light in &lights {
            assert!(holds(&texts, &cell(light)), "{}: {texts:?}", cell(light));
            if let Some(label) = light["setting"]["label"].as_str() {
                assert!(texts.iter().any(|text| text.ends_with(label)), "{label}: {texts:?}");
            }
        }
        // The units are named once by their letter.
        assert!(holds(&texts, "A") && holds(&texts, "B") && starts(&texts, "→"), "{texts:?}");
        // A bar of each kind, and one in the legend.
        let ([missing, _], [strong, _]) = (
            bars(&picture, "url(#hatched)", "#a32000")[..].try_into().expect("two bars"),
            bars(&picture, "#a32000", "#a32000")[..].try_into().expect("two bars"),
        );
        let [_, _]: [[f64; 2]; 2] = [missing, strong];
        for text in [
            "− too weak by so much",
            "↑ too strong by so much",
            "no unit is left for it",
            "lacks light at full power",
            "too strong at its least setting",
            "What is missing",
        ] {
            assert!(holds(&texts, text), "{text}: {texts:?}");
        }
        assert!(texts.iter().any(|text| text.ends_with("would do it, for each shot")), "{texts:?}");
        let moved = lights.iter().filter(|light| light["moved"] == true).count();
        assert!(moved > 0, "{answer}");
        assert_eq!(description(&picture).matches(", moved here").count(), moved);
        assert!(description(&picture).contains("Not reached: far; crowd; close."));
    }
}

#[tokio::test]
async fn bars_are_as_long_as_their_values() {
    let server = Server::start().await;
    // f/11 at 10 cm and at 7 cm are a stop apart.
    let shots = json!([shot("close", &json!([light("key", 0.1), light("fill", 0.05)]))]);
    let (answer, _, picture) = drawn_of(&server, KIT, &two_heads(&shots)).await;
    // The legend's comes first, then the worst light.
    let widths: Vec<f64> =
        bars(&picture, "#a32000", "#a32000").into_iter().skip(1).map(|[_, width]| width).collect();
    let much: Vec<f64> =
        list(&answer["shots"][0], "lights").filter_map(|light| light["excess_stops"].as_f64()).collect();
    let ([fill, key], [strong, stronger]) = (widths.as_slice(), much.as_slice()) else {
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
    let chance = format!("chance {:.0} %, f/11, ISO 100", 100.0 * stops(&light["chance_reached"]));
    for text in ["? perhaps not reached", "?", &range, &chance, &format!("{} ?", cell(light))] {
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
    // With more headroom than uncertainty there is no doubt, and no chance to state.
    let (_, texts, picture) = drawn_of(&server, KIT, &body(150.0)).await;
    assert!(!holds(&texts, "?") && !texts.join(" ").contains("chance"), "{texts:?}");
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
    // Names of shots, roles and units end differently, however they are cut.
    for side in ["left", "right"] {
        // A heading may show the last letters only.
        let ends = texts
            .iter()
            .filter(|text| text.ends_with(&format!("{} of the jetty", &side[side.len() - 2..])))
            .count();
        assert!(ends >= 3, "{side}: {texts:?}");
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
async fn a_vast_kit_shows_what_fails_and_counts_the_rest() {
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
    // Twenty shots in the grid, all of which fail, and twelve of them in detail.
    assert!(holds(&texts, "number 57") && !holds(&texts, "number 58"), "{texts:?}");
    for text in [
        "And 44 more lights, in the answer as JSON or text.",
        "And 9 more lights are short or tight, none worse than these.",
    ] {
        assert!(holds(&texts, text), "{text}: {texts:?}");
    }
    assert!(starts(&texts, "The other 43 lights have at least "), "{texts:?}");
    // The size is bounded, whatever the names.
    let shots: Vec<Value> =
        (1..=64).map(|n| shot(&format!("{n:+>64}"), &json!([light("key", far(n))]))).collect();
    for width in [390, 900] {
        let mut body = two_heads(&json!(shots));
        body["width"] = json!(width);
        let (_, _, picture) = drawn_of(&server, KIT, &body).await;
        assert!(description(&picture).contains("and 15 more. "));
        let document = roxmltree::Document::parse(&picture).expect("XML");
        let height: f64 =
            document.root_element().attribute("height").expect("a height").parse().expect("a number");
        assert!(height < 5000.0, "{height} at {width}");
    }
}

const COMPARE: &str = "/v1/kit/compare";

/// A kit with heads of these guide numbers.
fn kit(name: &str, guides: &[f64]) -> Value {
    let units = guides.iter().map(|guide| json!({"unit": head("a", *guide)})).collect::<Vec<_>>();
    json!({"name": name, "kit": units})
}

#[tokio::test]
async fn kits_are_seen_beside_each_other() {
    let server = Server::start().await;
    let shots = json!([
        shot("near", &json!([light("key", 2.0), light("fill", 1.5)])),
        shot("far", &json!([light("key", 4.0)])),
        shot("close", &json!([light("key", 0.1)]))
    ]);
    let body = |width: u32| json!({"kits": [kit("one", &[50.0]), kit("two", &[80.0, 40.0]), kit("weak", &[10.0, 9.0])], "shots": shots, "width": width});
    for width in [390, 900] {
        let (answer, texts, _) = drawn_of(&server, COMPARE, &body(width)).await;
        assert!(texts.join(" ").contains(answer["summary"].as_str().expect("a summary")), "{texts:?}");
        for ranked in list(&answer, "ranking") {
            // Its line, and its row.
            let name = ranked["name"].as_str().expect("a name");
            assert!(texts.iter().filter(|text| *text == name).count() >= 2, "{name}: {texts:?}");
            for shot in list(ranked, "shots") {
                let stops = |name: &str| (shot[name].as_f64().unwrap_or_default() * 100.0).round() / 100.0;
                let said = if shot["headroom_stops"].is_null() {
                    "no unit".to_owned()
                } else if stops("excess_stops") > 0.0 {
                    format!("↑ {}", stops("excess_stops"))
                } else if shot["feasible"] == false {
                    format!("−{}", stops("shortfall_stops"))
                } else {
                    format!("+{}", stops("headroom_stops"))
                };
                assert!(starts(&texts, &said), "{said}: {texts:?}");
            }
        }
    }
}

#[tokio::test]
async fn of_many_kits_the_best_are_drawn_by_shots_that_tell_them_apart() {
    let server = Server::start().await;
    let kits: Vec<Value> = (0..64).map(|k| kit(&format!("{k:&>60}"), &[20.0 + f64::from(k)])).collect();
    // All kits do the easy shots with three stops to spare and more.
    let shots: Vec<Value> = (0..40)
        .map(|n| {
            let (name, distance) = if n % 10 == 7 { ("hard", 6.0) } else { ("easy", 0.5) };
            shot(&format!("{name} {n}"), &json!([light("key", distance)]))
        })
        .collect();
    let (_, texts, picture) = drawn_of(&server, COMPARE, &json!({"kits": kits, "shots": shots})).await;
    for hard in ["hard 7", "hard 17", "hard 27", "hard 37"] {
        assert!(holds(&texts, hard), "{texts:?}");
    }
    assert!(starts(&texts, "And 26 more shots, ") && starts(&texts, "And 54 more kits: "), "{texts:?}");
    assert!(picture.len() < 120_000, "{}", picture.len());
}
