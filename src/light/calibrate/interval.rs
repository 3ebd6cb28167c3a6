//! How far a line through readings may be off, with 95 %.
//!
//! Student's t on the readings' distances from their line, as of least squares (any textbook), widened by what
//! medians know less than means. A meter's last digit hides up to half of itself, which no repeat shows: readings
//! a whole stop apart are all rounded alike. `tests/coverage.rs` measures how often all this holds.

use std::f64::consts::{FRAC_PI_2, FRAC_PI_3};

use super::{
    by_setting,
    robust::Line,
    student::{NORMAL, quantile},
};
use crate::light::bounds;

/// What the variance of a median is to that of a mean, and of a slope by Theil and Sen to one by least squares, where
/// scatter is normal and readings are many (Sen 1968 has the latter; of few the simulation found less).
const OF_MEDIAN: f64 = FRAC_PI_2;
const OF_SLOPE: f64 = FRAC_PI_3;
/// From so many settings on, their own distances from the line tell of a scale that strays. Of three they would tell
/// next to nothing: one degree of freedom.
const SETTINGS: usize = 4;
/// What is on a meter's mark to so little, stops.
const ON_MARK: f64 = 0.001;

/// How far to either side a line may be off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Halves {
    /// At full power, stops.
    pub at_full: f64,
    /// In its slope.
    pub slope: f64,
}

/// A reading, or a setting's readings together.
#[derive(Clone, Copy)]
struct Point {
    /// Its distance from the line, stops.
    rest: f64,
    /// How much of it goes into the line's level amid the readings, and into its slope (by least squares).
    level: f64,
    slope: f64,
}

/// How far the line through `samples` (setting and light, stops) may be off, where each light may be rounded by
/// `half_digit`. Of one setting its slope is given, not known. None where there are no more readings than the line
/// wants, or where they tell nothing.
pub fn halves(samples: &[[f64; 2]], line: Line, half_digit: f64) -> Option<Halves> {
    let count = samples.len() as f64;
    let sets = || samples.iter().map(|sample| sample[0]);
    let (least, most) = sets().fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), x| (a.min(x), b.max(x)));
    let has_slope = most - least > 1e-9;
    let middle = sets().sum::<f64>() / count;
    let squares: f64 = sets().map(|x| (x - middle).powi(2)).sum();
    let point = |[x, y]: [f64; 2]| Point {
        rest: y - line.at(x),
        level: 1.0 / count,
        slope: if has_slope { (x - middle) / squares } else { 0.0 },
    };
    let points = |samples: &[[f64; 2]]| samples.iter().copied().map(point).collect::<Vec<Point>>();
    let readings = points(samples);
    let settings: Vec<Point> = by_setting(samples).iter().map(|same| together(&points(same))).collect();

    // What is taken from full power to amid the readings hangs on the slope.
    let reach = if has_slope { middle } else { 0.0 };
    let wanted = if has_slope { 2 } else { 1 };
    // Readings that agree to the digit may still scatter by half of it.
    let each = off(&readings, wanted)?.max(NORMAL * half_digit);
    let mut halves = of_line(&readings, each, reach);
    if settings.len() >= SETTINGS
        && let Some(each) = off(&settings, wanted)
    {
        let by_setting = of_line(&settings, each, reach);
        halves.at_full = halves.at_full.max(by_setting.at_full);
        halves.slope = halves.slope.max(by_setting.slope);
    }

    // Both ends of the line half a digit off, in opposite ways.
    let by_digit = if has_slope { 2.0 * half_digit / (most - least) } else { 0.0 };
    halves.at_full += half_digit - most.min(0.0) * by_digit;
    halves.slope = halves.slope.max(by_digit);
    let widest = bounds::CORRECTION;
    let is_told = widest.check(halves.at_full).is_ok() && widest.check(halves.slope).is_ok();
    is_told.then_some(halves)
}

fn together(readings: &[Point]) -> Point {
    let sum = |of: fn(&Point) -> f64| readings.iter().map(of).sum::<f64>();
    Point {
        rest: sum(|point| point.rest) / readings.len() as f64,
        level: sum(|point| point.level),
        slope: sum(|point| point.slope),
    }
}

/// How far one point may be off, by the distances of all from a line that wants so many of them.
fn off(points: &[Point], wanted: usize) -> Option<f64> {
    let free = points.len().checked_sub(wanted)?;
    let squares: f64 = points.iter().map(|point| point.rest.powi(2)).sum();
    Some(quantile(free)? * (squares / free as f64).sqrt())
}

/// How far the line may be off where each point may by `each`, independently.
fn of_line(points: &[Point], each: f64, reach: f64) -> Halves {
    let root = |of: &dyn Fn(&Point) -> f64| points.iter().map(|point| of(point).powi(2)).sum::<f64>().sqrt();
    let (level, slope) = (OF_MEDIAN.sqrt(), OF_SLOPE.sqrt());
    Halves {
        at_full: each * root(&|point| level * point.level - reach * slope * point.slope),
        slope: each * root(&|point| slope * point.slope),
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

    #[test]
    fn intervals_by_hand() {
        let line = Line { slope: 1.0, intercept: 8.0 };
        // Two readings of one setting, 0.1 apart: 12.706 · 0.0707 / √2 · √(π/2).
        let halves_of = |samples: &[[f64; 2]], digit| halves(samples, line, digit).expect("known");
        let two = [[0.0, 7.95], [0.0, 8.05]];
        let spread = 12.706 * 0.05 * (std::f64::consts::PI / 2.0).sqrt();
        assert!((halves_of(&two, 0.0).at_full - spread).abs() < 1e-9);
        assert!((halves_of(&two, 0.05).at_full - spread - 0.05).abs() < 1e-9);
        // Settings 1 and 5 under full, twice each, 0.1 apart: s² = 4·0.05²/2, df = 2, Σ(x - x̄)² = 16.
        let four = [[-1.0, 6.95], [-1.0, 7.05], [-5.0, 2.95], [-5.0, 3.05]];
        let found = halves_of(&four, 0.0);
        let (scatter, third) = (4.303 * 0.005_f64.sqrt(), std::f64::consts::PI / 3.0);
        assert!((found.slope - scatter * (third / 16.0).sqrt()).abs() < 1e-9);
        let at_full = scatter * (1.5 * third / 4.0 + third * 9.0 / 16.0).sqrt();
        assert!((found.at_full - at_full).abs() < 1e-9);
        // Half a digit at both ends, four stops apart: 0.025 a stop, and as much more a stop away from them.
        let found = halves_of(&four, 0.05);
        assert!((found.at_full - at_full - 0.05 - 0.025).abs() < 1e-9);
        // As many readings as a line wants tell nothing of how far it is off.
        assert_eq!(halves(&[[0.0, 8.0]], line, 0.05), None);
        assert_eq!(halves(&[[0.0, 8.0], [-1.0, 7.0]], line, 0.05), None);
    }
}
