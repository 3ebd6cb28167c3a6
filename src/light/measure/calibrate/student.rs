//! Student's t: the half-width of a 95 % interval in standard errors.
//!
//! A table and no crate: exact quantiles differ from the published ones in the fourth decimal, which shows in the last
//! digit of answers.

/// Degrees of freedom, and the quantile of 97.5 % (published; as in the NIST/SEMATECH e-Handbook, 1.3.6.7.2).
const TABLE: [(usize, f64); 16] = [
    (1, 12.706),
    (2, 4.303),
    (3, 3.182),
    (4, 2.776),
    (5, 2.571),
    (6, 2.447),
    (7, 2.365),
    (8, 2.306),
    (9, 2.262),
    (10, 2.228),
    (12, 2.179),
    (15, 2.131),
    (20, 2.086),
    (30, 2.042),
    (60, 2.000),
    (120, 1.980),
];
/// The quantile of 97.5 % of the normal distribution, the limit for many degrees of freedom.
pub const NORMAL: f64 = 1.960;

/// The quantile of 97.5 % for `free` degrees of freedom, or `None` for 0. Between rows of the table it is interpolated
/// linearly in the reciprocal of the degrees of freedom, which is correct to a thousandth.
pub fn quantile(free: usize) -> Option<f64> {
    let (below, value_below) = TABLE.iter().copied().rfind(|(row, _)| *row <= free)?;
    let above = TABLE.iter().copied().find(|(row, _)| *row > free);
    let (end, limit) = above.map_or((0.0, NORMAL), |(row, value)| (1.0 / row as f64, value));
    let fraction = (1.0 / free as f64 - end) / (1.0 / below as f64 - end);
    Some(limit + fraction * (value_below - limit))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_are_those_of_a_reference_library() {
        // scipy.stats.t.ppf(0.975, free), SciPy 1.17.1.
        let expected = [
            (1, 12.706_205),
            (2, 4.302_653),
            (3, 3.182_446),
            (4, 2.776_445),
            (5, 2.570_582),
            (6, 2.446_912),
            (7, 2.364_624),
            (8, 2.306_004),
            (9, 2.262_157),
            (10, 2.228_139),
            (11, 2.200_985),
            (12, 2.178_813),
            (13, 2.160_369),
            (14, 2.144_787),
            (15, 2.131_450),
            (17, 2.109_816),
            (20, 2.085_963),
            (25, 2.059_539),
            (30, 2.042_272),
            (40, 2.021_075),
            (60, 2.000_298),
            (80, 1.990_063),
            (120, 1.979_930),
            (200, 1.971_896),
        ];
        for (free, expected) in expected {
            let found = quantile(free).expect("a quantile");
            assert!((found - expected).abs() < 0.001, "{free}: {found}, not {expected}");
        }
        assert_eq!(quantile(0), None);
    }
}
