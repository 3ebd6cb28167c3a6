//! A set of lights and metering points: the light of each light at each point, from readings, distances or positions; and
//! the ambient light.
//!
//! Light is expressed as N² at the working ISO speed: the square of the f-number at which it exposes correctly.

pub mod beam;
pub mod blocker;
pub mod camera;
pub mod close_up;
pub mod control;
pub mod edit;
pub mod exposure;
pub mod face;
pub mod falloff;
pub mod filter;
pub mod gel;
pub mod geometry;
pub mod lens;
pub mod limits;
pub mod modifier;
pub mod packs;
pub mod panel;
pub mod placement;
pub mod polygon;
pub mod predict;
pub mod ratio;
pub mod reflector;
mod remarks;
pub mod room;
pub mod softness;
pub mod target;
pub mod vector;

pub use self::remarks::{cautions, rating_assumptions, warnings};

use std::{
    collections::HashMap,
    mem::{self, Discriminant},
};

use self::{
    beam::Beam,
    blocker::Blocker,
    control::Control,
    exposure::FlashExposure,
    face::{Face, Place},
    filter::Filter,
    geometry::{Camera, Direction, Flaw, Position, seen},
    lens::Lens,
    modifier::Modifier,
    placement::{Placement, Source, Sure},
    ratio::LightingRatio,
    reflector::{Around, Faces, Reflector},
    room::Room,
    target::{Target, TargetSide},
    vector::{Vector, length, minus, unit},
};
use crate::light::{
    assumption::Assumption,
    error::{Entry, Field, InvalidPart, InvalidValue, Part},
    id::Id,
    quantity::{
        Estimate, FNumber, Lux, Metres, Number, Seconds, Stops,
        constants::CONSTANT_C,
        half_widths::{DIGIT, HalfWidth, MEASURED_OFFSET, METER_OFFSET, READING, with_digit},
    },
    remedy::{Named, Subject},
    unit::{
        Unit,
        pack::Pack,
        shutter::{Shutter, TimeLacking},
    },
};

/// A light on set.
#[derive(Debug, Clone, PartialEq)]
pub struct Light {
    /// The client's id for this entry.
    pub id: Option<Id>,
    /// Its name, unique in the set.
    pub name: String,
    /// The flash unit.
    pub unit: Unit,
    /// Its position; with it, the light is computed for every point of known position.
    pub position: Option<Position>,
    /// Defaults for its placements.
    pub optics: Optics,
    /// The filters on it. Its placements lose by them; readings were taken with them.
    pub filters: Vec<Filter>,
    /// How it is set and may be set.
    pub control: Control,
}

impl Light {
    /// A light of this unit at full power, of which nothing else is said.
    pub fn of(unit: Unit) -> Self {
        let name = unit.name.clone().unwrap_or_else(|| "the light".to_owned());
        let control = Control { setting: None, hold: false, may_be_off: false, max_below: None, pops: 1 };
        Self { id: None, name, unit, position: None, optics: Optics::default(), filters: Vec::new(), control }
    }

    /// The colour shift of its filters, mired, for an answer.
    pub fn mired(&self) -> Option<Number> {
        filter::mired(&self.filters).map(Number::new_unchecked)
    }

    /// The share of the frame that it lights, for an answer.
    pub fn frame_share(&self, shutter: Shutter) -> Option<Number> {
        self.unit.frame_share(shutter).map(Number::new_unchecked)
    }
}

/// Aim, beam and modifier of a light.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Optics {
    /// The position that it is aimed at; if `None`, it is aimed at each point in turn.
    pub aim: Option<Position>,
    /// The falloff of its beam; uniform if `None`.
    pub beam: Option<Beam>,
    /// The effect of its modifier.
    pub modifier: Option<Modifier>,
    /// The shape and size of its emitting face; a point if `None`.
    pub source: Option<Source>,
}

/// A metering point.
#[derive(Debug, Clone, PartialEq)]
pub struct MeteringPoint {
    /// The client's id for this entry.
    pub id: Option<Id>,
    /// Its name, unique in the set.
    pub name: String,
    /// Its position.
    pub position: Option<Position>,
    /// The direction that it faces; if `None`, it faces each light in turn.
    pub normal: Option<Direction>,
    /// Its target light.
    pub target: Option<Target>,
    /// Weight of an error at this point.
    pub weight: f64,
}

impl MeteringPoint {
    /// A point of which only the name is known.
    pub fn named(name: &str) -> Self {
        Self { id: None, name: name.to_owned(), position: None, normal: None, target: None, weight: 1.0 }
    }

    /// The side of its target that is wanted.
    pub fn target_side(&self) -> TargetSide {
        self.target.map_or(TargetSide::Both, Target::side)
    }
}

/// The source of a contribution: a reading or a placement.
#[derive(Debug, Clone, PartialEq)]
pub enum Origin {
    /// Metered with only this light on.
    Reading {
        /// The setting during the reading, stops below full.
        below: Stops,
        /// The aperture that the meter read.
        f_number: FNumber,
        /// The distance at which it was metered. A placement of the same pair then moves the light from there.
        distance: Option<Metres>,
        /// How sure that distance is.
        sure: Sure,
        /// How sure the reading is, if stated: ± stops at 95 %.
        plus_minus: Option<Stops>,
    },
    /// Computed from its geometry.
    Placement {
        /// Distance and angles, or a position.
        geometry: Geometry,
        /// Overrides of the light's own optics.
        optics: Optics,
    },
}

/// The geometry of a light relative to a point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Geometry {
    /// A distance with angles.
    Distance {
        /// Distance from the light to the point.
        distance: Metres,
        /// Angle between the direction of the light and the normal of the point, degrees.
        incidence_deg: f64,
        /// Angle between the axis of the light and the direction to the point, degrees.
        off_axis_deg: f64,
        /// How sure they are.
        sure: Sure,
    },
    /// A position, or the light's own if `None`.
    Position(Option<Position>),
}

/// The light of one light at one point.
#[derive(Debug, Clone, PartialEq)]
pub struct Contribution {
    /// The light's index.
    pub light: usize,
    /// The point's index.
    pub point: usize,
    /// A reading or a placement.
    pub origin: Origin,
    /// Its entry in the request, for errors.
    pub entry: Entry,
}

impl Contribution {
    /// The distance of a reading that states it.
    const fn metered_at(&self) -> Option<Metres> {
        match self.origin {
            Origin::Reading { distance, .. } => distance,
            Origin::Placement { .. } => None,
        }
    }

    /// The distance from which this placement moves a reading of the same pair; `None` if it contradicts it.
    fn moves(&self, before: &Self) -> Option<Metres> {
        before.metered_at().filter(|_| matches!(self.origin, Origin::Placement { .. }))
    }
}

/// Ambient light at a point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ambient {
    /// The point's index.
    pub point: usize,
    /// Its amount.
    pub amount: AmbientAmount,
    /// How sure it is, if stated: ± stops at 95 %.
    pub plus_minus: Option<Stops>,
}

/// An amount of ambient light.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum AmbientAmount {
    /// Illuminance.
    Illuminance(Lux),
    /// A meter reading at the working exposure time and ISO speed.
    FNumber(FNumber),
}

/// A set: its exposure, lights, points and known light.
#[derive(Debug, Clone, PartialEq)]
pub struct Scene {
    /// The working exposure.
    pub exposure: FlashExposure,
    /// The exposure time; needed for ambient light.
    pub exposure_time: Option<Seconds>,
    /// The shortest exposure time at which the shutter is fully open.
    pub sync_time: Option<Seconds>,
    /// What the lens takes.
    pub lens: Lens,
    /// The packs that lights are on.
    pub packs: Vec<Pack>,
    /// The lights.
    pub lights: Vec<Light>,
    /// The metering points.
    pub points: Vec<MeteringPoint>,
    /// Readings and placements.
    pub contributions: Vec<Contribution>,
    /// Ambient light at points.
    pub ambient: Vec<Ambient>,
    /// Boards that send light on, from lights to points that have a position.
    pub reflectors: Vec<Reflector>,
    /// What stands in the way of light between positions.
    pub blockers: Vec<Blocker>,
    /// The room whose walls send light on; none if `None`.
    pub room: Option<Room>,
    /// The camera; only pictures have a use for it.
    pub camera: Option<Camera>,
    /// The two-light shorthand, if the request used it: then the points are the two sides.
    pub ratio: Option<LightingRatio>,
    /// The light in the camera relative to the meter reading, stops; + is more.
    pub meter_offset: Stops,
    /// How sure the meter is.
    pub meter: Meter,
}

/// What is said of how sure a meter is.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Meter {
    /// Of a reading, its digit apart: ± stops at 95 %.
    pub plus_minus: Option<Stops>,
    /// The step of its last digit, stops.
    pub digit: Option<Stops>,
    /// Of its offset against the camera: ± stops at 95 %.
    pub offset_plus_minus: Option<Stops>,
    /// Whether the offset is stated.
    pub is_offset_stated: bool,
}

impl Meter {
    /// The half-width of a reading, with the meter's digit, stops.
    pub fn reading(&self, stated: Option<Stops>) -> f64 {
        with_digit(READING.or(stated.or(self.plus_minus)), DIGIT.or(self.digit))
    }

    /// The half-width of the meter against the camera, and the row of the table that it is out of, if it is.
    pub fn offset(&self) -> (f64, Option<&'static HalfWidth>) {
        let usual = if self.is_offset_stated { &MEASURED_OFFSET } else { &METER_OFFSET };
        self.offset_plus_minus.map_or((usual.value, Some(usual)), |stated| (stated.get(), None))
    }
}

/// The light of each light at each point.
#[derive(Debug, Clone, PartialEq)]
pub struct LightMatrix {
    /// Light of each light at full power with all its flashes, indexed by point, then by light.
    pub gain: Vec<Vec<Estimate<f64>>>,
    /// Ambient light at each point.
    pub ambient: Vec<f64>,
    /// The computed placements: index of the point, index of the light, placement.
    pub placements: Vec<(usize, usize, Placement)>,
    /// What each board adds to the factor of each light at each point, 1/m²: by board, then by point, then by light.
    pub by_boards: Vec<Vec<Vec<f64>>>,
    /// Whether the placement of a pair only moves what was metered, indexed by point, then by light.
    pub moved: Vec<Vec<bool>>,
    /// The indexes of the boards that send no light to any point.
    pub idle_boards: Vec<usize>,
    /// The assumptions behind the computed light.
    pub assumptions: Vec<Assumption>,
}

impl LightMatrix {
    /// The placements whose light is computed from a unit's rating.
    pub fn rated(&self) -> impl Iterator<Item = &(usize, usize, Placement)> {
        self.placements.iter().filter(|(point, light, _)| !self.moved[*point][*light])
    }
}

impl Scene {
    /// A set without lights and points.
    pub fn empty(exposure: FlashExposure) -> Self {
        Self {
            exposure,
            exposure_time: None,
            sync_time: None,
            lens: Lens::default(),
            packs: Vec::new(),
            lights: Vec::new(),
            points: Vec::new(),
            contributions: Vec::new(),
            ambient: Vec::new(),
            reflectors: Vec::new(),
            blockers: Vec::new(),
            room: None,
            camera: None,
            ratio: None,
            meter_offset: Stops::ZERO,
            meter: Meter::default(),
        }
    }

    /// A light, as what a remedy changes.
    pub fn subject(&self, light: usize) -> Subject {
        let light = &self.lights[light];
        Subject::Light(Named::new(&light.name, light.id.as_ref()))
    }

    /// The correction by the lens at the working aperture, stops.
    pub fn lens_stops(&self) -> f64 {
        self.lens.stops(self.exposure.f_number)
    }

    /// The exposure time and the sync time.
    pub const fn shutter(&self) -> Shutter {
        Shutter { time: self.exposure_time, sync_time: self.sync_time }
    }

    /// The light in the camera, as N², from a meter reading.
    pub fn light_of(&self, reading: FNumber) -> f64 {
        reading.squared() * self.meter_offset.factor()
    }

    /// The meter reading from the light in the camera: the inverse of [`Self::light_of`].
    pub fn metered(&self, light: f64) -> FNumber {
        FNumber::new_unchecked((light / self.meter_offset.factor()).sqrt())
    }

    /// Computes the light matrix. Adds errors for lights stated twice at a point, impossible positions, and lights of
    /// unknown output.
    pub fn light(&self, faults: &mut Vec<InvalidPart>) -> LightMatrix {
        let mut matrix = LightMatrix {
            gain: vec![vec![Estimate::exact(0.0); self.lights.len()]; self.points.len()],
            ambient: self.ambient(faults),
            placements: Vec::new(),
            by_boards: Vec::new(),
            moved: vec![vec![false; self.lights.len()]; self.points.len()],
            idle_boards: Vec::new(),
            assumptions: Vec::new(),
        };
        matrix.by_boards = self.by_boards(&mut matrix.idle_boards);
        let mut entries = vec![vec![None::<&Contribution>; self.lights.len()]; self.points.len()];
        for contribution in &self.contributions {
            let (light, point) = (contribution.light, contribution.point);
            let before = entries[point][light].replace(contribution);
            let metered_at = before.and_then(|before| contribution.moves(before));
            if before.is_some() && metered_at.is_none() {
                let (light, point) = (self.lights[light].name.clone(), self.points[point].name.clone());
                let error = InvalidValue::StatedTwice { light, point };
                faults.push(error.in_part(Part::Contribution(contribution.entry, None)));
                continue;
            }
            match &contribution.origin {
                Origin::Reading { below, f_number, .. } => {
                    let light_of = &self.lights[light];
                    let gain = self.light_of(*f_number) / light_of.unit.power(*below);
                    matrix.gain[point][light] = Estimate::exact(gain * f64::from(light_of.control.pops));
                }
                Origin::Placement { geometry, optics } => {
                    let (geometry, entry) = (*geometry, Some(contribution.entry));
                    let pair = Pair { point, light, geometry, optics, entry, metered_at };
                    self.place(&pair, &mut matrix, faults);
                }
            }
        }
        // With both positions known, a pair needs no placement of its own.
        let optics = Optics::default();
        for (point, light) in (0..self.points.len()).flat_map(|p| (0..self.lights.len()).map(move |l| (p, l)))
        {
            let both = self.points[point].position.is_some() && self.lights[light].position.is_some();
            let metered_at = entries[point][light].map(Contribution::metered_at);
            if both && metered_at != Some(None) {
                let (geometry, metered_at) = (Geometry::Position(None), metered_at.flatten());
                let pair = Pair { point, light, geometry, optics: &optics, entry: None, metered_at };
                self.place(&pair, &mut matrix, faults);
            }
        }
        remove_duplicates(faults);
        matrix.assumptions = remarks::assumptions(self, &matrix);
        matrix
    }

    /// Adds the light of one placement to the matrix, or moves what was metered.
    fn place(&self, pair: &Pair<'_>, matrix: &mut LightMatrix, faults: &mut Vec<InvalidPart>) {
        let light = &self.lights[pair.light];
        let Some(mut placement) = self.placement(pair, faults) else {
            return;
        };
        // What boards send on was in the reading.
        if let Some(from) = pair.metered_at {
            let gain = &mut matrix.gain[pair.point][pair.light];
            *gain = gain.map(|gain| gain * placement.over(from, self.exposure.iso));
            matrix.placements.push((pair.point, pair.light, placement));
            matrix.moved[pair.point][pair.light] = true;
            return;
        }
        let through = match light.unit.through(self.shutter()) {
            Ok(through) => through,
            Err(lacking) => {
                let part = match lacking {
                    TimeLacking::ExposureTime => Part::ExposureTime,
                    TimeLacking::SyncTime => Part::SyncTime,
                };
                return faults.push(InvalidValue::from(lacking).in_part(part));
            }
        };
        let boards = matrix.by_boards.iter().map(|by| by[pair.point][pair.light]).sum();
        self.add_reflections(&mut placement, light, boards);
        match placement.light(&light.unit, self.exposure.iso) {
            Some(gain) => {
                // Each flash of an exposure adds its light.
                let part = f64::from(light.control.pops) * filter::stops(&light.filters).exp2();
                let gain = gain.map(|gain| gain * part);
                matrix.gain[pair.point][pair.light] = gain.times(through);
                matrix.placements.push((pair.point, pair.light, placement));
            }
            None => {
                let (error, field) = if light.unit.needs_zoom() {
                    (InvalidValue::ZoomMissing, Field::Zoom)
                } else if light.unit.head.is_some() {
                    (InvalidValue::UnknownHeadBeam, Field::Unit)
                } else {
                    (InvalidValue::UnknownBeam, Field::Unit)
                };
                faults.push(error.in_part(Part::Light(pair.light, Some(field))));
            }
        }
    }

    /// The placement of one pair: its geometry, and its optics with the defaults of the light.
    fn placement(&self, pair: &Pair<'_>, faults: &mut Vec<InvalidPart>) -> Option<Placement> {
        let (light, point) = (&self.lights[pair.light], &self.points[pair.point]);
        let own = &light.optics;
        let aim = pair.optics.aim.or(own.aim);
        let beam = pair.optics.beam.clone().or_else(|| own.beam.clone());
        let source = pair.optics.source.or(own.source);
        let sure = match pair.geometry {
            Geometry::Distance { sure, .. } => sure,
            Geometry::Position(_) => Sure::default(),
        };
        let ([distance, incidence_deg, off_axis_deg], factor) = match pair.geometry {
            Geometry::Distance { distance, incidence_deg, off_axis_deg, .. } => {
                ([distance.get(), incidence_deg, off_axis_deg], None)
            }
            Geometry::Position(position) => {
                // In the entry of the pair, or else in the light.
                let part = |entry: Option<Entry>, field| match entry {
                    Some(entry) => Part::Contribution(entry, Some(field)),
                    None => Part::Light(pair.light, Some(field)),
                };
                let (Some(from), Some(to)) = (position.or(light.position), point.position) else {
                    let (light, point) = (light.name.clone(), point.name.clone());
                    let error = InvalidValue::UnknownDistance { light, point };
                    faults.push(error.in_part(part(pair.entry, Field::Distance)));
                    return None;
                };
                match seen(from, aim, to, point.normal) {
                    Ok(seen) => {
                        let axis = minus(aim.unwrap_or(to).0, from.0);
                        let place = Place { at: to.0, normal: point.normal.map(|normal| unit(normal.0)) };
                        let face = Face::new(from.0, axis, source, beam.as_ref());
                        let factor = Estimate::exact(face.factor(&place, &self.blockers));
                        ([seen.distance.get(), seen.incidence_deg, seen.off_axis_deg], Some(factor))
                    }
                    Err(flaw) => {
                        // Locate the error in the placement if it states a position or an aim, else in the light.
                        let entry_states_it = position.is_some() || pair.optics.aim.is_some();
                        let entry = pair.entry.filter(|_| entry_states_it);
                        let light = light.name.clone();
                        let (error, field) = match flaw {
                            Flaw::OnThePoint => {
                                let point = point.name.clone();
                                (InvalidValue::LightOnPoint { light, point }, Field::Position)
                            }
                            Flaw::AimedAtItself => (InvalidValue::AimedAtItself { light }, Field::Aim),
                        };
                        faults.push(error.in_part(part(entry, field)));
                        return None;
                    }
                }
            }
        };
        let modifier = pair.optics.modifier.or(own.modifier);
        Some(Placement {
            distance: Metres::new_unchecked(distance),
            incidence_deg,
            off_axis_deg,
            beam,
            modifier: modifier.map_or(Estimate::exact(Stops::ZERO), Modifier::stops),
            kind: modifier.and_then(Modifier::kind),
            source,
            factor,
            sure,
        })
    }

    /// Adds what boards and the walls of the room send on to the direct light of a placement.
    fn add_reflections(&self, placement: &mut Placement, light: &Light, by_boards: f64) {
        let room = self.room.and_then(|room| {
            let solid_angle = room::solid_angle_sr(&light.unit, placement.source, placement.beam.as_ref());
            Some(room.factor(solid_angle?))
        });
        if by_boards == 0.0 && room.is_none() {
            return;
        }
        let direct = placement.factor.unwrap_or_else(|| Estimate::exact(placement.by_distance()));
        let room = room.unwrap_or(Estimate::exact(0.0));
        let sum = |direct: f64, room: f64| direct + by_boards + room;
        placement.factor = Some(Estimate {
            low: sum(direct.low, room.low),
            typical: sum(direct.typical, room.typical),
            high: sum(direct.high, room.high),
        });
    }

    /// The factor of each light at each point by way of each board, 1/m²: by board, then by point, then by light. Lights
    /// are where they are stated to be themselves. Notes the boards that send nothing on.
    fn by_boards(&self, idle: &mut Vec<usize>) -> Vec<Vec<Vec<f64>>> {
        if self.reflectors.is_empty() {
            return Vec::new();
        }
        let place = |point: &MeteringPoint| {
            let normal = point.normal.map(|normal| unit(normal.0));
            point.position.map(|at| Place { at: at.0, normal })
        };
        let places: Vec<Option<Place>> = self.points.iter().map(place).collect();
        let around = Around {
            lights: self.lights.iter().map(|light| light.faces(&places)).collect(),
            places,
            blockers: &self.blockers,
            boards: self.reflectors.len(),
        };
        let all: Vec<Vec<Vec<f64>>> = self.reflectors.iter().map(|board| board.factors(&around)).collect();
        let is_idle = |factors: &Vec<Vec<f64>>| factors.iter().flatten().all(|factor| *factor == 0.0);
        idle.extend(all.iter().enumerate().filter(|(_, board)| is_idle(board)).map(|(index, _)| index));
        all
    }

    /// The ambient light at every point, as N².
    fn ambient(&self, faults: &mut Vec<InvalidPart>) -> Vec<f64> {
        let mut ambient = vec![0.0; self.points.len()];
        let mut has_entry = vec![false; self.points.len()];
        let Some(time) = self.exposure_time else {
            if !self.ambient.is_empty() {
                faults.push(InvalidValue::ExposureTimeMissing.in_part(Part::ExposureTime));
            }
            return ambient;
        };
        for (index, entry) in self.ambient.iter().enumerate() {
            if std::mem::replace(&mut has_entry[entry.point], true) {
                let error = InvalidValue::AmbientStatedTwice { point: self.points[entry.point].name.clone() };
                faults.push(error.in_part(Part::Ambient(index, None)));
            }
            ambient[entry.point] = match entry.amount {
                // N² = E·t·S/C (ISO 2720:1974).
                AmbientAmount::Illuminance(lux) => {
                    lux.get() * time.get() * self.exposure.iso.get() / CONSTANT_C
                }
                AmbientAmount::FNumber(f_number) => self.light_of(f_number),
            };
        }
        ambient
    }
}

impl Light {
    /// What lights boards: one face, or one aimed at each place if it has no aim and its light depends on that. None
    /// without a position.
    fn faces(&self, places: &[Option<Place>]) -> Faces<'_> {
        let Some(Position(from)) = self.position else { return Vec::new() };
        let Optics { aim, beam, source, .. } = &self.optics;
        let face = |to: Vector| {
            let axis = minus(to, from);
            (length(axis) > 0.0).then(|| Face::new(from, axis, *source, beam.as_ref()))
        };
        match aim {
            Some(Position(aim)) => vec![face(*aim)],
            // It shines alike in all directions.
            None if source.is_none() && Beam::shaped(beam.as_ref()).is_none() => {
                vec![face([from[0], from[1] + 1.0, from[2]])]
            }
            None => places.iter().map(|place| face(place.as_ref()?.at)).collect(),
        }
    }
}

/// One light and one point, with their geometry and optics.
struct Pair<'p> {
    point: usize,
    light: usize,
    geometry: Geometry,
    optics: &'p Optics,
    entry: Option<Entry>,
    /// The distance at which its level was metered, if it was.
    metered_at: Option<Metres>,
}

/// Removes duplicate errors. An error in a light, or in an entry for many points, is found once per point.
fn remove_duplicates(faults: &mut Vec<InvalidPart>) {
    // One part has few errors of one kind, so that these are simply searched.
    let mut seen: HashMap<(Part, Discriminant<InvalidValue>), Vec<InvalidValue>> = HashMap::new();
    faults.retain(|fault| {
        let same = seen.entry((fault.part, mem::discriminant(&fault.error))).or_default();
        let is_new = !same.contains(&fault.error);
        if is_new {
            same.push(fault.error.clone());
        }
        is_new
    });
}
