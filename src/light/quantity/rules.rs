//! What holds for a whole request, whatever it asks.

use crate::light::quantity::{kind::Reading, marks::Step, units::Units};

/// How numbers are read, and how answers are told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Rules {
    /// Marked or literal.
    pub reading: Reading,
    /// The series of marks in force.
    pub step: Step,
    /// The units of lengths in the answer.
    pub units: Units,
}
