//! Round trips of labels, ties and ranges.

#![expect(clippy::float_cmp, reason = "settings are exact on these grids")]

use proptest::prelude::*;

use crate::light::unit::scale::*;

fn scale(style: Style, grid: Grid) -> Scale {
    match Scale::new(style, grid) {
        Ok(scale) => scale,
        Err(wrong) => panic!("{wrong:?}"),
    }
}

fn set(scale: &Scale, label: &str) -> f64 {
    match scale.setting(label) {
        Ok(below) => below.get(),
        Err(wrong) => panic!("{label}: {wrong:?}"),
    }
}

#[test]
fn a_dial_runs_down_or_up() {
    let down = scale(Style::Dial { full: 9.0, least: 2.0 }, Grid::Click(0.1));
    assert_eq!(down.settings().len(), 71);
    assert!((set(&down, "7.3") - 1.7).abs() < 1e-9);
    let up = scale(Style::Dial { full: 0.0, least: 6.0 }, Grid::Click(0.1));
    assert!((set(&up, "1.7") - 1.7).abs() < 1e-9);
    assert_eq!(up.label(Stops::new_unchecked(1.7)), "1.7");
    assert!(up.setting("-1").is_err(), "beyond full");
}

#[test]
fn thirds_are_printed_as_tenths() {
    // Common practice: 0.3 and 0.7 on a scale with third-stop clicks mean 1/3 and 2/3.
    let thirds = scale(Style::Fraction { least: 1.0 / 128.0 }, Grid::Click(1.0 / 3.0));
    assert!((set(&thirds, "1/4 +0.3") - 5.0 / 3.0).abs() < 1e-9);
    assert!((set(&thirds, "1/4 + 1/3") - 5.0 / 3.0).abs() < 1e-9);
    assert!((set(&thirds, "1/4 +0.7") - 4.0 / 3.0).abs() < 1e-9);
    assert!((set(&thirds, "1/2 -0.3") - 4.0 / 3.0).abs() < 1e-9);
    assert_eq!(thirds.label(Stops::new_unchecked(4.0 / 3.0)), "1/4 +0.7");
    assert!(thirds.setting("1/4 +0.5").is_err(), "half way between two clicks");
}

#[test]
fn each_style_has_its_notation() {
    let fraction = scale(Style::Fraction { least: 1.0 / 128.0 }, Grid::Click(0.1));
    assert_eq!(fraction.label(Stops::new_unchecked(1.7)), "1/4 +0.3");
    let percent = scale(Style::Percent { least: 5.0 }, Grid::Click(0.1));
    assert_eq!(percent.label(Stops::new_unchecked(1.7)), "31 %");
    let joules = scale(Style::Joules { full: 600.0, least: 9.4 }, Grid::Click(0.1));
    assert_eq!(joules.label(Stops::new_unchecked(1.7)), "185 J");
    assert_eq!(set(&joules, "-2 stops"), 2.0);
    assert_eq!(set(&percent, "full"), 0.0);
}

#[test]
fn linear_steps_count_down_from_full() {
    let percent = scale(Style::Percent { least: 5.0 }, Grid::Linear(10.0));
    // 100, 90, … 10, and the least setting, 5.
    assert_eq!(percent.settings().len(), 11);
    assert!((set(&percent, "50 %") - 1.0).abs() < 1e-9);
    assert!((set(&percent, "5 %") - 20_f64.log2()).abs() < 1e-9);
    assert!(percent.setting("45 %").is_err());
    let joules = scale(Style::Joules { full: 500.0, least: 7.0 }, Grid::Linear(1.0));
    assert!((set(&joules, "250 J") - 1.0).abs() < 1e-9);
}

#[test]
fn the_least_setting_is_always_on_the_grid() {
    let scale = scale(Style::Joules { full: 600.0, least: 9.4 }, Grid::Click(1.0));
    assert_eq!(scale.label(scale.nearest(Stops::new_unchecked(20.0))), "9.4 J");
    assert!((scale.range().get() - (600.0_f64 / 9.4).log2()).abs() < 1e-12);
}

#[test]
fn a_least_setting_is_not_printed_as_zero() {
    let scale = scale(Style::Joules { full: 10.0, least: 0.03 }, Grid::Linear(0.5));
    assert_eq!(scale.label(scale.range()), "0.03 J");
    assert!((set(&scale, "0.03 J") - scale.range().get()).abs() < 1e-9);
}

#[test]
fn a_least_setting_between_two_clicks_keeps_its_own_label() {
    let scale = scale(Style::Fraction { least: 1.0 / 50.0 }, Grid::Click(0.1));
    assert_eq!(scale.label(scale.range()), "1/50");
    assert_eq!(scale.label(Stops::new_unchecked(5.6)), "1/64 +0.4");
    assert!((set(&scale, "1/50") - 50_f64.log2()).abs() < 1e-9);
}

#[test]
fn ties_go_to_the_lower_power() {
    let scale = scale(Style::Dial { full: 9.0, least: 2.0 }, Grid::Click(1.0));
    assert_eq!(scale.nearest(Stops::new_unchecked(2.5)).get(), 3.0);
    assert_eq!(scale.nearest(Stops::new_unchecked(2.4)).get(), 2.0);
    assert_eq!(scale.nearest(Stops::new_unchecked(-1.0)).get(), 0.0);
}

#[test]
fn an_impossible_scale_is_rejected() {
    assert!(Scale::new(Style::Dial { full: 9.0, least: 9.0 }, Grid::Click(0.1)).is_err());
    assert!(Scale::new(Style::Dial { full: 90.0, least: 2.0 }, Grid::Click(0.1)).is_err());
    assert!(Scale::new(Style::Joules { full: 1e5, least: 10.0 }, Grid::Linear(0.01)).is_err());
}

fn any_scale() -> impl Strategy<Value = Scale> {
    let click = prop_oneof![Just(0.05), Just(0.1), Just(0.2), Just(1.0 / 3.0), Just(0.5), Just(1.0)];
    let style = prop_oneof![
        (-5.0..12.0_f64, 1.0..10.0_f64, any::<bool>()).prop_map(|(full, range, up)| {
            let full = (full * 2.0).round() / 2.0;
            let range = range.round();
            Style::Dial { full, least: if up { full + range } else { full - range } }
        }),
        (1..10_i32).prop_map(|n| Style::Fraction { least: (-f64::from(n)).exp2() }),
        // A least setting between two clicks.
        (2..900_i32).prop_map(|denominator| Style::Fraction { least: 1.0 / f64::from(denominator) }),
        (0.4..9.0_f64).prop_map(|range| Style::Fraction { least: (-range).exp2() }),
        (1.0..9.0_f64).prop_map(|range| Style::Dial { full: 9.0, least: 9.0 - range }),
        (1.0..50.0_f64).prop_map(|least| Style::Percent { least }),
        (10.0..3000.0_f64, 1.5..9.0_f64)
            .prop_map(|(full, range)| Style::Joules { full, least: full / range.exp2() }),
    ];
    let linear = (0.5..20.0_f64).prop_map(Grid::Linear);
    (style, prop_oneof![3 => click.prop_map(Grid::Click), 1 => linear]).prop_filter_map(
        "a linear grid goes with linear labels",
        |(style, grid)| match (style, grid) {
            (Style::Dial { .. } | Style::Fraction { .. }, Grid::Linear(_)) => None,
            _ => Scale::new(style, grid).ok(),
        },
    )
}

proptest! {
    #[test]
    fn every_label_leads_back_to_its_setting(scale in any_scale()) {
        for &below in scale.settings() {
            let label = scale.label(Stops::new_unchecked(below));
            let back = scale.setting(&label).map(Stops::get);
            prop_assert!(back.as_ref().is_ok_and(|back| (back - below).abs() < 1e-9), "{label}: {below} {back:?} of {scale:?}");
        }
    }

    #[test]
    fn no_setting_is_nearer_than_the_nearest(scale in any_scale(), below in -2.0..14.0_f64) {
        let nearest = scale.nearest(Stops::new_unchecked(below)).get();
        for &setting in scale.settings() {
            let (off, least) = ((setting - below).abs(), (nearest - below).abs());
            prop_assert!(off >= least - 1e-9);
            if (off - least).abs() < 1e-12 {
                prop_assert!(setting <= nearest + 1e-9, "ties go to the lower power");
            }
        }
    }
}
