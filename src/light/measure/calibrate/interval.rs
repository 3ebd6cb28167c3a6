//! 95 % intervals of the line through the readings.
//!
//! The scatter of readings at one setting is roughly known in advance: a repeatability stated by the client, or an
//! assumed one. The scatter of the readings themselves counts for more as their number grows: with a scaled inverse
//! chi-squared prior for the variance, the interval is that of Student's t (textbook: the conjugate prior of a normal
//! variance). So a few readings that agree have an interval of tenths of a stop, and the interval of many readings
//! follows from their own scatter. Rounding to the last digit of the meter adds an error of up to half a digit, which
//! repeats do not show, so that no interval of the light is narrower than that. `tests/coverage.rs` measures how often
//! the intervals contain the true value.

use distrs::StudentsT;

use crate::light::{
    measure::calibrate::robust::{Line, by_setting, least_squares},
    quantity::{bounds, constants::REPEATABILITY},
};

/// The quantile of 97.5 % of the normal distribution (published; ISO 3534-1).
const NORMAL: f64 = 1.959_964;
/// The weight of the prior as a number of readings (degrees of freedom), if the repeatability is assumed or stated.
const ASSUMED_FREE: usize = 2;
const STATED_FREE: usize = 10;
/// The square root of the median of a scaled inverse chi-squared distribution with [`ASSUMED_FREE`] degrees of freedom,
/// divided by its scale, √(2/(2·ln 2)) (derived): half of all units repeat better than assumed.
const MEDIAN: f64 = 1.201_122_4;
/// The fewest settings from which deviations of the scale are estimated. Three settings would leave only one degree of
/// freedom.
const MIN_SETTINGS: usize = 4;
/// With this many degrees of freedom, the scatter of the readings also gives an interval without the prior, and the
/// wider of the two is used: a unit may scatter more than any assumed one.
const OWN_SCATTER_FREE: usize = 4;
/// Readings contradict each other if they scatter this many times as much as the assumed repeatability (our judgement).
const CONTRADICTION: f64 = 5.0;
/// With this many degrees of freedom or fewer, the readings cannot outvote a wrong one.
const FEW_FREE: usize = 3;
/// Two readings contradict a perfect scale if they are farther than this from it, stops; and the uncertainty of
/// tracking if it is not measured (our judgement).
const FAR_FROM_SCALE: f64 = 0.3;
const UNKNOWN_TRACKING: f64 = 0.1;
/// The 95 % half-width of a rectangular distribution, and its standard deviation, as fractions of its half-width.
const RECTANGULAR_HALF_WIDTH: f64 = 0.95;
const RECTANGULAR_SIGMA: f64 = 0.577_350_27;
/// The 95 % half-width of the difference of two rectangular distributions, as a multiple of the half-width of one:
/// 2·(1 - √0.05) (derived).
const TRIANGULAR_HALF_WIDTH: f64 = 1.552_786_4;
/// A reading this close to a mark of the meter counts as on it, stops.
const ON_MARK: f64 = 0.001;

/// The repeatability of a unit before any reading, as a 95 % half-width in stops.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Repeat {
    /// Stated by the client.
    Stated(f64),
    /// The usual repeatability of flash units.
    Assumed,
}

impl Repeat {
    /// The half-width, stops.
    pub const fn half(self) -> f64 {
        match self {
            Self::Stated(half) => half,
            Self::Assumed => REPEATABILITY,
        }
    }

    /// The prior: its degrees of freedom, and the scale of the standard deviation. A stated repeatability gives exactly
    /// the stated 95 % interval for one reading; the assumed one is met by half of all units.
    fn prior(self) -> Option<(usize, f64)> {
        Some(match self {
            Self::Stated(half) => (STATED_FREE, half / quantile(STATED_FREE)?),
            Self::Assumed => (ASSUMED_FREE, self.half() / NORMAL / MEDIAN),
        })
    }
}

/// The 95 % intervals of a line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ranges {
    /// The light at full power, stops.
    pub at_full: [f64; 2],
    /// The slope; `None` with only one setting.
    pub slope: Option<[f64; 2]>,
    /// By the scatter alone, half-widths of one reading and of the light at full power, stops.
    pub scatter: [f64; 2],
}

/// What readings say of single settings, as 95 % half-widths in stops.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OfSettings {
    /// Of the light at the setting with the fewest readings; `None` with only one setting.
    pub setting: Option<f64>,
    /// Of one flash beside another at one setting; `None` without repeats.
    pub repeat: Option<f64>,
}

/// One reading, or all readings of a setting together.
#[derive(Clone, Copy)]
struct Point {
    /// The residual: the distance from the line, stops.
    residual: f64,
    /// The weight of the reading in the light at full power and, below, in the slope (by least squares).
    at_full: f64,
    slope: f64,
    /// Number of readings.
    count: f64,
}

/// Readings and the line fitted to them.
struct FittedReadings {
    line: Line,
    /// Whether the slope was fitted; otherwise it is that of a perfect scale.
    has_slope: bool,
    readings: Vec<Point>,
    settings: Vec<Point>,
}

/// The half-width of a 95 % interval in standard errors: Student's t of 97.5 % for these degrees of freedom, or `None` for
/// 0.
fn quantile(free: usize) -> Option<f64> {
    (free > 0).then(|| StudentsT::ppf(0.975, free as f64))
}

/// Half-widths of intervals.
#[derive(Clone, Copy, Default)]
struct HalfWidths {
    at_full: f64,
    slope: f64,
}

impl HalfWidths {
    /// Adds the half-widths in quadrature.
    fn in_quadrature(self, other: Self) -> Self {
        Self { at_full: self.at_full.hypot(other.at_full), slope: self.slope.hypot(other.slope) }
    }

    /// The wider of the half-widths.
    fn widest(self, other: Self) -> Self {
        Self { at_full: self.at_full.max(other.at_full), slope: self.slope.max(other.slope) }
    }
}

/// The line of least squares, or with only one setting a perfect scale through its mean. The flag says whether the
/// slope was fitted.
pub fn fit_line(samples: &[[f64; 2]]) -> (Line, bool) {
    let offsets = samples.iter().map(|[set, light]| light - set).sum::<f64>();
    let true_scale = Line { slope: 1.0, intercept: offsets / samples.len() as f64 };
    least_squares(samples).map_or((true_scale, false), |line| (line, true))
}

impl FittedReadings {
    fn new(samples: &[[f64; 2]]) -> Self {
        let (line, has_slope) = fit_line(samples);
        let count = samples.len() as f64;
        let middle = samples.iter().map(|sample| sample[0]).sum::<f64>() / count;
        let squares: f64 = samples.iter().map(|sample| (sample[0] - middle).powi(2)).sum();
        let point = |&[x, y]: &[f64; 2]| {
            let slope = if has_slope { (x - middle) / squares } else { 0.0 };
            Point { residual: y - line.at(x), at_full: 1.0 / count - middle * slope, slope, count: 1.0 }
        };
        let readings: Vec<Point> = samples.iter().map(point).collect();
        let merge = |same: &Vec<[f64; 2]>| {
            let points: Vec<Point> = same.iter().map(point).collect();
            let sum = |of: fn(&Point) -> f64| points.iter().map(of).sum::<f64>();
            Point {
                residual: sum(|point| point.residual) / points.len() as f64,
                at_full: sum(|point| point.at_full),
                slope: sum(|point| point.slope),
                count: points.len() as f64,
            }
        };
        let settings = by_setting(samples).iter().map(merge).collect();
        Self { line, has_slope, readings, settings }
    }

    /// The number of fitted parameters.
    fn parameters(&self) -> usize {
        if self.has_slope { 2 } else { 1 }
    }

    /// The degrees of freedom of the readings.
    fn free(&self) -> usize {
        self.readings.len().saturating_sub(self.parameters())
    }
}

/// The half-widths of the line if each point is independently uncertain by `each`.
fn line_half_widths(points: &[Point], each: f64) -> HalfWidths {
    let root = |of: fn(&Point) -> f64| points.iter().map(|point| of(point).powi(2)).sum::<f64>().sqrt();
    HalfWidths { at_full: each * root(|point| point.at_full), slope: each * root(|point| point.slope) }
}

/// The sum of squared residuals, weighted by the number of readings.
fn squares(points: &[Point]) -> f64 {
    points.iter().map(|point| point.count * point.residual.powi(2)).sum()
}

/// The intervals of the line through `samples` (setting and light, stops) whose light may be rounded by `half_digit`.
/// `None` if they are too wide to be useful.
pub fn ranges(samples: &[[f64; 2]], repeat: Repeat, half_digit: f64) -> Option<Ranges> {
    let fitted = FittedReadings::new(samples);
    let (free, scale) = repeat.prior()?;
    let known = free as f64 * scale.powi(2);
    let each = of_one_reading((free, known), squares(&fitted.readings), fitted.free())?;
    let mut half_widths = line_half_widths(&fitted.readings, each);
    if let Some(each) = scale_deviation(&fitted, free, known) {
        half_widths = half_widths.widest(line_half_widths(&fitted.settings, each));
    }
    let scatter = [each, half_widths.at_full];
    let digit = digit_half_widths(&fitted, samples, half_digit);
    let HalfWidths { at_full, slope } = half_widths.in_quadrature(digit);
    let around = |value: f64, half: f64| [value - half, value + half];
    let mut at_full = around(fitted.line.at(0.0), at_full);
    let mut slopes = around(fitted.line.slope, slope);
    if is_contradictory(samples, &fitted, repeat) {
        // One reading may be wrong, and it is not known which. So the intervals include the result without each one.
        for left_out in 0..samples.len() {
            let mut others = samples.to_vec();
            others.remove(left_out);
            if others.is_empty() {
                continue;
            }
            let fitted = FittedReadings::new(&others);
            let middle = others.iter().map(|sample| sample[0]).sum::<f64>() / others.len() as f64;
            let tracking = if fitted.has_slope { 0.0 } else { UNKNOWN_TRACKING };
            let unknown_slope = HalfWidths { at_full: tracking * middle, slope: tracking };
            let half_widths = line_half_widths(&fitted.readings, repeat.half())
                .in_quadrature(unknown_slope)
                .in_quadrature(digit);
            let with = |range: [f64; 2], value: f64, half: f64| {
                [range[0].min(value - half), range[1].max(value + half)]
            };
            at_full = with(at_full, fitted.line.at(0.0), half_widths.at_full);
            slopes = with(slopes, fitted.line.slope, half_widths.slope);
        }
    }
    let limit = bounds::CORRECTION;
    let is_useful = |range: [f64; 2]| limit.check((range[1] - range[0]) / 2.0).is_ok();
    let slope = fitted.has_slope.then_some(slopes);
    (is_useful(at_full) && slope.is_none_or(is_useful)).then_some(Ranges { at_full, slope, scatter })
}

/// The half-width of one reading: by the degrees of freedom of the prior and what they know of the sum of squares, and
/// by the scatter of the readings with its own degrees of freedom.
fn of_one_reading((free, known): (usize, f64), scatter: f64, own_free: usize) -> Option<f64> {
    let all = free + own_free;
    let each = quantile(all)? * ((known + scatter) / all as f64).sqrt();
    if own_free < OWN_SCATTER_FREE {
        return Some(each);
    }
    Some(each.max(quantile(own_free)? * (scatter / own_free as f64).sqrt()))
}

/// What `samples` say of single settings and of the repeatability. It is known by the repeats at each setting; where
/// there are none, the light at a setting is known by the scatter about the line.
pub fn of_settings(samples: &[[f64; 2]], repeat: Repeat, half_digit: f64) -> Option<OfSettings> {
    let fitted = FittedReadings::new(samples);
    let (free, scale) = repeat.prior()?;
    let prior = (free, free as f64 * scale.powi(2));
    let repeats = fitted.readings.len() - fitted.settings.len();
    let all = squares(&fitted.readings);
    let each = if repeats > 0 {
        of_one_reading(prior, (all - squares(&fitted.settings)).max(0.0), repeats)?
    } else {
        of_one_reading(prior, all, fitted.free())?
    };
    let (digit, rounding) = (RECTANGULAR_HALF_WIDTH * half_digit, rounding(half_digit));
    let fewest = fitted.settings.iter().map(|point| point.count).fold(f64::INFINITY, f64::min);
    Some(OfSettings {
        setting: fitted.has_slope.then(|| (each / fewest.sqrt()).hypot(digit)),
        // Repeats scatter by the rounding too, and no less than it hides.
        repeat: (repeats > 0).then(|| (each.powi(2) - rounding.powi(2)).max(0.0).sqrt().max(digit)),
    })
}

/// The part of the rounding to the last digit in the half-width of a reading, among others (JCGM 100:2008, 4.3.7).
pub fn rounding(half_digit: f64) -> f64 {
    NORMAL * RECTANGULAR_SIGMA * half_digit
}

/// The uncertainty of a setting if settings deviate from the line by more than the scatter of their readings; otherwise
/// `None`, because the readings then give the better estimate. A stricter condition would miss deviations that widen
/// the interval, and no condition would widen it without reason (measured).
fn scale_deviation(fitted: &FittedReadings, free: usize, known: f64) -> Option<f64> {
    let (readings, settings) = (fitted.readings.len(), fitted.settings.len());
    if settings < MIN_SETTINGS || readings == settings {
        return None;
    }
    let between = squares(&fitted.settings);
    let within = (squares(&fitted.readings) - between).max(0.0);
    let free_between = settings - fitted.parameters();
    let mean_within = (known + within) / (free + readings - settings) as f64;
    if between / free_between as f64 <= mean_within {
        return None;
    }
    let residuals: f64 = fitted.settings.iter().map(|point| point.residual.powi(2)).sum();
    Some(quantile(free_between)? * (residuals / free_between as f64).sqrt())
}

/// The half-widths from rounding to the last digit of the meter. The rounding errors of different settings are taken as
/// independent. The result is at least the rounding of one reading for the light, because readings whole stops apart
/// are all rounded alike; and at least the rounding of the two end settings for the slope, because on a nearly perfect
/// scale each half of the readings is rounded alike.
fn digit_half_widths(fitted: &FittedReadings, samples: &[[f64; 2]], half_digit: f64) -> HalfWidths {
    let mut independent = line_half_widths(&fitted.settings, rounding(half_digit));
    // With one setting, or if one outweighs all others, the error is at most the rounding of that setting.
    let weights = fitted.settings.iter().map(|point| point.at_full.abs()).sum::<f64>();
    independent.at_full = independent.at_full.min(RECTANGULAR_HALF_WIDTH * half_digit * weights);
    let slope = if fitted.has_slope { TRIANGULAR_HALF_WIDTH * half_digit / span(samples) } else { 0.0 };
    independent.widest(HalfWidths { at_full: RECTANGULAR_HALF_WIDTH * half_digit, slope })
}

/// The distance from the lowest setting to the highest, stops.
fn span(samples: &[[f64; 2]]) -> f64 {
    let sets = || samples.iter().map(|sample| sample[0]);
    sets().fold(f64::NEG_INFINITY, f64::max) - sets().fold(f64::INFINITY, f64::min)
}

/// Whether a few readings contradict each other, or two readings contradict a perfect scale.
pub fn readings_disagree(samples: &[[f64; 2]], repeat: Repeat) -> bool {
    is_contradictory(samples, &FittedReadings::new(samples), repeat)
}

fn is_contradictory(samples: &[[f64; 2]], fitted: &FittedReadings, repeat: Repeat) -> bool {
    match fitted.free() {
        0 => fitted.has_slope && (fitted.line.slope - 1.0).abs() * span(samples) > FAR_FROM_SCALE,
        free if free <= FEW_FREE => {
            let usual = CONTRADICTION * repeat.half().max(REPEATABILITY) / NORMAL;
            squares(&fitted.readings) > free as f64 * usual.powi(2)
        }
        _ => false,
    }
}

/// Half of the last digit of the meter, inferred from the stops of the samples: a sixth if all are on thirds, else 0.05
/// if all are on tenths, else 0. Whole stops are on both and count as thirds.
pub fn half_digit(samples: &[[f64; 2]]) -> f64 {
    let all_on = |parts: f64| {
        samples.iter().all(|[_, stops]| (stops - (stops * parts).round() / parts).abs() < ON_MARK)
    };
    [3.0, 10.0].into_iter().find(|parts| all_on(*parts)).map_or(0.0, |parts| 0.5 / parts)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn half_of_the_last_digit() {
        let assert_half = |stops: [f64; 2], half: f64| {
            let found = half_digit(&stops.map(|stops| [0.0, stops]));
            assert!((found - half).abs() < 1e-12, "{stops:?}: {found}");
        };
        assert_half([8.0, 6.0], 1.0 / 6.0);
        assert_half([8.0, 20.0 / 3.0], 1.0 / 6.0);
        assert_half([8.1, 5.9996], 0.05);
        assert_half([8.1, 20.0 / 3.0], 0.0);
        assert_half([8.042, 6.0], 0.0);
    }

    fn half(range: [f64; 2]) -> f64 {
        (range[1] - range[0]) / 2.0
    }

    #[test]
    fn intervals_by_hand() {
        let ranges_of = |samples: &[[f64; 2]], repeat, digit| ranges(samples, repeat, digit).expect("known");
        let near =
            |found: f64, expected: f64| assert!((found - expected).abs() < 2e-4, "{found}, not {expected}");
        // One reading has the interval of the prior: as stated, or t of two degrees of freedom, 4.303, times
        // 0.06/1.96/1.2011. Quantiles of t: published.
        let before: f64 = 0.06 / 1.96 / 1.2011;
        let one = [[0.0, 8.0]];
        near(half(ranges_of(&one, Repeat::Stated(0.2), 0.0).at_full), 0.2);
        near(half(ranges_of(&one, Repeat::Assumed, 0.0).at_full), 4.303 * before);
        assert_eq!(ranges_of(&one, Repeat::Assumed, 0.0).slope, None);
        // Two readings of one setting, 0.1 apart: three degrees of freedom, 3.182.
        let two = [[0.0, 7.95], [0.0, 8.05]];
        let each = 3.182 * ((2.0 * before.powi(2) + 0.005) / 3.0).sqrt();
        near(half(ranges_of(&two, Repeat::Assumed, 0.0).at_full), each / 2_f64.sqrt());
        // The digit, added in quadrature: 95 % of half of it.
        near(half(ranges_of(&two, Repeat::Assumed, 0.05).at_full), (each / 2_f64.sqrt()).hypot(0.0475));
        // Settings 1 and 5 under full, twice each, 0.1 apart: four degrees of freedom, Σ(x - x̄)² = 16, x̄ = -3.
        let four = [[-1.0, 6.95], [-1.0, 7.05], [-5.0, 2.95], [-5.0, 3.05]];
        let each = 2.776 * ((2.0 * before.powi(2) + 0.01) / 4.0).sqrt();
        let found = ranges_of(&four, Repeat::Assumed, 0.0);
        near(half(found.slope.expect("a slope")), each / 4.0);
        near(half(found.at_full), each * (0.25_f64 + 9.0 / 16.0).sqrt());
        // The digit at each setting independently: the weights of the settings are ±1/4 in the slope, and 5/4 and -1/4
        // at full power, where the error is at most the sum of both.
        let digit = 1.96 * 0.05 / 3_f64.sqrt();
        let found = ranges_of(&four, Repeat::Assumed, 0.05);
        near(half(found.slope.expect("a slope")), (each / 4.0).hypot(digit * 0.125_f64.sqrt()));
        near(half(found.at_full), (each * (0.25_f64 + 9.0 / 16.0).sqrt()).hypot(0.0475 * 1.5));
    }

    #[test]
    fn three_readings_that_agree_are_known_to_tenths_of_a_stop() {
        // The wrong answer was -2.1 to +0.6.
        let found = ranges(&[[0.0, 8.0], [-1.0, 7.1], [-2.0, 6.0]], Repeat::Assumed, 0.05).expect("known");
        assert!(half(found.at_full) < 0.25, "{found:?}");
        // If readings contradict each other, either may be right, so that the interval includes both.
        let [low, high] = ranges(&[[0.0, 8.0], [0.0, 9.0]], Repeat::Assumed, 0.0).expect("known").at_full;
        assert!(low < 8.0 && high > 9.0 && high - low < 1.9, "{low} {high}");
    }

    #[test]
    fn quantiles_are_those_of_a_reference_library() {
        // scipy.stats.t.ppf(0.975, free), SciPy 1.17.1. The crate has Hill's approximation (ACM Algorithm 396).
        let expected = [
            (1, 12.706_205),
            (2, 4.302_653),
            (3, 3.182_446),
            (4, 2.776_445),
            (5, 2.570_582),
            (7, 2.364_624),
            (10, 2.228_139),
            (13, 2.160_369),
            (20, 2.085_963),
            (40, 2.021_075),
            (80, 1.990_063),
            (200, 1.971_896),
        ];
        for (free, expected) in expected {
            let found = quantile(free).expect("a quantile");
            assert!((found - expected).abs() < 1e-5, "{free}: {found}, not {expected}");
        }
        assert_eq!(quantile(0), None);
        assert!((quantile(1_000_000).expect("a quantile") - NORMAL).abs() < 1e-5);
    }
}
