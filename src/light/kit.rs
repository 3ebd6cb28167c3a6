//! Whether a kit can do a shoot: a unit for every role of every shot, and what is lacking.
//!
//! A role is reached by one unit alone, placed as it says (see [`super::placement`]), within half a click as
//! [`super::equivalence`] counts it. Shots are taken in order; each is the best there is, given the one before.

mod assign;
mod compare;
mod remedies;
mod told;

pub use self::compare::{KitComparison, NamedKit, RankedKit, compare};

use serde::Serialize;
use utoipa::ToSchema;

use self::assign::{Pair, assign};
use super::{
    exposure::FlashExposure,
    fault::{Fault, Place, Wrong},
    limits::Limits,
    marks::Step,
    modifier::ModifierKind,
    placement::{Placement, beam_at_full},
    quantity::{GuideMetres, Joules, Stops},
    remark::{Remark, Remedy},
    unit::{Setting, Unit},
};

/// A unit of the kit by its own name.
#[derive(Debug, Clone, PartialEq)]
pub struct KitUnit {
    /// Its name: of several alike `big`, `big #2`.
    pub name: String,
    /// The name that those alike share.
    pub base: String,
    /// The unit.
    pub unit: Unit,
    /// Where it stands in the request.
    pub place: Place,
}

/// The light that a role wants.
#[derive(Debug, Clone, PartialEq)]
pub struct Role {
    /// Its name, unique in its shot.
    pub name: String,
    /// Wanted light as N².
    pub wanted: f64,
    /// Where its unit stands.
    pub placement: Placement,
    /// The kind of its modifier, where that is all that is known.
    pub modifier: Option<&'static ModifierKind>,
}

/// One shot.
#[derive(Debug, Clone, PartialEq)]
pub struct Shot {
    /// The caller's id of this entry.
    pub id: Option<String>,
    /// Its name.
    pub name: String,
    /// Its exposure.
    pub exposure: FlashExposure,
    /// Its roles.
    pub roles: Vec<Role>,
    /// Frames that it takes.
    pub pops: u32,
    /// Time from frame to frame, s.
    pub seconds_between: Option<f64>,
}

/// What is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// The kit.
    pub kit: Vec<KitUnit>,
    /// The shots, in order.
    pub shots: Vec<Shot>,
    /// How far remedies may go.
    pub limits: Limits,
    /// The series of marks.
    pub step: Step,
}

/// The answer.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct KitCheck {
    /// Whether every role of every shot is reached.
    pub feasible: bool,
    /// A sentence for a booking page.
    pub summary: String,
    /// The shots, in the order asked.
    pub shots: Vec<ShotResult>,
    /// What the kit lacks.
    pub missing: Vec<Missing>,
    /// How it was chosen.
    pub optimality: &'static str,
    /// What to doubt.
    pub warnings: Vec<Remark>,
    /// What to beware of.
    pub cautions: Vec<Remark>,
}

/// One shot.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ShotResult {
    /// The caller's id of the shot.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub id: Option<String>,
    /// Its name.
    pub name: String,
    /// Whether every role is reached.
    pub feasible: bool,
    /// The roles, in the order asked.
    pub lights: Vec<RoleResult>,
    /// What would do it, each solved again before it was named, the smallest change first.
    pub remedies: Vec<Remedy>,
}

/// One role.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RoleResult {
    /// The role.
    pub role: String,
    /// The unit's name; null where the kit has no more units.
    pub unit: Option<String>,
    /// What to dial; null without a unit.
    pub setting: Option<Setting>,
    /// Achieved minus wanted, stops; + is too bright; null without a unit.
    pub error_stops: Option<Stops>,
    /// What it has to spare, stops; null where it does not reach.
    pub headroom_stops: Option<Stops>,
    /// What it lacks (or, where it cannot go low enough, has too much), stops; null where it reaches.
    pub shortfall_stops: Option<Stops>,
    /// Whether it was elsewhere, or not used, in the shot before; false in the first.
    pub moved: bool,
}

/// What a kit lacks for one role.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Missing {
    /// The shot.
    pub shot: String,
    /// The role.
    pub role: String,
    /// By how much its unit is too weak, stops; null where there is none left.
    pub shortfall_stops: Option<Stops>,
    /// Energy of a unit like it that would do, J; null where that is not known.
    pub energy_j: Option<Joules>,
    /// Guide number that would do, m at ISO 100.
    pub guide_number_m: Option<GuideMetres>,
}

/// How one unit serves one role.
struct Service {
    below: Stops,
    error: f64,
    headroom: f64,
    reached: bool,
}

/// What a unit gives a role, wanted light times `factor`.
fn service(kit: &KitUnit, role: &Role, exposure: FlashExposure, factor: f64) -> Option<Service> {
    let full = role.placement.light(&kit.unit, exposure.iso)?.typical;
    let headroom = (full / (role.wanted * factor)).log2();
    let below = kit.unit.nearest(headroom);
    let error = headroom - kit.unit.below(below);
    let reached = error.abs() <= kit.unit.scale.half_click(below).get() + 1e-9;
    Some(Service { below, error, headroom, reached })
}

/// Checks. Faults stand at units whose output is not known.
pub fn check(question: &Question) -> Result<KitCheck, Vec<Fault>> {
    let mut faults = Vec::new();
    for kit in &question.kit {
        if beam_at_full(&kit.unit, None).is_none() {
            let wrong = Wrong::new(
                "a plan needs the unit's beam, which is not known",
                "a guide_number, or a coverage beside the energy",
            );
            let fault = wrong.at(&kit.place.field("unit"));
            if !faults.contains(&fault) {
                faults.push(fault);
            }
        }
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    let mut before: Vec<(String, usize)> = Vec::new();
    let mut shots = Vec::new();
    let mut missing = Vec::new();
    for (at, shot) in question.shots.iter().enumerate() {
        let (result, now) = one(question, shot, &before, at == 0, &mut missing);
        shots.push(result);
        before = now;
    }
    let estimated = question.kit.iter().any(|kit| kit.unit.guide_number.is_none());
    let mut warnings = told::supply(question, &shots);
    if estimated {
        warnings.push(Remark::new(
            "beam_estimated",
            "A unit states no guide number: its beam was estimated from energy and coverage, and may be a stop and more off. Meter it before the day.",
        ));
    }
    let kinds = question.shots.iter().flat_map(|shot| &shot.roles).filter_map(|role| role.modifier);
    if kinds.count() > 0 {
        warnings.push(Remark::new(
            "modifier_estimated",
            "A modifier was named by its kind, which is roughly known: headroom and shortfall may be off by its spread (see /v1/modifiers).",
        ));
    }
    let energies: f64 = question.kit.iter().filter_map(|kit| kit.unit.energy).map(Joules::get).sum();
    let cautions = if energies >= MAINS_LOAD_J { vec![Remark::mains_load()] } else { Vec::new() };
    Ok(KitCheck {
        feasible: shots.iter().all(|shot| shot.feasible),
        summary: told::summary(&shots, &missing),
        shots,
        missing,
        optimality: "Each shot is optimal given the shot before it: most roles reached, then least worst shortfall, then fewest units moved, then most headroom in the tightest light.",
        warnings,
        cautions,
    })
}

/// Sum of rated energies at which several units on one circuit are worth a word, J: our judgement.
const MAINS_LOAD_J: f64 = 2000.0;

fn one(
    question: &Question,
    shot: &Shot,
    before: &[(String, usize)],
    is_first: bool,
    missing: &mut Vec<Missing>,
) -> (ShotResult, Vec<(String, usize)>) {
    let moved = |role: &Role, unit: usize| {
        !is_first && !before.iter().any(|(name, kept)| *name == role.name && *kept == unit)
    };
    let table = |factors: &dyn Fn(usize) -> f64| -> Vec<Vec<Pair>> {
        let row = |(index, role): (usize, &Role)| {
            let pair =
                |(unit, kit): (usize, &KitUnit)| match service(kit, role, shot.exposure, factors(index)) {
                    Some(service) => Pair {
                        short: if service.reached { 0.0 } else { service.error.abs() },
                        headroom: service.headroom,
                        moved: moved(role, unit),
                    },
                    None => Pair { short: f64::MAX, headroom: 0.0, moved: true },
                };
            question.kit.iter().enumerate().map(pair).collect()
        };
        shot.roles.iter().enumerate().map(row).collect()
    };
    let assignment = assign(&table(&|_| 1.0));
    let lights: Vec<RoleResult> = shot
        .roles
        .iter()
        .zip(&assignment)
        .map(|(role, unit)| told(question, shot, role, *unit, |unit| moved(role, unit)))
        .collect();
    let feasible = lights.iter().all(|light| light.headroom_stops.is_some());
    for (role, (light, unit)) in shot.roles.iter().zip(lights.iter().zip(&assignment)) {
        missing.extend(lacking(question, shot, role, light, *unit));
    }
    let works = |factors: &dyn Fn(usize) -> f64| {
        let table = table(factors);
        let assignment = assign(&table);
        assignment.iter().zip(&table).all(|(unit, row)| unit.is_some_and(|unit| row[unit].short <= 1e-9))
    };
    let remedies = if feasible { Vec::new() } else { remedies::find(question, shot, &lights, works) };
    let kept = shot
        .roles
        .iter()
        .zip(&assignment)
        .filter_map(|(role, unit)| unit.map(|unit| (role.name.clone(), unit)))
        .collect();
    let result = ShotResult { id: shot.id.clone(), name: shot.name.clone(), feasible, lights, remedies };
    (result, kept)
}

fn told(
    question: &Question,
    shot: &Shot,
    role: &Role,
    unit: Option<usize>,
    moved: impl Fn(usize) -> bool,
) -> RoleResult {
    let found = unit.and_then(|unit| {
        service(&question.kit[unit], role, shot.exposure, 1.0).map(|service| (unit, service))
    });
    RoleResult {
        role: role.name.clone(),
        unit: unit.map(|unit| question.kit[unit].name.clone()),
        setting: found.as_ref().map(|(unit, service)| question.kit[*unit].unit.setting(service.below)),
        error_stops: found.as_ref().map(|(_, service)| Stops::computed(service.error)),
        headroom_stops: found
            .as_ref()
            .filter(|(_, service)| service.reached)
            .map(|(_, service)| Stops::computed(service.headroom.max(0.0))),
        shortfall_stops: found
            .as_ref()
            .filter(|(_, service)| !service.reached)
            .map(|(_, service)| Stops::computed(service.error.abs())),
        moved: unit.is_some_and(moved),
    }
}

/// What a role lacks: a unit like its own, or any of that guide number.
fn lacking(
    question: &Question,
    shot: &Shot,
    role: &Role,
    light: &RoleResult,
    unit: Option<usize>,
) -> Option<Missing> {
    let too_weak = light.error_stops.is_none_or(|error| error.get() < 0.0);
    if light.headroom_stops.is_some() || !too_weak {
        return None;
    }
    let transfer = role.placement.transfer(shot.exposure.iso).typical;
    let kit = unit.map(|unit| &question.kit[unit].unit);
    let lack = light.error_stops.map(|error| -error.get());
    Some(Missing {
        shot: shot.name.clone(),
        role: role.name.clone(),
        shortfall_stops: lack.map(Stops::computed),
        energy_j: lack
            .zip(kit.and_then(|unit| unit.energy))
            .map(|(lack, full)| Joules::computed(full.get() * lack.exp2())),
        guide_number_m: (transfer > 0.0).then(|| GuideMetres::computed((role.wanted / transfer).sqrt())),
    })
}
