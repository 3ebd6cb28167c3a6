//! From a set as a photographer tells it to the search problem: names, targets, ambient, light.

use std::collections::{HashMap, HashSet};

use super::problem::{Levels, Point, Problem};
use crate::light::{
    constants::{CONSTANT_C, FRAME_MM},
    coverage::Coverage,
    equivalence::FlashExposure,
    fault::{Fault, Place, Wrong},
    guide::estimated_energy,
    limits::Limits,
    marks::Step,
    placement::{Placement, beam_at_full},
    quantity::{FNumber, Joules, Lux, Seconds, Stops},
    unit::Unit,
};

/// Clicks of a unit that has none, stops: what a search takes for continuous.
pub const CONTINUOUS_CLICK: f64 = 0.01;

/// A light of the set.
#[derive(Debug, Clone, PartialEq)]
pub struct Light {
    /// The caller's id of this entry.
    pub id: Option<String>,
    /// Its name, unique in the set.
    pub name: String,
    /// The unit.
    pub unit: Unit,
    /// It may go no lower than so many stops below full.
    pub max_below: Option<Stops>,
    /// It stays where it is, stops below full.
    pub fixed: Option<Stops>,
    /// It may be switched off.
    pub may_be_off: bool,
}

/// What is wanted at a point.
#[derive(Debug, Clone, PartialEq)]
pub enum Target {
    /// An aperture, as a meter reads.
    FNumber(FNumber),
    /// Stops against the working exposure.
    Stops(Stops),
    /// That point gets `ratio` times what this one gets.
    Ratio {
        /// The ratio, to 1.
        ratio: f64,
        /// The other point.
        to: String,
    },
}

/// A metering point.
#[derive(Debug, Clone, PartialEq)]
pub struct MeteringPoint {
    /// The caller's id of this entry.
    pub id: Option<String>,
    /// Its name, unique in the set.
    pub name: String,
    /// What is wanted there.
    pub target: Target,
    /// What an error there counts.
    pub weight: f64,
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
    Placement(Placement),
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
    pub place: Place,
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

/// A set to balance.
#[derive(Debug, Clone, PartialEq)]
pub struct Set {
    /// The working exposure.
    pub exposure: FlashExposure,
    /// The exposure time, where ambient light matters.
    pub exposure_time: Option<Seconds>,
    /// The lights.
    pub lights: Vec<Light>,
    /// The points.
    pub points: Vec<MeteringPoint>,
    /// The light that is known.
    pub contributions: Vec<Contribution>,
    /// Light that is there anyway.
    pub ambient: Vec<Ambient>,
    /// How much more (+) light the camera gets than the meter says.
    pub meter_offset: Stops,
    /// Pops of each light in one exposure.
    pub limits: Limits,
    /// The series of marks.
    pub step: Step,
}

/// The problem, and what was found on the way to it.
#[derive(Debug, Clone)]
pub struct Prepared {
    /// For the search.
    pub problem: Problem,
    /// Stops below full of each setting of each light; none where the light is off.
    pub settings: Vec<Vec<Option<Stops>>>,
    /// Lights whose beam was estimated from energy and coverage.
    pub estimated: Vec<usize>,
}

/// Makes the problem. Faults stand at names that repeat or point nowhere, at a light whose output is
/// not known, and at points that nothing reaches.
pub fn prepare(set: &Set) -> Result<Prepared, Vec<Fault>> {
    let mut faults = Vec::new();
    let root = Place::root();
    let lights = index("lights", set.lights.iter().map(|light| light.name.as_str()), &mut faults);
    let points = index("points", set.points.iter().map(|point| point.name.as_str()), &mut faults);
    let (gain, estimated) = gains(set, &lights, &points, &mut faults);
    let ambient = ambient(set, &points, &mut faults);
    let targets = targets(set, &points, &mut faults);
    if !faults.is_empty() {
        return Err(faults);
    }
    for (index, point) in set.points.iter().enumerate() {
        if ambient[index] <= 0.0 && gain[index].iter().all(|&gain| gain <= 0.0) {
            let detail = format!("no light and no ambient reaches \"{}\"", point.name);
            let wrong = Wrong::new(detail, "a reading, a placement or ambient light for this point");
            faults.push(wrong.at(&root.field("points").index(index)));
        }
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    let settings: Vec<Vec<Option<Stops>>> = set.lights.iter().map(settings).collect();
    let levels = set.lights.iter().zip(&settings).map(|(light, settings)| levels(light, settings)).collect();
    let points = gain.into_iter().zip(ambient).zip(targets).zip(&set.points);
    let points = points
        .map(|(((gain, ambient), target), point)| Point { gain, ambient, target, weight: point.weight })
        .collect();
    Ok(Prepared { problem: Problem { lights: levels, points }, settings, estimated })
}

/// Light at full power of every light at every point, as N², and the lights whose beam was estimated.
fn gains(
    set: &Set,
    lights: &HashMap<&str, usize>,
    points: &HashMap<&str, usize>,
    faults: &mut Vec<Fault>,
) -> (Vec<Vec<f64>>, Vec<usize>) {
    let mut gain = vec![vec![0.0; set.lights.len()]; set.points.len()];
    let mut known = HashSet::new();
    let mut estimated = Vec::new();
    for contribution in &set.contributions {
        let light = find("light", &contribution.light, lights, &contribution.place, faults);
        let point = find("point", &contribution.point, points, &contribution.place, faults);
        let (Some(light), Some(point)) = (light, point) else {
            continue;
        };
        if !known.insert((light, point)) {
            let detail = format!("\"{}\" at \"{}\" is told twice", contribution.light, contribution.point);
            faults.push(
                Wrong::new(detail, "one reading or placement for each light and point")
                    .at(&contribution.place),
            );
            continue;
        }
        let unit = &set.lights[light].unit;
        gain[point][light] = match &contribution.known {
            Known::Reading { below, f_number } => {
                f_number.squared() * below.factor() * set.meter_offset.factor()
            }
            Known::Placement(placement) => {
                let Some(beam) = beam_at_full(unit) else {
                    let wrong = Wrong::new(
                        "a placement needs the unit's beam, which is not known",
                        "a guide_number, or a coverage beside the energy",
                    );
                    let fault = wrong.at(&Place::root().field("lights").index(light).field("unit"));
                    if !faults.contains(&fault) {
                        faults.push(fault);
                    }
                    continue;
                };
                if unit.guide_number.is_none() && !estimated.contains(&light) {
                    estimated.push(light);
                }
                beam.typical * placement.transfer(set.exposure.iso)
            }
        };
    }
    (gain, estimated)
}

/// Names to indexes; a name that repeats is a fault.
fn index<'n>(
    list: &str,
    names: impl Iterator<Item = &'n str>,
    faults: &mut Vec<Fault>,
) -> HashMap<&'n str, usize> {
    let mut indexes = HashMap::new();
    for (at, name) in names.enumerate() {
        if indexes.insert(name, at).is_some() {
            let place = Place::root().field(list).index(at).field("name");
            faults.push(used_before(name).at(&place));
        }
    }
    indexes
}

/// The index of a name that stands in `field`; a name that is not there is a fault.
fn find(
    field: &str,
    name: &str,
    known: &HashMap<&str, usize>,
    place: &Place,
    faults: &mut Vec<Fault>,
) -> Option<usize> {
    let found = known.get(name).copied();
    if found.is_none() {
        let mut names: Vec<&str> = known.keys().copied().collect();
        names.sort_unstable();
        let what = if field == "to" { "point" } else { field };
        faults.push(points_nowhere(what, name, &names).at(&place.field(field)));
    }
    found
}

/// A name that stands for two things.
pub fn used_before(name: &str) -> Wrong {
    Wrong::new(format!("the name \"{name}\" is used before"), "names that differ")
}

/// A name of a light or point that is not there.
pub fn points_nowhere(what: &str, name: &str, known: &[&str]) -> Wrong {
    Wrong::new(format!("no {what} is named \"{name}\""), format!("one of {}", known.join(", ")))
}

/// Ambient light at every point, as N².
fn ambient(set: &Set, points: &HashMap<&str, usize>, faults: &mut Vec<Fault>) -> Vec<f64> {
    let mut ambient = vec![0.0; set.points.len()];
    let mut told = vec![false; set.points.len()];
    let Some(time) = set.exposure_time else {
        if !set.ambient.is_empty() {
            let place = Place::root().field("exposure").field("exposure_time");
            faults.push(
                Wrong::new("ambient light needs the exposure time", "an exposure time, as \"1/125\"")
                    .at(&place),
            );
        }
        return ambient;
    };
    for (at, entry) in set.ambient.iter().enumerate() {
        let place = Place::root().field("ambient").index(at);
        let Some(point) = find("point", &entry.point, points, &place, faults) else {
            continue;
        };
        if std::mem::replace(&mut told[point], true) {
            let detail = format!("ambient light at \"{}\" is told twice", entry.point);
            faults.push(Wrong::new(detail, "one entry for each point").at(&place));
        }
        ambient[point] = match entry.amount {
            // N² = E·t·S/C (ISO 2720:1974).
            AmbientAmount::Illuminance(lux) => lux.get() * time.get() * set.exposure.iso.get() / CONSTANT_C,
            AmbientAmount::FNumber(f_number) => f_number.squared() * set.meter_offset.factor(),
        };
    }
    ambient
}

/// Wanted light at every point, as N²; ratios bind targets, along chains that must end.
fn targets(set: &Set, points: &HashMap<&str, usize>, faults: &mut Vec<Fault>) -> Vec<f64> {
    let working = set.exposure.f_number.squared();
    let mut targets = Vec::with_capacity(set.points.len());
    for (start, _) in set.points.iter().enumerate() {
        let (mut at, mut over, mut steps) = (start, 1.0, 0);
        let target = loop {
            match &set.points[at].target {
                Target::FNumber(f_number) => break f_number.squared() / over,
                Target::Stops(stops) => break working * stops.factor() / over,
                Target::Ratio { ratio, to } => {
                    let place = Place::root().field("points").index(start).field("target").field("to");
                    let Some(&next) = points.get(to.as_str()) else {
                        if at == start {
                            find(
                                "to",
                                to,
                                points,
                                &Place::root().field("points").index(at).field("target"),
                                faults,
                            );
                        }
                        break working;
                    };
                    over *= ratio;
                    at = next;
                    steps += 1;
                    if steps > set.points.len() {
                        let wrong = Wrong::new(
                            "the ratios run in a circle",
                            "a chain that ends at a point with f_number or stops",
                        );
                        faults.push(wrong.at(&place));
                        break working;
                    }
                }
            }
        };
        targets.push(target);
    }
    targets
}

/// The settings that the search may choose from, full power first, off last.
fn settings(light: &Light) -> Vec<Option<Stops>> {
    let scale = &light.unit.scale;
    let mut settings: Vec<Option<Stops>> = match light.fixed {
        Some(fixed) => vec![Some(fixed)],
        None => {
            let most = light.max_below.map_or(f64::INFINITY, Stops::get) + 1e-9;
            let all: Vec<f64> = if scale.is_continuous() {
                let count = (scale.range().get() / CONTINUOUS_CLICK).round() as usize;
                (0..=count).map(|k| k as f64 * CONTINUOUS_CLICK).collect()
            } else {
                scale.settings().to_vec()
            };
            all.into_iter().filter(|&below| below <= most).map(|below| Some(Stops::computed(below))).collect()
        }
    };
    if light.may_be_off {
        settings.push(None);
    }
    settings
}

fn levels(light: &Light, settings: &[Option<Stops>]) -> Levels {
    let unit = &light.unit;
    // Only to weigh lights against each other, where a rating is missing.
    let usual = Coverage::FocalLength { focal_length_mm: 35.0, frame_mm: FRAME_MM };
    let full = unit.energy.map(Joules::get).or_else(|| {
        unit.guide_number.map(|guide| estimated_energy(guide, unit.coverage.unwrap_or(usual)).typical)
    });
    let power: Vec<f64> =
        settings.iter().map(|below| below.map_or(0.0, |below| (-below.get()).exp2())).collect();
    Levels { energy_j: power.iter().map(|power| power * full.unwrap_or(0.0)).collect(), power }
}
