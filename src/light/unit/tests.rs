//! Settings for a required light, checked against an exhaustive search.

use crate::light::unit::{
    scale::{Grid, Style},
    *,
};

fn unit(scale: Scale, corrections: Vec<[f64; 2]>) -> Unit {
    Unit { energy: Some(Joules::new_unchecked(400.0)), scale, corrections, ..Unit::unknown() }
}

/// Uniform pseudo-random numbers from a seed.
struct Noise(u64);

impl Noise {
    fn within(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        low + (high - low) * (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Corrections at random clicks of a dial of seven stops; the light may fall faster than the scale, or even rise.
    fn corrections(&mut self) -> Vec<[f64; 2]> {
        let mut rows = Vec::new();
        for click in 0..=70 {
            if self.within(0.0, 1.0) < 0.1 {
                rows.push([f64::from(click) / 10.0, self.within(-0.6, 0.6)]);
            }
        }
        rows
    }
}

#[test]
fn a_setting_for_a_light_gives_that_light() {
    let mut noise = Noise(11);
    for _ in 0..500 {
        let corrections = noise.corrections();
        let dial = Scale::new(Style::Dial { full: 9.0, least: 2.0 }, Grid::Click(0.1)).expect("a scale");
        for unit in [unit(dial, corrections.clone()), unit(Scale::continuous(), corrections)] {
            let below = noise.within(-2.0, 10.0);
            let setting = unit.setting_for(below);
            assert!((unit.below(Stops::new_unchecked(setting)) - below).abs() < 1e-9, "{below}: {unit:?}");
            // No setting of lower power on the scale gives the same light.
            let range = unit.scale.range().get();
            let from = setting.max(0.0) + 1e-6;
            let less = |k: u32| {
                unit.below(Stops::new_unchecked(from + (range - from) * f64::from(k) / 500.0)) - below
            };
            let is_passed = |k: u32| less(k) * less(k + 1) < 0.0;
            assert!(from > range || !(0..500).any(is_passed), "{below} at {setting}: {unit:?}");
        }
    }
}

#[test]
fn no_setting_is_nearer_than_the_nearest() {
    let mut noise = Noise(12);
    for _ in 0..200 {
        let corrections = noise.corrections();
        let dial = Scale::new(Style::Dial { full: 9.0, least: 2.0 }, Grid::Click(0.1)).expect("a scale");
        for (unit, fine) in
            [(unit(dial, corrections.clone()), 70), (unit(Scale::continuous(), corrections), 4000)]
        {
            let range = unit.scale.range().get();
            let lights: Vec<f64> = (0..=fine)
                .map(|k| unit.below(Stops::new_unchecked(range * f64::from(k) / f64::from(fine))))
                .collect();
            let below = noise.within(-2.0, 10.0);
            let least = lights.iter().map(|light| (light - below).abs()).fold(f64::INFINITY, f64::min);
            let off = (unit.below(unit.nearest(below)) - below).abs();
            assert!(off <= least + 1e-9, "{below}: {off}, {least}: {unit:?}");
            let [most, darkest] = unit.ends().map(|end| unit.below(end));
            assert!(lights.iter().all(|light| (most - 1e-9..=darkest + 1e-9).contains(light)), "{unit:?}");
        }
    }
}

#[test]
fn ties_go_to_the_darker_and_then_to_the_lower_power() {
    let dial = Scale::new(Style::Dial { full: 9.0, least: 6.0 }, Grid::Click(1.0)).expect("a scale");
    // The light is 0, 2, 1, 3 stops under full; 1.5 is as far from 1 as from 2.
    let swapped = unit(dial.clone(), vec![[1.0, -1.0], [2.0, 1.0], [3.0, 0.0]]);
    assert_eq!(swapped.nearest(1.5), Stops::new_unchecked(1.0));
    // The light is 0, 1, 1, 3 stops under full: of two equal settings the lower power, and of a constant stretch its end.
    let alike = unit(dial, vec![[1.0, 0.0], [2.0, 1.0], [3.0, 0.0]]);
    assert_eq!(alike.nearest(1.0), Stops::new_unchecked(2.0));
    assert!((alike.setting_for(1.0) - 2.0).abs() < 1e-12);
}
