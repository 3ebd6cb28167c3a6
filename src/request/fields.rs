//! Objects that many requests share.
//!
//! Each is a form, read by its shape, and where more must hold a `check` that makes the domain's type.

mod coverage;
mod exposure;
mod feeding;
mod levels;
mod numbers;
mod set;
mod stated;
mod unit;

pub use self::{
    coverage::{CoverageInput, Guide, GuideNumberInput},
    exposure::{ExposureInput, LimitsInput},
    levels::{ResponseInput, encoding, within},
    numbers::*,
    set::{AmbientInput, BeamInput, Placed, PlacementInput, ReadingInput, SourceInput, contributions},
    stated::{Stated, StatedRange},
    unit::{DURATION_EXPECTED, SettingDurationInput, SettingText, UnitInput},
};
