//! The exposure settings that affect flash.

use crate::light::quantity::{FNumber, Iso};

/// Aperture and ISO speed. The exposure time does not affect flash.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlashExposure {
    /// Aperture.
    pub f_number: FNumber,
    /// ISO speed.
    pub iso: Iso,
}
