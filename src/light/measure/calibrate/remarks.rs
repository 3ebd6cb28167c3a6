//! The assumptions and warnings of a calibration.

use crate::light::{
    measure::calibrate::{Fit, Group, Question, interval::Repeat},
    quantity::significant,
    remark::{Assumption, Remark},
};

/// The assumptions behind the intervals.
pub fn assumptions(repeat: Repeat, half_digit: f64) -> Vec<Assumption> {
    let (origin, source) = match repeat {
        Repeat::Stated(_) => {
            ("stated", "stated by the caller; the readings' own scatter is counted beside it")
        }
        Repeat::Assumed => (
            "assumed",
            "our judgement of flash units; it counts for two readings, beside the readings' own scatter",
        ),
    };
    let repeat = Assumption {
        name: "repeat_plus_minus_stops",
        value: format!("{} stop, 95 %, {origin}", significant(repeat.half())),
        source: source.to_owned(),
    };
    let digit = (half_digit > 0.0).then(|| Assumption {
        name: "meter_digit_stops",
        value: format!("{} stop", if half_digit > 0.1 { "1/3" } else { "0.1" }),
        source: "by the f-numbers, which all stand on such steps; where they stand on whole stops, thirds"
            .to_owned(),
    });
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
pub fn warnings(question: &Question, fit: &Fit, groups: &[Group], findings: &Findings) -> Vec<Remark> {
    let Findings { repeatability, misfires, too_bright, contradict } = *findings;
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
    if contradict {
        warnings.push(Remark::new(
            "readings_disagree",
            "The readings contradict each other, or a true scale, and are too few to say which is wrong: the intervals hold what each would say without one of the others. Take more.",
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
            "No setting was read twice: the intervals rest on the repeatability in assumptions, and on the readings' distance from the line. Repeat readings to know more.",
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
    if misfires {
        warnings.push(Remark::new(
            "misfires",
            "Readings far below the rest were left out. Units, shoe-mount ones above all, fail to fire now and then (common practice): take another frame when it counts.",
        ));
    }
    if too_bright {
        warnings.push(Remark::new(
            "too_bright",
            "Readings far above the rest were left out. That is no misfire: look for another light that was on, a setting or a distance that was another, or a slip of the pen.",
        ));
    }
    warnings
}
