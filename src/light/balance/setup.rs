//! Turns a photographer's description of a set into the search problem.

use crate::light::{
    balance::problem::{Levels, Point, Problem},
    error::{InvalidPart, InvalidValue, Part},
    quantity::{Estimate, FNumber, Joules, Stops, constants::FRAME_MM, marks::Step, units::Units},
    set::{LightMatrix, Scene, limits::Limits},
    unit::{Unit, coverage::Coverage, guide::estimated_energy},
};

/// Step size of a unit without clicks, stops: how finely the search divides a continuous control.
pub const CONTINUOUS_CLICK: f64 = 0.01;

/// How a light may be adjusted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Control {
    /// The lowest setting allowed, stops below full; `None` if unrestricted.
    pub max_below: Option<Stops>,
    /// The setting that the light is fixed at, stops below full.
    pub fixed: Option<Stops>,
    /// Whether it may be switched off.
    pub may_be_off: bool,
    /// Flashes in one exposure.
    pub pops: u32,
}

impl Control {
    /// Whether there is a choice: another setting, or off.
    pub const fn is_open(&self) -> bool {
        self.fixed.is_none() || self.may_be_off
    }
}

/// The target of a point, and its weight.
#[derive(Debug, Clone, PartialEq)]
pub struct PointTarget {
    /// The target light.
    pub target: Target,
    /// Weight of an error at this point.
    pub weight: f64,
}

/// The target light of a point.
#[derive(Debug, Clone, PartialEq)]
pub enum Target {
    /// An aperture, as a meter reads it.
    FNumber(FNumber),
    /// Stops relative to the working exposure.
    Stops(Stops),
    /// The point `to` gets `ratio` times the light of this point.
    Ratio {
        /// The ratio, to 1.
        ratio: f64,
        /// The other point.
        to: String,
    },
}

/// A set to balance.
#[derive(Debug, Clone, PartialEq)]
pub struct Set {
    /// The lights, the points, and each light's contribution to each point.
    pub scene: Scene,
    /// How each light may be adjusted.
    pub controls: Vec<Control>,
    /// The target of each point.
    pub point_targets: Vec<PointTarget>,
    /// Limits of remedies.
    pub limits: Limits,
    /// The step of camera marks.
    pub step: Step,
    /// The units of lengths in the answer.
    pub units: Units,
}

/// The search problem, and what it was made from.
#[derive(Debug, Clone)]
pub struct Prepared {
    /// The problem for the search, with typical values of every estimate.
    pub problem: Problem,
    /// Each light's settings, stops below full; `None` is off.
    pub settings: Vec<Vec<Option<Stops>>>,
    /// The light of each light at each point, with its uncertainty.
    pub lit: LightMatrix,
}

/// Makes the search problem.
///
/// # Errors
///
/// The faults of [`Scene::light`]; a ratio that names no point, or runs in a circle; a point that no light reaches.
pub fn prepare(set: &Set) -> Result<Prepared, Vec<InvalidPart>> {
    let mut faults = Vec::new();
    let mut lit = set.scene.light(&mut faults);
    // Each flash of an exposure adds its light.
    for gains in &mut lit.gain {
        for (gain, control) in gains.iter_mut().zip(&set.controls) {
            *gain = gain.map(|gain| gain * f64::from(control.pops));
        }
    }
    let targets = targets(set, &mut faults);
    if !faults.is_empty() {
        return Err(faults);
    }
    for (index, point) in set.scene.points.iter().enumerate() {
        if lit.ambient[index] <= 0.0 && lit.gain[index].iter().all(|gain| gain.typical <= 0.0) {
            let error = InvalidValue::UnlitPoint { point: point.name.clone() };
            faults.push(error.in_part(Part::Point(index, None)));
        }
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    let units = || set.scene.lights.iter().map(|light| &light.unit);
    let settings: Vec<_> =
        units().zip(&set.controls).map(|(unit, control)| settings(unit, *control)).collect();
    let lights = units().zip(&settings).zip(&set.controls);
    let lights = lights.map(|((unit, settings), control)| levels(unit, settings, control.pops)).collect();
    let typical = |gain: &Vec<Estimate<f64>>| gain.iter().map(|gain| gain.typical).collect();
    let points = lit.gain.iter().zip(&lit.ambient).zip(targets).zip(&set.point_targets);
    let points = points
        .map(|(((gain, &ambient), target), point_target)| Point {
            gain: typical(gain),
            ambient,
            target,
            weight: point_target.weight,
        })
        .collect();
    Ok(Prepared { problem: Problem { lights, points }, settings, lit })
}

/// Target light at every point, as N². A ratio target follows its chain of points, which must end.
fn targets(set: &Set, faults: &mut Vec<InvalidPart>) -> Vec<f64> {
    let working = set.scene.exposure.f_number.squared();
    let mut targets = Vec::with_capacity(set.point_targets.len());
    for start in 0..set.point_targets.len() {
        let (mut at, mut over, mut steps) = (start, 1.0, 0);
        let target = loop {
            match &set.point_targets[at].target {
                Target::FNumber(f_number) => break set.scene.light_of(*f_number) / over,
                Target::Stops(stops) => break working * stops.factor() / over,
                Target::Ratio { ratio, to } => {
                    let part = Part::TargetPoint(start);
                    let Some(next) = set.scene.point(to) else {
                        if at == start {
                            let known = set.scene.points.iter().map(|point| point.name.clone()).collect();
                            let error = InvalidValue::UnknownName { what: "point", name: to.clone(), known };
                            faults.push(error.in_part(part));
                        }
                        break working;
                    };
                    over *= ratio;
                    at = next;
                    steps += 1;
                    if steps > set.point_targets.len() {
                        faults.push(InvalidValue::CircularRatios.in_part(part));
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
pub fn settings(unit: &Unit, control: Control) -> Vec<Option<Stops>> {
    let scale = &unit.scale;
    let mut settings: Vec<Option<Stops>> = match control.fixed {
        Some(fixed) => vec![Some(fixed)],
        None => {
            let most = control.max_below.map_or(f64::INFINITY, Stops::get) + 1e-9;
            let all: Vec<f64> = if scale.is_continuous() {
                let count = (scale.range().get() / CONTINUOUS_CLICK).round() as usize;
                (0..=count).map(|k| k as f64 * CONTINUOUS_CLICK).collect()
            } else {
                scale.settings().to_vec()
            };
            all.into_iter()
                .filter(|&below| below <= most)
                .map(|below| Some(Stops::new_unchecked(below)))
                .collect()
        }
    };
    // Corrections may swap neighbours, so sort by light, the brightest first. Of settings that give the same light keep
    // the one with the least energy, which is the lowest on the scale.
    let power = |setting: &Option<Stops>| setting.map_or(0.0, |below| unit.power(below));
    let below = |setting: &Option<Stops>| setting.map_or(f64::INFINITY, Stops::get);
    settings.sort_by(|a, b| power(b).total_cmp(&power(a)));
    settings.dedup_by(|next, kept| {
        let is_same = power(next) >= power(kept) * (1.0 - 1e-12);
        if is_same && below(next) > below(kept) {
            *kept = *next;
        }
        is_same
    });
    if control.may_be_off {
        settings.push(None);
    }
    settings
}

/// Relative power and energy of each setting.
pub fn levels(unit: &Unit, settings: &[Option<Stops>], pops: u32) -> Levels {
    // Stands in for an unknown coverage, only to compare the energy of lights without a rating.
    let usual_coverage = Coverage::FocalLength { focal_length_mm: 35.0, frame_mm: FRAME_MM };
    let full = unit.energy.map(Joules::get).or_else(|| {
        unit.guide_number
            .map(|guide| estimated_energy(guide, unit.coverage.unwrap_or(usual_coverage)).typical)
    });
    let power: Vec<f64> = settings.iter().map(|below| below.map_or(0.0, |below| unit.power(below))).collect();
    // Rated energy follows the setting; corrections change the light only.
    let rated = |below: &Option<Stops>| below.map_or(0.0, |below| (-below.get()).exp2());
    let full = full.unwrap_or(0.0) * f64::from(pops);
    Levels { energy_j: settings.iter().map(|below| full * rated(below)).collect(), power }
}
