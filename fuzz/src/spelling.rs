//! What must hold for every text that is to be a value.

use std::sync::LazyLock;

use stopwright::{
    light::{
        quantity::{
            kind::Kind,
            marks::Step,
            notation,
            rules::{Reading, Rules},
            units::Units,
        },
        stops::{Given, Target, convert, faults},
        unit::scale::{Grid, Scale, Style},
    },
    wording::phrase::Phrased as _,
};

fn scales() -> &'static [Scale] {
    static SCALES: LazyLock<Vec<Scale>> = LazyLock::new(|| {
        let click = |style| Scale::new(style, Grid::Click(0.1)).expect("a scale");
        vec![
            click(Style::Dial { full: 9.0, least: 2.0 }),
            click(Style::Dial { full: 0.0, least: 6.0 }),
            Scale::new(Style::Fraction { least: 1.0 / 64.0 }, Grid::Click(1.0 / 3.0)).expect("a scale"),
            Scale::new(Style::Percent { least: 5.0 }, Grid::Linear(1.0)).expect("a scale"),
            Scale::new(Style::Joules { full: 500.0, least: 8.0 }, Grid::Click(0.1)).expect("a scale"),
        ]
    });
    &SCALES
}

/// Reads a text as all that it might be, and two with each other.
pub fn check(first: &str, second: &str) {
    for text in [first, second] {
        alone(text);
    }
    let given = |text: &str| Given::Text(text.to_owned());
    for reading in [Reading::Marked, Reading::Literal] {
        let rules = Rules { reading, step: Step::Third, units: Units::Metric };
        let asked = |from: &str, to: &str| convert(&given(from), &Target::To(given(to)), None, rules);
        let there = asked(first, second).map(|answer| answer.exposure_stops.get());
        let back = asked(second, first).map(|answer| answer.exposure_stops.get());
        match (there, back) {
            (Ok(there), Ok(back)) => assert!(there + back == 0.0, "{first:?} {second:?}: {there} and {back}"),
            (Err(there), Err(back)) => assert!(!there.is_empty() && !back.is_empty()),
            one => panic!("{first:?} {second:?} only one way: {one:?}"),
        }
        let _ = faults(Some(&given(first)), Some(&given(second)), None, rules);
    }
}

fn alone(text: &str) {
    for kind in Kind::ALL {
        let read = notation::read(kind, text);
        if let Ok(written) = &read {
            assert!(
                !written.number.is_nan() && !written.beyond_stops.is_nan(),
                "{kind:?} {text:?}: {written:?}"
            );
            // An exposure value may be below zero: a dark scene.
            assert!(kind == Kind::ExposureValue || written.number >= 0.0, "{kind:?} {text:?}: {written:?}");
        }
        // docs/values.md: upper and lower case make no difference.
        let large = notation::read(kind, &text.to_ascii_uppercase());
        assert_eq!(read.as_ref().ok(), large.as_ref().ok(), "{kind:?} {text:?}");
        if let Err(error) = read {
            let sentence = error.sentence();
            assert!(!sentence.text.is_empty() && !sentence.second.is_empty(), "{kind:?} {text:?}");
        }
    }
    let slow: Vec<Kind> = Kind::ALL.into_iter().filter(|&kind| notation::is_of(kind, text)).collect();
    let quick: Vec<Kind> = notation::kinds_of(text).collect();
    assert_eq!(slow, quick, "{text:?}: a shape shuts out a kind that can be read");
    let stops = notation::stops(text);
    assert!(stops.as_ref().is_ok_and(|stops| !stops.is_nan()) || stops.is_err(), "{text:?}");
    assert!(notation::named_stops(text).is_none() || stops.is_ok(), "{text:?}");
    let _ = (notation::bare_number(text), notation::likely_slip("a value", text));
    for scale in scales() {
        if let Ok(setting) = scale.setting(text) {
            let label = scale.label(setting);
            let again =
                scale.setting(&label).unwrap_or_else(|wrong| panic!("{text:?} is {label:?}: {wrong:?}"));
            // A label has as many digits as are engraved.
            assert!(
                (again.get() - setting.get()).abs() < 0.2,
                "{text:?} is {label:?}: {setting:?} {again:?}"
            );
        }
    }
}
