//! Levels of patches, their encoding, and the response that relates them to exposure.

use crate::{
    light::{
        measure::{
            response::Response,
            space::{Encoding, Level, Space},
        },
        quantity::Stops,
    },
    request::{
        declare::request,
        field_schema::looks_like,
        fields::numbers::{Bits, PatchLevel},
        place::At,
        reader::{
            Read, Reader,
            lists::{Item, array_of},
            words::reads_word,
        },
        schema::LevelInput,
        value::Value,
    },
    wording::fault::Fault,
};

reads_word!(Space: Space::ALL.map(|space| (space.text(), space)));

/// The encoding of levels, from the fields `space` and `bits`.
pub fn encoding(space: Option<Space>, bits: Option<Bits>) -> Encoding {
    let defaults = Encoding::default();
    Encoding { space: space.unwrap_or(defaults.space), bits: bits.map_or(defaults.bits, |bits| bits.0) }
}

/// The encoding of levels that are read by a response: its own, which the fields may repeat.
pub fn encoding_with(
    response: Option<&Response>,
    space: Option<Space>,
    bits: Option<Bits>,
    at: &At<'_>,
    reader: &mut Reader,
) -> Encoding {
    let stated = encoding(space, bits);
    let Some(Response { encoding, .. }) = response else { return stated };
    for (given, same, name) in [
        (space.is_some(), stated.space == encoding.space, "space"),
        (bits.is_some(), stated.bits == encoding.bits, "bits"),
    ] {
        if given && !same {
            reader.push_fault::<()>(&At::Field(at, name), Fault::OtherEncoding);
        }
    }
    *encoding
}

impl Read for Level {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let is_list = match value {
            Value::Parameter(text) => text.contains(','),
            value => matches!(value, Value::List(_)),
        };
        if !is_list {
            return PatchLevel::read(value, at, reader).map(|level| Self::Grey(level.0));
        }
        array_of(value, &Self::expected(), at, reader, |_, value, at, reader| {
            PatchLevel::read(value, at, reader).map(|level| level.0)
        })
        .map(Self::Rgb)
    }

    fn expected() -> String {
        "a level, as 118, or [red, green, blue]".to_owned()
    }
}

/// Checks that a level is within the range of its encoding.
pub fn check_level(level: Level, encoding: Encoding, at: &At<'_>, reader: &mut Reader) {
    let greatest = encoding.greatest();
    let is_above = match level {
        Level::Grey(level) => level > greatest,
        Level::Rgb(rgb) => rgb.into_iter().any(|level| level > greatest),
    };
    if is_above {
        reader.push_fault::<()>(at, Fault::LevelBeyondBits { bits: encoding.bits, greatest });
    }
}

request! {
    /// The response of the camera: which exposure each level stands for, as answered by `/v1/patches/response`.
    pub struct ResponseInput as "PatchResponseInput" {
        /// Colour space of the levels; `srgb` if left out.
        space: Option<Space>,
        /// Bit depth of the levels, 8 or 16; 8 if left out.
        bits: Option<Bits>,
        /// Points of the curve; levels and stops must both rise.
        points: Vec<ResponsePointInput>,
    }
}

request! {
    /// One point of a response.
    pub struct ResponsePointInput as "PatchResponsePointInput" {
        /// The level of a grey patch.
        level: PatchLevel,
        /// Its exposure relative to the other points, stops.
        stops: Stops,
    }
}

impl Item for ResponsePointInput {
    const MIN: usize = 2;
    const MAX: usize = 64;
    const PLURAL: &'static str = "points";
}

looks_like!(Response as ResponseInput, Level as LevelInput);

impl Read for Response {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = ResponseInput::read(value, at, reader)?;
        let encoding = encoding(input.space, input.bits);
        let points = input.points.iter().map(|point| [point.level.0, point.stops.get()]).collect();
        Self::through(encoding, points)
            .or_else(|| reader.push_fault(&At::Field(at, "points"), Fault::PointsNotRising))
    }
}
