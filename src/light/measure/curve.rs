//! Monotone interpolation: a piecewise cubic through points, by Fritsch and Carlson (1980).
//!
//! The slopes are the weighted harmonic means of Fritsch and Butland (1984), with three-point ends, as in PCHIP of the
//! SLATEC library and in SciPy. Such slopes always meet the monotonicity conditions of 1980.

/// A rising curve through two or more points.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    points: Vec<[f64; 2]>,
    slopes: Vec<f64>,
}

impl Curve {
    /// The curve through `points`, or `None` if there are fewer than two, if x does not rise, or if y falls.
    ///
    /// ```
    /// use stopwright::light::measure::curve::Curve;
    /// let curve = Curve::through(vec![[0.0, 0.0], [1.0, 1.0], [2.0, 2.0]]).unwrap();
    /// assert!((curve.at(1.5) - 1.5).abs() < 1e-12);
    /// ```
    pub fn through(points: Vec<[f64; 2]>) -> Option<Self> {
        let rises = points.windows(2).all(|pair| pair[0][0] < pair[1][0] && pair[0][1] <= pair[1][1]);
        (points.len() >= 2 && rises).then(|| Self { slopes: slopes(&points), points })
    }

    /// The points.
    pub fn points(&self) -> &[[f64; 2]] {
        &self.points
    }

    /// Whether `x` lies within the points.
    pub fn holds(&self, x: f64) -> bool {
        (self.points[0][0]..=self.points[self.points.len() - 1][0]).contains(&x)
    }

    /// y at `x`; beyond the points, extrapolated in a straight line.
    pub fn at(&self, x: f64) -> f64 {
        let last = self.points.len() - 1;
        let ([first_x, first_y], [last_x, last_y]) = (self.points[0], self.points[last]);
        if x <= first_x {
            return first_y + self.slopes[0] * (x - first_x);
        }
        if x >= last_x {
            return last_y + self.slopes[last] * (x - last_x);
        }
        let (from, t, h) = self.find_piece(x);
        let ([_, y0], [_, y1]) = (self.points[from], self.points[from + 1]);
        let (d0, d1) = (self.slopes[from] * h, self.slopes[from + 1] * h);
        let (t2, t3) = (t * t, t * t * t);
        // The cubic Hermite form.
        (2.0 * t3 - 3.0 * t2 + 1.0) * y0
            + (t3 - 2.0 * t2 + t) * d0
            + (3.0 * t2 - 2.0 * t3) * y1
            + (t3 - t2) * d1
    }

    /// x at `y`, the inverse of [`Self::at`]; the end of the curve if it does not rise there.
    pub fn x_at(&self, y: f64) -> f64 {
        let last = self.points.len() - 1;
        let ([first_x, first_y], [last_x, last_y]) = (self.points[0], self.points[last]);
        let beyond = |x: f64, rise: f64, slope: f64| if slope > 0.0 { x + rise / slope } else { x };
        if y <= first_y {
            return beyond(first_x, y - first_y, self.slopes[0]);
        }
        if y >= last_y {
            return beyond(last_x, y - last_y, self.slopes[last]);
        }
        let (mut low, mut high) = (first_x, last_x);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if self.at(middle) < y {
                low = middle;
            } else {
                high = middle;
            }
        }
        0.5 * (low + high)
    }

    /// dy/dx at `x`.
    pub fn slope(&self, x: f64) -> f64 {
        let last = self.points.len() - 1;
        if x <= self.points[0][0] {
            return self.slopes[0];
        }
        if x >= self.points[last][0] {
            return self.slopes[last];
        }
        let (from, t, h) = self.find_piece(x);
        let rise = (self.points[from + 1][1] - self.points[from][1]) / h;
        let (d0, d1) = (self.slopes[from], self.slopes[from + 1]);
        6.0 * t * (1.0 - t) * rise + (1.0 - 4.0 * t + 3.0 * t * t) * d0 + (3.0 * t * t - 2.0 * t) * d1
    }

    /// The piece that contains `x`: the index of its first point, the position of `x` in it from 0 to 1, and its width.
    fn find_piece(&self, x: f64) -> (usize, f64, f64) {
        let after = self.points.partition_point(|point| point[0] <= x).clamp(1, self.points.len() - 1);
        let h = self.points[after][0] - self.points[after - 1][0];
        (after - 1, (x - self.points[after - 1][0]) / h, h)
    }
}

fn slopes(points: &[[f64; 2]]) -> Vec<f64> {
    let widths: Vec<f64> = points.windows(2).map(|pair| pair[1][0] - pair[0][0]).collect();
    let rises: Vec<f64> =
        points.windows(2).zip(&widths).map(|(pair, h)| (pair[1][1] - pair[0][1]) / h).collect();
    let pieces = rises.len();
    if pieces == 1 {
        return vec![rises[0]; 2];
    }
    let inner = (1..pieces).map(|k| {
        let (before, after) = (rises[k - 1], rises[k]);
        if before * after <= 0.0 {
            return 0.0;
        }
        let (w1, w2) = (2.0 * widths[k] + widths[k - 1], widths[k] + 2.0 * widths[k - 1]);
        (w1 + w2) / (w1 / before + w2 / after)
    });
    let first = end_slope(widths[0], widths[1], rises[0], rises[1]);
    let last = end_slope(widths[pieces - 1], widths[pieces - 2], rises[pieces - 1], rises[pieces - 2]);
    std::iter::once(first).chain(inner).chain([last]).collect()
}

/// The slope at an end from three points, limited so that the curve stays monotone.
fn end_slope(h0: f64, h1: f64, rise0: f64, rise1: f64) -> f64 {
    let slope = ((2.0 * h0 + h1) * rise0 - h0 * rise1) / (h0 + h1);
    if slope * rise0 <= 0.0 {
        0.0
    } else if rise0 * rise1 <= 0.0 && slope.abs() > 3.0 * rise0.abs() {
        3.0 * rise0
    } else {
        slope
    }
}
