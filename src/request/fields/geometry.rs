//! Positions and directions.

use crate::{
    light::set::geometry::{Direction, Position},
    request::{
        field_schema::looks_like,
        fields::numbers::{Coordinate, DirectionPart},
        place::At,
        reader::{Read, Reader, lists::array_of},
        schema::{DirectionInput, PositionInput},
        value::Value,
    },
    wording::fault::Fault,
};

looks_like!(Position as PositionInput, Direction as DirectionInput);

impl Read for Position {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        array_of(value, &Self::expected(), at, reader, |_, value, at, reader| {
            Coordinate::read(value, at, reader).map(|coordinate| coordinate.0.get())
        })
        .map(Self)
    }

    fn expected() -> String {
        "a position [x, y, z], each as -0.4 (metres), \"-40 cm\" or \"6 ft 3 in\"".to_owned()
    }
}

const EXPECTED: &str = "a direction [x, y, z] that is not zero";

impl Read for Direction {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let direction = array_of(value, EXPECTED, at, reader, |_, value, at, reader| {
            DirectionPart::read(value, at, reader).map(|part| part.0)
        })
        .map(Self)?;
        if direction.is_zero() {
            return reader.push_fault(at, Fault::NoDirection { expected: EXPECTED });
        }
        Some(direction)
    }

    fn expected() -> String {
        EXPECTED.to_owned()
    }
}
