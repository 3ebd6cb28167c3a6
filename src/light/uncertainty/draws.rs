//! Draws of what is uncertain, for what the first order does not tell: quantiles of sums, and joint chances (JCGM 101:2008).
//!
//! The draws are those of a rank-1 lattice, which fills the space of the parts more evenly than random numbers do, with
//! shifts from a fixed seed: the same question has the same answer. Its multipliers were found component by component for
//! 4096 points (Korobov space of smoothness 1, product weights 0.9 to the power of the component; I. H. Sloan and
//! A. V. Reztsov's construction, from memory). The parts that matter most get the first of them; parts beyond the last one
//! are drawn in an order of their own (Latin hypercube).

use std::sync::LazyLock;

use distrs::Normal;

use crate::light::quantity::half_widths::SIGMAS;

/// The most draws.
const MOST: usize = 4096;
/// The least, for the largest sets.
const LEAST: usize = 2048;
/// Above so many lights times points there are fewer draws.
const MANY: usize = 24;

/// The multipliers of the lattice, the first for what matters most.
const MULTIPLIERS: [usize; 48] = [
    1, 1731, 985, 1869, 1467, 1683, 871, 563, 105, 453, 831, 571, 537, 165, 1185, 1719, 1105, 913, 505, 1537,
    475, 131, 1623, 837, 797, 191, 1083, 2043, 713, 387, 2009, 1321, 1609, 319, 1341, 1945, 1069, 1007, 247,
    381, 981, 91, 1785, 517, 1131, 437, 1405, 1319,
];

/// Quantiles of a normal distribution whose half-width is 1, rising, in the middles of equal parts of its mass.
fn quantiles(count: usize) -> Vec<f32> {
    let middle = |index: usize| (index as f64 + 0.5) / count as f64;
    (0..count).map(|index| (Normal::ppf(middle(index), 0.0, 1.0) / SIGMAS) as f32).collect()
}

static OF_MOST: LazyLock<Vec<f32>> = LazyLock::new(|| quantiles(MOST));
static OF_LEAST: LazyLock<Vec<f32>> = LazyLock::new(|| quantiles(LEAST));

/// Draws of normal distributions with a half-width of 1.
#[derive(Debug, Clone, Copy)]
pub struct Lattice {
    quantiles: &'static [f32],
}

impl Lattice {
    /// The draws for this many sums of light, each over one light at one point.
    pub fn for_pairs(pairs: usize) -> Self {
        Self { quantiles: if pairs > MANY { &OF_LEAST } else { &OF_MOST } }
    }

    /// How many draws there are.
    pub const fn count(self) -> usize {
        self.quantiles.len()
    }

    /// Adds a part with these half-widths, down and up, to each sum. The first parts are those that matter most.
    pub fn add(self, part: usize, sums: &mut [f32], [low, high]: [f64; 2]) {
        let (mask, seed) = (self.count() - 1, scrambled(part as u64 + 1));
        let (low, high) = (low as f32, high as f32);
        let add = |sum: &mut f32, place: usize| {
            let draw = self.quantiles[place & mask];
            *sum += draw.min(0.0) * low + draw.max(0.0) * high;
        };
        match MULTIPLIERS.get(part) {
            Some(multiplier) => {
                let mut place = seed as usize & mask;
                for sum in sums {
                    add(sum, place);
                    place = (place + multiplier) & mask;
                }
            }
            None => {
                for (index, sum) in sums.iter_mut().enumerate() {
                    add(sum, permuted(index, mask, seed));
                }
            }
        }
    }
}

/// A number of which each bit depends on all of another (the finisher of SplitMix64, public domain).
const fn scrambled(number: u64) -> u64 {
    let mut mixed = number.wrapping_mul(0x9E37_79B9_7F4A_7C15);
    mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    mixed ^ (mixed >> 31)
}

/// The place of an index in an order that a seed decides: each step has an inverse within the mask.
const fn permuted(index: usize, mask: usize, seed: u64) -> usize {
    let [first, second] = [(seed as usize) | 1, ((seed >> 32) as usize) | 1];
    let mut place = index.wrapping_mul(first).wrapping_add((seed >> 16) as usize) & mask;
    place ^= place >> 5;
    place = place.wrapping_mul(second) & mask;
    place ^= place >> 7;
    place.wrapping_mul(first ^ 0x5DEE_CE66) & mask
}

/// The 95 % ends of draws.
pub fn ends(mut draws: Vec<f32>) -> [f64; 2] {
    let tail = draws.len() / 40;
    let last = draws.len() - 1 - tail;
    let low = *draws.select_nth_unstable_by(tail, f32::total_cmp).1;
    [low, *draws.select_nth_unstable_by(last, f32::total_cmp).1].map(f64::from)
}

/// Steps of the table of [`below`] in a standard deviation, and how many standard deviations it has on each side.
const STEPS: usize = 128;
const SIDE: usize = 5;
static BELOW: LazyLock<Vec<f64>> = LazyLock::new(|| {
    let at = |step: usize| step as f64 / STEPS as f64 - SIDE as f64;
    (0..=2 * SIDE * STEPS + 1).map(|step| Normal::cdf(at(step), 0.0, 1.0)).collect()
});

/// The chance that a normal deviate is below a number of standard deviations, to 1e-5, by a table.
pub fn below(deviations: f64) -> f64 {
    let side = SIDE as f64;
    let place = (deviations.clamp(-side, side) + side) * STEPS as f64;
    let step = place as usize;
    let [from, to] = [BELOW[step], BELOW[step + 1]];
    // Faster than a fused operation where the processor is not known to have one.
    (place - step as f64) * (to - from) + from
}

/// 2 to the power of a number of stops, to 1e-6: in a loop several times as fast as the exact one.
#[inline]
pub fn exp2(stops: f32) -> f32 {
    // Adding it leaves a whole number in the last bits.
    const ROUNDING: f32 = 12_582_912.0;
    let whole = stops + ROUNDING;
    let rest = (stops - (whole - ROUNDING)) * std::f32::consts::LN_2;
    let terms = [1.0 / 720.0, 1.0 / 120.0, 1.0 / 24.0, 1.0 / 6.0, 0.5, 1.0, 1.0];
    let part: f32 = terms.iter().fold(0.0, |sum, term| sum * rest + term);
    f32::from_bits(part.to_bits().wrapping_add(whole.to_bits() << 23))
}

/// The logarithm to base 2 of a number above 0, to 1e-6: in a loop several times as fast as the exact one.
#[inline]
pub fn log2(number: f32) -> f32 {
    const MANTISSA: u32 = 0x007F_FFFF;
    let bits = number.to_bits();
    let exponent = (bits >> 23).cast_signed() - 127;
    let part = f32::from_bits((bits & MANTISSA) | 1.0_f32.to_bits());
    // log2(m) = 1/2 + 2/ln 2 · artanh((m - √2)/(m + √2)): the series of artanh is short, as its argument is below 0.172.
    let ratio = (part - std::f32::consts::SQRT_2) / (part + std::f32::consts::SQRT_2);
    let square = ratio * ratio;
    let terms = [1.0 / 9.0, 1.0 / 7.0, 1.0 / 5.0, 1.0 / 3.0, 1.0];
    let series: f32 = terms.iter().fold(0.0, |sum, term| sum * square + term);
    exponent as f32 + 0.5 + 2.0 * std::f32::consts::LOG2_E * ratio * series
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_fast_logarithm_is_that_of_the_standard_library() {
        for step in -6000_i16..6000 {
            let stops = f32::from(step) / 100.0;
            assert!((log2(stops.exp2()) - stops).abs() < 1e-5, "{stops}");
        }
    }

    #[test]
    fn the_fast_power_is_that_of_the_standard_library() {
        for step in -6000_i16..6000 {
            let stops = f32::from(step) / 100.0;
            assert!((exp2(stops) / stops.exp2() - 1.0).abs() < 2e-6, "{stops}");
        }
    }

    #[test]
    fn the_table_is_the_normal_distribution() {
        // Published: 0.025 and 0.975 at 1.95996 standard deviations either way.
        assert!((below(-1.959_96) - 0.025).abs() < 1e-5 && (below(1.959_96) - 0.975).abs() < 1e-5);
        assert!(below(-99.0) < 1e-6 && below(99.0) > 1.0 - 1e-6);
    }

    #[test]
    fn each_part_takes_each_quantile_once() {
        for pairs in [1, 2000] {
            let lattice = Lattice::for_pairs(pairs);
            for part in [0, 1, 47, 48, 49, 500] {
                let mut draws = vec![0.0; lattice.count()];
                lattice.add(part, &mut draws, [1.0; 2]);
                draws.sort_by(f32::total_cmp);
                assert_eq!(draws, lattice.quantiles, "{part}");
            }
        }
    }
}
