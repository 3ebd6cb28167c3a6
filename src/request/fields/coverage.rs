//! Beam coverage and guide numbers.

use crate::{
    light::{
        error::InvalidValue,
        quantity::{
            GuideMetres, Iso,
            constants::{FOOT_M, FRAME_MM},
            kind::Kind,
            notation,
            units::GuideUnit,
        },
        unit::coverage::Coverage,
    },
    request::{
        declare::request,
        field_schema::looks_like,
        fields::numbers::{AnglePair, ConeAngle, FocalLength, FrameSides, GainValue, GuideValue},
        place::At,
        reader::{Read, Reader, words::reads_word},
        schema::GuideInput,
        value::Value,
    },
    wording::fault::Fault,
};

reads_word!(GuideUnit: GuideUnit::ALL.map(|unit| (unit.text(), unit)));

request! {
    /// Beam coverage: exactly one of `focal_length_mm`, `angles_deg`, `cone_deg`, `gain`.
    pub struct CoverageInput {
        /// The focal length whose field of view the beam covers, mm.
        focal_length_mm: Option<FocalLength>,
        /// The frame that the focal length refers to, mm; 36 x 24 if left out.
        frame_mm: Option<FrameSides>,
        /// The two full angles of the beam, horizontal and vertical, degrees.
        angles_deg: Option<AnglePair>,
        /// The full angle of a round beam, degrees.
        cone_deg: Option<ConeAngle>,
        /// On-axis intensity over that of an isotropic source of equal flux.
        gain: Option<GainValue>,
    }
    exactly one of "the coverage": focal_length_mm | angles_deg | cone_deg | gain
}

looks_like!(Coverage as CoverageInput, Guide as GuideInput);

impl Read for Coverage {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = CoverageInput::read(value, at, reader)?;
        let coverage = match (input.focal_length_mm, input.angles_deg, input.cone_deg, input.gain) {
            (Some(FocalLength(focal_length_mm)), None, None, None) => Self::FocalLength {
                focal_length_mm,
                frame_mm: input.frame_mm.map_or(FRAME_MM, |frame| frame.0),
            },
            (None, Some(AnglePair([horizontal_deg, vertical_deg])), None, None) => {
                Self::Angles { horizontal_deg, vertical_deg }
            }
            (None, None, Some(ConeAngle(cone_deg)), None) => Self::Cone { cone_deg },
            (None, None, None, Some(GainValue(gain))) => Self::Gain { gain },
            // Refused by the reader.
            _ => return None,
        };
        if input.frame_mm.is_some() && input.focal_length_mm.is_none() {
            return reader.push_fault(&At::Field(at, "frame_mm"), Fault::FrameWithoutFocalLength);
        }
        Some(coverage)
    }
}

request! {
    /// A guide number.
    pub struct GuideNumberInput {
        /// The value, in `unit`.
        value: GuideValue,
        /// Metres or feet.
        unit: GuideUnit,
        /// The ISO speed it is stated for; 100 if left out.
        iso: Option<Iso>,
        /// The coverage it is stated for.
        coverage: Option<Coverage>,
    }
}

/// A guide number, and the coverage that was stated with it.
pub struct Guide {
    /// In metres at ISO 100.
    pub number: GuideMetres,
    /// Its coverage.
    pub coverage: Option<Coverage>,
}

impl Guide {
    /// A guide number in metres at ISO 100. It is proportional to the square root of the ISO speed (ISO 1230).
    pub fn metres(
        GuideValue(value): GuideValue,
        unit: GuideUnit,
        iso: Option<Iso>,
    ) -> Result<GuideMetres, InvalidValue> {
        let metres = match unit {
            GuideUnit::Metres => value,
            GuideUnit::Feet => value * FOOT_M,
        };
        GuideMetres::new(metres / (iso.unwrap_or(Iso::BASE).get() / 100.0).sqrt())
    }
}

impl Read for Guide {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        // Never a bare number, in a query neither: it does not say whether it is in metres.
        if let Value::Text(text) | Value::Parameter(text) = value {
            let written = reader.checked(at, notation::read(Kind::GuideNumber, text))?;
            let number = reader.checked(at, GuideMetres::new(written.number))?;
            return Some(Self { number, coverage: None });
        }
        let input = GuideNumberInput::read(value, at, reader)?;
        match Self::metres(input.value, input.unit, input.iso) {
            Ok(number) => Some(Self { number, coverage: input.coverage }),
            Err(invalid) => reader.push_fault(&At::Field(at, "value"), invalid),
        }
    }

    fn expected() -> String {
        "a guide number, as \"GN 40\", or {\"value\": 40, \"unit\": \"m\", \"iso\": 100}".to_owned()
    }
}
