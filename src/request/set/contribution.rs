//! What a request says about the light of a set: placements, readings, ambient light.

use std::collections::HashMap;

use crate::{
    light::{
        error::Entry,
        id::Id,
        quantity::{FNumber, Lux, Stops},
        set::{
            Ambient, AmbientAmount, Contribution, Geometry, Light, MeteringPoint, Optics, Origin,
            beam::Beam,
            geometry::Position,
            modifier::Modifier,
            placement::{Source, Sure},
            ratio::LightingRatio,
        },
    },
    request::{
        declare::request,
        field_schema::looks_like,
        fields::{AngleOfIncidence, AngleWithin, DistanceWithin, LuxValue, OffAxis, SettingText, Tolerance},
        place::At,
        reader::{Read, Reader, lists::Item, values::EntryName},
        references,
        value::Value,
    },
    wording::fault::Fault,
};

request! {
    /// The geometry of a light and a point: `distance` with its angles, or positions.
    pub struct PlacementInput {
        /// Your own id for this entry.
        #[expect(dead_code, reason = "checked; no answer refers to it")]
        pub id: Option<Id>,
        /// The light's name.
        pub light: EntryName,
        /// The point's name; may be left out in the two-light shorthand.
        pub point: Option<EntryName>,
        /// Distance from the light to the point, and how far off it may be, as "2 m ±3 cm"; left out if positions are given.
        pub distance: Option<DistanceWithin>,
        /// With `distance`: angle between the light's direction and the point's normal, degrees, 0 to 90; 0 if left out.
        pub incidence_deg: Option<AngleOfIncidence>,
        /// With `distance`: angle between the light's axis and the point, degrees, 0 to 180; 0 if left out. It has an effect with a `beam`, and with a `source`, whose light falls off with the cosine. With `source`, both angles are taken to lie in the level plane; where they are equal, the planes of face and target are parallel.
        pub off_axis_deg: Option<OffAxis>,
        /// With `distance`: how far both angles may be off, ± degrees at 95 %, 0.01 to 90; 6 if left out.
        pub plus_minus_deg: Option<AngleWithin>,
        /// The light's position, instead of the one stated with the light.
        pub position: Option<Position>,
        /// The position that the light is aimed at, instead of the one stated with the light.
        pub aim: Option<Position>,
        /// The effect of its modifier relative to the unit's rating, instead of the one stated with the light: stops, negative if it loses light, or a kind from `/v1/modifiers`.
        pub modifier_stops: Option<Modifier>,
        /// How its beam falls off away from the axis, instead of the beam stated with the light; "even" for none.
        pub beam: Option<Beam>,
        /// The face of the modifier, for a light that is near, instead of the one stated with the light. The light is then summed over its area.
        pub source: Option<Source>,
    }
    at most one of "the place of the light": distance | position
    checked by references::check_placement(light, point)
}

/// A placement given either by distance or by positions.
pub struct PlacementEntry {
    /// The light's name.
    pub light: EntryName,
    /// The point's name.
    pub point: Option<EntryName>,
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
            (Some(DistanceWithin { distance, within }), None) => Geometry::Distance {
                distance,
                incidence_deg: input.incidence_deg.map_or(0.0, |angle| angle.0),
                off_axis_deg: input.off_axis_deg.map_or(0.0, |angle| angle.0),
                sure: Sure { distance: within, angles_deg: input.plus_minus_deg.map(|angle| angle.0) },
            },
            (None, position) => {
                for (given, name) in [
                    (input.incidence_deg.is_some(), "incidence_deg"),
                    (input.off_axis_deg.is_some(), "off_axis_deg"),
                    (input.plus_minus_deg.is_some(), "plus_minus_deg"),
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

/// Finds the lights and points that entries name.
pub struct Contributions<'s> {
    /// The points. Those that are named are added if the request does not list points.
    pub points: &'s mut Vec<MeteringPoint>,
    /// Whether the request lists points.
    pub are_points_stated: bool,
    /// The index of each light.
    pub lights: &'s HashMap<String, usize>,
    /// The two-light shorthand, with which an entry may leave out its point.
    pub ratio: Option<LightingRatio>,
}

impl Contributions<'_> {
    /// The readings and placements, in the order of the request.
    pub fn read(
        &mut self,
        readings: Vec<ReadingInput>,
        placements: Vec<PlacementEntry>,
        lights: &[Light],
        at: &At<'_>,
        reader: &mut Reader,
    ) -> Option<Vec<Contribution>> {
        let mut all = Some(Vec::new());
        let readings_at = At::Field(at, "readings");
        for (index, reading) in readings.into_iter().enumerate() {
            let at = At::Index(&readings_at, index);
            let reached = self.reached(&reading.light, reading.point.as_ref(), &at, reader);
            // The faults of unknown lights and settings are reported already.
            let below =
                reached.as_ref().and_then(|(light, _)| reading.setting.find(&lights[*light].unit).ok());
            let origin = below.map(|below| Origin::Reading {
                below,
                f_number: reading.f_number,
                distance: reading.distance.map(|it| it.distance),
                sure: Sure { distance: reading.distance.and_then(|it| it.within), angles_deg: None },
                plus_minus: reading.plus_minus_stops.map(|it| it.0),
            });
            add(&mut all, reached, origin, Entry::Reading(index));
        }
        let placements_at = At::Field(at, "placements");
        for (index, placement) in placements.into_iter().enumerate() {
            let at = At::Index(&placements_at, index);
            let reached = self.reached(&placement.light, placement.point.as_ref(), &at, reader);
            add(&mut all, reached, Some(placement.origin), Entry::Placement(index));
        }
        all
    }

    /// The ambient light, in the order of the request.
    pub fn ambient(&mut self, entries: Vec<AmbientEntry>) -> Option<Vec<Ambient>> {
        let entry = |AmbientEntry { point, amount, plus_minus }| {
            Some(Ambient { point: self.point(&point)?, amount, plus_minus })
        };
        entries.into_iter().map(entry).collect()
    }

    /// The light of an entry, and the points that it reaches.
    fn reached(
        &mut self,
        light: &EntryName,
        point: Option<&EntryName>,
        at: &At<'_>,
        reader: &mut Reader,
    ) -> Option<(usize, Vec<usize>)> {
        let light = self.lights.get(&light.0).copied();
        let points = match (point, self.ratio) {
            (Some(point), _) => vec![self.point(point)?],
            (None, None) => {
                let fault = || Fault::Missing { expected: "the name of a point".to_owned() };
                return reader.push_fault_with(&At::Field(at, "point"), fault);
            }
            (None, Some(ratio)) if Some(ratio.key) == light => vec![0],
            (None, Some(_)) => vec![0, 1],
        };
        Some((light?, points))
    }

    /// The index of a point. `None` if it is unknown, which has a fault of its own.
    pub fn point(&mut self, EntryName(name): &EntryName) -> Option<usize> {
        let known = self.points.iter().position(|point| point.name == *name);
        known.or_else(|| {
            (!self.are_points_stated).then(|| {
                self.points.push(MeteringPoint::named(name));
                self.points.len() - 1
            })
        })
    }
}

/// Adds what an entry says, or loses all if it is incomplete.
fn add(
    all: &mut Option<Vec<Contribution>>,
    reached: Option<(usize, Vec<usize>)>,
    origin: Option<Origin>,
    entry: Entry,
) {
    let (Some((light, points)), Some(origin), Some(list)) = (reached, origin, all.as_mut()) else {
        *all = None;
        return;
    };
    list.extend(points.into_iter().map(|point| Contribution { light, point, origin: origin.clone(), entry }));
}

request! {
    /// A meter reading with one light firing alone.
    pub struct ReadingInput {
        /// Your own id for this entry.
        #[expect(dead_code, reason = "checked; no answer refers to it")]
        pub id: Option<Id>,
        /// The light's name.
        pub light: EntryName,
        /// The point's name; may be left out in the two-light shorthand.
        pub point: Option<EntryName>,
        /// The setting of the light.
        pub setting: SettingText,
        /// The f-number that the meter read, at the working ISO speed; of a lamp, or of a flash in high-speed sync, at the working exposure time too.
        pub f_number: FNumber,
        /// The distance at which it was metered. With it, a placement or positions of the same light and point move the light from there: by the inverse square, or as a face of finite size does. The placement's modifier does not apply, its incidence does.
        pub distance: Option<DistanceWithin>,
        /// How far the reading may be off, its last digit apart, ± stops at 95 %, 0.001 to 4; the meter's if left out.
        pub plus_minus_stops: Option<Tolerance>,
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
        pub point: EntryName,
        /// Illuminance, lx, 0 to 1000000.
        pub illuminance_lx: Option<LuxValue>,
        /// The f-number that a meter read at the working exposure time and ISO speed.
        pub f_number: Option<FNumber>,
        /// How far it may be off, the last digit of the meter apart, ± stops at 95 %, 0.001 to 4; the meter's if left out.
        pub plus_minus_stops: Option<Tolerance>,
    }
    exactly one of "the ambient light": illuminance_lx | f_number
    checked by references::check_point(point)
}

/// Ambient light at a point of this name.
pub struct AmbientEntry {
    point: EntryName,
    amount: AmbientAmount,
    plus_minus: Option<Stops>,
}

looks_like!(AmbientEntry as AmbientInput, PlacementEntry as PlacementInput);

impl Read for AmbientEntry {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = AmbientInput::read(value, at, reader)?;
        let amount = match (input.illuminance_lx, input.f_number) {
            (Some(lux), None) => AmbientAmount::Illuminance(Lux::new_unchecked(lux.0)),
            (None, Some(f_number)) => AmbientAmount::FNumber(f_number),
            // Refused by the reader.
            _ => return None,
        };
        let plus_minus = input.plus_minus_stops.map(|it| it.0);
        Some(Self { point: input.point, amount, plus_minus })
    }
}

impl Item for AmbientEntry {
    const MIN: usize = 0;
    const MAX: usize = 64;
    const PLURAL: &'static str = "ambient entries";
}
