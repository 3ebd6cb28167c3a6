//! What stands around a set: boards and ceilings, flags and bodies, the room, and the camera.

use crate::{
    light::{
        id::Id,
        quantity::Metres,
        set::{
            blocker::{Blocker, Shape},
            geometry::{Camera, Direction, Position},
            panel::Panel,
            reflector::Reflector,
            room::Room,
        },
    },
    request::{
        declare::request,
        field_schema::{FieldSchema, Named, looks_like},
        fields::{ReflectanceValue, RoomReflectance, Sides, Size, Tolerance},
        place::At,
        reader::{
            Read, Reader,
            lists::{Item, array_of},
        },
        references,
        schema::{self, Name},
        value::Value,
    },
    wording::fault::Fault,
};
use utoipa::openapi::{RefOr, Schema};

request! {
    /// A matte board or a ceiling, which sends light on: once, and only on the side of its normal. It counts for lights and points that both have a position; a light is where it is stated to be itself, with its own aim, beam and source. A reading has this light in it already.
    struct ReflectorInput {
        /// Your own id for this entry.
        id: Option<Id>,
        /// Its name in this request, 1 to 64 characters, unique among the boards; the text of its `id` if left out.
        name: Option<String> as Name,
        /// Its middle.
        position: Position,
        /// The direction that its white side faces.
        normal: Direction,
        /// Its width and height.
        size_m: Sides,
        /// The direction along which its height runs, as far as that lies in the board; upwards (z) if left out, along y for a level board.
        up: Option<Direction>,
        /// The share of the light that it sends back, as 0.9 or "90 %".
        reflectance: ReflectanceValue,
        /// How far that may be off, ± stops at 95 %, 0.001 to 4; 0.2 if left out.
        plus_minus_stops: Option<Tolerance>,
    }
    checked by references::define_reflector(id, name)
}

request! {
    /// Something that hides lights and boards from points, such as a flag or a person: exactly one of `board` and `cylinder`. It counts between positions. What touches it within 1 cm, such as a point on the front of a body, is dark only to what is behind its surface.
    struct BlockerInput {
        /// Your own id for this entry.
        id: Option<Id>,
        /// Its name in this request, 1 to 64 characters, unique among the blockers; the text of its `id` if left out.
        name: Option<String> as Name,
        /// A flat board.
        board: Option<FlagInput>,
        /// An upright cylinder, such as a person.
        cylinder: Option<CylinderInput>,
    }
    exactly one of "the blocker": board | cylinder
    checked by references::define_blocker(id, name)
}

request! {
    /// A flat board that hides light, from both sides.
    struct FlagInput {
        /// Its middle.
        position: Position,
        /// The direction that it faces, either way.
        normal: Direction,
        /// Its width and height.
        size_m: Sides,
        /// The direction along which its height runs, as far as that lies in the board; upwards (z) if left out, along y for a level board.
        up: Option<Direction>,
    }
}

request! {
    /// An upright cylinder that hides light.
    struct CylinderInput {
        /// The middle of its foot.
        position: Position,
        /// Its height, m.
        height_m: Size,
        /// Its diameter, m.
        diameter_m: Size,
    }
}

request! {
    /// A closed room, whose walls, floor and ceiling send on an even light. It is a rough estimate, by a factor of two either way, from the lumens of each light: from its `beam`, its `source`, or the coverage of its unit.
    struct RoomInput {
        /// Width, depth and height.
        size_m: RoomSides,
        /// The mean reflectance of walls, floor and ceiling, as 0.6 or "60 %".
        reflectance: RoomReflectance,
    }
}

request! {
    /// Where the camera stands: drawn in the plan of a set, and of no effect on the numbers.
    struct CameraInput {
        /// Its position.
        position: Position,
        /// The position that it is aimed at.
        aim: Option<Position>,
    }
}

/// Width, depth and height.
struct RoomSides([Size; 3]);

impl FieldSchema for RoomSides {
    fn schema() -> RefOr<Schema> {
        schema::three(Size::schema()).into()
    }

    fn add_named(all: &mut Named) {
        Size::add_named(all);
    }
}

impl Read for RoomSides {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        array_of(value, &Self::expected(), at, reader, |_, value, at, reader| Size::read(value, at, reader))
            .map(Self)
    }

    fn expected() -> String {
        "a list of three, width, depth and height".to_owned()
    }
}

/// A board that was read.
pub struct ReflectorEntry(pub Reflector);
/// A blocker that was read.
pub struct BlockerEntry(pub Blocker);

looks_like!(
    ReflectorEntry as ReflectorInput,
    BlockerEntry as BlockerInput,
    Room as RoomInput,
    Camera as CameraInput,
);

/// The panel of a board.
fn panel(
    (position, normal, size, up): (Position, Direction, Sides, Option<Direction>),
    at: &At<'_>,
    reader: &mut Reader,
) -> Option<Panel> {
    let size: [Metres; 2] = size.0.map(|side| side.0);
    Panel::new(position.0, normal.0, size, up.map(|up| up.0))
        .or_else(|| reader.push_fault(&At::Field(at, "up"), Fault::UpAlongNormal))
}

impl Read for ReflectorEntry {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = ReflectorInput::read(value, at, reader)?;
        let panel = panel((input.position, input.normal, input.size_m, input.up), at, reader)?;
        let name = references::name_or_id(input.name, input.id.as_ref())?;
        Some(Self(Reflector {
            id: input.id,
            name,
            panel,
            reflectance: input.reflectance.0,
            plus_minus: input.plus_minus_stops.map(|it| it.0),
        }))
    }
}

impl Read for BlockerEntry {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = BlockerInput::read(value, at, reader)?;
        let shape = match (input.board, input.cylinder) {
            (Some(FlagInput { position, normal, size_m, up }), None) => {
                Shape::Board(panel((position, normal, size_m, up), &At::Field(at, "board"), reader)?)
            }
            (None, Some(CylinderInput { position, height_m, diameter_m })) => Shape::Cylinder {
                foot: position.0,
                height: height_m.0.get(),
                radius: diameter_m.0.get() / 2.0,
            },
            // Refused by the reader.
            _ => return None,
        };
        Some(Self(Blocker {
            name: references::name_or_id(input.name, input.id.as_ref())?,
            id: input.id,
            shape,
        }))
    }
}

impl Read for Room {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let RoomInput { size_m, reflectance } = RoomInput::read(value, at, reader)?;
        Some(Self { size: size_m.0.map(|side| side.0), reflectance: reflectance.0 })
    }
}

impl Read for Camera {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let CameraInput { position, aim } = CameraInput::read(value, at, reader)?;
        let Ok(camera) = Self::new(position, aim) else {
            let expected = "a position other than the camera's own";
            return reader.push_fault(&At::Field(at, "aim"), Fault::NoDirection { expected });
        };
        Some(camera)
    }
}

impl Item for ReflectorEntry {
    const MIN: usize = 0;
    const MAX: usize = 16;
    const PLURAL: &'static str = "boards";
}

impl Item for BlockerEntry {
    const MIN: usize = 0;
    const MAX: usize = 32;
    const PLURAL: &'static str = "blockers";
}
