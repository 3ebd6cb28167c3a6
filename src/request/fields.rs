//! Objects that many requests share.
//!
//! Each `XInput` is a struct read from JSON by its shape. If more must hold, a `check` turns it into a type of `light`.

mod coverage;
mod exposure;
mod feeding;
mod geometry;
mod levels;
mod numbers;
mod optics;
mod set;
mod stated;
pub(super) mod unit;

pub use self::{
    coverage::Guide,
    exposure::ExposureInput,
    levels::{check_level, encoding},
    numbers::*,
    set::{PlacementEntry, ReadingInput, contributions},
    stated::{Stated, StatedRange},
    unit::{SettingDurationInput, SettingText, UnitInput},
};
