//! Fitting lines to points: robustly by medians (Theil and Sen), and by least squares.

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

/// The median, or `None` of an empty slice. Uses selection instead of sorting, because the line of Theil and Sen has
/// many slopes.
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

/// The standard deviation estimated from the median absolute deviation of residuals (around 0): 1.4826 · MAD.
pub fn mad_sigma(residuals: &[f64]) -> Option<f64> {
    let absolute: Vec<f64> = residuals.iter().map(|residual| residual.abs()).collect();
    median(&absolute).map(|mad| 1.4826 * mad)
}

/// The line of Theil and Sen: the median of all slopes between points of different x, and the median of y - slope·x (as
/// in Conover). `None` if all x are equal.
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
    let intercepts: Vec<f64> = points.iter().map(|point| point[1] - slope * point[0]).collect();
    Some(Line { slope, intercept: median(&intercepts)? })
}

/// The line of least squares. `None` if all x are equal.
pub fn least_squares(points: &[[f64; 2]]) -> Option<Line> {
    let count = points.len() as f64;
    let [x, y] = [0, 1].map(|axis| points.iter().map(|point| point[axis]).sum::<f64>() / count);
    let squares: f64 = points.iter().map(|point| (point[0] - x).powi(2)).sum();
    (squares > 1e-9).then(|| {
        let slope = points.iter().map(|point| (point[0] - x) * (point[1] - y)).sum::<f64>() / squares;
        Line { slope, intercept: y - slope * x }
    })
}

/// Groups samples by setting, from full power down.
pub fn by_setting(samples: &[[f64; 2]]) -> Vec<Vec<[f64; 2]>> {
    let mut sorted = samples.to_vec();
    sorted.sort_by(|a, b| b[0].total_cmp(&a[0]));
    sorted.chunk_by(|a, b| (a[0] - b[0]).abs() < 1e-9).map(<[_]>::to_vec).collect()
}
