//! Levels of patches, their encoding, and what they mean.

use utoipa::ToSchema;

use crate::{
    light::{
        measure::{
            response::Response,
            space::{Encoding, Level, Space},
        },
        quantity::Stops,
    },
    request::{
        fields::numbers::{Bits, PatchLevel},
        place::At,
        reader::{Item, Read, Reader, array_of, reads, reads_word},
        schema::StopsInput,
        value::Value,
    },
};

reads_word!(Space: Space::ALL.map(|space| (space.text(), space)));

/// The encoding of levels, out of the fields `space` and `bits`.
pub fn encoding(space: Option<Space>, bits: Option<Bits>) -> Encoding {
    let usual = Encoding::default();
    Encoding { space: space.unwrap_or(usual.space), bits: bits.map_or(usual.bits, |bits| bits.0) }
}

impl Read for Level {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let is_list = match tree {
            Value::Parameter(text) => text.contains(','),
            tree => matches!(tree, Value::List(_)),
        };
        if !is_list {
            return PatchLevel::read(tree, at, reader).map(|level| Self::Grey(level.0));
        }
        array_of(tree, &Self::expected(), at, reader, |_, tree, at, reader| {
            PatchLevel::read(tree, at, reader).map(|level| level.0)
        })
        .map(Self::Rgb)
    }

    fn expected() -> String {
        "a level, as 118, or [red, green, blue]".to_owned()
    }
}

/// A level within its encoding's range.
pub fn within(level: Level, encoding: Encoding, at: &At<'_>, reader: &mut Reader) {
    let most = encoding.greatest();
    let too_much = match level {
        Level::Grey(level) => level > most,
        Level::Rgb(rgb) => rgb.into_iter().any(|level| level > most),
    };
    if too_much {
        reader.fault::<()>(
            at,
            format!("the level is beyond {} bits", encoding.bits),
            format!("0 to {most}, or \"bits\": 16"),
        );
    }
}

/// What the levels of a file mean, as `patches/response` answers it.
#[derive(ToSchema)]
#[schema(as = PatchResponseInput)]
pub struct ResponseInput {
    /// The space of the levels; `srgb` if left out.
    space: Option<Space>,
    /// Bits of a level, 8 or 16; 8 if left out.
    #[schema(value_type = Option<u32>, minimum = 8, maximum = 16)]
    bits: Option<Bits>,
    /// Points of the curve, levels and stops both rising.
    #[schema(min_items = 2, max_items = 64)]
    points: Vec<ResponsePointInput>,
}
reads!(ResponseInput { space, bits, points });

/// One point of a response.
#[derive(ToSchema)]
#[schema(as = PatchResponsePointInput)]
pub struct ResponsePointInput {
    /// The level of a grey.
    level: PatchLevel,
    /// Its exposure against the other points, stops.
    #[schema(value_type = StopsInput)]
    stops: Stops,
}
reads!(ResponsePointInput { level, stops });

impl Item for ResponsePointInput {
    const LEAST: usize = 2;
    const MOST: usize = 64;
    const WHAT: &'static str = "points";
}

impl Read for Response {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let form = ResponseInput::read(tree, at, reader)?;
        let encoding = encoding(form.space, form.bits);
        let points = form.points.iter().map(|point| [point.level.0, point.stops.get()]).collect();
        Self::through(encoding, points).or_else(|| {
            reader.fault(
                &At::Field(at, "points"),
                "the points do not rise",
                "levels that rise by 0.01 or more, and stops by 0.001 or more",
            )
        })
    }
}
