//! A set of lights and metering points: the light of each light at each point, from readings, distances or positions; and
//! the ambient light.
//!
//! Light is expressed as N² at the working ISO speed: the square of the f-number at which it exposes correctly.

pub mod beam;
pub mod camera;
pub mod close_up;
pub mod control;
pub mod edit;
pub mod exposure;
pub mod falloff;
pub mod filter;
pub mod gel;
pub mod geometry;
pub mod lens;
pub mod limits;
pub mod modifier;
pub mod placement;
pub mod predict;
pub mod ratio;
mod remarks;
pub mod softness;
pub mod target;

pub use self::remarks::{cautions, warnings};

use std::{
    collections::HashMap,
    mem::{self, Discriminant},
};

use self::{
    beam::Beam,
    control::Control,
    exposure::FlashExposure,
    filter::Filter,
    geometry::{Direction, Flaw, Position, seen},
    lens::Lens,
    modifier::Modifier,
    placement::{Placement, Source},
    ratio::LightingRatio,
    target::{Target, TargetSide},
};
use crate::light::{
    assumption::Assumption,
    error::{Entry, Field, InvalidPart, InvalidValue, Part},
    id::Id,
    quantity::{Estimate, FNumber, Lux, Metres, Seconds, Stops, constants::CONSTANT_C},
    remedy::{Named, Subject},
    unit::Unit,
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

/// Ambient light at a point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ambient {
    /// The point's index.
    pub point: usize,
    /// Its amount.
    pub amount: AmbientAmount,
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
    /// The lights.
    pub lights: Vec<Light>,
    /// The metering points.
    pub points: Vec<MeteringPoint>,
    /// Readings and placements.
    pub contributions: Vec<Contribution>,
    /// Ambient light at points.
    pub ambient: Vec<Ambient>,
    /// The two-light shorthand, if the request used it: then the points are the two sides.
    pub ratio: Option<LightingRatio>,
    /// The light in the camera relative to the meter reading, stops; + is more.
    pub meter_offset: Stops,
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
    /// The assumptions behind the computed light.
    pub assumptions: Vec<Assumption>,
}

impl Scene {
    /// A light, as what a remedy changes.
    pub fn subject(&self, light: usize) -> Subject {
        let light = &self.lights[light];
        Subject::Light(Named::new(&light.name, light.id.as_ref()))
    }

    /// The correction by the lens at the working aperture, stops.
    pub fn lens_stops(&self) -> f64 {
        self.lens.stops(self.exposure.f_number)
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
            assumptions: Vec::new(),
        };
        let mut has_entry = vec![vec![false; self.lights.len()]; self.points.len()];
        for contribution in &self.contributions {
            let (light, point) = (contribution.light, contribution.point);
            if std::mem::replace(&mut has_entry[point][light], true) {
                let (light, point) = (self.lights[light].name.clone(), self.points[point].name.clone());
                let error = InvalidValue::StatedTwice { light, point };
                faults.push(error.in_part(Part::Contribution(contribution.entry, None)));
                continue;
            }
            match &contribution.origin {
                Origin::Reading { below, f_number } => {
                    let light_of = &self.lights[light];
                    let gain = self.light_of(*f_number) / light_of.unit.power(*below);
                    matrix.gain[point][light] = Estimate::exact(gain * f64::from(light_of.control.pops));
                }
                Origin::Placement { geometry, optics } => {
                    let pair =
                        Pair { point, light, geometry: *geometry, optics, entry: Some(contribution.entry) };
                    self.place(&pair, &mut matrix, faults);
                }
            }
        }
        // With both positions known, a pair needs no entry of its own.
        let optics = Optics::default();
        for (point, light) in (0..self.points.len()).flat_map(|p| (0..self.lights.len()).map(move |l| (p, l)))
        {
            let both = self.points[point].position.is_some() && self.lights[light].position.is_some();
            if both && !has_entry[point][light] {
                let pair =
                    Pair { point, light, geometry: Geometry::Position(None), optics: &optics, entry: None };
                self.place(&pair, &mut matrix, faults);
            }
        }
        remove_duplicates(faults);
        matrix.assumptions = remarks::assumptions(self, &matrix);
        matrix
    }

    /// Adds the light of one placement to the matrix.
    fn place(&self, pair: &Pair<'_>, matrix: &mut LightMatrix, faults: &mut Vec<InvalidPart>) {
        let light = &self.lights[pair.light];
        let Some(placement) = self.placement(pair, faults) else {
            return;
        };
        match placement.light(&light.unit, self.exposure.iso) {
            Some(gain) => {
                // Each flash of an exposure adds its light.
                let part = f64::from(light.control.pops) * filter::stops(&light.filters).exp2();
                matrix.gain[pair.point][pair.light] = gain.map(|gain| gain * part);
                matrix.placements.push((pair.point, pair.light, placement));
            }
            None => {
                let part = Part::Light(pair.light, Some(Field::Unit));
                faults.push(InvalidValue::UnknownBeam.in_part(part));
            }
        }
    }

    /// The placement of one pair: its geometry, and its optics with the defaults of the light.
    fn placement(&self, pair: &Pair<'_>, faults: &mut Vec<InvalidPart>) -> Option<Placement> {
        let (light, point) = (&self.lights[pair.light], &self.points[pair.point]);
        let own = &light.optics;
        let aim = pair.optics.aim.or(own.aim);
        let [distance, incidence_deg, off_axis_deg] = match pair.geometry {
            Geometry::Distance { distance, incidence_deg, off_axis_deg } => {
                [distance.get(), incidence_deg, off_axis_deg]
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
                    Ok(seen) => [seen.distance.get(), seen.incidence_deg, seen.off_axis_deg],
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
            beam: pair.optics.beam.clone().or_else(|| own.beam.clone()),
            modifier: modifier.map_or(Estimate::exact(Stops::ZERO), Modifier::stops),
            kind: modifier.and_then(Modifier::kind),
            source: pair.optics.source.or(own.source),
        })
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

/// One light and one point, with their geometry and optics.
struct Pair<'p> {
    point: usize,
    light: usize,
    geometry: Geometry,
    optics: &'p Optics,
    entry: Option<Entry>,
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
