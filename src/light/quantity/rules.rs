//! What holds for a whole request, whatever it asks.

use crate::light::quantity::{
    kind::Kind,
    marks::{self, Step},
    notation::Written,
    units::Units,
};

/// Whether a value was read as the exact value of a mark, or as it stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Reading {
    /// Marks of the standard series stand for exact values: f/5.6 is 2^(5/2).
    #[default]
    Marked,
    /// Every number is what it says.
    Literal,
}

impl Reading {
    /// As it is written in a request.
    pub const fn text(self) -> &'static str {
        match self {
            Self::Marked => "marked",
            Self::Literal => "literal",
        }
    }
}

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

impl Rules {
    /// The value that a written number means under these rules, and whether a mark was read.
    pub fn interpret(self, kind: Kind, written: Written) -> (f64, Reading) {
        let mark = match (self.reading, kind.engraved()) {
            (Reading::Marked, Some(engraved)) => marks::standing_for(engraved, self.step, written.number),
            _ => None,
        };
        let base = mark.map_or(written.number, |mark| mark.value);
        let value = if written.beyond_stops == 0.0 {
            base
        } else if kind == Kind::FNumber {
            // A flash meter's "f/8 +0.3" is more light than f/8 needs: a smaller aperture.
            base * (written.beyond_stops / 2.0).exp2()
        } else {
            base * written.beyond_stops.exp2()
        };
        let read_as = if mark.is_some() { Reading::Marked } else { Reading::Literal };
        (value, read_as)
    }
}
