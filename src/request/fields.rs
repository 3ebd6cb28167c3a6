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
mod unit;

pub use self::{
    coverage::{CoverageInput, Guide, GuideNumberInput},
    exposure::{ExposureInput, LimitsInput},
    levels::{ResponseInput, check_level, encoding},
    numbers::*,
    optics::{BeamInput, SourceInput},
    set::{AmbientInput, CheckedPlacement, PlacementInput, ReadingInput, contributions},
    stated::{Stated, StatedRange},
    unit::{DURATION_EXPECTED, SettingDurationInput, SettingText, UnitInput},
};
