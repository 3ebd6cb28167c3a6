//! Sets of lights: placements, readings, ambient light, positions, beams, modifiers.

use utoipa::ToSchema;

use crate::{
    light::{
        error::{self, InvalidValue},
        quantity::{FNumber, Lux, Metres, Stops, bounds},
        set::{
            Ambient, AmbientAmount, Contribution, Geometry, Known, Light, Optics,
            beam::Beam,
            geometry::{Direction, Position},
            modifier::{KINDS, Modifier},
            placement::Source,
        },
    },
    request::{
        fields::{
            numbers::{
                AngleOfIncidence, Coordinate, Correction, DirectionPart, HalfPower, LuxValue, OffAxis,
                Relative, Size,
            },
            unit::SettingText,
        },
        place::At,
        reader::{Item, Read, Reader, array_of, reads},
        schema::{
            self, DistanceInput, FNumberInput, ModifierInput, Name, PositionInput, SettingInput, SizeInput,
            schema,
        },
        value::Value,
    },
};

/// Where a light stands to a point: `distance` with its angles, or positions.
#[derive(ToSchema)]
pub struct PlacementInput {
    /// The light's name.
    #[schema(value_type = Name)]
    pub light: String,
    /// The point's name; may be left out in the two-light shorthand.
    #[schema(value_type = Option<Name>)]
    pub point: Option<String>,
    /// From the light to the point; left out where positions tell it.
    #[schema(value_type = Option<DistanceInput>)]
    pub distance: Option<Metres>,
    /// With `distance`: angle between the light's direction and the point's normal, degrees, 0 to 90; 0 if left out.
    pub incidence_deg: Option<AngleOfIncidence>,
    /// With `distance`: angle between the light's axis and the point, degrees, 0 to 180; 0 if left out. Matters with a `beam`.
    pub off_axis_deg: Option<OffAxis>,
    /// Where the light stands, if not where the light itself says.
    #[schema(value_type = Option<PositionInput>)]
    pub position: Option<Position>,
    /// The place that it is aimed at, if not as the light itself says.
    #[schema(value_type = Option<PositionInput>)]
    pub aim: Option<Position>,
    /// What its modifier does against the unit as it is rated, if not as the light itself says: stops, negative where it darkens, or a kind out of `modifiers`.
    #[schema(value_type = Option<ModifierInput>)]
    pub modifier_stops: Option<Modifier>,
    /// How its beam falls off, if not as the light itself says.
    #[schema(value_type = Option<BeamInput>)]
    pub beam: Option<Beam>,
    /// The face of the modifier, where it is near, if not as the light itself says: the finite-source factor comes on top.
    #[schema(value_type = Option<SourceInput>)]
    pub source: Option<Source>,
}
reads!(PlacementInput {
    light,
    point,
    distance,
    incidence_deg,
    off_axis_deg,
    position,
    aim,
    modifier_stops,
    beam,
    source
});

/// A placement, told in one way.
pub struct Placed {
    /// The light's name.
    pub light: String,
    /// The point's name.
    pub point: Option<String>,
    /// How its light is known.
    pub known: Known,
}

impl Read for Placed {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let form = PlacementInput::read(tree, at, reader)?;
        let stand = match (form.distance, form.position) {
            (Some(_), Some(_)) => {
                return reader.fault(
                    &At::Field(at, "position"),
                    "both distance and position are given",
                    "one of distance, position",
                );
            }
            (Some(_), None) if form.aim.is_some() => {
                return reader.fault(
                    &At::Field(at, "aim"),
                    "a distance does not say where the light is, so an aim says nothing",
                    "off_axis_deg, or a position instead of the distance",
                );
            }
            (Some(distance), None) => Geometry::Distance {
                distance,
                incidence_deg: form.incidence_deg.map_or(0.0, |angle| angle.0),
                off_axis_deg: form.off_axis_deg.map_or(0.0, |angle| angle.0),
            },
            (None, position) => {
                for (given, name) in [
                    (form.incidence_deg.is_some(), "incidence_deg"),
                    (form.off_axis_deg.is_some(), "off_axis_deg"),
                ] {
                    if given {
                        reader.fault::<()>(
                            &At::Field(at, name),
                            "positions tell the angles",
                            "no angle here, or a distance beside it",
                        );
                    }
                }
                Geometry::Position(position)
            }
        };
        let outfit =
            Optics { aim: form.aim, beam: form.beam, modifier: form.modifier_stops, source: form.source };
        Some(Self { light: form.light, point: form.point, known: Known::Placement { stand, outfit } })
    }
}

impl Item for Placed {
    const LEAST: usize = 0;
    const MOST: usize = 2048;
    const WHAT: &'static str = "placements";
}

/// How a beam falls off its axis: exactly one of `half_power_deg` and `table`.
#[derive(ToSchema)]
pub struct BeamInput {
    /// The full angle between the two directions of half intensity, degrees; a cosine power, which is a model.
    half_power_deg: Option<HalfPower>,
    /// Measured rows of angle off the axis, degrees, rising from 0, and intensity relative to the first row; linear between, none beyond the last.
    #[schema(min_items = 2, max_items = 181)]
    table: Option<Vec<BeamRow>>,
}
reads!(BeamInput { half_power_deg, table });

struct BeamRow([f64; 2]);

schema!(of BeamRow as "BeamRow":
    // One kind of number for both, for not all generators have tuples of several.
    schema::pair(schema::number(bounds::RELATIVE).into())
        .description(Some("An angle off the axis, degrees, 0 to 180, and the intensity there."))
        .into());

impl Read for BeamRow {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        const EXPECTED: &str = "a list of two, degrees off the axis and relative intensity";
        array_of(tree, EXPECTED, at, reader, |index, tree, at, reader| match index {
            0 => OffAxis::read(tree, at, reader).map(|angle| angle.0),
            _ => Relative::read(tree, at, reader).map(|relative| relative.0),
        })
        .map(Self)
    }
}

impl Item for BeamRow {
    const LEAST: usize = 2;
    const MOST: usize = 181;
    const WHAT: &'static str = "rows";
}

impl Read for Beam {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let form = BeamInput::read(tree, at, reader)?;
        match (form.half_power_deg, form.table) {
            (Some(HalfPower(deg)), None) => Some(Self::HalfPower { deg }),
            (None, Some(rows)) => {
                let rows: Vec<[f64; 2]> = rows.into_iter().map(|row| row.0).collect();
                let table = At::Field(at, "table");
                let first = At::Index(&table, 0);
                if rows[0][0] != 0.0 || rows[0][1] <= 0.0 {
                    return reader.fault(
                        &first,
                        "the first row is not the axis",
                        "[0, an intensity above 0]",
                    );
                }
                match rows.windows(2).position(|pair| pair[1][0] <= pair[0][0]) {
                    Some(before) => reader.fault(
                        &At::Index(&table, before + 1),
                        "the angle does not rise",
                        "rows in rising order of angle",
                    ),
                    None => Some(Self::Table(rows)),
                }
            }
            _ => {
                reader.fault(at, "a beam is told in exactly one way", "exactly one of half_power_deg, table")
            }
        }
    }
}

impl Read for Modifier {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        struct Kind {
            kind: String,
        }
        reads!(Kind { kind });
        if let Some(kind) = tree.text().filter(|text| Self::named(text).is_some()) {
            let expected = format!("{{\"kind\": \"{kind}\"}}, or stops, as -1.5");
            return reader.fault(at, "this is a kind of modifier, not stops", expected);
        }
        if !matches!(tree, Value::Object(_)) {
            return Correction::read(tree, at, reader).map(|stops| Self::Stops(stops.0));
        }
        let Kind { kind } = Kind::read(tree, at, reader)?;
        Self::named(&kind).or_else(|| {
            reader.noted(&At::Field(at, "kind"), || {
                let names: Vec<String> = KINDS.iter().map(|known| format!("\"{}\"", known.kind.0)).collect();
                InvalidValue::new(
                    format!("\"{kind}\" is not known"),
                    format!("one of {}", error::names(&names)),
                )
            })
        })
    }
}

impl Read for Position {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        const EXPECTED: &str = "a position [x, y, z], each as -0.4 (metres), \"-40 cm\" or \"6 ft 3 in\"";
        array_of(tree, EXPECTED, at, reader, |_, tree, at, reader| {
            Coordinate::read(tree, at, reader).map(|coordinate| coordinate.0.get())
        })
        .map(Self)
    }
}

impl Read for Direction {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        const EXPECTED: &str = "a direction [x, y, z] that is not zero";
        let direction = array_of(tree, EXPECTED, at, reader, |_, tree, at, reader| {
            DirectionPart::read(tree, at, reader).map(|part| part.0)
        })
        .map(Self)?;
        if direction.is_zero() {
            return reader.fault(at, "a direction of no length points nowhere", EXPECTED);
        }
        Some(direction)
    }
}

/// Gathers what is known of the light: readings and placements, in the order of the request. `points` says
/// which points an entry reaches, for a light and the point that it names.
pub fn contributions(
    readings: Vec<ReadingInput>,
    placements: Vec<Placed>,
    lamps: &[Light],
    at: &At<'_>,
    reader: &mut Reader,
    points: impl Fn(&str, Option<&str>, &At<'_>, &mut Reader) -> Option<Vec<String>>,
) -> Option<Vec<Contribution>> {
    let mut all = Some(Vec::new());
    let mut add = |light: &str, points: Option<Vec<String>>, known: Option<Known>, at: &At<'_>| {
        let (Some(points), Some(known), Some(list)) = (points, known, &mut all) else {
            all = None;
            return;
        };
        list.extend(points.into_iter().map(|point| Contribution {
            light: light.to_owned(),
            point,
            known: known.clone(),
            place: at.place(),
        }));
    };
    let readings_at = At::Field(at, "readings");
    for (index, reading) in readings.into_iter().enumerate() {
        let at = At::Index(&readings_at, index);
        let reached = points(&reading.light, reading.point.as_deref(), &at, reader);
        // A light that is not there is told with all other dangling names.
        let below = match lamps.iter().find(|lamp| lamp.name == reading.light) {
            Some(lamp) => reading.setting.check(&lamp.unit, &At::Field(&at, "setting"), reader),
            None => Some(Stops::ZERO),
        };
        let known = below.map(|below| Known::Reading { below, f_number: reading.f_number });
        add(&reading.light, reached, known, &at);
    }
    let placements_at = At::Field(at, "placements");
    for (index, placed) in placements.into_iter().enumerate() {
        let at = At::Index(&placements_at, index);
        let reached = points(&placed.light, placed.point.as_deref(), &at, reader);
        add(&placed.light, reached, Some(placed.known), &at);
    }
    all
}

/// A meter's reading with one light alone.
#[derive(ToSchema)]
pub struct ReadingInput {
    /// The light's name.
    #[schema(value_type = Name)]
    pub light: String,
    /// The point's name; may be left out in the two-light shorthand.
    #[schema(value_type = Option<Name>)]
    pub point: Option<String>,
    /// The setting of the light.
    #[schema(value_type = SettingInput)]
    pub setting: SettingText,
    /// What the meter read, at the working ISO speed.
    #[schema(value_type = FNumberInput)]
    pub f_number: FNumber,
}
reads!(ReadingInput { light, point, setting, f_number });

impl Item for ReadingInput {
    const LEAST: usize = 0;
    const MOST: usize = 2048;
    const WHAT: &'static str = "readings";
}

/// The face of a source: exactly one of `disc_m` and `rectangle_m`.
#[derive(ToSchema)]
pub struct SourceInput {
    /// The diameter of a round face.
    #[schema(value_type = Option<SizeInput>)]
    pub disc_m: Option<Size>,
    /// The width and height of a rectangular face.
    #[schema(value_type = Option<Vec<SizeInput>>, min_items = 2, max_items = 2)]
    pub rectangle_m: Option<Sides>,
}
reads!(SourceInput { disc_m, rectangle_m });

pub struct Sides([Size; 2]);

impl Read for Sides {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        const EXPECTED: &str = "a list of two, width and height";
        array_of(tree, EXPECTED, at, reader, |_, tree, at, reader| Size::read(tree, at, reader)).map(Self)
    }
}

impl Read for Source {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let form = SourceInput::read(tree, at, reader)?;
        match (form.disc_m, form.rectangle_m) {
            (Some(Size(diameter)), None) => Some(Self::Disc { diameter }),
            (None, Some(Sides([Size(width), Size(height)]))) => Some(Self::Rectangle { width, height }),
            _ => {
                reader.fault(at, "a source is told in exactly one way", "exactly one of disc_m, rectangle_m")
            }
        }
    }
}

/// Ambient light at a point: exactly one of `illuminance_lx` and `f_number`.
#[derive(ToSchema)]
pub struct AmbientInput {
    /// The point's name.
    #[schema(value_type = Name)]
    pub point: String,
    /// Illuminance, lx, 0 to 1000000.
    pub illuminance_lx: Option<LuxValue>,
    /// A meter's reading at the working exposure time and ISO speed.
    #[schema(value_type = Option<FNumberInput>)]
    pub f_number: Option<FNumber>,
}
reads!(AmbientInput { point, illuminance_lx, f_number });

impl Item for AmbientInput {
    const LEAST: usize = 0;
    const MOST: usize = 64;
    const WHAT: &'static str = "ambient entries";
}

impl Read for Ambient {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let form = AmbientInput::read(tree, at, reader)?;
        let amount = match (form.illuminance_lx, form.f_number) {
            (Some(lux), None) => AmbientAmount::Illuminance(Lux::new_unchecked(lux.0)),
            (None, Some(f_number)) => AmbientAmount::FNumber(f_number),
            _ => {
                return reader.fault(
                    at,
                    "ambient light is told in exactly one way",
                    "exactly one of illuminance_lx, f_number",
                );
            }
        };
        Some(Self { point: form.point, amount })
    }
}

impl Item for Ambient {
    const LEAST: usize = AmbientInput::LEAST;
    const MOST: usize = AmbientInput::MOST;
    const WHAT: &'static str = AmbientInput::WHAT;
}
