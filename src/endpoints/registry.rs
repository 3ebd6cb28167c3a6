//! Every calculation by its path, for batches and other callers that do not go through the router.

use crate::{
    endpoints::{
        calculation::Entry,
        guide::{EnergyEstimateQuestion, GuideEstimateQuestion},
        kit::KitCompareQuestion,
        measured::MeasuredQuestion,
        stops::ConvertQuestion,
    },
    light::{
        balance::BalanceQuestion,
        equivalence::EquivalenceQuestion,
        kit::KitQuestion,
        measure::{
            ambient::AmbientQuestion, calibrate::CalibrateQuestion, motion::FreezeQuestion,
            patches::PatchesQuestion, response::ResponseQuestion,
        },
        set::{falloff::FalloffQuestion, gel::GelQuestion, predict::PredictQuestion},
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
    Entry::new::<PredictQuestion>("exposure/predict"),
    Entry::new::<EnergyEstimateQuestion>("guide-number/energy"),
    Entry::new::<KitQuestion>("kit/check"),
    Entry::new::<KitCompareQuestion>("kit/compare"),
    Entry::new::<FalloffQuestion>("lights/falloff"),
    Entry::new::<FreezeQuestion>("motion/freeze"),
    Entry::new::<PatchesQuestion>("patches/compare"),
    Entry::new::<ResponseQuestion>("patches/response"),
    Entry::new::<BalanceQuestion>("ratios/balance"),
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
