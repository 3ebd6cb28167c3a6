//! What a unit really gives at each setting: a line through metered light without its outliers, and the corrected unit.
//!
//! Measured stops against set stops. Outliers, darker (misfires) or brighter, are found by robust statistics: the line
//! of Theil and Sen (Theil 1950, Sen 1968: the median of all slopes between pairs, then the median of what is left) and
//! the median absolute deviation (1.4826 · MAD estimates a standard deviation, textbook). What is kept has the line of
//! least squares, with intervals by Student's t.

mod interval;
mod outliers;
mod readings;
mod robust;
mod student;
mod told;

pub use self::{
    interval::Repeat,
    outliers::Outlier,
    readings::{Reading, Readings},
};

use serde::Serialize;
use utoipa::ToSchema;

use self::{
    interval::{disagree_at, half_digit, line_of, ranges},
    outliers::outliers,
    robust::{Line, by_setting},
    told::{Doubts, assumptions, warnings},
};
use crate::light::{
    error::{FieldError, InvalidValue, Pointer},
    quantity::{GuideFeet, GuideMetres, Iso, Metres, Stops, bounds, constants::FOOT_M, four_decimals},
    remark::{Assumption, Remark},
    unit::{Unit, UnitObject},
};

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
    /// Its interval of 95 %, stops, of the readings' scatter, the repeatability in `assumptions` and the meter's digit; null where readings tell next to nothing.
    #[schema(min_items = 2, max_items = 2)]
    pub offset_stops_range: Option<[Stops; 2]>,
    /// Measured stops over set stops; 1 is true.
    pub tracking: Option<Stops>,
    /// Its interval of 95 %; null of one setting, and where readings tell next to nothing.
    #[schema(min_items = 2, max_items = 2)]
    pub tracking_range: Option<[Stops; 2]>,
    /// Each setting, from full power down.
    pub settings: Vec<SettingDeviation>,
    /// Standard deviation of repeats at one setting, stops; null without repeats.
    pub repeatability_stops: Option<Stops>,
    /// Readings darker than a unit of this spread would give, left out, by their index in the request.
    pub misfires: Vec<Misfire>,
    /// Readings brighter than a unit of this spread would give, left out, by their index in the request: no lost pops, but another light, another setting or distance, or a slip of the pen.
    pub too_bright: Vec<TooBright>,
    /// Guide number at full power as it was measured, m at ISO 100; null where the distance is not known.
    pub guide_number_m: Option<GuideMetres>,
    /// The same in feet.
    pub guide_number_ft: Option<GuideFeet>,
    /// Its interval of 95 %, m at ISO 100; null where the distance is not known, and where readings tell next to nothing.
    #[schema(min_items = 2, max_items = 2)]
    pub guide_number_m_range: Option<[GuideMetres; 2]>,
    /// The same in feet.
    #[schema(min_items = 2, max_items = 2)]
    pub guide_number_ft_range: Option<[GuideFeet; 2]>,
    /// The unit with its measured `offset_stops` and `corrections`; other calls accept it as it stands.
    pub unit: UnitObject,
    /// What the intervals rest on: how well the unit repeats, and the meter's digit.
    pub assumptions: Vec<Assumption>,
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
    /// Readings there, misfires and readings that are too bright left out.
    pub readings: u32,
    /// Its light against what a true scale from full power would give, stops; + is brighter.
    pub deviation_stops: Stops,
}

/// A reading darker than a unit of this spread would give.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Misfire {
    /// Its place in `readings`, from 0.
    pub index: u32,
    /// How far it is off the rest, stops; negative.
    pub off_by_stops: Stops,
}

/// A reading brighter than a unit of this spread would give.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct TooBright {
    /// Its place in `readings`, from 0.
    pub index: u32,
    /// How far it is off the rest, stops; positive.
    pub off_by_stops: Stops,
}

impl Calibration {
    /// All readings that were left out, in the order asked.
    pub fn left_out(&self) -> Vec<Outlier> {
        let dark = self.misfires.iter().map(|told| (told.index, told.off_by_stops));
        let bright = self.too_bright.iter().map(|told| (told.index, told.off_by_stops));
        let mut all: Vec<Outlier> =
            dark.chain(bright).map(|(index, off)| Outlier { index, off_by_stops: off }).collect();
        all.sort_by_key(|outlier| outlier.index);
        all
    }
}

/// Readings at one setting.
struct Group {
    /// Stops below full.
    below: f64,
    /// Measured stops.
    values: Vec<f64>,
}

impl Group {
    fn mean(&self) -> f64 {
        self.values.iter().sum::<f64>() / self.values.len() as f64
    }
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

/// Calibrates. A fault stands at `/readings` where there are none, or at what no unit gives.
pub fn calibrate(question: &Question) -> Result<Calibration, FieldError> {
    let all: Vec<[f64; 2]> =
        question.samples.iter().map(|sample| [-sample.below.get(), sample.stops]).collect();
    let digit_of = |samples: &[[f64; 2]]| if question.metered { half_digit(samples) } else { 0.0 };
    let off = outliers(&all, digit_of(&all));
    let kept: Vec<[f64; 2]> =
        all.iter().zip(&off).filter(|(_, off)| off.is_none()).map(|(sample, _)| *sample).collect();
    let fit = fit(&kept).ok_or_else(|| {
        InvalidValue::new("no reading remains", "one or more readings that agree")
            .at(&Pointer::root().field("readings"))
    })?;
    let groups = groups(&kept);
    let metered_at = question.metered_at();
    let rated = question.rated();
    let offset = rated.map(|rated| fit.at_full - rated);
    let half_digit = digit_of(&kept);
    let repeat = question.unit.repeat.map_or(Repeat::Assumed, |half| Repeat::Stated(half.get()));
    let ranges = ranges(&kept, repeat, half_digit);
    let at_full_range = ranges.map(|ranges| ranges.at_full);
    let guide = |at_full: f64| {
        metered_at.map(|distance| {
            let square = at_full.exp2() / (question.iso.get() / 100.0);
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
    within_a_units_reach(question, offset_value, &corrections)?;
    let corrected = Unit { offset: Stops::new_unchecked(offset_value), corrections, ..question.unit.clone() };
    let left_out = |is_bright: bool| {
        let told = off.iter().enumerate().filter_map(|(index, off)| Some((index as u32, (*off)?)));
        told.filter(move |(_, off)| (*off > 0.0) == is_bright)
            .map(|(index, off)| (index, Stops::new_unchecked(off)))
    };
    let misfires: Vec<Misfire> =
        left_out(false).map(|(index, off_by_stops)| Misfire { index, off_by_stops }).collect();
    let too_bright: Vec<TooBright> =
        left_out(true).map(|(index, off_by_stops)| TooBright { index, off_by_stops }).collect();
    let spread = repeatability(&groups);
    let guide_range = at_full_range.and_then(|[low, high]| Some([guide(low)?, guide(high)?]));
    let in_feet = |value: f64| GuideFeet::new_unchecked(value / FOOT_M);
    Ok(Calibration {
        offset_stops: offset.map(Stops::new_unchecked),
        offset_stops_range: rated
            .zip(at_full_range)
            .map(|(rated, range)| range.map(|at_full| Stops::new_unchecked(at_full - rated))),
        tracking: fit.line.map(|line| Stops::new_unchecked(line.slope)),
        tracking_range: ranges.and_then(|ranges| ranges.slope).map(|range| range.map(Stops::new_unchecked)),
        unit: UnitObject::of(&corrected),
        settings,
        repeatability_stops: spread.map(Stops::new_unchecked),
        guide_number_m: guide(fit.at_full).map(GuideMetres::new_unchecked),
        guide_number_ft: guide(fit.at_full).map(in_feet),
        guide_number_m_range: guide_range.map(|range| range.map(GuideMetres::new_unchecked)),
        guide_number_ft_range: guide_range.map(|range| range.map(in_feet)),
        assumptions: assumptions(repeat, half_digit),
        warnings: warnings(
            question,
            &fit,
            &groups,
            &Doubts {
                repeatability: spread,
                misfires: !misfires.is_empty(),
                too_bright: !too_bright.is_empty(),
                disagree: disagree_at(&kept, repeat),
            },
        ),
        misfires,
        too_bright,
    })
}

/// Other calls take the corrected unit as it stands, so that it must be such as they take.
fn within_a_units_reach(
    question: &Question,
    offset: f64,
    corrections: &[[f64; 2]],
) -> Result<(), FieldError> {
    let readings = Pointer::root().field("readings");
    let far = |off: f64, place: &Pointer| {
        let told = format!("the light is {} stops off the unit's rating and scale", four_decimals(off));
        InvalidValue::new(told, bounds::CORRECTION.range()).at(place)
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

/// Full power is the line's: repeats at one setting are few, all readings are many. With one setting only it
/// is what that tells.
fn fit(samples: &[[f64; 2]]) -> Option<Fit> {
    (!samples.is_empty()).then(|| {
        let (line, has_slope) = line_of(samples);
        Fit { line: has_slope.then_some(line), at_full: line.at(0.0) }
    })
}

/// The pooled sample standard deviation of repeats.
fn repeatability(groups: &[Group]) -> Option<f64> {
    let (mut squares, mut free) = (0.0, 0.0);
    for group in groups {
        let mean = group.mean();
        squares += group.values.iter().map(|value| (value - mean).powi(2)).sum::<f64>();
        free += group.values.len() as f64 - 1.0;
    }
    (free > 0.0).then(|| (squares / free).sqrt())
}

#[cfg(test)]
mod tests;
