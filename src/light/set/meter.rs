//! How sure a flash meter is. All defaults are our judgement.

use crate::light::quantity::Stops;

/// The half-widths of a meter's readings, ± stops at 95 %, and its digit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeterDoubt {
    /// Of a reading, apart from its rounding.
    pub reading: Stops,
    /// The step of its display, stops; readings are rounded to it.
    pub digit: Stops,
    /// Of the meter against the camera.
    pub offset: Stops,
}

impl MeterDoubt {
    /// The default for a reading.
    pub const READING: f64 = 0.12;
    /// The default digit.
    pub const DIGIT: f64 = 0.1;
    /// The default for an offset that is not stated.
    pub const OFFSET: f64 = 0.2;
    /// The default for an offset that is stated.
    pub const STATED_OFFSET: f64 = 0.06;
}

impl Default for MeterDoubt {
    fn default() -> Self {
        Self {
            reading: Stops::new_unchecked(Self::READING),
            digit: Stops::new_unchecked(Self::DIGIT),
            offset: Stops::new_unchecked(Self::OFFSET),
        }
    }
}
