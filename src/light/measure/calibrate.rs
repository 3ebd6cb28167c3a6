//! Calibrates a unit: fits a line to its metered light without outliers, and corrects the unit at each setting.
//!
//! The line is measured stops over set stops. Outliers, darker (misfires) or brighter, are found by robust statistics:
//! the line of Theil and Sen (Theil 1950, Sen 1968: the median of all slopes between pairs, then the median of the
//! residuals) and the median absolute deviation (1.4826 · MAD estimates a standard deviation, textbook). The remaining
//! readings are fitted by least squares, with intervals by Student's t.

mod half_widths;
mod interval;
mod outliers;
mod question;
mod readings;
mod remarks;
mod robust;

pub use self::{
    interval::Repeat,
    outliers::Outlier,
    question::{CalibrateQuestion, Sample},
    readings::Readings,
};

use serde::Serialize;
use utoipa::ToSchema;

use self::{
    half_widths::HalfWidths,
    interval::{fit_line, half_digit, of_settings, ranges, readings_disagree},
    outliers::outliers,
    remarks::{Findings, assumptions, warnings},
    robust::{Line, by_setting},
};
use crate::light::{
    assumption::Assumption,
    error::{InvalidPart, InvalidValue, Part},
    id::Id,
    quantity::{GuideFeet, GuideMetres, Range, Stops, bounds, constants::FOOT_M, four_decimals},
    remark::Warning,
    unit::{Unit, UnitObject},
};

/// The measured light of a unit over its settings.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Calibration {
    /// Light at full power relative to the rating, stops; null unless the light was metered and both the distance and the guide number are known.
    pub offset_stops: Option<Stops>,
    /// 95 % interval of `offset_stops`, stops, from the scatter of the readings, the repeatability in `assumptions` and the last digit of the meter; null if `offset_stops` is null, or if the readings are too few or too scattered for a useful interval.
    pub offset_stops_range: Option<Range<Stops>>,
    /// How far the light at full power may be off `offset_stops` (or `guide_number_m`) for this meter at this distance, ± stops at 95 %, from the readings alone: the longer side of the interval. Null if the light was not metered, if the distance is unknown, or if the readings are too scattered for a useful interval.
    pub this_meter_plus_minus_stops: Option<Stops>,
    /// The same against the camera and at any distance, ± stops at 95 %: with how far the distance of the meter may be off, how the dome was held as far as the scatter does not show it, and the meter against the camera. Null where `this_meter_plus_minus_stops` is. The unit carries this without the meter against the camera, which later answers add to each point.
    pub camera_plus_minus_stops: Option<Stops>,
    /// Measured stops over set stops; 1 is a perfect scale. Null with one setting only.
    pub tracking: Option<Stops>,
    /// 95 % interval of `tracking`; null with only one setting, or if the readings are too few or too scattered for a useful interval.
    pub tracking_range: Option<Range<Stops>>,
    /// The settings, from full power down.
    pub settings: Vec<SettingDeviation>,
    /// Standard deviation of repeated readings at one setting, stops; null without repeats.
    pub repeatability_stops: Option<Stops>,
    /// Readings that were left out because they are darker than the spread of this unit explains, by their index in the request.
    pub misfires: Vec<Misfire>,
    /// Readings that were left out because they are brighter than the spread of this unit explains, by their index in the request. These are not misfires: look for another light, another setting or distance, or a slip of the pen.
    pub too_bright: Vec<TooBright>,
    /// Measured guide number at full power, m at ISO 100; null if the light was not metered or the distance is unknown.
    pub guide_number_m: Option<GuideMetres>,
    /// Measured guide number at full power, feet at ISO 100; null without a distance.
    pub guide_number_ft: Option<GuideFeet>,
    /// 95 % interval of the guide number, m at ISO 100; null if the light was not metered, if the distance is unknown, or if the readings are too few or too scattered for a useful interval.
    pub guide_number_m_range: Option<Range<GuideMetres>>,
    /// 95 % interval of the guide number, feet at ISO 100.
    pub guide_number_ft_range: Option<Range<GuideFeet>>,
    /// The unit with its measured `offset_stops` and `corrections`, and with the measured guide number if it states none. Other calls accept this object unchanged, and go on with its half-widths at 95 %: `plus_minus_stops` of its light at full power at any distance, at most 4, as it was stated if it was not metered at a known distance; `dial_plus_minus_stops` of its light at a setting that was read, which between such settings counts as 0.1 at least, and is 0.1 or as stated if only one setting was read, and as stated by levels; `repeat_plus_minus_stops` of one flash, if stated or if a setting was read repeatedly.
    pub unit: UnitObject,
    /// Assumptions behind the intervals: the repeatability of the unit, the last digit of the meter, and half-widths that were not stated and matter.
    pub assumptions: Vec<Assumption>,
    /// Warnings.
    pub warnings: Vec<Warning>,
}

/// The measured light at one setting.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SettingDeviation {
    /// The label of the setting.
    pub setting: String,
    /// Stops below full power, according to the label.
    pub stops_below_full: Stops,
    /// Number of readings at this setting, without misfires and readings that are too bright.
    pub readings: u32,
    /// Difference from a perfect scale that starts at full power, stops; + is brighter.
    pub deviation_stops: Stops,
}

/// A reading darker than the spread of the unit explains.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Misfire {
    /// The index in `readings`, from 0.
    pub index: u32,
    /// The reading's id from the request.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub id: Option<Id>,
    /// Difference from the other readings, stops; negative.
    pub off_by_stops: Stops,
}

/// A reading brighter than the spread of the unit explains.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct TooBright {
    /// The index in `readings`, from 0.
    pub index: u32,
    /// The reading's id from the request.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub id: Option<Id>,
    /// Difference from the other readings, stops; positive.
    pub off_by_stops: Stops,
}

impl Calibration {
    /// All readings that were left out, in the order of the request.
    pub fn left_out(&self) -> Vec<Outlier> {
        let dark = self.misfires.iter().map(|reading| (reading.index, reading.off_by_stops));
        let bright = self.too_bright.iter().map(|reading| (reading.index, reading.off_by_stops));
        let mut all: Vec<Outlier> =
            dark.chain(bright).map(|(index, off)| Outlier { index, off_by_stops: off }).collect();
        all.sort_by_key(|outlier| outlier.index);
        all
    }
}

/// The readings at one setting.
struct Group {
    /// Stops below full power.
    below: f64,
    /// Measured stops.
    values: Vec<f64>,
}

impl Group {
    fn mean(&self) -> f64 {
        self.values.iter().sum::<f64>() / self.values.len() as f64
    }
}

/// Groups the readings by setting, from full power down.
fn groups(samples: &[[f64; 2]]) -> Vec<Group> {
    by_setting(samples)
        .into_iter()
        .map(|same| Group { below: -same[0][0], values: same.iter().map(|sample| sample[1]).collect() })
        .collect()
}

/// The line fitted to the readings.
struct Fit {
    line: Option<Line>,
    /// The light at full power by the fit, stops.
    at_full: f64,
}

/// Calibrates the unit with the readings.
///
/// # Errors
///
/// An error at `/readings` if there are none or if the offset is out of range; at the reading if the light at its
/// setting is so far off that the correction is out of range.
pub fn calibrate(question: &CalibrateQuestion) -> Result<Calibration, InvalidPart> {
    let all: Vec<[f64; 2]> =
        question.samples.iter().map(|sample| [-sample.below.get(), sample.stops]).collect();
    let half_digit_of = |samples: &[[f64; 2]]| match question.meter.digit {
        _ if !question.metered => 0.0,
        Some(digit) => digit.get() / 2.0,
        None => half_digit(samples),
    };
    let off = outliers(&all, half_digit_of(&all));
    let kept: Vec<[f64; 2]> =
        all.iter().zip(&off).filter(|(_, off)| off.is_none()).map(|(sample, _)| *sample).collect();
    let fit = fit(&kept).ok_or_else(|| InvalidValue::NoReading.in_part(Part::Readings))?;
    let groups = groups(&kept);
    let meter_distance = question.meter_distance();
    let rated = question.rated_at_full();
    let offset = rated.map(|rated| fit.at_full - rated);
    let half_digit = half_digit_of(&kept);
    let repeat = question.unit.repeat.map_or(Repeat::Assumed, |half| Repeat::Stated(half.get()));
    let ranges = ranges(&kept, repeat, half_digit);
    let at_full_range = ranges.map(|ranges| ranges.at_full);
    // A lamp has none: its light follows the exposure time.
    let guide = |at_full: f64| {
        meter_distance.filter(|_| question.unit.lamp.is_none()).map(|distance| {
            let square = (at_full + question.meter_offset.get()).exp2() / (question.iso.get() / 100.0);
            square.sqrt() * distance.get()
        })
    };
    let reference = rated.unwrap_or(fit.at_full);
    let offset_value = offset.unwrap_or(0.0);
    let label = |below: f64| question.unit.scale.label(Stops::new_unchecked(below));
    let deviations: Vec<(&Group, f64)> =
        groups.iter().map(|group| (group, group.mean() + group.below - reference)).collect();
    let settings: Vec<SettingDeviation> = deviations
        .iter()
        .map(|(group, deviation)| SettingDeviation {
            setting: label(group.below),
            stops_below_full: Stops::new_unchecked(group.below),
            readings: group.values.len() as u32,
            deviation_stops: Stops::new_unchecked(*deviation),
        })
        .collect();
    let corrections: Vec<[f64; 2]> =
        deviations.iter().map(|(group, deviation)| [group.below, deviation - offset_value]).collect();
    check_in_range(question, offset_value, &corrections)?;
    // A unit without a guide number has the measured one then.
    let measured = guide(fit.at_full).filter(|_| question.unit.guide_number.is_none()).map(GuideMetres::new);
    let measured = measured.transpose().map_err(|error| error.in_part(Part::Readings))?;
    let half_widths =
        HalfWidths::of(question, fit.at_full, ranges, of_settings(&kept, repeat, half_digit), half_digit);
    let corrected = Unit {
        plus_minus: half_widths.unit,
        dial: half_widths.dial,
        repeat: half_widths.repeat,
        offset: Stops::new_unchecked(offset_value),
        corrections,
        guide_number: question.unit.guide_number.or(measured),
        ..question.unit.clone()
    };
    let (misfires, too_bright) = left_out(question, &off);
    let spread = repeatability(&groups);
    let guide_range = at_full_range.and_then(|[low, high]| Some([guide(low)?, guide(high)?]));
    let in_feet = |value: f64| GuideFeet::new_unchecked(value / FOOT_M);
    Ok(Calibration {
        offset_stops: offset.map(Stops::new_unchecked),
        offset_stops_range: rated
            .zip(at_full_range)
            .map(|(rated, range)| Range::of(range, |at_full| Stops::new_unchecked(at_full - rated))),
        this_meter_plus_minus_stops: half_widths.this_meter.map(Stops::new_unchecked),
        camera_plus_minus_stops: half_widths.camera.map(Stops::new_unchecked),
        tracking: fit.line.map(|line| Stops::new_unchecked(line.slope)),
        tracking_range: ranges
            .and_then(|ranges| ranges.slope)
            .map(|range| Range::of(range, Stops::new_unchecked)),
        unit: UnitObject::of(&corrected),
        settings,
        repeatability_stops: spread.map(Stops::new_unchecked),
        guide_number_m: guide(fit.at_full).map(GuideMetres::new_unchecked),
        guide_number_ft: guide(fit.at_full).map(in_feet),
        guide_number_m_range: guide_range.map(|range| Range::of(range, GuideMetres::new_unchecked)),
        guide_number_ft_range: guide_range.map(|range| Range::of(range, in_feet)),
        assumptions: assumptions(question, repeat, half_digit).chain(half_widths.usual).collect(),
        warnings: warnings(
            question,
            &fit,
            &groups,
            &Findings {
                repeatability: spread,
                misfires: !misfires.is_empty(),
                too_bright: !too_bright.is_empty(),
                contradict: readings_disagree(&kept, repeat),
            },
        ),
        misfires,
        too_bright,
    })
}

/// The readings that are left out, by how far they are off the others: those that are darker, and those that are brighter.
fn left_out(question: &CalibrateQuestion, off: &[Option<f64>]) -> (Vec<Misfire>, Vec<TooBright>) {
    let (mut misfires, mut too_bright) = (Vec::new(), Vec::new());
    for (at, off) in off.iter().enumerate().filter_map(|(at, off)| Some((at, (*off)?))) {
        let (index, id) = (at as u32, question.samples[at].id.clone());
        let off_by_stops = Stops::new_unchecked(off);
        if off > 0.0 {
            too_bright.push(TooBright { index, id, off_by_stops });
        } else {
            misfires.push(Misfire { index, id, off_by_stops });
        }
    }
    (misfires, too_bright)
}

/// Checks that the offset and the corrections are in the range that other calls accept, because clients send the
/// corrected unit to them.
fn check_in_range(
    question: &CalibrateQuestion,
    offset: f64,
    corrections: &[[f64; 2]],
) -> Result<(), InvalidPart> {
    let far_off = |off: f64, part| {
        let bounds::Bounds { least, greatest, unit, .. } = bounds::CORRECTION;
        InvalidValue::FarOffRating { stops: four_decimals(off), least, greatest, unit }.in_part(part)
    };
    if bounds::CORRECTION.check(offset).is_err() {
        return Err(far_off(offset, Part::Readings));
    }
    match corrections.iter().find(|[_, off]| bounds::CORRECTION.check(*off).is_err()) {
        None => Ok(()),
        Some([below, off]) => {
            let first = question.samples.iter().position(|sample| (sample.below.get() - below).abs() < 1e-9);
            Err(far_off(*off, first.map_or(Part::Readings, Part::Reading)))
        }
    }
}

/// Fits the line. Full power is taken from the line, not from the readings at full power alone, because all readings
/// together are more precise than a few repeats. With only one setting, full power follows from its mean by a perfect
/// scale.
fn fit(samples: &[[f64; 2]]) -> Option<Fit> {
    (!samples.is_empty()).then(|| {
        let (line, has_slope) = fit_line(samples);
        Fit { line: has_slope.then_some(line), at_full: line.at(0.0) }
    })
}

/// The pooled sample standard deviation of repeated readings.
fn repeatability(groups: &[Group]) -> Option<f64> {
    let (mut squares, mut degrees_of_freedom) = (0.0, 0.0);
    for group in groups {
        let mean = group.mean();
        squares += group.values.iter().map(|value| (value - mean).powi(2)).sum::<f64>();
        degrees_of_freedom += group.values.len() as f64 - 1.0;
    }
    (degrees_of_freedom > 0.0).then(|| (squares / degrees_of_freedom).sqrt())
}

#[cfg(test)]
mod tests;
