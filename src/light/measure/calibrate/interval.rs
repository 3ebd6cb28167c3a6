//! How far a line through readings may be off, with 95 %.
//!
//! What scatter readings of one setting have is known beforehand, roughly: a repeatability that the caller states, or
//! one that is assumed. The readings' own scatter adds to that as they grow more: with a scaled inverse chi-squared
//! distribution for what is known of the variance, the line's ends are those of Student's t (textbook: the conjugate
//! prior of a normal variance). A few readings that agree so have an interval of tenths of a stop, and many one that
//! is theirs. A meter's last digit hides up to half of itself, which no repeat shows, so that no interval of the light
//! is narrower. `tests/coverage.rs` measures how often all this holds.

use crate::light::{
    measure::calibrate::{
        robust::{Line, by_setting, least_squares},
        student::{NORMAL, quantile},
    },
    quantity::{bounds, constants::REPEATABILITY},
};

/// What an assumed repeatability counts for, in readings; what a stated one does.
const ASSUMED_FREE: usize = 2;
const STATED_FREE: usize = 10;
/// The square root of the median of a scaled inverse chi-squared distribution with [`ASSUMED_FREE`] degrees of freedom
/// over its scale, √(2/(2·ln 2)) (derived): half of all units repeat better than assumed.
const MEDIAN: f64 = 1.201_122_4;
/// From so many settings on, their own distances from the line tell of a scale that strays. Of three they would tell
/// next to nothing: one degree of freedom.
const SETTINGS: usize = 4;
/// From so many more than a line wants on, readings tell their scatter by themselves, and the wider of both holds: a
/// unit may scatter more than any that is assumed.
const ENOUGH: usize = 4;
/// Readings disagree where they scatter so many times as much as units do that are assumed (our judgement).
const DISAGREE: f64 = 5.0;
/// As few as so many more than a line wants cannot outvote one that is wrong.
const FEW: usize = 3;
/// Two readings far from a true scale, stops, and how truly scales track where nothing tells (our judgement).
const FAR: f64 = 0.3;
const TRACKS: f64 = 0.1;
/// The part of a rectangular distribution's half that holds 95 %; and its standard deviation over its half.
const RECTANGULAR: f64 = 0.95;
const RECTANGULAR_SIGMA: f64 = 0.577_350_27;
/// The same part of the difference of two such, over the half of one: 2·(1 - √0.05) (derived).
const TRIANGULAR: f64 = 1.552_786_4;
/// What is on a meter's mark to so little, stops.
const ON_MARK: f64 = 0.001;

/// How well a unit repeats, beforehand: a half-width of 95 %, stops.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Repeat {
    /// By the caller.
    Stated(f64),
    /// As flash units usually do.
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

    /// Degrees of freedom, and the scale of the standard deviation. What is stated holds by itself with 95 %; what is
    /// assumed is what half of all units keep to.
    fn before(self) -> Option<(usize, f64)> {
        Some(match self {
            Self::Stated(half) => (STATED_FREE, half / quantile(STATED_FREE)?),
            Self::Assumed => (ASSUMED_FREE, self.half() / NORMAL / MEDIAN),
        })
    }
}

/// Where a line may lie.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ranges {
    /// At full power, stops.
    pub at_full: [f64; 2],
    /// Its slope; none of one setting.
    pub slope: Option<[f64; 2]>,
}

/// A reading, or a setting's readings together.
#[derive(Clone, Copy)]
struct Point {
    /// Its distance from the line, stops.
    rest: f64,
    /// How much of it goes into the line at full power, and into its slope (by least squares).
    at_full: f64,
    slope: f64,
    /// Readings.
    count: f64,
}

/// Readings and their line.
struct Laid {
    line: Line,
    /// Whether its slope is the readings'; else it is a true scale's.
    has_slope: bool,
    readings: Vec<Point>,
    settings: Vec<Point>,
}

/// How far to either side.
#[derive(Clone, Copy, Default)]
struct Halves {
    at_full: f64,
    slope: f64,
}

impl Halves {
    /// Both by squares.
    fn and(self, other: Self) -> Self {
        Self { at_full: self.at_full.hypot(other.at_full), slope: self.slope.hypot(other.slope) }
    }

    /// The wider.
    fn or(self, other: Self) -> Self {
        Self { at_full: self.at_full.max(other.at_full), slope: self.slope.max(other.slope) }
    }
}

/// The line of least squares; of one setting a true scale's through its mean. Whether the slope is the readings'.
pub fn line_of(samples: &[[f64; 2]]) -> (Line, bool) {
    let rests = samples.iter().map(|[set, light]| light - set).sum::<f64>();
    let true_scale = Line { slope: 1.0, intercept: rests / samples.len() as f64 };
    least_squares(samples).map_or((true_scale, false), |line| (line, true))
}

impl Laid {
    fn of(samples: &[[f64; 2]]) -> Self {
        let (line, has_slope) = line_of(samples);
        let count = samples.len() as f64;
        let middle = samples.iter().map(|sample| sample[0]).sum::<f64>() / count;
        let squares: f64 = samples.iter().map(|sample| (sample[0] - middle).powi(2)).sum();
        let point = |&[x, y]: &[f64; 2]| {
            let slope = if has_slope { (x - middle) / squares } else { 0.0 };
            Point { rest: y - line.at(x), at_full: 1.0 / count - middle * slope, slope, count: 1.0 }
        };
        let readings: Vec<Point> = samples.iter().map(point).collect();
        let together = |same: &Vec<[f64; 2]>| {
            let points: Vec<Point> = same.iter().map(point).collect();
            let sum = |of: fn(&Point) -> f64| points.iter().map(of).sum::<f64>();
            Point {
                rest: sum(|point| point.rest) / points.len() as f64,
                at_full: sum(|point| point.at_full),
                slope: sum(|point| point.slope),
                count: points.len() as f64,
            }
        };
        let settings = by_setting(samples).iter().map(together).collect();
        Self { line, has_slope, readings, settings }
    }

    /// What a line wants.
    fn wanted(&self) -> usize {
        if self.has_slope { 2 } else { 1 }
    }

    /// Readings beyond that.
    fn free(&self) -> usize {
        self.readings.len().saturating_sub(self.wanted())
    }
}

/// How far the line is off where each point may be by `each`, independently.
fn of_line(points: &[Point], each: f64) -> Halves {
    let root = |of: fn(&Point) -> f64| points.iter().map(|point| of(point).powi(2)).sum::<f64>().sqrt();
    Halves { at_full: each * root(|point| point.at_full), slope: each * root(|point| point.slope) }
}

fn squares(points: &[Point]) -> f64 {
    points.iter().map(|point| point.count * point.rest.powi(2)).sum()
}

/// Where the line through `samples` (setting and light, stops) may lie, where each light may be rounded by
/// `half_digit`. None where the readings tell nothing.
pub fn ranges(samples: &[[f64; 2]], repeat: Repeat, half_digit: f64) -> Option<Ranges> {
    let laid = Laid::of(samples);
    let (free, before) = repeat.before()?;
    let all = free + laid.free();
    let known = free as f64 * before.powi(2);
    let scatter = squares(&laid.readings);
    let mut each = quantile(all)? * ((known + scatter) / all as f64).sqrt();
    if laid.free() >= ENOUGH {
        each = each.max(quantile(laid.free())? * (scatter / laid.free() as f64).sqrt());
    }
    let mut halves = of_line(&laid.readings, each);
    if let Some(each) = strays(&laid, free, known) {
        halves = halves.or(of_line(&laid.settings, each));
    }
    let digit = by_digit(&laid, samples, half_digit);
    let Halves { at_full, slope } = halves.and(digit);
    let around = |value: f64, half: f64| [value - half, value + half];
    let mut at_full = around(laid.line.at(0.0), at_full);
    let mut slopes = around(laid.line.slope, slope);
    if disagree(samples, &laid, repeat) {
        // One of them may be wrong, and nothing tells which: whatever the others say may be true.
        for left_out in 0..samples.len() {
            let mut others = samples.to_vec();
            others.remove(left_out);
            if others.is_empty() {
                continue;
            }
            let laid = Laid::of(&others);
            let middle = others.iter().map(|sample| sample[0]).sum::<f64>() / others.len() as f64;
            let tracks = if laid.has_slope { 0.0 } else { TRACKS };
            let untold = Halves { at_full: tracks * middle, slope: tracks };
            let halves = of_line(&laid.readings, repeat.half()).and(untold).and(digit);
            let with = |range: [f64; 2], value: f64, half: f64| {
                [range[0].min(value - half), range[1].max(value + half)]
            };
            at_full = with(at_full, laid.line.at(0.0), halves.at_full);
            slopes = with(slopes, laid.line.slope, halves.slope);
        }
    }
    let widest = bounds::CORRECTION;
    let is_told = |range: [f64; 2]| widest.check((range[1] - range[0]) / 2.0).is_ok();
    let slope = laid.has_slope.then_some(slopes);
    (is_told(at_full) && slope.is_none_or(is_told)).then_some(Ranges { at_full, slope })
}

/// How far a setting may be off where settings stray from the line more than their readings scatter. Where they do not,
/// the readings tell more: a higher bar would miss strays that widen the interval, none would widen it for nothing
/// (measured).
fn strays(laid: &Laid, free: usize, known: f64) -> Option<f64> {
    let (readings, settings) = (laid.readings.len(), laid.settings.len());
    if settings < SETTINGS || readings == settings {
        return None;
    }
    let between = squares(&laid.settings);
    let within = (squares(&laid.readings) - between).max(0.0);
    let free_between = settings - laid.wanted();
    let mean_within = (known + within) / (free + readings - settings) as f64;
    if between / free_between as f64 <= mean_within {
        return None;
    }
    let rests: f64 = laid.settings.iter().map(|point| point.rest.powi(2)).sum();
    Some(quantile(free_between)? * (rests / free_between as f64).sqrt())
}

/// What the meter's digit hides: of settings read apart, each by itself; at least that of one reading, for readings a
/// whole stop apart are all rounded alike, and that of both ends, for those of a scale that is nearly true are rounded
/// alike by halves.
fn by_digit(laid: &Laid, samples: &[[f64; 2]], half_digit: f64) -> Halves {
    let mut apart = of_line(&laid.settings, NORMAL * RECTANGULAR_SIGMA * half_digit);
    // Of one setting, or where one outweighs all others, it is no more than that setting's.
    let parts = laid.settings.iter().map(|point| point.at_full.abs()).sum::<f64>();
    apart.at_full = apart.at_full.min(RECTANGULAR * half_digit * parts);
    let slope = if laid.has_slope { TRIANGULAR * half_digit / span(samples) } else { 0.0 };
    apart.or(Halves { at_full: RECTANGULAR * half_digit, slope })
}

/// From the lowest setting to the highest, stops.
fn span(samples: &[[f64; 2]]) -> f64 {
    let sets = || samples.iter().map(|sample| sample[0]);
    sets().fold(f64::NEG_INFINITY, f64::max) - sets().fold(f64::INFINITY, f64::min)
}

/// Whether readings that are few contradict each other, or two contradict a true scale.
pub fn disagree_at(samples: &[[f64; 2]], repeat: Repeat) -> bool {
    disagree(samples, &Laid::of(samples), repeat)
}

fn disagree(samples: &[[f64; 2]], laid: &Laid, repeat: Repeat) -> bool {
    match laid.free() {
        0 => laid.has_slope && (laid.line.slope - 1.0).abs() * span(samples) > FAR,
        free if free <= FEW => {
            let usual = DISAGREE * repeat.half().max(REPEATABILITY) / NORMAL;
            squares(&laid.readings) > free as f64 * usual.powi(2)
        }
        _ => false,
    }
}

/// Half of the last digit of the meter that gave these samples' stops: of thirds where all stand on them, else of
/// tenths; nothing where they stand on neither. Whole stops stand on both, and may be thirds.
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
        let is = |stops: [f64; 2], half: f64| {
            let found = half_digit(&stops.map(|stops| [0.0, stops]));
            assert!((found - half).abs() < 1e-12, "{stops:?}: {found}");
        };
        is([8.0, 6.0], 1.0 / 6.0);
        is([8.0, 20.0 / 3.0], 1.0 / 6.0);
        is([8.1, 5.9996], 0.05);
        is([8.1, 20.0 / 3.0], 0.0);
        is([8.042, 6.0], 0.0);
    }

    fn half(range: [f64; 2]) -> f64 {
        (range[1] - range[0]) / 2.0
    }

    #[test]
    fn intervals_by_hand() {
        let of = |samples: &[[f64; 2]], repeat, digit| ranges(samples, repeat, digit).expect("known");
        let near = |found: f64, told: f64| assert!((found - told).abs() < 2e-4, "{found}, not {told}");
        // One reading is what is known beforehand: as stated, or t of two degrees of freedom, 4.303, times
        // 0.06/1.96/1.2011. Quantiles of t: published.
        let before: f64 = 0.06 / 1.96 / 1.2011;
        let one = [[0.0, 8.0]];
        near(half(of(&one, Repeat::Stated(0.2), 0.0).at_full), 0.2);
        near(half(of(&one, Repeat::Assumed, 0.0).at_full), 4.303 * before);
        assert_eq!(of(&one, Repeat::Assumed, 0.0).slope, None);
        // Two of one setting, 0.1 apart: three degrees of freedom, 3.182.
        let two = [[0.0, 7.95], [0.0, 8.05]];
        let each = 3.182 * ((2.0 * before.powi(2) + 0.005) / 3.0).sqrt();
        near(half(of(&two, Repeat::Assumed, 0.0).at_full), each / 2_f64.sqrt());
        // The digit by squares: 95 % of half of it.
        near(half(of(&two, Repeat::Assumed, 0.05).at_full), (each / 2_f64.sqrt()).hypot(0.0475));
        // Settings 1 and 5 under full, twice each, 0.1 apart: four degrees of freedom, Σ(x - x̄)² = 16, x̄ = -3.
        let four = [[-1.0, 6.95], [-1.0, 7.05], [-5.0, 2.95], [-5.0, 3.05]];
        let each = 2.776 * ((2.0 * before.powi(2) + 0.01) / 4.0).sqrt();
        let found = of(&four, Repeat::Assumed, 0.0);
        near(half(found.slope.expect("a slope")), each / 4.0);
        near(half(found.at_full), each * (0.25_f64 + 9.0 / 16.0).sqrt());
        // Its digit at each setting by itself: their parts in the slope are ±1/4; in full power they are 5/4 and -1/4, and
        // no more than all of both.
        let digit = 1.96 * 0.05 / 3_f64.sqrt();
        let found = of(&four, Repeat::Assumed, 0.05);
        near(half(found.slope.expect("a slope")), (each / 4.0).hypot(digit * 0.125_f64.sqrt()));
        near(half(found.at_full), (each * (0.25_f64 + 9.0 / 16.0).sqrt()).hypot(0.0475 * 1.5));
    }

    #[test]
    fn three_readings_that_agree_are_known_to_tenths_of_a_stop() {
        // The faulty answer was -2.1 to +0.6.
        let found = ranges(&[[0.0, 8.0], [-1.0, 7.1], [-2.0, 6.0]], Repeat::Assumed, 0.05).expect("known");
        assert!(half(found.at_full) < 0.25, "{found:?}");
        // Readings that contradict each other are all believed: either may be the one that is right.
        let [low, high] = ranges(&[[0.0, 8.0], [0.0, 9.0]], Repeat::Assumed, 0.0).expect("known").at_full;
        assert!(low < 8.0 && high > 9.0 && high - low < 1.9, "{low} {high}");
    }
}
