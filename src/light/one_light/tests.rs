//! Checks against the guide number and the inverse-square law.

use crate::light::{
    one_light::{Known, OneLightQuestion, Solved, solve},
    quantity::{FNumber, GuideMetres, Iso, Metres, Stops, rules::Rules},
    set::{
        lens::Lens,
        limits::Limits,
        placement::{Source, Sure},
    },
    unit::{Unit, shutter::Shutter},
};

fn question(guide: f64) -> OneLightQuestion {
    OneLightQuestion {
        unit: Unit { guide_number: Some(GuideMetres::new_unchecked(guide)), ..Unit::unknown() },
        known: Known::Rated { by_guide_alone: true },
        below: None,
        distance: None,
        sure: Sure::default(),
        f_number: None,
        iso: Iso::BASE,
        modifier: None,
        source: None,
        filters: Vec::new(),
        lens: Lens::default(),
        pops: 1,
        shutter: Shutter::default(),
        limits: Limits::default(),
        rules: Rules::default(),
    }
}

fn metres(value: f64) -> Metres {
    Metres::new_unchecked(value)
}

fn f(value: f64) -> FNumber {
    FNumber::new_unchecked(value)
}

// GN = N·d (ISO 1230).
#[test]
fn each_of_three_follows_from_the_others() {
    let aperture =
        solve(&OneLightQuestion { distance: Some(metres(5.0)), ..question(40.0) }).expect("an answer");
    assert_eq!(aperture.solved_for, Some(Solved::FNumber));
    assert!((aperture.f_number.value.get() - 8.0).abs() < 1e-9);
    let distance = solve(&OneLightQuestion { f_number: Some(f(4.0)), ..question(40.0) }).expect("an answer");
    assert!((distance.distance_m.expect("a distance").get() - 10.0).abs() < 1e-9);
    // f/4 at 5 m is two stops below full power.
    let both = OneLightQuestion { distance: Some(metres(5.0)), f_number: Some(f(4.0)), ..question(40.0) };
    let setting = solve(&both).expect("an answer");
    assert!((setting.setting.expect("a setting").stops_below_full.get() - 2.0).abs() < 1e-9);
    let all = OneLightQuestion { below: Some(Stops::new_unchecked(1.0)), ..both };
    let error = solve(&all).expect("an answer");
    assert_eq!(error.solved_for, None);
    assert!((error.error_stops.get() - 1.0).abs() < 1e-9 && !error.feasible);
}

// A disc of radius R gives 1/(1 + (R/d)²) of the inverse-square law (Siegel & Howell).
#[test]
fn a_metered_face_is_moved_as_a_face() {
    let disc = Source::Disc { diameter: Metres::new_unchecked(1.0) };
    let known = Known::Metered {
        f_number: f(8.0),
        distance: Some(metres(2.0)),
        below: None,
        sure: Sure::default(),
        plus_minus: None,
    };
    let moved = OneLightQuestion { known, source: Some(disc), distance: Some(metres(1.0)), ..question(40.0) };
    let answer = solve(&moved).expect("an answer");
    let ratio = (4.0 + 0.25) / (1.0 + 0.25_f64);
    assert!((answer.f_number.value.get() - 8.0 * ratio.sqrt()).abs() < 1e-9);
    // And back: where it gives that aperture.
    let back = OneLightQuestion { distance: None, f_number: Some(f(8.0 * ratio.sqrt())), ..moved };
    assert!((solve(&back).expect("an answer").distance_m.expect("a distance").get() - 1.0).abs() < 1e-9);
}

// What is dialled, and sent back, is off by what was told: each mark has its own error.
#[test]
fn a_mark_counts_with_its_own_correction() {
    let lens = |stops: f64| Lens {
        mark_corrections: vec![(f(8.0), Stops::new_unchecked(stops))],
        ..Lens::default()
    };
    // By hand: GN 40 at 5 m is f/8. f/8 with its +0.2 is nearer than f/9 and f/7.1, a third off; with +0.5 it is not, and
    // the darker one is taken.
    for (stops, mark, set, off) in [(0.2, "f/8", 8.0, 0.2), (0.5, "f/9", (19.0_f64 / 6.0).exp2(), -1.0 / 3.0)]
    {
        let asked = OneLightQuestion { distance: Some(metres(5.0)), lens: lens(stops), ..question(40.0) };
        let found = solve(&asked).expect("an answer").f_number;
        assert!((found.value.get() - 8.0).abs() < 1e-9);
        assert_eq!(found.mark.as_deref(), Some(mark));
        assert!((found.off_by_stops.expect("a mark").get() - off).abs() < 1e-9);
        let back = OneLightQuestion { f_number: Some(f(set)), below: Some(Stops::ZERO), ..asked };
        assert!((solve(&back).expect("an answer").error_stops.get() - off).abs() < 1e-9);
    }
}
