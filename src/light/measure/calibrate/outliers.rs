//! Finds outliers: readings that the spread of the unit does not explain. Misfires are darker; a second light or a slip
//! of the pen may well be brighter.
//!
//! The farthest reading is left out first and the rest are judged again, so that one bad reading cannot make good ones
//! look bad. In the end every outlier is judged once more against the readings that were kept. All comparisons use
//! medians, which outliers hardly move.

use crate::light::{
    measure::calibrate::robust::{Line, mad_sigma, median, theil_sen},
    quantity::Stops,
};

/// A reading that was left out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outlier {
    /// The index of the reading, from 0.
    pub index: u32,
    /// The difference from the other readings.
    pub off_by_stops: Stops,
}

/// An outlier is this many standard deviations off, and at least [`LEAST_STOPS`].
const SIGMAS: f64 = 5.0;
/// Readings closer than this are never left out, stops: meters and clicks are no more precise (our judgement).
const LEAST_STOPS: f64 = 0.3;
/// The same limit for a setting with too few readings to outvote one, stops (our judgement): the scale of the unit may
/// deviate there. A setting whose median reading is farther than this from the line is taken for misfires.
const OFF_LINE: f64 = 0.75;
/// Of two readings at a setting, one can be the outlier if the other is closer than this to the line, stops (our
/// judgement).
const NEAR_LINE: f64 = 0.15;
/// The fitted line replaces the perfect scale only if its cost is lower by more than this. A reading far off the line
/// costs 1 (our judgement).
const REQUIRED_GAIN: f64 = 0.75;

/// For each this many readings, one more reading is left out per round.
const READINGS_PER_STEP: usize = 32;

/// The difference of a reading from the others, and the largest difference allowed, stops.
#[derive(Clone, Copy)]
struct Departure {
    off: f64,
    most: f64,
}

impl Departure {
    fn excess(self) -> f64 {
        self.off.abs() / self.most
    }
}

/// For each sample (setting and light, stops), its difference from the others if it is an outlier, or `None` if it is
/// kept.
///
/// Each light may be rounded by `half_digit`, so that a reading on the next mark is not an outlier.
pub fn outliers(all: &[[f64; 2]], half_digit: f64) -> Vec<Option<f64>> {
    let least = LEAST_STOPS.max(3.0 * half_digit);
    let mut is_out = vec![false; all.len()];
    // More than half of the readings must remain; and of two readings neither can be judged, since any two fit a line.
    let most = if all.len() > 2 { (all.len() - 1) / 2 } else { 0 };
    loop {
        let left = most - is_out.iter().filter(|is_out| **is_out).count();
        let judged = judge(all, &is_out, least);
        let mut far: Vec<usize> =
            (0..all.len()).filter(|&index| !is_out[index] && judged[index].excess() > 1.0).collect();
        far.sort_by(|&a, &b| judged[b].excess().total_cmp(&judged[a].excess()));
        // With many readings, several are left out per round, because each round fits a line to all pairs.
        far.truncate((1 + all.len() / READINGS_PER_STEP).min(left));
        if far.is_empty() {
            break;
        }
        for index in far {
            is_out[index] = true;
        }
    }
    if !is_out.contains(&true) {
        return vec![None; all.len()];
    }
    let judged = judge(all, &is_out, least);
    let outliers = is_out.iter().zip(judged);
    outliers
        .map(|(is_out, departure)| (*is_out && departure.excess() > 1.0).then_some(departure.off))
        .collect()
}

/// Judges each sample against those that are not left out.
fn judge(all: &[[f64; 2]], is_out: &[bool], least: f64) -> Vec<Departure> {
    let kept: Vec<[f64; 2]> =
        all.iter().zip(is_out).filter(|(_, is_out)| !**is_out).map(|(sample, _)| *sample).collect();
    let line = reference_line(&kept);
    let off: Vec<(f64, f64)> = all
        .iter()
        .zip(is_out)
        .map(|(sample, is_out)| difference(*sample, *is_out, (&kept, line), least))
        .collect();
    let spread: Vec<f64> =
        off.iter().zip(is_out).filter(|(_, is_out)| !**is_out).map(|((off, _), _)| *off).collect();
    let by_spread = SIGMAS * mad_sigma(&spread).unwrap_or(0.0);
    off.into_iter().map(|(off, least)| Departure { off, most: by_spread.max(least) }).collect()
}

/// The difference of a sample from the others, and the smallest difference that makes it an outlier.
fn difference(sample: [f64; 2], is_out: bool, (kept, line): (&[[f64; 2]], Line), least: f64) -> (f64, f64) {
    let same: Vec<f64> =
        kept.iter().filter(|other| (other[0] - sample[0]).abs() < 1e-9).map(|other| other[1]).collect();
    let by_line = sample[1] - line.at(sample[0]);
    let middle = median(&same).unwrap_or(sample[1]);
    let is_misfire = (middle - line.at(sample[0])).abs() > OFF_LINE;
    let votes = same.len() + usize::from(is_out);
    if votes >= 3 && !is_misfire {
        return (sample[1] - middle, least);
    }
    // With two readings at this setting: the other one, if it is different.
    let mut partner = same
        .iter()
        .map(|value| value - line.at(sample[0]))
        .filter(|off| is_out || (off - by_line).abs() > 1e-12);
    let is_contradicted = votes == 2
        && partner
            .next()
            .is_some_and(|off| off.abs() < NEAR_LINE && (off - by_line).abs() > 2_f64.sqrt() * least);
    (by_line, if is_contradicted { least } else { OFF_LINE })
}

/// The line that readings are judged by: a perfect scale, unless the fitted line is clearly better. An outlier among
/// few readings tilts the fitted line until good readings are off it, and scales are far more often accurate than not.
fn reference_line(kept: &[[f64; 2]]) -> Line {
    let offsets: Vec<f64> = kept.iter().map(|sample| sample[1] - sample[0]).collect();
    let true_scale = Line { slope: 1.0, intercept: median(&offsets).unwrap_or_default() };
    let Some(own) = theil_sen(kept) else { return true_scale };
    let cost = |line: Line| {
        let far = |sample: &[f64; 2]| ((sample[1] - line.at(sample[0])) / OFF_LINE).powi(2).min(1.0);
        kept.iter().map(far).sum::<f64>()
    };
    if cost(true_scale) <= cost(own) + REQUIRED_GAIN { true_scale } else { own }
}
