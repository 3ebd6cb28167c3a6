//! The exposure that flash makes.

use super::quantity::{FNumber, Iso};

/// Aperture and ISO speed: time does not matter to flash.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlashExposure {
    /// Aperture.
    pub f_number: FNumber,
    /// ISO speed.
    pub iso: Iso,
}
