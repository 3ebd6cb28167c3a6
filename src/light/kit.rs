//! Checks whether a kit can do a shoot: assigns a unit to every role of every shot, and lists what is missing.
//!
//! One unit alone must reach a role, from the role's placement (see [`crate::light::set::placement`]), within half a
//! click as in [`super::equivalence`]. Shots are assigned in order; each assignment is the best one given the shot before.

mod assign;
mod compare;
mod missing;
mod remarks;
mod remedies;
pub mod summary;

pub use self::{
    assign::Optimality,
    compare::{KitComparison, NamedKit, compare},
    missing::Missing,
};

use serde::Serialize;
use utoipa::ToSchema;

use self::{
    assign::{Pair, all_reached, assign},
    summary::Summary,
};
use crate::light::{
    error::{InvalidPart, InvalidValue, Part},
    interrupt::Interrupt,
    quantity::{Joules, Stops, constants::MAINS_LOAD_J, marks::Step, units::Units},
    remark::Remark,
    remedy::Remedy,
    set::{
        exposure::FlashExposure,
        limits::Limits,
        modifier::ModifierKind,
        placement::{Placement, beam_at_full},
        predict::Spread,
    },
    unit::{Setting, Unit},
};

/// A unit of the kit, with a name of its own.
#[derive(Debug, Clone, PartialEq)]
pub struct KitUnit {
    /// Its name. Several units of one kind are named `big`, `big #2` and so on.
    pub name: String,
    /// The unit.
    pub unit: Unit,
    /// The index of its entry in the kit.
    pub entry: usize,
}

/// A role in a shot, and its target light.
#[derive(Debug, Clone, PartialEq)]
pub struct Role {
    /// Its name, unique in its shot.
    pub name: String,
    /// Target light of each flash, as N².
    pub wanted: f64,
    /// Flashes in one exposure.
    pub pops: u32,
    /// Whether the target is an f-number, which does not change with the working aperture.
    pub is_f_number: bool,
    /// Where its unit is placed.
    pub placement: Placement,
    /// The kind of its modifier, if only the kind is known.
    pub modifier: Option<&'static ModifierKind>,
}

/// One shot of the brief.
#[derive(Debug, Clone, PartialEq)]
pub struct Shot {
    /// The shot's id from the request.
    pub id: Option<String>,
    /// Its name.
    pub name: String,
    /// Its exposure.
    pub exposure: FlashExposure,
    /// Its roles.
    pub roles: Vec<Role>,
    /// Number of frames.
    pub pops: u32,
    /// Interval between frames, s.
    pub seconds_between: Option<f64>,
}

/// A kit, and the shots to check it for.
#[derive(Debug, Clone, PartialEq)]
pub struct KitQuestion {
    /// The kit.
    pub kit: Vec<KitUnit>,
    /// The shots, in order.
    pub shots: Vec<Shot>,
    /// Limits of remedies.
    pub limits: Limits,
    /// The step of camera marks.
    pub step: Step,
    /// The units of lengths in the answer.
    pub units: Units,
}

/// Whether a kit can do the shots, and what is missing.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct KitCheck {
    /// Whether every role of every shot is reached: within half a click of its unit, or within a sixth of a stop beyond full or least power.
    pub feasible: bool,
    /// A short summary for a booking page.
    #[schema(value_type = String)]
    pub summary: Summary,
    /// The shots, in the order of the request.
    pub shots: Vec<ShotResult>,
    /// Lights that the kit lacks.
    pub missing: Vec<Missing>,
    /// How the units were assigned.
    #[schema(value_type = String)]
    pub optimality: Optimality,
    /// Warnings about the answer.
    pub warnings: Vec<Remark>,
    /// Safety cautions.
    pub cautions: Vec<Remark>,
}

/// The result for one shot.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ShotResult {
    /// The shot's id from the request.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub id: Option<String>,
    /// Its name.
    pub name: String,
    /// Whether every role is reached.
    pub feasible: bool,
    /// The roles, in the order of the request.
    pub lights: Vec<RoleResult>,
    /// Changes each of which would make the shot feasible, the smallest first; empty if it is feasible. Each was checked by assigning the units again, except what to borrow, which comes last.
    pub remedies: Vec<Remedy>,
}

/// The result for one role.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RoleResult {
    /// The role's name.
    pub role: String,
    /// The unit's name; null if the kit has no unit left.
    pub unit: Option<String>,
    /// The setting to dial; null without a unit.
    pub setting: Option<Setting>,
    /// Achieved minus target, stops; positive is too bright; null without a unit.
    pub error_stops: Option<Stops>,
    /// Headroom: how much more light the unit gives at full power than the target, stops; 0 if it needs full power; null if the role is not reached.
    pub headroom_stops: Option<Stops>,
    /// How far the light is too weak, stops: the whole difference from the target; 0 if the role is reached or the light is too strong, 60 if there is no light at all, for example without a unit.
    pub shortfall_stops: Stops,
    /// How far the light is too strong at the unit's least setting, stops: the whole difference from the target; 0 if the role is reached or the light is too weak.
    pub excess_stops: Stops,
    /// The uncertainty of the light, with every assumption at its worst end, stops; null if nothing was estimated.
    pub uncertainty_stops: Option<Spread>,
    /// Whether the unit had another role, or none, in the shot before; false in the first shot.
    pub moved: bool,
}

impl ShotResult {
    /// Whether the shot is feasible, but a role may fall short within its uncertainty.
    pub fn is_doubtful(&self) -> bool {
        self.feasible && self.lights.iter().any(|light| light.may_lack().is_some())
    }
}

impl RoleResult {
    /// Whether the role is not reached.
    pub const fn is_missed(&self) -> bool {
        self.headroom_stops.is_none()
    }

    /// Whether its unit is too strong even at its least setting.
    pub fn is_too_strong(&self) -> bool {
        self.is_missed() && self.error_stops.is_some_and(|error| error.get() > 0.0)
    }

    /// How far a reached role may fall short with every assumption at its worst end, stops. `None` if it is not
    /// reached, or may fall short by no more than 0.05 stop.
    pub fn may_lack(&self) -> Option<f64> {
        let spare = self.headroom_stops?.get();
        // At full power it may be a little too weak and still reach.
        let lack = if spare > 0.0 { 0.0 } else { self.error_stops.map_or(0.0, |error| error.get().min(0.0)) };
        let least = spare + lack + self.uncertainty_stops?.low.get();
        // A shortfall that rounds to zero tenths is not reported.
        (least < -0.05).then_some(-least)
    }
}

/// How well one unit fits one role.
struct Fit {
    /// The nearest setting, stops below full.
    below: Stops,
    /// Achieved minus target, stops.
    error: f64,
    /// Headroom at full power with its correction, stops.
    headroom: f64,
    reached: bool,
}

/// A unit's headroom for a role at its rated full power, stops; the least if its output is not known.
fn headroom(kit: &KitUnit, role: &Role, exposure: FlashExposure) -> f64 {
    let full = role.placement.light(&kit.unit, exposure.iso).map_or(0.0, |light| light.typical);
    (full / role.wanted).log2().max(LEAST_HEADROOM)
}

/// How far a unit may be too weak at full power, or too strong at least power, and still reach: half a third of a
/// stop (our judgement).
const END_TOLERANCE: f64 = 1.0 / 6.0;

/// The least headroom, stops: anything lower counts as this.
const LEAST_HEADROOM: f64 = -60.0;

/// How well a unit fits, given its headroom at rated full power.
fn fit(kit: &KitUnit, headroom: f64) -> Fit {
    let below = kit.unit.nearest(headroom);
    let error = headroom - kit.unit.below(below);
    // Between two settings half a click. Beyond the ends clicks do not matter, so all units have one tolerance.
    let at_full = kit.unit.below(Stops::ZERO);
    let is_beyond = headroom < at_full || headroom > kit.unit.below(kit.unit.scale.range());
    let tolerance = if is_beyond { END_TOLERANCE } else { kit.unit.half_click(below).get() };
    // The headroom at full power includes the correction there.
    Fit { below, error, headroom: headroom - at_full, reached: error.abs() <= tolerance + 1e-9 }
}

/// Whether a unit reaches, given its headroom at rated full power: [`fit`] without the setting.
fn reaches(kit: &KitUnit, headroom: f64) -> bool {
    if kit.unit.corrections.is_empty() {
        // Between two settings of a scale, the nearer one is always within half a click.
        let range = kit.unit.scale.range().get();
        let tolerance = END_TOLERANCE + 1e-9;
        return (-tolerance..=range + tolerance).contains(&headroom);
    }
    fit(kit, headroom).reached
}

/// Checks a kit against its shots. `interrupt` is called before each shot, and may end the check early.
///
/// # Errors
///
/// A fault at each unit whose output is not known.
pub fn check(question: &KitQuestion, interrupt: &dyn Interrupt) -> Result<KitCheck, Vec<InvalidPart>> {
    let mut faults = Vec::new();
    for kit in &question.kit {
        if beam_at_full(&kit.unit, None).is_none() {
            let fault = InvalidValue::UnknownBeam.in_part(Part::KitUnit { kit: None, entry: kit.entry });
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
    for (index, shot) in question.shots.iter().enumerate() {
        if interrupt.checkpoint() {
            break;
        }
        let (result, assigned) = check_shot(question, shot, &before, index == 0, &mut missing);
        shots.push(result);
        before = assigned;
    }
    let estimated = question.kit.iter().any(|kit| kit.unit.guide_number.is_none());
    let mut warnings = remarks::supply_warnings(question, &shots);
    let summary = remarks::summary(&shots, &missing, &warnings);
    if estimated {
        warnings.push(Remark::KitBeamEstimated);
    }
    let kinds = question.shots.iter().flat_map(|shot| &shot.roles).filter_map(|role| role.modifier);
    if kinds.count() > 0 {
        warnings.push(Remark::ModifierEstimated);
    }
    let energies: f64 = question.kit.iter().filter_map(|kit| kit.unit.energy).map(Joules::get).sum();
    let cautions = if energies >= MAINS_LOAD_J { vec![Remark::MainsLoad] } else { Vec::new() };
    Ok(KitCheck {
        feasible: shots.iter().all(|shot| shot.feasible),
        summary,
        shots,
        missing,
        optimality: Optimality::ShotByShot,
        warnings,
        cautions,
    })
}

/// Assigns the units of one shot. Also returns the unit of each role, and adds to `missing` what the kit lacks.
fn check_shot(
    question: &KitQuestion,
    shot: &Shot,
    before: &[(String, usize)],
    is_first: bool,
    missing: &mut Vec<Missing>,
) -> (ShotResult, Vec<(String, usize)>) {
    let moved = |role: &Role, unit: usize| {
        !is_first && !before.iter().any(|(name, assigned)| *name == role.name && *assigned == unit)
    };
    let headrooms: Vec<Vec<f64>> = shot
        .roles
        .iter()
        .map(|role| question.kit.iter().map(|kit| headroom(kit, role, shot.exposure)).collect())
        .collect();
    let pair = |role: usize, unit: usize| {
        let fit = fit(&question.kit[unit], headrooms[role][unit]);
        Pair {
            short: if fit.reached { 0.0 } else { fit.error.abs() },
            headroom: fit.headroom,
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
            role_result(question, shot.exposure, role, unit.map(|unit| (unit, headrooms[unit])), |unit| {
                moved(role, unit)
            })
        })
        .collect();
    let feasible = !lights.iter().any(RoleResult::is_missed);
    let roles = shot.roles.iter().zip(lights.iter().zip(&assignment));
    let lacking = roles.filter_map(|(role, (light, unit))| {
        missing::missing_light(shot, role, light, unit.map(|unit| &question.kit[unit].unit))
    });
    let lacking: Vec<Missing> = lacking.collect();
    // Remedies need only know whether all roles are reached, many times: that is cheaper than the best assignment.
    let reached: Vec<Vec<bool>> =
        pairs.iter().map(|row| row.iter().map(|pair| pair.short <= 0.0).collect()).collect();
    let works = |factors: &dyn Fn(usize) -> f64| {
        let row = |(role, headrooms): (usize, &Vec<f64>)| {
            let shift = factors(role).log2();
            if shift == 0.0 {
                return reached[role].clone();
            }
            let is_reached = |(kit, headroom): (&KitUnit, &f64)| reaches(kit, headroom - shift);
            question.kit.iter().zip(headrooms).map(is_reached).collect()
        };
        all_reached(&headrooms.iter().enumerate().map(row).collect::<Vec<_>>())
    };
    let remedies =
        if feasible { Vec::new() } else { remedies::find(question, shot, &lights, &lacking, works) };
    missing.extend(lacking);
    let assigned = shot
        .roles
        .iter()
        .zip(&assignment)
        .filter_map(|(role, unit)| unit.map(|unit| (role.name.clone(), unit)))
        .collect();
    let result = ShotResult { id: shot.id.clone(), name: shot.name.clone(), feasible, lights, remedies };
    (result, assigned)
}

/// The result for a role, given its unit and the unit's headroom.
fn role_result(
    question: &KitQuestion,
    exposure: FlashExposure,
    role: &Role,
    chosen: Option<(usize, f64)>,
    moved: impl Fn(usize) -> bool,
) -> RoleResult {
    let found = chosen.map(|(unit, headroom)| (unit, fit(&question.kit[unit], headroom)));
    let unit = chosen.map(|(unit, _)| unit);
    // Without a unit there is no light.
    let missed_by =
        found.as_ref().map_or(LEAST_HEADROOM, |(_, fit)| if fit.reached { 0.0 } else { fit.error });
    RoleResult {
        role: role.name.clone(),
        unit: unit.map(|unit| question.kit[unit].name.clone()),
        setting: found.as_ref().map(|(unit, fit)| question.kit[*unit].unit.setting(fit.below)),
        error_stops: found.as_ref().map(|(_, fit)| Stops::new_unchecked(fit.error)),
        headroom_stops: found
            .as_ref()
            .filter(|(_, fit)| fit.reached)
            .map(|(_, fit)| Stops::new_unchecked(fit.headroom.max(0.0))),
        shortfall_stops: Stops::new_unchecked((-missed_by).max(0.0)),
        excess_stops: Stops::new_unchecked(missed_by.max(0.0)),
        uncertainty_stops: unit
            .and_then(|unit| role.placement.light(&question.kit[unit].unit, exposure.iso))
            .and_then(Spread::of),
        moved: unit.is_some_and(moved),
    }
}

#[cfg(test)]
mod tests;
