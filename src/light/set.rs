//! A set of lights and metering points: the light of each light at each point, from readings, distances or positions; and
//! the ambient light.
//!
//! Light is expressed as N² at the working ISO speed: the square of the f-number that it exposes correctly.

pub mod beam;
pub mod camera;
pub mod exposure;
pub mod falloff;
pub mod gel;
pub mod geometry;
pub mod limits;
pub mod modifier;
pub mod placement;
pub mod predict;
mod remarks;

pub use self::remarks::{cautions, doubts};

use std::collections::{HashMap, HashSet};

use self::{
    beam::Beam,
    exposure::FlashExposure,
    geometry::{Direction, Flaw, Position, seen},
    modifier::Modifier,
    placement::{Placement, Source},
};
use crate::light::{
    assumption::Assumption,
    error::{self, FieldError, InvalidValue, Pointer},
    quantity::{Estimate, FNumber, Lux, Metres, Seconds, Stops, constants::CONSTANT_C},
    unit::Unit,
};

/// A light on set.
#[derive(Debug, Clone, PartialEq)]
pub struct Light {
    /// The client's id for this entry.
    pub id: Option<String>,
    /// Its name, unique in the set.
    pub name: String,
    /// The flash unit.
    pub unit: Unit,
    /// Its position; with it, the light is computed for every point of known position.
    pub position: Option<Position>,
    /// Defaults for its placements.
    pub optics: Optics,
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
    pub id: Option<String>,
    /// Its name, unique in the set.
    pub name: String,
    /// Its position.
    pub position: Option<Position>,
    /// The direction that it faces; if `None`, it faces each light in turn.
    pub normal: Option<Direction>,
}

/// The source of a contribution: a reading or a placement.
#[derive(Debug, Clone, PartialEq)]
pub enum Known {
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
        stand: Geometry,
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
    /// The light's name.
    pub light: String,
    /// The point's name.
    pub point: String,
    /// A reading or a placement.
    pub known: Known,
    /// Its location in the request.
    pub place: Pointer,
}

/// Ambient light at a point.
#[derive(Debug, Clone, PartialEq)]
pub struct Ambient {
    /// The point's name.
    pub point: String,
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
    /// The lights.
    pub lights: Vec<Light>,
    /// The metering points.
    pub points: Vec<MeteringPoint>,
    /// Readings and placements.
    pub contributions: Vec<Contribution>,
    /// Ambient light at points.
    pub ambient: Vec<Ambient>,
    /// The light in the camera relative to the meter reading, stops; + is more.
    pub meter_offset: Stops,
}

/// The light of each light at each point.
#[derive(Debug, Clone, PartialEq)]
pub struct LightMatrix {
    /// Light of each light at full power, indexed by point, then by light.
    pub gain: Vec<Vec<Estimate<f64>>>,
    /// Ambient light at each point.
    pub ambient: Vec<f64>,
    /// The computed placements: index of the point, index of the light, placement.
    pub placements: Vec<(usize, usize, Placement)>,
    /// The assumptions behind the computed light.
    pub assumptions: Vec<Assumption>,
}

impl Scene {
    /// The index of the point with this name.
    pub fn spot(&self, name: &str) -> Option<usize> {
        self.points.iter().position(|spot| spot.name == name)
    }

    /// The light in the camera, as N², from a meter reading.
    pub fn light_of(&self, reading: FNumber) -> f64 {
        reading.squared() * self.meter_offset.factor()
    }

    /// The meter reading from the light in the camera: the inverse of [`Self::light_of`].
    pub fn metered(&self, light: f64) -> FNumber {
        FNumber::new_unchecked((light / self.meter_offset.factor()).sqrt())
    }

    /// Computes the light matrix. Adds errors for duplicate or unknown names, impossible positions, and lights of unknown
    /// output.
    pub fn light(&self, faults: &mut Vec<FieldError>) -> LightMatrix {
        let lights = Names::from_list("lights", self.lights.iter().map(|lamp| lamp.name.as_str()), faults);
        let points = Names::from_list("points", self.points.iter().map(|spot| spot.name.as_str()), faults);
        let mut matrix = LightMatrix {
            gain: vec![vec![Estimate::exact(0.0); self.lights.len()]; self.points.len()],
            ambient: self.ambient(&points, faults),
            placements: Vec::new(),
            assumptions: Vec::new(),
        };
        let mut known = vec![vec![false; self.lights.len()]; self.points.len()];
        for contribution in &self.contributions {
            let lamp = lights.find("light", &contribution.light, &contribution.place, faults);
            let spot = points.find("point", &contribution.point, &contribution.place, faults);
            let (Some(lamp), Some(spot)) = (lamp, spot) else {
                continue;
            };
            if std::mem::replace(&mut known[spot][lamp], true) {
                let detail =
                    format!("\"{}\" at \"{}\" is told twice", contribution.light, contribution.point);
                let wrong = InvalidValue::new(detail, "one reading or placement for each light and point");
                faults.push(wrong.at(&contribution.place));
                continue;
            }
            match &contribution.known {
                Known::Reading { below, f_number } => {
                    let power = self.lights[lamp].unit.power(*below);
                    let light = self.light_of(*f_number) / power;
                    matrix.gain[spot][lamp] = Estimate::exact(light);
                }
                Known::Placement { stand, optics } => {
                    let pair = Pair { spot, lamp, stand: *stand, optics, place: Some(&contribution.place) };
                    self.place(&pair, &mut matrix, faults);
                }
            }
        }
        // With both positions known, a pair needs no entry of its own.
        let optics = Optics::default();
        for (spot, lamp) in (0..self.points.len()).flat_map(|s| (0..self.lights.len()).map(move |l| (s, l))) {
            let both = self.points[spot].position.is_some() && self.lights[lamp].position.is_some();
            if both && !known[spot][lamp] {
                let pair = Pair { spot, lamp, stand: Geometry::Position(None), optics: &optics, place: None };
                self.place(&pair, &mut matrix, faults);
            }
        }
        remove_duplicates(faults);
        matrix.assumptions = remarks::assumptions(self, &matrix);
        matrix
    }

    /// Adds the light of one placement to the matrix.
    fn place(&self, pair: &Pair<'_>, matrix: &mut LightMatrix, faults: &mut Vec<FieldError>) {
        let lamp = &self.lights[pair.lamp];
        let Some(placement) = self.placement(pair, faults) else {
            return;
        };
        match placement.light(&lamp.unit, self.exposure.iso) {
            Some(light) => {
                matrix.gain[pair.spot][pair.lamp] = light;
                matrix.placements.push((pair.spot, pair.lamp, placement));
            }
            None => {
                let wrong = InvalidValue::new(
                    "a placement needs the unit's beam, which is not known",
                    "a guide_number, or a coverage or a beam beside the energy",
                );
                faults.push(wrong.at(&Pointer::root().field("lights").index(pair.lamp).field("unit")));
            }
        }
    }

    /// The placement of one pair: its geometry, and its optics with the defaults of the light.
    fn placement(&self, pair: &Pair<'_>, faults: &mut Vec<FieldError>) -> Option<Placement> {
        let (lamp, spot) = (&self.lights[pair.lamp], &self.points[pair.spot]);
        let own = &lamp.optics;
        let aim = pair.optics.aim.or(own.aim);
        let [distance, incidence_deg, off_axis_deg] = match pair.stand {
            Geometry::Distance { distance, incidence_deg, off_axis_deg } => {
                [distance.get(), incidence_deg, off_axis_deg]
            }
            Geometry::Position(position) => {
                let lamp_place = Pointer::root().field("lights").index(pair.lamp);
                let (Some(from), Some(to)) = (position.or(lamp.position), spot.position) else {
                    let place = pair.place.cloned().unwrap_or(lamp_place);
                    let wrong = InvalidValue::new(
                        format!("nothing tells how far \"{}\" is from \"{}\"", lamp.name, spot.name),
                        "a distance, as \"2.5 m\", or the positions of both",
                    );
                    faults.push(wrong.at(&place.field("distance")));
                    return None;
                };
                match seen(from, aim, to, spot.normal) {
                    Ok(seen) => [seen.distance.get(), seen.incidence_deg, seen.off_axis_deg],
                    Err(flaw) => {
                        // Locate the error in the placement if it states a position or an aim, else in the light.
                        let own_position = position.is_some() || pair.optics.aim.is_some();
                        let place = if own_position { pair.place.cloned() } else { None };
                        let place = place.unwrap_or(lamp_place);
                        let fault = match flaw {
                            Flaw::OnThePoint => InvalidValue::new(
                                format!("\"{}\" stands on \"{}\"", lamp.name, spot.name),
                                "positions at least 1 cm apart",
                            )
                            .at(&place.field("position")),
                            Flaw::AimedAtItself => InvalidValue::new(
                                format!("\"{}\" is aimed at itself", lamp.name),
                                "an aim at least 1 cm from the light",
                            )
                            .at(&place.field("aim")),
                        };
                        faults.push(fault);
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
            source: pair.optics.source.or(own.source),
        })
    }

    /// The ambient light at every point, as N².
    fn ambient(&self, points: &Names<'_>, faults: &mut Vec<FieldError>) -> Vec<f64> {
        let mut ambient = vec![0.0; self.points.len()];
        let mut has_entry = vec![false; self.points.len()];
        let Some(time) = self.exposure_time else {
            if !self.ambient.is_empty() {
                let place = Pointer::root().field("exposure").field("exposure_time");
                let wrong = InvalidValue::new(
                    "ambient light needs the exposure time",
                    "an exposure time, as \"1/125\"",
                );
                faults.push(wrong.at(&place));
            }
            return ambient;
        };
        for (index, entry) in self.ambient.iter().enumerate() {
            let place = Pointer::root().field("ambient").index(index);
            let Some(spot) = points.find("point", &entry.point, &place, faults) else {
                continue;
            };
            if std::mem::replace(&mut has_entry[spot], true) {
                let detail = format!("ambient light at \"{}\" is told twice", entry.point);
                faults.push(InvalidValue::new(detail, "one entry for each point").at(&place));
            }
            ambient[spot] = match entry.amount {
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
    spot: usize,
    lamp: usize,
    stand: Geometry,
    optics: &'p Optics,
    place: Option<&'p Pointer>,
}

/// Removes duplicate errors. An error in a light, or in an entry for many points, is found once per point.
fn remove_duplicates(faults: &mut Vec<FieldError>) {
    let mut seen = HashSet::new();
    let is_new: Vec<bool> = faults.iter().map(|fault| seen.insert(fault)).collect();
    let mut is_new = is_new.into_iter();
    faults.retain(|_| is_new.next().unwrap_or(true));
}

/// The names of a list, in order and by lookup.
struct Names<'n> {
    all: Vec<&'n str>,
    indexes: HashMap<&'n str, usize>,
}

impl<'n> Names<'n> {
    /// Collects the names of a list. A duplicate is an error.
    fn from_list(list: &str, names: impl Iterator<Item = &'n str>, faults: &mut Vec<FieldError>) -> Self {
        let all: Vec<&str> = names.collect();
        let mut indexes = HashMap::new();
        for (index, name) in all.iter().enumerate() {
            if indexes.insert(*name, index).is_some() {
                let place = Pointer::root().field(list).index(index).field("name");
                faults.push(duplicate_name(name).at(&place));
            }
        }
        Self { all, indexes }
    }

    /// The index of the name in `field`. An unknown name is an error.
    fn find(&self, field: &str, name: &str, place: &Pointer, faults: &mut Vec<FieldError>) -> Option<usize> {
        let found = self.indexes.get(name).copied();
        if found.is_none() {
            faults.push(unknown_name(field, name, &self.all).at(&place.field(field)));
        }
        found
    }
}

/// The error for a duplicate name.
pub fn duplicate_name(name: &str) -> InvalidValue {
    InvalidValue::new(format!("the name \"{name}\" is used before"), "names that differ")
}

/// The error for an unknown name of a light or point.
pub fn unknown_name(what: &str, name: &str, known: &[&str]) -> InvalidValue {
    InvalidValue::new(format!("no {what} is named \"{name}\""), format!("one of {}", error::names(known)))
}
