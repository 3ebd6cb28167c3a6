//! What a request says about the light of a set: placements, readings, ambient light.

use crate::{
    light::{
        error::Entry,
        quantity::{FNumber, Lux, Metres},
        set::{
            Ambient, AmbientAmount, Contribution, Geometry, Light, Optics, Origin, beam::Beam,
            geometry::Position, modifier::Modifier, placement::Source,
        },
    },
    request::{
        declare::request,
        field_schema::looks_like,
        fields::{
            numbers::{AngleOfIncidence, LuxValue, OffAxis},
            unit::SettingText,
        },
        place::At,
        reader::{Read, Reader, lists::Item},
        references,
        schema::Name,
        value::Value,
    },
    wording::fault::Fault,
};

request! {
    /// The geometry of a light and a point: `distance` with its angles, or positions.
    pub struct PlacementInput {
        /// The light's name.
        pub light: String as Name,
        /// The point's name; may be left out in the two-light shorthand.
        pub point: Option<String> as Name,
        /// Distance from the light to the point; left out if positions are given.
        pub distance: Option<Metres>,
        /// With `distance`: angle between the light's direction and the point's normal, degrees, 0 to 90; 0 if left out.
        pub incidence_deg: Option<AngleOfIncidence>,
        /// With `distance`: angle between the light's axis and the point, degrees, 0 to 180; 0 if left out. It has an effect only with a `beam`.
        pub off_axis_deg: Option<OffAxis>,
        /// The light's position, instead of the one stated with the light.
        pub position: Option<Position>,
        /// The position that the light is aimed at, instead of the one stated with the light.
        pub aim: Option<Position>,
        /// The effect of its modifier relative to the unit's rating, instead of the one stated with the light: stops, negative if it loses light, or a kind from `/v1/modifiers`.
        pub modifier_stops: Option<Modifier>,
        /// How its beam falls off away from the axis, instead of the beam stated with the light.
        pub beam: Option<Beam>,
        /// The face of the modifier, for a light that is near, instead of the one stated with the light. The finite-source factor is then applied as well.
        pub source: Option<Source>,
    }
    at most one of "the place of the light": distance | position
    checked by references::check_placement(light, point)
}

/// A placement given either by distance or by positions.
pub struct PlacementEntry {
    /// The light's name.
    pub light: String,
    /// The point's name.
    pub point: Option<String>,
    /// What it says about the light.
    pub origin: Origin,
}

impl Read for PlacementEntry {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = PlacementInput::read(value, at, reader)?;
        let geometry = match (input.distance, input.position) {
            // Refused by the reader.
            (Some(_), Some(_)) => return None,
            (Some(_), None) if input.aim.is_some() => {
                return reader.push_fault(&At::Field(at, "aim"), Fault::AimWithoutPosition);
            }
            (Some(distance), None) => Geometry::Distance {
                distance,
                incidence_deg: input.incidence_deg.map_or(0.0, |angle| angle.0),
                off_axis_deg: input.off_axis_deg.map_or(0.0, |angle| angle.0),
            },
            (None, position) => {
                for (given, name) in [
                    (input.incidence_deg.is_some(), "incidence_deg"),
                    (input.off_axis_deg.is_some(), "off_axis_deg"),
                ] {
                    if given {
                        reader.push_fault::<()>(&At::Field(at, name), Fault::AngleBesidePosition);
                    }
                }
                Geometry::Position(position)
            }
        };
        let optics =
            Optics { aim: input.aim, beam: input.beam, modifier: input.modifier_stops, source: input.source };
        Some(Self { light: input.light, point: input.point, origin: Origin::Placement { geometry, optics } })
    }
}

impl Item for PlacementEntry {
    const MIN: usize = 0;
    const MAX: usize = 2048;
    const PLURAL: &'static str = "placements";
}

/// Collects the readings and placements, in the order of the request. `points` answers which points an entry reaches,
/// given its light and the point that it names.
pub fn contributions(
    readings: Vec<ReadingInput>,
    placements: Vec<PlacementEntry>,
    lights: &[Light],
    at: &At<'_>,
    reader: &mut Reader,
    points: impl Fn(&str, Option<&str>, &At<'_>, &mut Reader) -> Option<Vec<String>>,
) -> Option<Vec<Contribution>> {
    let mut all = Some(Vec::new());
    let mut add = |light: &str, points: Option<Vec<String>>, origin: Option<Origin>, entry: Entry| {
        let (Some(points), Some(origin), Some(list)) = (points, origin, &mut all) else {
            all = None;
            return;
        };
        list.extend(points.into_iter().map(|point| Contribution {
            light: light.to_owned(),
            point,
            origin: origin.clone(),
            entry,
        }));
    };
    let readings_at = At::Field(at, "readings");
    for (index, reading) in readings.into_iter().enumerate() {
        let at = At::Index(&readings_at, index);
        let reached = points(&reading.light, reading.point.as_deref(), &at, reader);
        // The faults of unknown lights and settings are reported already.
        let light = lights.iter().find(|light| light.name == reading.light);
        let below = light.and_then(|light| reading.setting.find(&light.unit).ok());
        let origin = below.map(|below| Origin::Reading { below, f_number: reading.f_number });
        add(&reading.light, reached, origin, Entry::Reading(index));
    }
    let placements_at = At::Field(at, "placements");
    for (index, placement) in placements.into_iter().enumerate() {
        let at = At::Index(&placements_at, index);
        let reached = points(&placement.light, placement.point.as_deref(), &at, reader);
        add(&placement.light, reached, Some(placement.origin), Entry::Placement(index));
    }
    all
}

request! {
    /// A meter reading with one light firing alone.
    pub struct ReadingInput {
        /// The light's name.
        pub light: String as Name,
        /// The point's name; may be left out in the two-light shorthand.
        pub point: Option<String> as Name,
        /// The setting of the light.
        pub setting: SettingText,
        /// The f-number that the meter read, at the working ISO speed.
        pub f_number: FNumber,
    }
    checked by references::check_reading(light, point, setting)
}

impl Item for ReadingInput {
    const MIN: usize = 0;
    const MAX: usize = 2048;
    const PLURAL: &'static str = "readings";
}

request! {
    /// Ambient light at a point: exactly one of `illuminance_lx` and `f_number`.
    pub struct AmbientInput {
        /// The point's name.
        pub point: String as Name,
        /// Illuminance, lx, 0 to 1000000.
        pub illuminance_lx: Option<LuxValue>,
        /// The f-number that a meter read at the working exposure time and ISO speed.
        pub f_number: Option<FNumber>,
    }
    exactly one of "the ambient light": illuminance_lx | f_number
    checked by references::check_point(point)
}

impl Item for AmbientInput {
    const MIN: usize = 0;
    const MAX: usize = 64;
    const PLURAL: &'static str = "ambient entries";
}

looks_like!(Ambient as AmbientInput, PlacementEntry as PlacementInput);

impl Read for Ambient {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = AmbientInput::read(value, at, reader)?;
        let amount = match (input.illuminance_lx, input.f_number) {
            (Some(lux), None) => AmbientAmount::Illuminance(Lux::new_unchecked(lux.0)),
            (None, Some(f_number)) => AmbientAmount::FNumber(f_number),
            // Refused by the reader.
            _ => return None,
        };
        Some(Self { point: input.point, amount })
    }
}

impl Item for Ambient {
    const MIN: usize = AmbientInput::MIN;
    const MAX: usize = AmbientInput::MAX;
    const PLURAL: &'static str = AmbientInput::PLURAL;
}
