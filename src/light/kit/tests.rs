//! The quick check whether a unit reaches, against the one by its setting.

use proptest::prelude::*;

use crate::light::{
    kit::{
        fit::{fit, reaches},
        *,
    },
    unit::{
        Unit,
        scale::{Grid, Scale, Style},
    },
};

proptest! {
    #[test]
    fn the_quick_check_agrees_with_the_nearest_setting(headroom in -3.0..12.0_f64, click in 1..10_u32, style in 0..4_u32) {
        let click = Grid::Click(f64::from(click) / 10.0);
        let scale = match style {
            0 => Ok(Scale::continuous()),
            1 => Scale::new(Style::Dial { full: 9.0, least: 2.0 }, click),
            2 => Scale::new(Style::Fraction { least: 1.0 / 128.0 }, click),
            _ => Scale::new(Style::Percent { least: 5.0 }, Grid::Linear(5.0)),
        };
        // A click that does not divide the range is refused; this test skips it.
        if let Ok(scale) = scale {
            let unit = Unit { scale, ..Unit::unknown() };
            let kit = KitUnit { name: "head".to_owned(), id: None, unit, entry: 0 };
            for headroom in [headroom, headroom.round(), (headroom * 6.0).round() / 6.0] {
                prop_assert_eq!(reaches(&kit, headroom), fit(&kit, headroom).reached, "{}", headroom);
            }
        }
    }
}
