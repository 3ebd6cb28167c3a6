//! What a unit really gives at each setting: a robust line through metered light, and the corrected unit.
//!
//! Measured stops against set stops: slope and level by Theil and Sen (Theil 1950, Sen 1968: the median of
//! all slopes between pairs, then the median of what is left), which a few misfires do not move. Misfires are
//! readings far outside the spread of the rest, judged by the median absolute deviation (1.4826 · MAD
//! estimates a standard deviation, textbook). Intervals by Student's t on what is left.

mod interval;
mod readings;
mod robust;
mod student;

pub use self::readings::{Reading, Readings};

use serde::Serialize;
use utoipa::ToSchema;

use self::{
    interval::{half_digit, halves},
    robust::{Line, mad_sigma, median, theil_sen},
};
use super::{
    bounds,
    constants::FOOT_M,
    fault::{Fault, Place, Wrong},
    quantity::{GuideFeet, GuideMetres, Iso, Metres, Stops, four_decimals},
    remark::Remark,
    unit::{Unit, UnitObject},
};

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

impl Question {
    /// How far the meter stood, where one was used.
    fn metered_at(&self) -> Option<Metres> {
        self.distance.filter(|_| self.metered)
    }

    /// What a meter should read at full power there, stops of N²: GN²·(S/100)/d² (ISO 1230).
    fn rated(&self) -> Option<f64> {
        self.metered_at().zip(self.unit.guide_number).map(|(distance, guide)| {
            let f_number = guide.get() / distance.get();
            (f_number * f_number * self.iso.get() / 100.0).log2()
        })
    }
}

/// What a unit really gives over its settings.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Calibration {
    /// Its light at full power against its rating, stops; null where distance and rating do not both tell.
    pub offset_stops: Option<Stops>,
    /// Its interval of 95 %, stops; null where fewer than three readings tell of it (of one setting, fewer than two), or next to nothing.
    #[schema(min_items = 2, max_items = 2)]
    pub offset_stops_range: Option<[Stops; 2]>,
    /// Measured stops over set stops; 1 is true.
    pub tracking: Option<Stops>,
    /// Its interval of 95 %; null where fewer than three readings tell of it, or next to nothing.
    #[schema(min_items = 2, max_items = 2)]
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
    /// Its interval of 95 %, m at ISO 100; null where fewer than three readings tell of it (of one setting, fewer than two), or next to nothing.
    #[schema(min_items = 2, max_items = 2)]
    pub guide_number_m_range: Option<[GuideMetres; 2]>,
    /// The same in feet.
    #[schema(min_items = 2, max_items = 2)]
    pub guide_number_ft_range: Option<[GuideFeet; 2]>,
    /// The unit with its measured `offset_stops` and `corrections`; other calls accept it as it stands.
    pub unit: UnitObject,
    /// What to doubt.
    pub warnings: Vec<Remark>,
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

/// Readings at one setting.
struct Group {
    /// Stops below full.
    below: f64,
    /// Measured stops.
    values: Vec<f64>,
}

/// Samples by setting, from full power down.
fn by_setting(samples: &[[f64; 2]]) -> Vec<Vec<[f64; 2]>> {
    let mut sorted = samples.to_vec();
    sorted.sort_by(|a, b| b[0].total_cmp(&a[0]));
    sorted.chunk_by(|a, b| (a[0] - b[0]).abs() < 1e-9).map(<[_]>::to_vec).collect()
}

/// The readings by setting, from full power down.
fn groups(samples: &[[f64; 2]]) -> Vec<Group> {
    by_setting(samples)
        .into_iter()
        .map(|same| Group { below: -same[0][0], values: same.iter().map(|sample| sample[1]).collect() })
        .collect()
}

/// What a fit says.
struct Fit {
    line: Option<Line>,
    /// Measured stops at full power.
    at_full: f64,
}

impl Fit {
    /// The line; of one setting a true scale's through it.
    fn told(&self) -> Line {
        self.line.unwrap_or(Line { slope: 1.0, intercept: self.at_full })
    }
}

/// Calibrates. A fault stands at `/readings` where all are misfires, or at what no unit gives.
pub fn calibrate(question: &Question) -> Result<Calibration, Fault> {
    let all: Vec<[f64; 2]> =
        question.samples.iter().map(|sample| [-sample.below.get(), sample.stops]).collect();
    let (off, is_misfire) = misfires(&all);
    let kept: Vec<[f64; 2]> =
        all.iter().zip(&is_misfire).filter(|(_, misfire)| !**misfire).map(|(sample, _)| *sample).collect();
    let fit = fit(&kept).ok_or_else(|| {
        Wrong::new("no reading remains", "one or more readings that agree")
            .at(&Place::root().field("readings"))
    })?;
    let groups = groups(&kept);
    let metered_at = question.metered_at();
    let rated = question.rated();
    let offset = rated.map(|rated| fit.at_full - rated);
    let half_digit = if question.metered { half_digit(&kept) } else { 0.0 };
    let halves = halves(&kept, fit.told(), half_digit);
    let range = |value: f64, half: f64| [value - half, value + half];
    let at_full_range = halves.map(|halves| range(fit.at_full, halves.at_full));
    let guide = |at_full: f64| {
        metered_at.map(|distance| {
            let square = at_full.exp2() / (question.iso.get() / 100.0);
            square.sqrt() * distance.get()
        })
    };
    let reference = rated.unwrap_or(fit.at_full);
    let offset_value = offset.unwrap_or(0.0);
    let label = |below: f64| question.unit.scale.label(Stops::computed(below));
    let deviations: Vec<(&Group, f64)> = groups
        .iter()
        .filter_map(|group| Some((group, median(&group.values)? + group.below - reference)))
        .collect();
    let settings: Vec<SettingDeviation> = deviations
        .iter()
        .map(|(group, deviation)| SettingDeviation {
            setting: label(group.below),
            stops_below_full: Stops::computed(group.below),
            readings: group.values.len() as u32,
            deviation_stops: Stops::computed(*deviation),
        })
        .collect();
    let corrections: Vec<[f64; 2]> =
        deviations.iter().map(|(group, deviation)| [group.below, deviation - offset_value]).collect();
    within_a_units_reach(question, offset_value, &corrections)?;
    let corrected = Unit { offset: Stops::computed(offset_value), corrections, ..question.unit.clone() };
    let misfires: Vec<Misfire> = (0..all.len())
        .filter(|&index| is_misfire[index])
        .map(|index| Misfire { index: index as u32, off_by_stops: Stops::computed(off[index]) })
        .collect();
    let spread = repeatability(&groups);
    let guide_range = at_full_range.and_then(|[low, high]| Some([guide(low)?, guide(high)?]));
    let in_feet = |value: f64| GuideFeet::computed(value / FOOT_M);
    Ok(Calibration {
        offset_stops: offset.map(Stops::computed),
        offset_stops_range: rated
            .zip(at_full_range)
            .map(|(rated, range)| range.map(|at_full| Stops::computed(at_full - rated))),
        tracking: fit.line.map(|line| Stops::computed(line.slope)),
        tracking_range: fit
            .line
            .zip(halves)
            .map(|(line, halves)| range(line.slope, halves.slope).map(Stops::computed)),
        unit: UnitObject::of(&corrected),
        settings,
        repeatability_stops: spread.map(Stops::computed),
        guide_number_m: guide(fit.at_full).map(GuideMetres::computed),
        guide_number_ft: guide(fit.at_full).map(in_feet),
        guide_number_m_range: guide_range.map(|range| range.map(GuideMetres::computed)),
        guide_number_ft_range: guide_range.map(|range| range.map(in_feet)),
        warnings: warnings(question, &fit, &groups, &misfires, spread),
        misfires,
    })
}

/// Other calls take the corrected unit as it stands, so that it must be such as they take.
fn within_a_units_reach(question: &Question, offset: f64, corrections: &[[f64; 2]]) -> Result<(), Fault> {
    let readings = Place::root().field("readings");
    let far = |off: f64, place: &Place| {
        let told = format!("the light is {} stops off the unit's rating and scale", four_decimals(off));
        Wrong::new(told, bounds::CORRECTION.range()).at(place)
    };
    if bounds::CORRECTION.check(offset).is_err() {
        return Err(far(offset, &readings));
    }
    match corrections.iter().find(|[_, off]| bounds::CORRECTION.check(*off).is_err()) {
        None => Ok(()),
        Some([below, off]) => {
            let first = question.samples.iter().position(|sample| (sample.below.get() - below).abs() < 1e-9);
            Err(far(*off, &first.map_or(readings.clone(), |index| readings.index(index))))
        }
    }
}

fn warnings(
    question: &Question,
    fit: &Fit,
    groups: &[Group],
    misfires: &[Misfire],
    repeatability: Option<f64>,
) -> Vec<Remark> {
    let mut warnings = Vec::new();
    if groups.len() < 3 {
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
        warnings.push(Remark::extrapolated());
    }
    if repeatability.is_none() {
        warnings.push(Remark::new(
            "no_repeats",
            "No setting was read twice: the intervals rest on the readings' distance from the line, or are not known. Repeat readings to know more.",
        ));
    }
    if groups.first().is_some_and(|group| group.below > 1e-9) {
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
    let groups = groups(all);
    let group_of = |sample: &[f64; 2]| groups.iter().find(|group| (group.below + sample[0]).abs() < 1e-9);
    let repeats = |sample: &[f64; 2]| group_of(sample).map_or(1, |group| group.values.len());
    // Off its own setting's median where there are enough repeats to outvote it, else off the line.
    let off: Vec<f64> = all
        .iter()
        .map(|sample| {
            let middle = group_of(sample).and_then(|group| median(&group.values)).unwrap_or(sample[1]);
            match line.map(|line| line.at(sample[0])) {
                // Too few to outvote one, or most of them lost: the line knows better.
                Some(line) if repeats(sample) < 3 || (middle - line).abs() > OFF_LINE => sample[1] - line,
                _ => sample[1] - middle,
            }
        })
        .collect();
    let limit = (MISFIRE_SIGMAS * mad_sigma(&off).unwrap_or(0.0)).max(MISFIRE_STOPS);
    // A lost pop is darker. A single reading at its setting may as well be a scale that strays, so it must be
    // far off; and two points make any line.
    let is_misfire = off.iter().zip(all).map(|(off, sample)| {
        let limit = if repeats(sample) < 3 { limit.max(OFF_LINE) } else { limit };
        all.len() > 2 && -off > limit
    });
    let is_misfire = is_misfire.collect();
    (off, is_misfire)
}

/// Full power is the line's: repeats at one setting are few, all readings are many. With one setting only it
/// is what that tells.
fn fit(samples: &[[f64; 2]]) -> Option<Fit> {
    if let Some(line) = theil_sen(samples) {
        return Some(Fit { line: Some(line), at_full: line.at(0.0) });
    }
    let values: Vec<f64> = samples.iter().map(|sample| sample[1]).collect();
    Some(Fit { line: None, at_full: median(&values)? - samples.first()?[0] })
}

/// The pooled sample standard deviation of repeats.
fn repeatability(groups: &[Group]) -> Option<f64> {
    let (mut squares, mut free) = (0.0, 0.0);
    for Group { values, .. } in groups {
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        squares += values.iter().map(|value| (value - mean).powi(2)).sum::<f64>();
        free += values.len() as f64 - 1.0;
    }
    (free > 0.0).then(|| (squares / free).sqrt())
}

#[cfg(test)]
mod tests;
