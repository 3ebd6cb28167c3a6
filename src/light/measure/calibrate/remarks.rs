//! The assumptions and warnings of a calibration.

use crate::light::{
    assumption::Assumption,
    measure::calibrate::{CalibrateQuestion, Fit, Group, interval::Repeat},
    remark::Remark,
};

/// The assumptions behind the intervals.
pub fn assumptions(repeat: Repeat, half_digit: f64) -> Vec<Assumption> {
    let is_stated = matches!(repeat, Repeat::Stated(_));
    let repeat = Assumption::Repeat { plus_minus_stops: repeat.half(), is_stated };
    let digit = (half_digit > 0.0).then_some(Assumption::MeterDigit { is_thirds: half_digit > 0.1 });
    std::iter::once(repeat).chain(digit).collect()
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
) -> Vec<Remark> {
    let Findings { repeatability, misfires, too_bright, contradict } = *findings;
    let mut warnings = Vec::new();
    if groups.len() < 3 {
        warnings.push(Remark::FewSettings);
    }
    if fit.line.is_some_and(|line| !(0.7..=1.3).contains(&line.slope)) {
        warnings.push(Remark::OddTracking);
    }
    if contradict {
        warnings.push(Remark::ReadingsDisagree);
    }
    if repeatability.is_some_and(|spread| spread > 0.3) {
        warnings.push(Remark::RepeatsDisagree);
    }
    if question.extrapolated {
        warnings.push(Remark::BeyondResponse);
    }
    if repeatability.is_none() {
        warnings.push(Remark::NoRepeats);
    }
    if groups.first().is_some_and(|group| group.below > 1e-9) {
        warnings.push(Remark::FullNotMeasured);
    }
    if question.distance.is_none() {
        warnings.push(Remark::NoDistance);
    }
    if misfires {
        warnings.push(Remark::Misfires);
    }
    if too_bright {
        warnings.push(Remark::TooBright);
    }
    warnings
}
