//! The assumptions and warnings of a calibration.

use crate::light::{
    assumption::{Assumption, AssumptionKind},
    error::Part,
    measure::calibrate::{CalibrateQuestion, Fit, Group, interval::Repeat},
    quantity::Stops,
    remark::{Remark, Warning, WarningKind},
};

/// The assumptions behind the intervals.
pub fn assumptions(
    question: &CalibrateQuestion,
    repeat: Repeat,
    half_digit: f64,
) -> impl Iterator<Item = Assumption> {
    let plus_minus_stops = Stops::new_unchecked(repeat.half());
    let repeat = match repeat {
        Repeat::Stated(_) => AssumptionKind::RepeatStated { plus_minus_stops },
        Repeat::Assumed => AssumptionKind::Repeat { plus_minus_stops },
    };
    let digit_stops = Stops::new_unchecked(if half_digit > 0.1 { 1.0 / 3.0 } else { 0.1 });
    let is_inferred = half_digit > 0.0 && question.meter.digit.is_none();
    let digit = is_inferred.then_some(AssumptionKind::MeterDigit { digit_stops });
    let setting = question.at_full_power.then_some(AssumptionKind::ReadingAtFullPower);
    std::iter::once(repeat).chain(digit).chain(setting).map(Remark::from)
}

/// Findings that lead to warnings.
pub struct Findings {
    /// Standard deviation of repeated readings, if there are any.
    pub repeatability: Option<f64>,
    /// Whether readings were left out as misfires.
    pub misfires: bool,
    /// Whether readings were left out as too bright.
    pub too_bright: bool,
    /// Whether the remaining readings contradict each other.
    pub contradict: bool,
}

/// The warnings of a calibration.
pub fn warnings(
    question: &CalibrateQuestion,
    fit: &Fit,
    groups: &[Group],
    findings: &Findings,
) -> Vec<Warning> {
    let Findings { repeatability, misfires, too_bright, contradict } = *findings;
    let mut warnings = Vec::new();
    if groups.len() < 3 {
        warnings.push(Remark::about(Part::Readings, WarningKind::FewSettings));
    }
    if fit.line.is_some_and(|line| !(0.7..=1.3).contains(&line.slope)) {
        warnings.push(Remark::about(Part::Readings, WarningKind::OddTracking));
    }
    if contradict {
        warnings.push(Remark::about(Part::Readings, WarningKind::ReadingsDisagree));
    }
    if repeatability.is_some_and(|spread| spread > 0.3) {
        warnings.push(Remark::about(Part::Readings, WarningKind::RepeatsDisagree));
    }
    if question.extrapolated {
        warnings.push(Remark::about(Part::Response, WarningKind::BeyondResponse));
    }
    if repeatability.is_none() {
        warnings.push(Remark::about(Part::Readings, WarningKind::NoRepeats));
    }
    if groups.first().is_some_and(|group| group.below > 1e-9) {
        warnings.push(Remark::about(Part::Readings, WarningKind::FullNotMeasured));
    }
    if question.distance.is_none() {
        warnings.push(WarningKind::NoDistance.into());
    }
    if !question.metered {
        warnings.push(Remark::about(Part::Readings, WarningKind::LevelsAreRelative));
    } else if question.distance.is_some() && question.unit.guide_number.is_none() {
        warnings.push(WarningKind::NoRating.into());
    }
    if misfires {
        warnings.push(Remark::about(Part::Readings, WarningKind::Misfires));
    }
    if too_bright {
        warnings.push(Remark::about(Part::Readings, WarningKind::TooBright));
    }
    warnings
}
