//! Every calculation by its path, for those that ask by path and not by HTTP.

use crate::endpoints::{
    ambient, balance, calculation::Entry, calibrate, colour, energy, falloff, guide, kit, motion, patches,
    predict, stops, supply,
};

/// The table, by path; a test holds it to the paths that take POST.
pub const ALL: &[Entry] = &[
    Entry::of::<ambient::AmbientChecked>("ambient/check"),
    Entry::of::<colour::GelChecked>("colour/gel"),
    Entry::of::<guide::GuideChecked>("energy/guide-number"),
    Entry::of::<energy::EquivalenceChecked>("energy/equivalence"),
    Entry::of::<energy::MeasuredChecked>("energy/measured"),
    Entry::of::<predict::PredictChecked>("exposure/predict"),
    Entry::of::<guide::EnergyChecked>("guide-number/energy"),
    Entry::of::<kit::KitCheckChecked>("kit/check"),
    Entry::of::<kit::KitCompareChecked>("kit/compare"),
    Entry::of::<falloff::FalloffChecked>("lights/falloff"),
    Entry::of::<motion::FreezeChecked>("motion/freeze"),
    Entry::of::<patches::CompareChecked>("patches/compare"),
    Entry::of::<patches::ResponseChecked>("patches/response"),
    Entry::of::<balance::BalanceChecked>("ratios/balance"),
    Entry::of::<stops::ConvertChecked>("stops/convert"),
    Entry::of::<supply::SupplyChecked>("supply/plan"),
    Entry::of::<calibrate::CalibrateChecked>("units/calibrate"),
];

/// The calculation at a path, written with or without `/v1/`.
pub fn find(path: &str) -> Option<&'static Entry> {
    let path = bare(path);
    ALL.iter().find(|entry| entry.path == path)
}

/// A path without what may stand before it: `/` or `/v1/`.
pub fn bare(path: &str) -> &str {
    let path = path.strip_prefix('/').unwrap_or(path);
    path.strip_prefix("v1/").unwrap_or(path)
}

/// Whether the answer at a path is drawn.
pub fn is_drawn(path: &str) -> bool {
    find(path).is_some_and(|entry| entry.is_drawn)
}
