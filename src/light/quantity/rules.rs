//! Options of requests: how numbers are read and how answers are written.

use crate::light::quantity::{
    kind::Kind,
    marks::{self, Step},
    notation::Written,
    significant,
    units::Units,
};

/// How numbers are read: as marks or literally.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Reading {
    /// A number on a standard series means the exact value behind the mark: f/5.6 is 2^(5/2).
    #[default]
    Marked,
    /// Every number means itself.
    Literal,
}

impl Reading {
    /// The value in a request.
    pub const fn text(self) -> &'static str {
        match self {
            Self::Marked => "marked",
            Self::Literal => "literal",
        }
    }
}

/// How numbers are read and how answers are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Rules {
    /// How numbers are read.
    pub reading: Reading,
    /// The step of the series of marks.
    pub step: Step,
    /// The units of lengths in the answer.
    pub units: Units,
}

impl Rules {
    /// The exact value of a number under these rules, and whether it was read as a mark.
    pub fn interpret(self, kind: Kind, written: Written) -> (f64, Reading) {
        let mark = match (self.reading, kind.engraved()) {
            (Reading::Marked, Some(engraved)) => marks::find_printed(engraved, self.step, written.number),
            _ => None,
        };
        let base = mark.map_or(written.number, |mark| mark.value);
        let value = if written.beyond_stops == 0.0 {
            base
        } else if kind == Kind::FNumber {
            // A flash meter's "f/8 +0.3" is 0.3 stop more light than f/8: a smaller aperture.
            base * (written.beyond_stops / 2.0).exp2()
        } else {
            base * written.beyond_stops.exp2()
        };
        let read_as = if mark.is_some() { Reading::Marked } else { Reading::Literal };
        (value, read_as)
    }

    /// The value nearest to this one that a request can state as a number: numbers have six digits, and one within 0.1 % of
    /// a printed mark is that mark.
    pub fn sendable(self, kind: Kind, value: f64) -> f64 {
        let number = significant(value);
        let read = self.interpret(kind, Written::plain(number)).0;
        if (read / number - 1.0).abs() < 1e-4 {
            return read;
        }
        // Just beyond what is taken for the mark.
        let mark = kind.engraved().and_then(|engraved| marks::find_printed(engraved, self.step, number));
        let printed = mark.map_or(number, |mark| mark.printed);
        significant(printed * if number < printed { 0.998_98 } else { 1.001_02 })
    }
}
