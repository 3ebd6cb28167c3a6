//! Odd requests by the thousand, made out of the document's examples: a fixed share of what `fuzz/` does without end.
//! A program of its own, so that it takes no cores from tests that measure time.
//!
//! `STOPWRIGHT_FUZZ_SEED` and `STOPWRIGHT_FUZZ_CASES` (of each example) ask others, and more.
#![expect(clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

use std::collections::BTreeMap;

use self::shared::{dice::Dice, holds, json::Json, mutate, odd, spelling};

#[path = "../fuzz/src/lib.rs"]
mod shared;

fn number(name: &str, usual: u64) -> u64 {
    std::env::var(name).map_or(usual, |text| text.parse().expect("a number"))
}

fn dice() -> Dice {
    Dice::new(number("STOPWRIGHT_FUZZ_SEED", 1))
}

#[test]
fn odd_requests_are_answered_or_refused() {
    let (cases, mut dice) = (number("STOPWRIGHT_FUZZ_CASES", 150), dice());
    let mut counts: BTreeMap<String, BTreeMap<u16, u32>> = BTreeMap::new();
    for (path, example) in mutate::examples().iter().filter(|(path, _)| path != "batch") {
        // Changes add up for a while, so that some requests are far from any example.
        let mut request = example.clone();
        for _ in 0..cases {
            if !dice.chance(3) {
                request = example.clone();
            }
            mutate::mutate(&mut request, &mut dice);
            holds::hasten(path, &mut request);
            let status = holds::ask(path, request.text().as_bytes());
            *counts.entry(path.clone()).or_default().entry(status).or_default() += 1;
        }
    }
    // Nothing is found where all is refused at the door.
    assert_eq!(counts.len(), stopwright::endpoints::registry::ALL.len(), "{counts:?}");
    for (path, statuses) in &counts {
        let of = |status| f64::from(statuses.get(&status).copied().unwrap_or_default());
        assert!(of(200) > 0.1 * of(422) && of(422) > 0.0, "{path}: {statuses:?}");
    }
}

#[test]
fn odd_texts_are_read_or_refused() {
    let (cases, mut dice) = (20 * number("STOPWRIGHT_FUZZ_CASES", 150), dice());
    for _ in 0..cases {
        let [first, second] = [(); 2].map(|()| {
            let text = dice.pick(odd::TEXTS).copied().unwrap_or_default();
            mutate::spell(text, &mut dice)
        });
        spelling::check(&first, &second);
    }
}

/// A question that broke something once: its path on the first line, its body after it.
fn again(question: &str) -> u16 {
    let (path, body) = holds::split(question.as_bytes());
    holds::ask(path, body)
}

#[test]
fn an_oddity_is_kept_as_it_is_written() {
    // What the other tests lean on: names given twice and numbers beyond a double go in as they are.
    let text = r#"{"from":[1e999,-0.0,"f/8 \"x"],"from":{"a":null}}"#;
    assert_eq!(Json::parse(text.as_bytes()).map(|json| json.text()).as_deref(), Some(text));
    assert_eq!(again("stops/convert\n{\"from\": \"f/8\", \"from\": \"f/8\", \"to\": \"f/11\"}"), 422);
}

#[test]
fn a_calibrated_unit_is_one_that_other_calls_take() {
    // Corrections beyond 20 stops were answered, and then refused by every call that they were sent to.
    let body = |readings: &str| {
        format!(
            r#"units/calibrate
{{"unit": {{"energy": 400, "guide_number": {{"value": 48, "unit": "m"}}, "scale": {{"style": "dial", "full": 9, "least": 3}}}},
"distance": 2, "reading": "literal", "readings": [{readings}]}}"#
        )
    };
    assert_eq!(again(&body(r#"{"setting": 9, "f_number": 22.9}, {"setting": 8, "f_number": 16.3}"#)), 200);
    assert_eq!(again(&body(r#"{"setting": 9, "f_number": 0.5}, {"setting": 5, "f_number": 512}"#)), 422);
    assert_eq!(again(&body(r#"{"setting": 3, "f_number": 512}, {"setting": 4, "f_number": 0.5}"#)), 422);
}
