//! The optics of a light: beams, modifiers, and the faces of sources.

use utoipa::openapi::{ObjectBuilder, OneOfBuilder, Ref, RefOr, Schema, Type};

use crate::{
    light::{
        quantity::{bounds, notation},
        set::{
            beam::Beam,
            modifier::{KINDS, Modifier},
            placement::Source,
        },
    },
    request::{
        declare::request,
        field_schema::{self, FieldSchema, Named, looks_like, reference},
        fields::numbers::{Correction, HalfPower, OffAxis, Relative, Size, Tolerance},
        place::At,
        reader::{
            Read, Reader,
            lists::{Item, array_of},
            reads,
            values::is_too_long,
            words,
        },
        schema::{self, ModifierInput, StopsInput, schema},
        value::Value,
    },
    wording::fault::Fault,
};

request! {
    /// How a beam falls off away from its axis: exactly one of `half_power_deg` and `table`.
    pub struct BeamInput {
        /// The full angle between the two directions of half intensity, degrees. The beam is then modelled as a power of the cosine.
        half_power_deg: Option<HalfPower>,
        /// Measured rows of angle off the axis, degrees, rising from 0, and intensity relative to the first row. Linear in between; no light beyond the last row.
        table: Option<Vec<BeamRow>>,
    }
    exactly one of "the beam": half_power_deg | table
}

struct BeamRow([f64; 2]);

schema!(of BeamRow as "BeamRow":
    // One number schema for both: not all client generators support tuples of different types.
    schema::pair(schema::number(bounds::RELATIVE).into())
        .description(Some("An angle off the axis, degrees, 0 to 180, and the intensity there."))
        .into());

impl Read for BeamRow {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        const EXPECTED: &str = "a list of two, degrees off the axis and relative intensity";
        array_of(value, EXPECTED, at, reader, |index, value, at, reader| match index {
            0 => OffAxis::read(value, at, reader).map(|angle| angle.0),
            _ => Relative::read(value, at, reader).map(|relative| relative.0),
        })
        .map(Self)
    }
}

impl Item for BeamRow {
    const MIN: usize = 2;
    const MAX: usize = 181;
    const PLURAL: &'static str = "rows";
}

looks_like!(BeamRow as BeamRow, Source as SourceInput);

/// The word for a beam that is even.
const EVEN: &str = "even";

schema!(
    /// A beam in a request.
    BeamOrWord as "Beam": OneOfBuilder::new()
        .item(Ref::from_schema_name("BeamInput"))
        .item(ObjectBuilder::new().schema_type(Type::String).pattern(Some("^even$")))
        .description(Some("How a beam falls off, or \"even\": as strong in all directions, so that the light of a face does not fall off with the cosine either."))
        .into()
);

impl FieldSchema for Beam {
    fn schema() -> RefOr<Schema> {
        reference::<BeamOrWord>()
    }

    fn parameter() -> RefOr<Schema> {
        reference::<BeamInput>()
    }

    fn is_object() -> bool {
        true
    }

    fn add_named(all: &mut Named) {
        field_schema::add::<BeamOrWord>(all);
        field_schema::add::<BeamInput>(all);
    }
}

impl Read for Beam {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        if value.text().is_some() {
            return words::word(value, &[(EVEN, ())], at, reader).map(|()| Self::Even);
        }
        let input = BeamInput::read(value, at, reader)?;
        match (input.half_power_deg, input.table) {
            (Some(HalfPower(deg)), None) => Some(Self::HalfPower { deg }),
            (None, Some(rows)) => {
                let rows: Vec<[f64; 2]> = rows.into_iter().map(|row| row.0).collect();
                let table = At::Field(at, "table");
                let first = At::Index(&table, 0);
                if rows[0][0] != 0.0 || rows[0][1] <= 0.0 {
                    return reader.push_fault(&first, Fault::AxisMissing);
                }
                match rows.windows(2).position(|pair| pair[1][0] <= pair[0][0]) {
                    Some(before) => reader.push_fault(&At::Index(&table, before + 1), Fault::AnglesNotRising),
                    None => Some(Self::Table(rows)),
                }
            }
            // Refused by the reader.
            _ => None,
        }
    }
}

request! {
    /// The effect of a modifier in stops, with how sure it is.
    pub struct ModifierEffectInput {
        /// Its effect, stops; negative if it loses light.
        stops: Correction,
        /// How far that may be off, ± stops at 95 %, 0.001 to 4; 0.2 if left out.
        plus_minus_stops: Option<Tolerance>,
    }
}

impl FieldSchema for Modifier {
    fn schema() -> RefOr<Schema> {
        reference::<ModifierInput>()
    }

    fn parameter() -> RefOr<Schema> {
        reference::<StopsInput>()
    }

    fn add_named(all: &mut Named) {
        field_schema::add::<ModifierInput>(all);
        field_schema::add::<ModifierEffectInput>(all);
    }
}

impl Read for Modifier {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        struct Kind {
            kind: String,
        }
        reads!(Kind { kind });
        if let Some(kind) = value.text().filter(|text| Self::named(text).is_some()) {
            let expected = format!("{{\"kind\": \"{kind}\"}}, or stops, as -1.5");
            return reader.push_fault(at, Fault::KindOfModifier { expected });
        }
        if !matches!(value, Value::Object(_)) {
            let text = value.text().filter(|text| !is_too_long(text) && notation::stops(text).is_err());
            return match text {
                Some(_) => reader.push_wrong_type(at, value, &Self::expected()),
                None => Correction::read(value, at, reader).map(|stops| Self::Stops(stops.0, None)),
            };
        }
        if value.get("stops").is_some() {
            let input = ModifierEffectInput::read(value, at, reader)?;
            return Some(Self::Stops(input.stops.0, input.plus_minus_stops.map(|it| it.0)));
        }
        let Kind { kind } = Kind::read(value, at, reader)?;
        Self::named(&kind).or_else(|| {
            let known = || KINDS.iter().map(|known| known.kind.0).collect();
            reader.push_fault_with(&At::Field(at, "kind"), || words::unknown(&kind, known()))
        })
    }

    fn expected() -> String {
        "stops, as -1.5, or a kind, as {\"kind\": \"umbrella_shoot_through\"}".to_owned()
    }
}

request! {
    /// The face of a source: exactly one of `disc_m` and `rectangle_m`.
    pub struct SourceInput {
        /// The diameter of a round face.
        pub disc_m: Option<Size>,
        /// The width and height of a rectangular face.
        pub rectangle_m: Option<Sides>,
    }
    exactly one of "the source": disc_m | rectangle_m
}

/// Width and height.
pub struct Sides(pub [Size; 2]);

impl FieldSchema for Sides {
    fn schema() -> RefOr<Schema> {
        schema::pair(Size::schema()).into()
    }

    fn add_named(all: &mut Named) {
        Size::add_named(all);
    }
}

impl Read for Sides {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        array_of(value, &Self::expected(), at, reader, |_, value, at, reader| Size::read(value, at, reader))
            .map(Self)
    }

    fn expected() -> String {
        "a list of two, width and height".to_owned()
    }
}

impl Read for Source {
    fn expected() -> String {
        "the face of the light, as {\"disc_m\": 0.9} or {\"rectangle_m\": [0.6, 0.9]}; in a query source[disc_m]=0.9".to_owned()
    }

    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = SourceInput::read(value, at, reader)?;
        match (input.disc_m, input.rectangle_m) {
            (Some(Size(diameter)), None) => Some(Self::Disc { diameter }),
            (None, Some(Sides([Size(width), Size(height)]))) => Some(Self::Rectangle { width, height }),
            // Refused by the reader.
            _ => None,
        }
    }
}
