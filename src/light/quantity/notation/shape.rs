//! A quick test by its characters of which kinds a text cannot have.

use crate::light::quantity::kind::Kind;

/// The characters of a text, used to rule out most kinds without parsing.
pub struct Shape {
    begins_with_number: bool,
    /// The set of its ASCII characters as bits, letters in lower case.
    has: u128,
    is_ascii: bool,
}

impl Shape {
    /// Collects the characters of a text.
    pub fn from_text(text: &str) -> Self {
        let bit = |byte: u8| if byte.is_ascii() { 1_u128 << byte.to_ascii_lowercase() } else { 0 };
        let first = text.trim_start().bytes().next().unwrap_or(b' ');
        Self {
            begins_with_number: first.is_ascii_digit() || first == b'.',
            has: text.bytes().fold(0, |has, byte| has | bit(byte)),
            is_ascii: text.is_ascii(),
        }
    }

    fn has_any(&self, characters: &str) -> bool {
        characters.bytes().any(|byte| self.has & (1 << byte) != 0)
    }

    /// Whether the text may have this kind. `false` is certain, `true` is not.
    pub fn may_be(&self, kind: Kind) -> bool {
        match kind {
            Kind::FNumber => self.has_any("f") || !self.is_ascii || self.begins_with_number,
            Kind::ExposureTime => self.begins_with_number && self.has_any("/s\""),
            Kind::Iso => self.has_any("i") || self.begins_with_number,
            Kind::Energy => self.begins_with_number && self.has_any("jw"),
            Kind::PowerFraction => self.begins_with_number,
            Kind::Percent | Kind::Reflectance => self.begins_with_number && self.has_any("%"),
            Kind::Distance => self.begins_with_number && (self.has_any("mfi'\"") || !self.is_ascii),
            Kind::GuideNumber => self.has_any("g"),
            Kind::OpticalDensity => self.has_any("n") && self.has_any("."),
            Kind::FilterFactor => self.has_any("n") && !self.has_any("."),
            Kind::LightRatio => self.begins_with_number && self.has_any(":"),
            Kind::ExposureValue => self.has_any("v"),
            Kind::Illuminance => self.begins_with_number && self.has_any("xc"),
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::light::quantity::notation::parse;

    proptest! {
        #[test]
        fn a_shape_rules_out_no_kind_that_can_be_parsed(text in "[ ]?[-+]?(f/?|F|\u{192}/|iso|ISO |gn ?|nd ?|ND|ev ?-?|EV)?[0-9]{0,3}[.]?[0-9]{0,2} ?(/ ?[0-9]{1,3})? ?(s|sec|\"|j|kJ|Ws|m|cm|mm|ft|'|in|\u{2032}|%|lx|LUX|fc|EV|: ?[0-9]|[+][0-9]/3)?( ?[0-9]{0,2} ?(in|\"|stops?))?") {
            let shape = Shape::from_text(&text);
            for kind in Kind::ALL {
                prop_assert!(shape.may_be(kind) || parse(kind, &text).is_none(), "{:?} {:?}", kind, text);
            }
        }
    }
}
