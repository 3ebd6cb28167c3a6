//! Objects that many requests share.
//!
//! Each `XInput` is a struct read from JSON by its shape. If more must hold, a `check` turns it into a type of `light`.

mod coverage;
mod exposure;
mod feeding;
mod filter;
mod geometry;
mod head;
mod lamp;
mod lens;
mod levels;
mod numbers;
mod optics;
mod pack;
mod stated;
pub(super) mod unit;
mod zoom;

pub use self::{
    coverage::{Guide, GuideNumberInput},
    exposure::ExposureInput,
    lens::LensInput,
    levels::{check_level, encoding, encoding_with},
    numbers::*,
    optics::Sides,
    pack::{PackEntry, begin as begin_packs, outlet_faults, packs},
    stated::{Stated, StatedRange},
    unit::{LightSettingText, SettingDurationInput, SettingText, StockUnit, UnitInput},
    zoom::{UnitGuide, ZoomGuideInput, zoomed, zoomed_if_stated},
};
