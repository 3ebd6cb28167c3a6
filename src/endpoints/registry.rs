//! Every calculation by its path, for batches and other callers that do not go through the router.

use crate::{
    endpoints::{
        calculation::Entry,
        guide::{EnergyEstimateQuestion, GuideEstimateQuestion},
        kit::KitCompareQuestion,
        measured::MeasuredQuestion,
        readings::{CombineQuestion, ReadingRatioQuestion},
        stops::ConvertQuestion,
    },
    light::{
        balance::BalanceQuestion,
        correct::question::CorrectQuestion,
        equivalence::EquivalenceQuestion,
        exposure::ExposuresQuestion,
        kit::KitQuestion,
        measure::{
            ambient::AmbientQuestion, calibrate::CalibrateQuestion, motion::FreezeQuestion,
            patch_level::PatchLevelQuestion, patches::PatchesQuestion, response::ResponseQuestion,
        },
        one_light::OneLightQuestion,
        set::{
            close_up::CloseUpQuestion, falloff::FalloffQuestion, gel::GelQuestion, predict::PredictQuestion,
            softness::SoftnessQuestion,
        },
        supply::SupplyQuestion,
    },
};

/// The table, by path. A test compares it with the paths that take POST.
pub const ALL: &[Entry] = &[
    Entry::new::<AmbientQuestion>("ambient/check"),
    Entry::new::<GelQuestion>("colour/gel"),
    Entry::new::<GuideEstimateQuestion>("energy/guide-number"),
    Entry::new::<EquivalenceQuestion>("energy/equivalence"),
    Entry::new::<MeasuredQuestion>("energy/measured"),
    Entry::new::<ExposuresQuestion>("exposure/compare"),
    Entry::new::<OneLightQuestion>("exposure/one-light"),
    Entry::new::<PredictQuestion>("exposure/predict"),
    Entry::new::<EnergyEstimateQuestion>("guide-number/energy"),
    Entry::new::<KitQuestion>("kit/check"),
    Entry::new::<KitCompareQuestion>("kit/compare"),
    Entry::new::<CloseUpQuestion>("lens/close-up"),
    Entry::new::<FalloffQuestion>("lights/falloff"),
    Entry::new::<SoftnessQuestion>("lights/softness"),
    Entry::new::<FreezeQuestion>("motion/freeze"),
    Entry::new::<PatchesQuestion>("patches/compare"),
    Entry::new::<PatchLevelQuestion>("patches/level"),
    Entry::new::<ResponseQuestion>("patches/response"),
    Entry::new::<BalanceQuestion>("ratios/balance"),
    Entry::new::<CombineQuestion>("readings/combine"),
    Entry::new::<ReadingRatioQuestion>("readings/ratio"),
    Entry::new::<CorrectQuestion>("sets/correct"),
    Entry::new::<ConvertQuestion>("stops/convert"),
    Entry::new::<SupplyQuestion>("supply/plan"),
    Entry::new::<CalibrateQuestion>("units/calibrate"),
];

/// The calculation at a path, written with or without `/v1/`.
pub fn find(path: &str) -> Option<&'static Entry> {
    let path = bare(path);
    ALL.iter().find(|entry| entry.path == path)
}

/// A path without a leading `/` or `/v1/`.
pub fn bare(path: &str) -> &str {
    let path = path.strip_prefix('/').unwrap_or(path);
    path.strip_prefix("v1/").unwrap_or(path)
}

/// Whether the answer at a path has a picture.
pub fn is_drawn(path: &str) -> bool {
    find(path).is_some_and(|entry| entry.is_drawn)
}
