//! Robust estimates: medians, the line of Theil and Sen, a random source with a fixed seed.

/// A straight line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// dy/dx.
    pub slope: f64,
    /// y at 0.
    pub intercept: f64,
}

impl Line {
    /// y at `x`.
    pub fn at(self, x: f64) -> f64 {
        self.intercept + self.slope * x
    }
}

/// The part of sorted values below which `part` of them lie, straight between two of them.
pub fn quantile(values: &[f64], part: f64) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let last = sorted.len().checked_sub(1)?;
    let at = part * last as f64;
    let (before, after) = (at.floor() as usize, at.ceil() as usize);
    Some(sorted[before] + (sorted[after] - sorted[before]) * (at - before as f64))
}

/// The median; none of nothing. By selection, not sorting: the line's slopes are many.
pub fn median(values: &[f64]) -> Option<f64> {
    let mut values = values.to_vec();
    let middle = values.len() / 2;
    if values.is_empty() {
        return None;
    }
    let (lower, upper, _) = values.select_nth_unstable_by(middle, f64::total_cmp);
    let upper = *upper;
    let even = lower.len() == middle && values.len().is_multiple_of(2);
    let lower = values[..middle].iter().copied().max_by(f64::total_cmp);
    Some(match lower {
        Some(lower) if even => 0.5 * (lower + upper),
        _ => upper,
    })
}

/// A standard deviation by the median absolute deviation of residuals (around 0): 1.4826 · MAD.
pub fn mad_sigma(residuals: &[f64]) -> Option<f64> {
    let absolute: Vec<f64> = residuals.iter().map(|residual| residual.abs()).collect();
    median(&absolute).map(|mad| 1.4826 * mad)
}

/// The line through points by Theil and Sen: the median of all slopes between points of different x, and the
/// median of y - slope·x (as in Conover). None where all x are the same.
pub fn theil_sen(points: &[[f64; 2]]) -> Option<Line> {
    let mut slopes = Vec::new();
    for (index, a) in points.iter().enumerate() {
        for b in &points[index + 1..] {
            if (a[0] - b[0]).abs() > 1e-9 {
                slopes.push((a[1] - b[1]) / (a[0] - b[0]));
            }
        }
    }
    let slope = median(&slopes)?;
    let rests: Vec<f64> = points.iter().map(|point| point[1] - slope * point[0]).collect();
    Some(Line { slope, intercept: median(&rests)? })
}

/// SplitMix64 (public domain algorithm), always from the same seed: the same request has the same answer.
pub struct Random(u64);

impl Random {
    /// From the seed.
    pub const fn new() -> Self {
        Self(0x5107_9121)
    }

    /// A whole number under `end`.
    pub fn below(&mut self, end: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 33) as usize % end.max(1)
    }
}
