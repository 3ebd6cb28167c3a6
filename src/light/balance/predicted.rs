//! The light at each point at the settings of a balance.

use crate::light::{
    balance::{Balance, BalanceQuestion},
    set::predict::{self, Lens, LightSetting, PredictQuestion, PredictedPoint},
};

/// What [`predict::predict`] says of each point at these settings, with the share of each light.
pub fn predicted(question: &BalanceQuestion, answer: &Balance) -> Vec<PredictedPoint> {
    let set = &question.set;
    let settings = answer.settings.iter().zip(&set.controls).map(|(light, control)| LightSetting {
        below: light.setting.as_ref().map(|setting| setting.stops_below_full),
        pops: control.pops,
    });
    let predicted = predict::predict(&PredictQuestion {
        scene: set.scene.clone(),
        settings: settings.collect(),
        lens: Lens::default(),
        step: set.step,
        units: set.units,
    });
    predicted.map(|answer| answer.points).unwrap_or_default()
}
