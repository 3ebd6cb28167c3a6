//! Whether a kit can do a shoot: a unit for every role of every shot, and what is lacking.
//!
//! A role is reached by one unit alone, placed as it says (see [`crate::light::set::placement`]), within half a click as
//! [`super::equivalence`] counts it. Shots are taken in order; each is the best there is, given the one before.

mod assign;
mod compare;
mod missing;
mod remedies;
mod told;

pub use self::{
    compare::{KitComparison, NamedKit, RankedKit, compare},
    missing::Missing,
};

use serde::Serialize;
use utoipa::ToSchema;

use self::assign::{Pair, all_reached, assign};
use crate::light::{
    error::{FieldError, InvalidValue, Pointer},
    interrupt::Interrupt,
    quantity::{Joules, Stops, constants::MAINS_LOAD_J, marks::Step, units::Units},
    remark::{Remark, Remedy},
    set::{
        exposure::FlashExposure,
        limits::Limits,
        modifier::ModifierKind,
        placement::{Placement, beam_at_full},
        predict::Spread,
    },
    unit::{Setting, Unit},
};

/// A unit of the kit by its own name.
#[derive(Debug, Clone, PartialEq)]
pub struct KitUnit {
    /// Its name: of several alike `big`, `big #2`.
    pub name: String,
    /// The unit.
    pub unit: Unit,
    /// Where it stands in the request.
    pub place: Pointer,
}

/// The light that a role wants.
#[derive(Debug, Clone, PartialEq)]
pub struct Role {
    /// Its name, unique in its shot.
    pub name: String,
    /// Light wanted of each flash, as N².
    pub wanted: f64,
    /// Flashes in one exposure.
    pub pops: u32,
    /// Whether it is wanted as an f-number, which stays when the aperture changes.
    pub is_f_number: bool,
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
    /// The units of lengths in the answer.
    pub units: Units,
}

/// Whether a kit can do the shots, and what it lacks.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct KitCheck {
    /// Whether every role of every shot is reached: within half a click of its unit, and at full or least power within a sixth of a stop.
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
    #[schema(nullable = false)]
    pub id: Option<String>,
    /// Its name.
    pub name: String,
    /// Whether every role is reached.
    pub feasible: bool,
    /// The roles, in the order asked.
    pub lights: Vec<RoleResult>,
    /// What would do it, each by itself, the smallest change first; each was solved again before it was named, but what to borrow, which comes last.
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
    /// What it has to spare at full power, stops; 0 where it reaches at full; null where it does not reach.
    pub headroom_stops: Option<Stops>,
    /// How far it is too weak, stops: the whole distance to what is wanted; 0 where it reaches or is too strong, 60 where it gets no light at all, as without a unit.
    pub shortfall_stops: Stops,
    /// How far it is too strong at its least setting, stops: the whole distance to what is wanted; 0 where it reaches or is too weak.
    pub excess_stops: Stops,
    /// How far its light may be off, with every assumption at its worst end, stops; null where nothing was estimated.
    pub uncertainty_stops: Option<Spread>,
    /// Whether it was elsewhere, or not used, in the shot before; false in the first.
    pub moved: bool,
}

impl ShotResult {
    /// Whether it is reached, but perhaps not.
    pub fn is_doubtful(&self) -> bool {
        self.feasible && self.lights.iter().any(|light| light.may_lack().is_some())
    }
}

impl RoleResult {
    /// Whether it is not reached.
    pub const fn is_missed(&self) -> bool {
        self.headroom_stops.is_none()
    }

    /// Whether its unit cannot go low enough.
    pub fn is_too_strong(&self) -> bool {
        self.is_missed() && self.error_stops.is_some_and(|error| error.get() > 0.0)
    }

    /// Where it is reached, but perhaps not: how short it may be, with every assumption at its worst end, stops.
    pub fn may_lack(&self) -> Option<f64> {
        let spare = self.headroom_stops?.get();
        // At full power it may lack a little and still reach.
        let lack = if spare > 0.0 { 0.0 } else { self.error_stops.map_or(0.0, |error| error.get().min(0.0)) };
        let least = spare + lack + self.uncertainty_stops?.low.get();
        // What a tenth does not show is told as nothing.
        (least < -0.05).then_some(-least)
    }
}

/// How one unit serves one role.
struct Service {
    below: Stops,
    error: f64,
    /// To spare at full power, its correction counted.
    headroom: f64,
    reached: bool,
}

/// What a unit has to spare for a role at its rated full power, stops; the least where its output is not known.
fn headroom(kit: &KitUnit, role: &Role, exposure: FlashExposure) -> f64 {
    let full = role.placement.light(&kit.unit, exposure.iso).map_or(0.0, |light| light.typical);
    (full / role.wanted).log2().max(LEAST_HEADROOM)
}

/// How far a unit may be short at full power, or too bright at its least, and still reach: half a third of a
/// stop (our judgement).
const BEYOND_THE_ENDS: f64 = 1.0 / 6.0;

/// The least headroom that is told apart, stops.
const LEAST_HEADROOM: f64 = -60.0;

/// What a unit gives with so much to spare at its rated full power.
fn service(kit: &KitUnit, headroom: f64) -> Service {
    let below = kit.unit.nearest(headroom);
    let error = headroom - kit.unit.below(below);
    // Between two settings half a click; beyond the ends clicks do not help, so one tolerance for all.
    let at_full = kit.unit.below(Stops::ZERO);
    let is_beyond = headroom < at_full || headroom > kit.unit.below(kit.unit.scale.range());
    let tolerance = if is_beyond { BEYOND_THE_ENDS } else { kit.unit.half_click(below).get() };
    // What a unit gives at full power is corrected as well.
    Service { below, error, headroom: headroom - at_full, reached: error.abs() <= tolerance + 1e-9 }
}

/// Whether a unit reaches, with so much to spare at full power.
fn reaches(kit: &KitUnit, headroom: f64) -> bool {
    if kit.unit.corrections.is_empty() {
        // Between two settings of its scale the nearer is always within half a click.
        let range = kit.unit.scale.range().get();
        let room = BEYOND_THE_ENDS + 1e-9;
        return (-room..=range + room).contains(&headroom);
    }
    service(kit, headroom).reached
}

/// Checks; `interrupt` is called before each shot, and may end it early. Faults stand at units whose output is not known.
pub fn check(question: &Question, interrupt: &dyn Interrupt) -> Result<KitCheck, Vec<FieldError>> {
    let mut faults = Vec::new();
    for kit in &question.kit {
        if beam_at_full(&kit.unit, None).is_none() {
            let wrong = InvalidValue::new(
                "the unit states energy only: how far it reaches is not known",
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
        if interrupt.checkpoint() {
            break;
        }
        let (result, now) = one(question, shot, &before, at == 0, &mut missing);
        shots.push(result);
        before = now;
    }
    let estimated = question.kit.iter().any(|kit| kit.unit.guide_number.is_none());
    let mut warnings = told::supply(question, &shots);
    let summary = told::summary(&shots, &missing, &warnings);
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
            "A modifier was named by its kind, which is roughly known: headroom and shortfall may be off by the uncertainty beside them.",
        ));
    }
    let energies: f64 = question.kit.iter().filter_map(|kit| kit.unit.energy).map(Joules::get).sum();
    let cautions = if energies >= MAINS_LOAD_J { vec![Remark::mains_load()] } else { Vec::new() };
    Ok(KitCheck {
        feasible: shots.iter().all(|shot| shot.feasible),
        summary,
        shots,
        missing,
        optimality: "Each shot is optimal given the shot before it: most roles reached, then least worst shortfall, then fewest units moved, then most headroom in the tightest light.",
        warnings,
        cautions,
    })
}

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
    let headrooms: Vec<Vec<f64>> = shot
        .roles
        .iter()
        .map(|role| question.kit.iter().map(|kit| headroom(kit, role, shot.exposure)).collect())
        .collect();
    let pair = |role: usize, unit: usize| {
        let service = service(&question.kit[unit], headrooms[role][unit]);
        Pair {
            short: if service.reached { 0.0 } else { service.error.abs() },
            headroom: service.headroom,
            moved: moved(&shot.roles[role], unit),
        }
    };
    let units = question.kit.len();
    let pairs: Vec<Vec<Pair>> =
        (0..shot.roles.len()).map(|role| (0..units).map(|unit| pair(role, unit)).collect()).collect();
    let assignment = assign(&pairs);
    let lights: Vec<RoleResult> = shot
        .roles
        .iter()
        .zip(&headrooms)
        .zip(&assignment)
        .map(|((role, headrooms), unit)| {
            told(question, shot.exposure, role, unit.map(|unit| (unit, headrooms[unit])), |unit| {
                moved(role, unit)
            })
        })
        .collect();
    let feasible = !lights.iter().any(RoleResult::is_missed);
    let roles = shot.roles.iter().zip(lights.iter().zip(&assignment));
    let lacking = roles.filter_map(|(role, (light, unit))| {
        missing::of(shot, role, light, unit.map(|unit| &question.kit[unit].unit))
    });
    let lacking: Vec<Missing> = lacking.collect();
    // Only whether all are reached: cheaper than the best assignment, and asked often.
    let reached: Vec<Vec<bool>> =
        pairs.iter().map(|row| row.iter().map(|pair| pair.short <= 0.0).collect()).collect();
    let works = |factors: &dyn Fn(usize) -> f64| {
        let row = |(role, headrooms): (usize, &Vec<f64>)| {
            let shift = factors(role).log2();
            if shift == 0.0 {
                return reached[role].clone();
            }
            let served = |(kit, headroom): (&KitUnit, &f64)| reaches(kit, headroom - shift);
            question.kit.iter().zip(headrooms).map(served).collect()
        };
        all_reached(&headrooms.iter().enumerate().map(row).collect::<Vec<_>>())
    };
    let remedies =
        if feasible { Vec::new() } else { remedies::find(question, shot, &lights, &lacking, works) };
    missing.extend(lacking);
    let kept = shot
        .roles
        .iter()
        .zip(&assignment)
        .filter_map(|(role, unit)| unit.map(|unit| (role.name.clone(), unit)))
        .collect();
    let result = ShotResult { id: shot.id.clone(), name: shot.name.clone(), feasible, lights, remedies };
    (result, kept)
}

/// What is told of a role, given its unit and what that has to spare.
fn told(
    question: &Question,
    exposure: FlashExposure,
    role: &Role,
    chosen: Option<(usize, f64)>,
    moved: impl Fn(usize) -> bool,
) -> RoleResult {
    let found = chosen.map(|(unit, headroom)| (unit, service(&question.kit[unit], headroom)));
    let unit = chosen.map(|(unit, _)| unit);
    // Without a unit there is no light.
    let missed = found
        .as_ref()
        .map_or(LEAST_HEADROOM, |(_, service)| if service.reached { 0.0 } else { service.error });
    RoleResult {
        role: role.name.clone(),
        unit: unit.map(|unit| question.kit[unit].name.clone()),
        setting: found.as_ref().map(|(unit, service)| question.kit[*unit].unit.setting(service.below)),
        error_stops: found.as_ref().map(|(_, service)| Stops::new_unchecked(service.error)),
        headroom_stops: found
            .as_ref()
            .filter(|(_, service)| service.reached)
            .map(|(_, service)| Stops::new_unchecked(service.headroom.max(0.0))),
        shortfall_stops: Stops::new_unchecked((-missed).max(0.0)),
        excess_stops: Stops::new_unchecked(missed.max(0.0)),
        uncertainty_stops: unit
            .and_then(|unit| role.placement.light(&question.kit[unit].unit, exposure.iso))
            .and_then(Spread::of),
        moved: unit.is_some_and(moved),
    }
}

#[cfg(test)]
mod tests;
