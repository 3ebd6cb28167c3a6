//! Every form, what is close to one, and what is none.

use serde_json::json;

use super::{FORMS, FullQuestion, in_full, read};
use crate::wording::fault::Fault;

fn asked(text: &str) -> FullQuestion {
    read(text).unwrap_or_else(|fault| panic!("{text}: {fault:?}"))
}

#[test]
fn each_form_is_understood() {
    for (form, _) in FORMS {
        asked(form);
    }
}

#[test]
fn words_ask_what_they_say() {
    for (text, path, body) in [
        ("f/8 to f/11", "stops/convert", json!({"from": "f/8", "to": "f/11"})),
        ("F8 -> 5.6", "", json!({})),
        (
            "6 ft to 10 ft 6 in",
            "stops/convert",
            json!({"from": "6 ft", "to": "10 ft 6 in", "units": "imperial"}),
        ),
        ("600 J to 250 J", "stops/convert", json!({"from": "600 J", "to": "250 J"})),
        ("f/8 +0.3 to f/11", "stops/convert", json!({"from": "f/8 +0.3", "to": "f/11"})),
        ("f/8 + 2/3 stop", "stops/convert", json!({"from": "f/8", "shift": "+2/3 stop"})),
        ("1/60 s minus 2 stops", "stops/convert", json!({"from": "1/60 s", "shift": "-2 stops"})),
        ("f/8 + f/5.6", "readings/combine", json!({"add": ["f/8", "f/5.6"]})),
        ("f/8+f/5.6-f/4", "readings/combine", json!({"add": ["f/8", "f/5.6"], "subtract": ["f/4"]})),
        ("GN 40 + GN 32 ft", "readings/combine", json!({"add": ["GN 40", "GN 32 ft"]})),
        ("f/8 + 1 stop", "stops/convert", json!({"from": "f/8", "shift": "+1 stop"})),
        ("f/8 -1/3 stop", "stops/convert", json!({"from": "f/8", "shift": "-1/3 stop"})),
        ("f/8 +0.3 - 1 stop", "stops/convert", json!({"from": "f/8 +0.3", "shift": "-1 stop"})),
        ("ISO 400 plus half a stop", "stops/convert", json!({"from": "ISO 400", "shift": "+1/2 stop"})),
        ("how many stops from f/8 to f/11?", "stops/convert", json!({"from": "f/8", "to": "f/11"})),
        ("f/8->f/11", "stops/convert", json!({"from": "f/8", "to": "f/11"})),
        ("3 metres to 6 metres", "stops/convert", json!({"from": "3 metres", "to": "6 metres"})),
        ("1/125 to 1/250", "stops/convert", json!({"from": "1/125", "to": "1/250", "kind": "exposure_time"})),
        ("1/4 to 1/16", "stops/convert", json!({"from": "1/4", "to": "1/16", "kind": "power_fraction"})),
        ("fill f/8, key f/11", "readings/ratio", json!({"key": "f/11", "fill": "f/8"})),
        ("ratio of f/11 to f/8", "readings/ratio", json!({"key": "f/11", "fill": "f/8"})),
        (
            "GN 40 at 5 m at 1/4 power",
            "exposure/one-light",
            json!({"guide_number": "GN 40", "distance": "5 m", "setting": "1/4"}),
        ),
        (
            "how far does GN 36 reach at f/4?",
            "exposure/one-light",
            json!({"guide_number": "GN 36", "f_number": "f/4"}),
        ),
        ("guide number 40 at 5 m", "exposure/one-light", json!({"guide_number": "GN 40", "distance": "5 m"})),
        (
            "GN 40 ISO 200 at 5 m",
            "exposure/one-light",
            json!({"guide_number": "GN 40", "iso": "ISO 200", "distance": "5 m"}),
        ),
        (
            "f/2.8 @ 1/60 to f/4",
            "exposure/compare",
            json!({"from": {"f_number": "f/2.8", "exposure_time": "1/60"}, "to": {"f_number": "f/4"}}),
        ),
        ("f/11 and f/8", "readings/ratio", json!({"key": "f/11", "fill": "f/8"})),
        ("GN 40 at 5 m", "exposure/one-light", json!({"guide_number": "GN 40", "distance": "5 m"})),
        (
            "GN 40 at 5 m for f/4 at ISO 400",
            "exposure/one-light",
            json!({"guide_number": "GN 40", "distance": "5 m", "f_number": "f/4", "iso": "ISO 400"}),
        ),
        (
            "f/8 at 2 m to 1.5 m",
            "exposure/one-light",
            json!({"metered": {"f_number": "f/8", "distance": "2 m"}, "distance": "1.5 m"}),
        ),
        (
            "f/8 1/125 to f/11 ISO 400",
            "exposure/compare",
            json!({"from": {"f_number": "f/8", "exposure_time": "1/125"}, "to": {"f_number": "f/11", "iso": "ISO 400"}}),
        ),
        ("5600 K to 3200 K", "colour/gel", json!({"from_k": "5600 K", "to_k": "3200 K"})),
        ("1:2 at f/8", "lens/close-up", json!({"magnification": "1:2", "f_number": "f/8"})),
    ] {
        if path.is_empty() {
            assert!(read(text).is_err(), "a bare number says nothing of its kind");
            continue;
        }
        let FullQuestion { path: found, body: fields } = asked(text);
        assert_eq!((found, serde_json::Value::Object(fields)), (path, body), "{text}");
    }
}

#[test]
fn a_plus_that_became_a_space_is_refused() {
    let fault = read("f/8 f/5.6").expect_err("a fault");
    assert!(matches!(fault, Fault::NothingBetween { .. }), "{fault:?}");
}

#[test]
fn a_guide_number_without_a_unit_is_not_guessed_beside_feet() {
    let fault = read("GN 110 at 10 ft").expect_err("a fault");
    assert!(matches!(fault, Fault::GuideWithoutUnit { .. }), "{fault:?}");
    assert_eq!(asked("GN 110 ft at 10 ft").body["units"], "imperial");
}

#[test]
fn an_unknown_question_gets_the_nearest_forms() {
    let Err(Fault::UnknownQuestion { forms, .. }) = read("GN 40 near 5 m") else { panic!("a fault") };
    assert!(forms[0].contains("GN 40 at 5 m"), "{forms:?}");
    assert!(read("GN 40 at 35 mm").is_err(), "that is the zoom, not the distance");
}

#[test]
fn a_question_in_full_can_be_pasted() {
    assert_eq!(
        in_full(&asked("f/8 at 2 m to 1.5 m")),
        "stopwright ask exposure/one-light metered.f_number=f/8 metered.distance='2 m' distance='1.5 m'"
    );
    assert_eq!(in_full(&asked("f/8 + f/5.6")), "stopwright ask readings/combine add=f/8,f/5.6");
}
