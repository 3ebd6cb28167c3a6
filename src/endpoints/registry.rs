//! Every calculation by its path, for batches and other callers that do not go through the router.

use crate::endpoints::{
    ambient, balance, calculation::Entry, calibrate, colour, energy, falloff, guide, kit, motion, patches,
    predict, stops, supply,
};

/// The table, by path. A test compares it with the paths that take POST.
pub const ALL: &[Entry] = &[
    Entry::new::<ambient::CheckedAmbient>("ambient/check"),
    Entry::new::<colour::CheckedGel>("colour/gel"),
    Entry::new::<guide::CheckedGuideEstimate>("energy/guide-number"),
    Entry::new::<energy::CheckedEquivalence>("energy/equivalence"),
    Entry::new::<energy::CheckedMeasured>("energy/measured"),
    Entry::new::<predict::CheckedPredict>("exposure/predict"),
    Entry::new::<guide::CheckedEnergyEstimate>("guide-number/energy"),
    Entry::new::<kit::CheckedKitCheck>("kit/check"),
    Entry::new::<kit::CheckedKitCompare>("kit/compare"),
    Entry::new::<falloff::CheckedFalloff>("lights/falloff"),
    Entry::new::<motion::CheckedFreeze>("motion/freeze"),
    Entry::new::<patches::CheckedCompare>("patches/compare"),
    Entry::new::<patches::CheckedResponse>("patches/response"),
    Entry::new::<balance::CheckedBalance>("ratios/balance"),
    Entry::new::<stops::CheckedConvert>("stops/convert"),
    Entry::new::<supply::CheckedSupplyPlan>("supply/plan"),
    Entry::new::<calibrate::CheckedCalibrate>("units/calibrate"),
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
