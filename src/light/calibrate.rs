//! What a unit really gives at each setting: a robust line through metered light, and the corrected unit.
//!
//! Measured stops against set stops: slope and level by Theil and Sen (Theil 1950, Sen 1968: the median of
//! all slopes between pairs, then the median of what is left), which a few misfires do not move. Misfires are
//! readings far outside the spread of the rest, judged by the median absolute deviation (1.4826 · MAD
//! estimates a standard deviation, textbook). Intervals by bootstrap (Efron 1979) with a fixed seed.

mod robust;

use serde::Serialize;
use utoipa::ToSchema;

use self::robust::{Line, Random, mad_sigma, median, quantile, theil_sen};
use super::{
    constants::FOOT_M,
    fault::{Fault, Place, Wrong},
    placement::beam_at_full,
    quantity::{GuideFeet, GuideMetres, Iso, Metres, Stops},
    remark::Remark,
    unit::{Unit, UnitObject},
};

/// Resamples of the bootstrap.
const RESAMPLES: usize = 400;
/// A misfire is so many standard deviations off, and at least [`MISFIRE_STOPS`].
const MISFIRE_SIGMAS: f64 = 5.0;
/// A setting whose readings are, for the most part, farther than this from the line of all, stops, is taken
/// for lost pops, not for a scale that strays (our judgement).
const OFF_LINE: f64 = 0.75;
/// No reading nearer than this is called a misfire, stops: meters and clicks are no better (our judgement).
const MISFIRE_STOPS: f64 = 0.3;

/// One reading.
#[derive(Debug, Clone, PartialEq)]
pub struct Sample {
    /// The setting, stops below full.
    pub below: Stops,
    /// The light, stops: of N², or of a patch by a response.
    pub stops: f64,
}

/// What is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// The unit as it is rated.
    pub unit: Unit,
    /// The readings.
    pub samples: Vec<Sample>,
    /// Whether the light is that of a meter (N²), not only of a patch against others.
    pub metered: bool,
    /// How far the meter stood.
    pub distance: Option<Metres>,
    /// The ISO speed of the meter.
    pub iso: Iso,
    /// Whether a level lies beyond its response.
    pub extrapolated: bool,
}

/// The answer.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Calibration {
    /// Its light at full power against its rating, stops; null where distance and rating do not both tell.
    pub offset_stops: Option<Stops>,
    /// Its interval of 95 %, stops.
    pub offset_stops_range: Option<[Stops; 2]>,
    /// Measured stops over set stops; 1 is true.
    pub tracking: Option<Stops>,
    /// Its interval of 95 %.
    pub tracking_range: Option<[Stops; 2]>,
    /// Each setting, from full power down.
    pub settings: Vec<SettingDeviation>,
    /// Standard deviation of repeats at one setting, stops; null without repeats.
    pub repeatability_stops: Option<Stops>,
    /// Readings that a unit of this spread would not give, by their index in the request.
    pub misfires: Vec<Misfire>,
    /// Guide number at full power as it was measured, m at ISO 100; null where the distance is not known.
    pub guide_number_m: Option<GuideMetres>,
    /// The same in feet.
    pub guide_number_ft: Option<GuideFeet>,
    /// Its interval of 95 %, m at ISO 100.
    pub guide_number_m_range: Option<[GuideMetres; 2]>,
    /// The unit with its measured `offset_stops` and `corrections`; other calls accept it as it stands.
    pub unit: UnitObject,
    /// What to doubt.
    pub warnings: Vec<Remark>,
}

/// A value with its interval of 95 %, stops.
#[derive(Clone, Copy)]
struct Interval {
    low: f64,
    value: f64,
    high: f64,
}

impl Interval {
    fn range(self) -> [Stops; 2] {
        [self.low, self.high].map(Stops::computed)
    }
}

/// One setting.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SettingDeviation {
    /// Its label.
    pub setting: String,
    /// Stops below full power, as the label says.
    pub stops_below_full: Stops,
    /// Readings there, misfires left out.
    pub readings: u32,
    /// Its light against what a true scale from full power would give, stops; + is brighter.
    pub deviation_stops: Stops,
}

/// A reading that a unit of this spread would not give.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Misfire {
    /// Its place in `readings`, from 0.
    pub index: u32,
    /// How far it is off the rest, stops.
    pub off_by_stops: Stops,
}

/// What a fit says.
struct Fit {
    line: Option<Line>,
    /// Medians by setting: stops below full, measured stops, how many.
    medians: Vec<(f64, f64, usize)>,
    /// Measured stops at full power.
    at_full: f64,
}

/// Calibrates. A fault stands at `/readings` where all are misfires.
pub fn calibrate(question: &Question) -> Result<Calibration, Fault> {
    calibrate_by(question, RESAMPLES)
}

fn calibrate_by(question: &Question, resamples: usize) -> Result<Calibration, Fault> {
    let all: Vec<[f64; 2]> =
        question.samples.iter().map(|sample| [-sample.below.get(), sample.stops]).collect();
    let (off, is_misfire) = misfires(&all);
    let kept: Vec<[f64; 2]> =
        all.iter().zip(&is_misfire).filter(|(_, misfire)| !**misfire).map(|(sample, _)| *sample).collect();
    let fit = fit(&kept).ok_or_else(|| {
        Wrong::new("no reading remains", "one or more readings that agree")
            .at(&Place::root().field("readings"))
    })?;
    // What a meter should read at full power there.
    let rated = question.distance.filter(|_| question.metered).and_then(|distance| {
        let beam = beam_at_full(&Unit { offset: Stops::ZERO, ..question.unit.clone() }, None)?;
        let scale = question.iso.get() / 100.0 / (distance.get() * distance.get());
        question.unit.guide_number.map(|_| (beam.typical * scale).log2())
    });
    let boot = bootstrap(&kept, resamples);
    let interval = |value: f64, of: &dyn Fn(&Fit) -> Option<f64>| {
        let values: Vec<f64> = boot.iter().filter_map(of).collect();
        let end = |part: f64| quantile(&values, part).unwrap_or(value);
        Interval { low: end(0.025).min(value), value, high: end(0.975).max(value) }
    };
    let offset = rated.map(|rated| interval(fit.at_full - rated, &|fit| Some(fit.at_full - rated)));
    let tracking = fit.line.map(|line| interval(line.slope, &|fit| fit.line.map(|line| line.slope)));
    let level = interval(fit.at_full, &|fit| Some(fit.at_full));
    let guide = question.distance.filter(|_| question.metered).map(|distance| {
        [level.value, level.low, level.high].map(|at_full| {
            let square = at_full.exp2() / (question.iso.get() / 100.0);
            square.sqrt() * distance.get()
        })
    });
    let reference = rated.unwrap_or(fit.at_full);
    let offset_value = offset.map_or(0.0, |offset| offset.value);
    let label = |below: f64| question.unit.scale.label(Stops::computed(below));
    let settings: Vec<SettingDeviation> = fit
        .medians
        .iter()
        .map(|&(below, measured, count)| SettingDeviation {
            setting: label(below),
            stops_below_full: Stops::computed(below),
            readings: count as u32,
            deviation_stops: Stops::computed(measured + below - reference),
        })
        .collect();
    let corrections = fit.medians.iter();
    let corrections =
        corrections.map(|&(below, measured, _)| [below, measured + below - reference - offset_value]);
    let corrected = Unit {
        offset: Stops::computed(offset_value),
        corrections: corrections.collect(),
        ..question.unit.clone()
    };
    let misfires: Vec<Misfire> = (0..all.len())
        .filter(|&index| is_misfire[index])
        .map(|index| Misfire { index: index as u32, off_by_stops: Stops::computed(off[index]) })
        .collect();
    Ok(Calibration {
        offset_stops: offset.map(|offset| Stops::computed(offset.value)),
        offset_stops_range: offset.map(Interval::range),
        tracking: tracking.map(|tracking| Stops::computed(tracking.value)),
        tracking_range: tracking.map(Interval::range),
        unit: UnitObject::of(&corrected),
        settings,
        repeatability_stops: repeatability(&kept).map(Stops::computed),
        guide_number_m: guide.map(|[value, ..]| GuideMetres::computed(value)),
        guide_number_ft: guide.map(|[value, ..]| GuideFeet::computed(value / FOOT_M)),
        guide_number_m_range: guide.map(|[_, low, high]| [low, high].map(GuideMetres::computed)),
        warnings: warnings(question, &fit, &misfires, repeatability(&kept)),
        misfires,
    })
}

fn warnings(question: &Question, fit: &Fit, misfires: &[Misfire], repeatability: Option<f64>) -> Vec<Remark> {
    let mut warnings = Vec::new();
    if fit.medians.len() < 3 {
        warnings.push(Remark::new(
            "few_settings",
            "Fewer than three settings were measured: tracking is rough or not known.",
        ));
    }
    if fit.line.is_some_and(|line| !(0.7..=1.3).contains(&line.slope)) {
        warnings.push(Remark::new(
            "odd_tracking",
            "The light does not follow the settings: look for settings that were mixed up, or a unit that does not react.",
        ));
    }
    if repeatability.is_some_and(|spread| spread > 0.3) {
        warnings.push(Remark::new(
            "repeats_disagree",
            "Readings at one setting lie far apart: too few to say which is right. Take more.",
        ));
    }
    if question.extrapolated {
        warnings.push(Remark::new(
            "extrapolated",
            "A level lies beyond the frames that the response was fitted to; beyond them it is taken for a straight line.",
        ));
    }
    if repeatability.is_none() {
        warnings.push(Remark::new(
            "no_repeats",
            "No setting was read twice: the intervals rest on the readings' distance from the line, or have no width. Repeat readings to know more.",
        ));
    }
    if fit.medians.first().is_some_and(|&(below, ..)| below > 1e-9) {
        warnings
            .push(Remark::new("full_not_measured", "Full power was not measured; its light is the line's."));
    }
    if question.distance.is_none() {
        warnings.push(Remark::new(
            "no_distance",
            "Without the distance only the scale is checked, not the unit's light against its rating.",
        ));
    }
    if !misfires.is_empty() {
        warnings.push(Remark::new(
            "misfires",
            "Readings far off the rest were left out. Units, shoe-mount ones above all, fail to fire now and then (common practice): take another frame when it counts.",
        ));
    }
    warnings
}

/// How far each sample is off the rest, and whether it is a misfire.
fn misfires(all: &[[f64; 2]]) -> (Vec<f64>, Vec<bool>) {
    let line = theil_sen(all);
    // Off its own setting's median where there are enough repeats to outvote it, else off the line.
    let off: Vec<f64> = all
        .iter()
        .map(|sample| {
            let same: Vec<f64> = all
                .iter()
                .filter(|other| (other[0] - sample[0]).abs() < 1e-9)
                .map(|other| other[1])
                .collect();
            let middle = median(&same).unwrap_or(sample[1]);
            match line.map(|line| line.at(sample[0])) {
                // Too few to outvote one, or most of them lost: the line knows better.
                Some(line) if same.len() < 3 || (middle - line).abs() > OFF_LINE => sample[1] - line,
                _ => sample[1] - middle,
            }
        })
        .collect();
    let limit = (MISFIRE_SIGMAS * mad_sigma(&off).unwrap_or(0.0)).max(MISFIRE_STOPS);
    // Two points make any line; only more can outvote one.
    // A lost pop is darker. A single reading at its setting may as well be a scale that strays, so it must be
    // far off; and two points make any line.
    let is_misfire = off.iter().zip(all).map(|(off, sample)| {
        let repeats = all.iter().filter(|other| (other[0] - sample[0]).abs() < 1e-9).count();
        let limit = if repeats < 3 { limit.max(OFF_LINE) } else { limit };
        all.len() > 2 && -off > limit
    });
    let is_misfire = is_misfire.collect();
    (off, is_misfire)
}

fn fit(samples: &[[f64; 2]]) -> Option<Fit> {
    let mut belows: Vec<f64> = samples.iter().map(|sample| -sample[0]).collect();
    belows.sort_by(f64::total_cmp);
    belows.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
    let medians: Vec<(f64, f64, usize)> = belows
        .into_iter()
        .filter_map(|below| {
            let same: Vec<f64> = samples
                .iter()
                .filter(|sample| (sample[0] + below).abs() < 1e-9)
                .map(|sample| sample[1])
                .collect();
            Some((below, median(&same)?, same.len()))
        })
        .collect();
    let line = theil_sen(samples);
    let first = medians.first()?;
    // Full power is the line's: repeats at one setting are few, all readings are many.
    let at_full = line.map_or(first.1 + first.0, |line| line.at(0.0));
    Some(Fit { line, medians, at_full })
}

/// The pooled sample standard deviation of repeats.
fn repeatability(samples: &[[f64; 2]]) -> Option<f64> {
    let (mut squares, mut free) = (0.0, 0.0);
    for (index, sample) in samples.iter().enumerate() {
        let is_same = |other: &&[f64; 2]| (other[0] - sample[0]).abs() < 1e-9;
        if samples[..index].iter().any(|before| is_same(&before)) {
            continue;
        }
        let same: Vec<f64> = samples.iter().filter(is_same).map(|other| other[1]).collect();
        let mean = same.iter().sum::<f64>() / same.len() as f64;
        squares += same.iter().map(|value| (value - mean).powi(2)).sum::<f64>();
        free += same.len() as f64 - 1.0;
    }
    (free > 0.0).then(|| (squares / free).sqrt())
}

/// Fits to samples drawn anew, each setting's own among themselves so that none is left empty.
fn bootstrap(samples: &[[f64; 2]], resamples: usize) -> Vec<Fit> {
    let mut random = Random::new();
    let groups: Vec<Vec<[f64; 2]>> = samples
        .iter()
        .map(|sample| samples.iter().filter(|other| (other[0] - sample[0]).abs() < 1e-9).copied().collect())
        .collect();
    // Without repeats, what is drawn anew is the distance from the line.
    if let (Some(line), true) = (theil_sen(samples), groups.iter().all(|group| group.len() == 1)) {
        let rests: Vec<f64> = samples.iter().map(|sample| sample[1] - line.at(sample[0])).collect();
        return (0..resamples)
            .filter_map(|_| {
                let drawn: Vec<[f64; 2]> = samples
                    .iter()
                    .map(|sample| [sample[0], line.at(sample[0]) + rests[random.below(rests.len())]])
                    .collect();
                fit(&drawn)
            })
            .collect();
    }
    (0..resamples)
        .filter_map(|_| {
            let drawn: Vec<[f64; 2]> = groups.iter().map(|group| group[random.below(group.len())]).collect();
            fit(&drawn)
        })
        .collect()
}

#[cfg(test)]
mod tests;
