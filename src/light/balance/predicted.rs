//! The light at each point at the settings of a balance.

use crate::light::{
    balance::{Balance, BalanceQuestion},
    set::{
        control::LightSetting,
        predict::{self, PredictQuestion, PredictedPoint},
    },
};

/// What [`predict::predict`] says of each point at these settings, with the share of each light.
pub fn predicted(question: &BalanceQuestion, answer: &Balance) -> Vec<PredictedPoint> {
    let mut scene = question.scene.clone();
    for (light, found) in scene.lights.iter_mut().zip(&answer.settings) {
        let below = found.setting.as_ref().map(|setting| setting.stops_below_full);
        light.control.setting = Some(below.map_or(LightSetting::Off, LightSetting::Below));
    }
    let predicted =
        predict::predict(&PredictQuestion { scene, tolerance: question.tolerance, rules: question.rules });
    predicted.map(|answer| answer.points).unwrap_or_default()
}
