//! Student's t: how many standard errors reach to either side to hold 95 %.

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
/// The same of the normal distribution, which it comes to.
pub const NORMAL: f64 = 1.960;

/// The quantile of 97.5 % with so many degrees of freedom, straight in their reciprocal between rows of the table,
/// which is right to a thousandth. Nothing is known without any.
pub fn quantile(free: usize) -> Option<f64> {
    let (below, at) = TABLE.iter().copied().rfind(|(row, _)| *row <= free)?;
    let above = TABLE.iter().copied().find(|(row, _)| *row > free);
    let (end, limit) = above.map_or((0.0, NORMAL), |(row, value)| (1.0 / row as f64, value));
    let part = (1.0 / free as f64 - end) / (1.0 / below as f64 - end);
    Some(limit + part * (at - limit))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_are_those_of_a_reference_library() {
        // scipy.stats.t.ppf(0.975, free), SciPy 1.17.1.
        let told = [
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
        for (free, told) in told {
            let found = quantile(free).expect("a quantile");
            assert!((found - told).abs() < 0.001, "{free}: {found}, not {told}");
        }
        assert_eq!(quantile(0), None);
    }
}
