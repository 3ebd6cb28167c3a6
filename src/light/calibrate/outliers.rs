//! Readings that a unit of this spread would not give: lost pops are darker, a second light or a slip of the pen is
//! brighter as often as not.
//!
//! The farthest is left out first and the rest is judged anew, so that one reading far off cannot make good ones look
//! bad; in the end each is judged once more by what was kept. By medians, which the bad ones hardly move.

use super::robust::{Line, mad_sigma, median, theil_sen};
use crate::light::quantity::Stops;

/// A reading that was left out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outlier {
    /// Its place among the readings, from 0.
    pub index: u32,
    /// How far it is off the rest.
    pub off_by_stops: Stops,
}

/// An outlier is so many standard deviations off, and at least [`LEAST_STOPS`].
const SIGMAS: f64 = 5.0;
/// No reading nearer than this is left out, stops: meters and clicks are no better (our judgement).
const LEAST_STOPS: f64 = 0.3;
/// The same where a setting was not read often enough to outvote one: it may as well be a scale that strays, stops
/// (our judgement). A setting whose readings are, for the most part, farther than this from the line of all is taken
/// for lost pops.
const OFF_LINE: f64 = 0.75;
/// Of two readings at a setting one is the outlier where the other is so near the line, stops (our judgement).
const NEAR_LINE: f64 = 0.15;
/// How much better than a true scale another line must be to be believed, in readings far off (our judgement).
const TRUE_SCALE: f64 = 0.75;

/// Of so many readings one more is left out at a time.
const MANY: usize = 32;

/// How far a reading is off what the others say, and how far it may be.
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

/// How far each outlier among samples (setting and light, stops) is off the rest; none for those that are kept.
///
/// Each light may be rounded by `half_digit`: a reading on the next mark is no outlier.
pub fn outliers(all: &[[f64; 2]], half_digit: f64) -> Vec<Option<f64>> {
    let least = LEAST_STOPS.max(3.0 * half_digit);
    let mut is_out = vec![false; all.len()];
    // More than half agree, and two points make any line.
    let most = if all.len() > 2 { (all.len() - 1) / 2 } else { 0 };
    loop {
        let left = most - is_out.iter().filter(|is_out| **is_out).count();
        let judged = judged(all, &is_out, least);
        let mut far: Vec<usize> =
            (0..all.len()).filter(|&index| !is_out[index] && judged[index].excess() > 1.0).collect();
        far.sort_by(|&a, &b| judged[b].excess().total_cmp(&judged[a].excess()));
        // Of many readings a few at a time: each round costs a line through all pairs.
        far.truncate((1 + all.len() / MANY).min(left));
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
    let judged = judged(all, &is_out, least);
    let told = is_out.iter().zip(judged);
    told.map(|(is_out, departure)| (*is_out && departure.excess() > 1.0).then_some(departure.off)).collect()
}

/// Each sample by those that are not out.
fn judged(all: &[[f64; 2]], is_out: &[bool], least: f64) -> Vec<Departure> {
    let kept: Vec<[f64; 2]> =
        all.iter().zip(is_out).filter(|(_, is_out)| !**is_out).map(|(sample, _)| *sample).collect();
    let line = believed(&kept);
    let off: Vec<(f64, f64)> =
        all.iter().zip(is_out).map(|(sample, is_out)| off(*sample, *is_out, (&kept, line), least)).collect();
    let spread: Vec<f64> =
        off.iter().zip(is_out).filter(|(_, is_out)| !**is_out).map(|((off, _), _)| *off).collect();
    let by_spread = SIGMAS * mad_sigma(&spread).unwrap_or(0.0);
    off.into_iter().map(|(off, least)| Departure { off, most: by_spread.max(least) }).collect()
}

/// How far a sample is off, and the least that it must be to be an outlier.
fn off(sample: [f64; 2], is_out: bool, (kept, line): (&[[f64; 2]], Line), least: f64) -> (f64, f64) {
    let same: Vec<f64> =
        kept.iter().filter(|other| (other[0] - sample[0]).abs() < 1e-9).map(|other| other[1]).collect();
    let by_line = sample[1] - line.at(sample[0]);
    let middle = median(&same).unwrap_or(sample[1]);
    let is_lost = (middle - line.at(sample[0])).abs() > OFF_LINE;
    let votes = same.len() + usize::from(is_out);
    if votes >= 3 && !is_lost {
        return (sample[1] - middle, least);
    }
    // The other of two.
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

/// The line that readings are judged by: that of a true scale, unless theirs is clearly better. An outlier among few
/// bends their line until good readings are off it; scales are far more often true than bent.
fn believed(kept: &[[f64; 2]]) -> Line {
    let rests: Vec<f64> = kept.iter().map(|sample| sample[1] - sample[0]).collect();
    let true_scale = Line { slope: 1.0, intercept: median(&rests).unwrap_or_default() };
    let Some(own) = theil_sen(kept) else { return true_scale };
    let cost = |line: Line| {
        let far = |sample: &[f64; 2]| ((sample[1] - line.at(sample[0])) / OFF_LINE).powi(2).min(1.0);
        kept.iter().map(far).sum::<f64>()
    };
    if cost(true_scale) <= cost(own) + TRUE_SCALE { true_scale } else { own }
}
