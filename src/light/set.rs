//! A set of lights and metering points: what each light gives at each point, from readings, distances or
//! positions; and the ambient light.
//!
//! All light is counted as N² at the working ISO speed: the square of the aperture that it would need.

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
    error::{self, FieldError, InvalidValue, Pointer},
    quantity::{Estimate, FNumber, Lux, Metres, Seconds, Stops, constants::CONSTANT_C},
    remark::Assumption,
    unit::Unit,
};

/// A light.
#[derive(Debug, Clone, PartialEq)]
pub struct Light {
    /// The caller's id of this entry.
    pub id: Option<String>,
    /// Its name, unique in the set.
    pub name: String,
    /// The unit.
    pub unit: Unit,
    /// Where it stands, for all points whose position is known.
    pub position: Option<Position>,
    /// What holds wherever a placement does not say otherwise.
    pub outfit: Optics,
}

/// What stands before a light, and where it looks.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Optics {
    /// The place it is aimed at; at each point if not known.
    pub aim: Option<Position>,
    /// How its beam falls off; even if not known.
    pub beam: Option<Beam>,
    /// What its modifier does.
    pub modifier: Option<Modifier>,
    /// The face of its modifier.
    pub source: Option<Source>,
}

/// A metering point.
#[derive(Debug, Clone, PartialEq)]
pub struct MeteringPoint {
    /// The caller's id of this entry.
    pub id: Option<String>,
    /// Its name, unique in the set.
    pub name: String,
    /// Where it is.
    pub position: Option<Position>,
    /// Where it faces; each light if not known.
    pub normal: Option<Direction>,
}

/// How the light of a light at a point is known.
#[derive(Debug, Clone, PartialEq)]
pub enum Known {
    /// Metered with that light alone.
    Reading {
        /// The setting it was metered at, stops below full.
        below: Stops,
        /// What the meter read.
        f_number: FNumber,
    },
    /// Computed from where it stands.
    Placement {
        /// From where.
        stand: Geometry,
        /// What differs from the light's own.
        outfit: Optics,
    },
}

/// Where a light stands to a point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Geometry {
    /// So far, at such angles.
    Distance {
        /// From the light to the point.
        distance: Metres,
        /// Angle between the light's direction and the point's normal, degrees.
        incidence_deg: f64,
        /// Angle between the light's axis and the point, degrees.
        off_axis_deg: f64,
    },
    /// At a position, or at the light's own.
    Position(Option<Position>),
}

/// Light of one light at one point.
#[derive(Debug, Clone, PartialEq)]
pub struct Contribution {
    /// The light's name.
    pub light: String,
    /// The point's name.
    pub point: String,
    /// How it is known.
    pub known: Known,
    /// Where it stands in the request.
    pub place: Pointer,
}

/// Ambient light at a point.
#[derive(Debug, Clone, PartialEq)]
pub struct Ambient {
    /// The point's name.
    pub point: String,
    /// How much.
    pub amount: AmbientAmount,
}

/// How ambient light is told.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum AmbientAmount {
    /// Illuminance.
    Illuminance(Lux),
    /// A meter's reading at the working exposure time and ISO speed.
    FNumber(FNumber),
}

/// What is known of a set.
#[derive(Debug, Clone, PartialEq)]
pub struct Scene {
    /// The working exposure.
    pub exposure: FlashExposure,
    /// The exposure time, where ambient light matters.
    pub exposure_time: Option<Seconds>,
    /// The lights.
    pub lamps: Vec<Light>,
    /// The points.
    pub spots: Vec<MeteringPoint>,
    /// The light that is known.
    pub contributions: Vec<Contribution>,
    /// Light that is there anyway.
    pub ambient: Vec<Ambient>,
    /// How much more (+) light the camera gets than the meter says.
    pub meter_offset: Stops,
}

/// The light of a set.
#[derive(Debug, Clone, PartialEq)]
pub struct LightMatrix {
    /// Light of each light at full power, by point, then by light.
    pub gain: Vec<Vec<Estimate<f64>>>,
    /// Ambient light at each point.
    pub ambient: Vec<f64>,
    /// How each light stands to each point that it was computed for: point, light, placement.
    pub placements: Vec<(usize, usize, Placement)>,
    /// What was assumed.
    pub assumptions: Vec<Assumption>,
}

impl Scene {
    /// The point of that name.
    pub fn spot(&self, name: &str) -> Option<usize> {
        self.spots.iter().position(|spot| spot.name == name)
    }

    /// Light for the camera, as N², where a meter reads an aperture.
    pub fn light_of(&self, reading: FNumber) -> f64 {
        reading.squared() * self.meter_offset.factor()
    }

    /// What a meter reads where there is so much light for the camera: the inverse of [`Self::light_of`].
    pub fn metered(&self, light: f64) -> FNumber {
        FNumber::new_unchecked((light / self.meter_offset.factor()).sqrt())
    }

    /// Works out the light. Faults stand at names that repeat or point nowhere, at positions that cannot be,
    /// and at a light whose output is not known.
    pub fn light(&self, faults: &mut Vec<FieldError>) -> LightMatrix {
        let lamps = Names::of("lights", self.lamps.iter().map(|lamp| lamp.name.as_str()), faults);
        let spots = Names::of("points", self.spots.iter().map(|spot| spot.name.as_str()), faults);
        let mut lit = LightMatrix {
            gain: vec![vec![Estimate::exact(0.0); self.lamps.len()]; self.spots.len()],
            ambient: self.ambient(&spots, faults),
            placements: Vec::new(),
            assumptions: Vec::new(),
        };
        let mut known = vec![vec![false; self.lamps.len()]; self.spots.len()];
        for contribution in &self.contributions {
            let lamp = lamps.find("light", &contribution.light, &contribution.place, faults);
            let spot = spots.find("point", &contribution.point, &contribution.place, faults);
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
                    let power = self.lamps[lamp].unit.power(*below);
                    let light = self.light_of(*f_number) / power;
                    lit.gain[spot][lamp] = Estimate::exact(light);
                }
                Known::Placement { stand, outfit } => {
                    let pair = Pair { spot, lamp, stand: *stand, outfit, place: Some(&contribution.place) };
                    self.place(&pair, &mut lit, faults);
                }
            }
        }
        // Where both positions are known, nothing more need be said.
        let outfit = Optics::default();
        for (spot, lamp) in (0..self.spots.len()).flat_map(|s| (0..self.lamps.len()).map(move |l| (s, l))) {
            let both = self.spots[spot].position.is_some() && self.lamps[lamp].position.is_some();
            if both && !known[spot][lamp] {
                let pair = Pair { spot, lamp, stand: Geometry::Position(None), outfit: &outfit, place: None };
                self.place(&pair, &mut lit, faults);
            }
        }
        told_once(faults);
        lit.assumptions = remarks::assumptions(self, &lit);
        lit
    }

    /// Computes the light of one placement.
    fn place(&self, pair: &Pair<'_>, lit: &mut LightMatrix, faults: &mut Vec<FieldError>) {
        let lamp = &self.lamps[pair.lamp];
        let Some(placement) = self.placement(pair, faults) else {
            return;
        };
        match placement.light(&lamp.unit, self.exposure.iso) {
            Some(light) => {
                lit.gain[pair.spot][pair.lamp] = light;
                lit.placements.push((pair.spot, pair.lamp, placement));
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

    fn placement(&self, pair: &Pair<'_>, faults: &mut Vec<FieldError>) -> Option<Placement> {
        let (lamp, spot) = (&self.lamps[pair.lamp], &self.spots[pair.spot]);
        let own = &lamp.outfit;
        let aim = pair.outfit.aim.or(own.aim);
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
                        // Blame what the placement says itself, else what the light says.
                        let own_position = position.is_some() || pair.outfit.aim.is_some();
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
        let modifier = pair.outfit.modifier.or(own.modifier);
        Some(Placement {
            distance: Metres::new_unchecked(distance),
            incidence_deg,
            off_axis_deg,
            beam: pair.outfit.beam.clone().or_else(|| own.beam.clone()),
            modifier: modifier.map_or(Estimate::exact(Stops::ZERO), Modifier::stops),
            source: pair.outfit.source.or(own.source),
        })
    }

    /// Ambient light at every point.
    fn ambient(&self, spots: &Names<'_>, faults: &mut Vec<FieldError>) -> Vec<f64> {
        let mut ambient = vec![0.0; self.spots.len()];
        let mut told = vec![false; self.spots.len()];
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
        for (at, entry) in self.ambient.iter().enumerate() {
            let place = Pointer::root().field("ambient").index(at);
            let Some(spot) = spots.find("point", &entry.point, &place, faults) else {
                continue;
            };
            if std::mem::replace(&mut told[spot], true) {
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

/// One light at one point.
struct Pair<'p> {
    spot: usize,
    lamp: usize,
    stand: Geometry,
    outfit: &'p Optics,
    place: Option<&'p Pointer>,
}

/// Leaves each fault once: what is wrong with a light, or with an entry that reaches many points, is found at each.
fn told_once(faults: &mut Vec<FieldError>) {
    let mut before = HashSet::new();
    let is_new: Vec<bool> = faults.iter().map(|fault| before.insert(fault)).collect();
    let mut is_new = is_new.into_iter();
    faults.retain(|_| is_new.next().unwrap_or(true));
}

/// Names of a list, in its order and to be looked up.
struct Names<'n> {
    all: Vec<&'n str>,
    indexes: HashMap<&'n str, usize>,
}

impl<'n> Names<'n> {
    /// The names of a list; one that repeats is a fault.
    fn of(list: &str, names: impl Iterator<Item = &'n str>, faults: &mut Vec<FieldError>) -> Self {
        let all: Vec<&str> = names.collect();
        let mut indexes = HashMap::new();
        for (at, name) in all.iter().enumerate() {
            if indexes.insert(*name, at).is_some() {
                let place = Pointer::root().field(list).index(at).field("name");
                faults.push(used_before(name).at(&place));
            }
        }
        Self { all, indexes }
    }

    /// The index of a name that stands in `field`; a name that is not there is a fault.
    fn find(&self, field: &str, name: &str, place: &Pointer, faults: &mut Vec<FieldError>) -> Option<usize> {
        let found = self.indexes.get(name).copied();
        if found.is_none() {
            faults.push(points_nowhere(field, name, &self.all).at(&place.field(field)));
        }
        found
    }
}

/// A name that stands for two things.
pub fn used_before(name: &str) -> InvalidValue {
    InvalidValue::new(format!("the name \"{name}\" is used before"), "names that differ")
}

/// A name of a light or point that is not there.
pub fn points_nowhere(what: &str, name: &str, known: &[&str]) -> InvalidValue {
    InvalidValue::new(format!("no {what} is named \"{name}\""), format!("one of {}", error::names(known)))
}
