//! Remedy: another lighting ratio.

use crate::light::{
    balance::{
        ratio::LightingRatio,
        remedies::{SizedRemedy, Trials},
    },
    quantity::{Number, bounds},
    remedy::{Action, By, Change, Remedy},
};

/// The nearest ratio that is feasible, in steps of a quarter.
pub fn ratio(trials: &Trials<'_>) -> Option<SizedRemedy> {
    let ratio = trials.question.ratio?;
    let steps = (1..=64).flat_map(|k| [-f64::from(k) / 4.0, f64::from(k) / 4.0]);
    let others = steps.map(|step| LightingRatio { value: ratio.value + step, ..ratio });
    let mut others = others.filter(|other| bounds::LIGHTING_RATIO.check(other.value).is_ok());
    let other = others.find(|other| trials.works_with_ratio(Some(*other)))?;
    let remedy = Remedy {
        change: Change::Ratio,
        by: By::ratio(Number::new_unchecked(other.value)),
        action: Action::Ratio { counted_by: ratio.counting.text() },
    };
    Some(((other.value / ratio.value).log2().abs(), remedy))
}
