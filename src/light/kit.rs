//! Checks whether a kit can do a shoot: assigns a unit to every role of every shot, and lists what is missing.
//!
//! One unit alone must reach a role, from the role's placement (see [`crate::light::set::placement`]), within half a
//! click as in [`super::equivalence`]. Shots are assigned in order; each assignment is the best one given the shot before.

mod answer;
mod assign;
mod compare;
mod fit;
mod lacks;
mod missing;
mod pace;
mod question;
mod remarks;
mod remedies;
pub mod summary;

pub use self::{
    answer::{KitCheck, Miss, RoleResult, ShotResult},
    assign::Optimality,
    compare::{KitComparison, NamedKit, compare},
    lacks::{Lacking, in_order},
    missing::Missing,
    question::{KitQuestion, KitUnit, MAX_UNITS, Role, RoleTarget, Shot},
};

use self::{
    assign::{Pair, all_reached, assign},
    fit::{Fit, fit, headroom, reaches},
    lacks::{has_light, lacks},
    pace::keeps_pace,
};
use crate::light::{
    error::Part,
    interrupt::Interrupt,
    quantity::{Joules, Stops, constants::MAINS_LOAD_J},
    remark::{CautionKind, Remark, WarningKind},
    unit::{Unit, lamp::Lamp},
};

/// Checks a kit against its shots. `interrupt` is called before each shot, and may end the check early.
pub fn check(all: &KitQuestion, interrupt: &dyn Interrupt) -> KitCheck {
    let usable: Vec<KitUnit> = all.kit.iter().filter(|kit| has_light(&kit.unit)).cloned().collect();
    let question = &KitQuestion { kit: usable, ..all.clone() };
    let room = MAX_UNITS.saturating_sub(all.kit.len());
    let mut before: Vec<(String, usize)> = Vec::new();
    let mut shots = Vec::new();
    let mut missing = Vec::new();
    for index in 0..question.shots.len() {
        if interrupt.checkpoint() {
            break;
        }
        let (result, assigned) = check_shot(question, index, &before, room, &mut missing);
        shots.push(result);
        before = assigned;
    }
    let is_estimated =
        |unit: &Unit| unit.guide_number.is_none() && !matches!(unit.lamp, Some(Lamp::Intensity(_)));
    let estimated: Vec<usize> =
        question.kit.iter().filter(|kit| is_estimated(&kit.unit)).map(|kit| kit.entry).collect();
    let mut warnings = remarks::supply_warnings(question, &shots);
    let left_out = all.kit.iter().filter(|kit| !has_light(&kit.unit)).map(|kit| kit.name.clone());
    let summary = remarks::summary(&shots, &missing, &warnings, left_out.collect());
    if !estimated.is_empty() {
        warnings.push(Remark::about(Part::of_units(&estimated), WarningKind::KitBeamEstimated));
    }
    let kinds = question.shots.iter().flat_map(|shot| &shot.roles).filter_map(|role| role.placement.kind);
    if kinds.count() > 0 {
        warnings.push(Remark::about(Part::Shots, WarningKind::ModifierEstimated));
    }
    warnings.extend(remarks::sync_warnings(question, &shots));
    let energies: f64 = all.kit.iter().filter_map(|kit| kit.unit.energy).map(Joules::get).sum();
    let cautions = if energies >= MAINS_LOAD_J { vec![CautionKind::MainsLoad.into()] } else { Vec::new() };
    let lacks = lacks(all, &shots);
    KitCheck {
        feasible: shots.iter().all(|shot| shot.feasible),
        keeps_pace: pace::all(shots.iter().map(|shot| shot.keeps_pace)),
        complete: lacks.is_empty(),
        lacks,
        summary,
        shots,
        missing,
        optimality: Optimality::ShotByShot,
        warnings,
        cautions,
    }
}

/// Checks one shot. Also returns the unit of each role, and adds to `missing` what the kit lacks.
fn check_shot(
    question: &KitQuestion,
    index: usize,
    before: &[(String, usize)],
    room: usize,
    missing: &mut Vec<Missing>,
) -> (ShotResult, Vec<(String, usize)>) {
    let shot = &question.shots[index];
    let found = assign_shot(&question.kit, shot, before, index == 0);
    let feasible = !found.lights.iter().any(RoleResult::is_missed);
    let roles = shot.roles.iter().zip(found.lights.iter().zip(&found.units));
    let lacking = roles.filter_map(|(role, (light, unit))| {
        missing::missing_light(shot, role, light, unit.map(|unit| &question.kit[unit].unit))
    });
    let lacking: Vec<Missing> = lacking.collect();
    let remedies =
        if feasible { Vec::new() } else { remedies::find(question, index, before, &found, (&lacking, room)) };
    missing.extend(lacking);
    let assigned = found.by_role(shot);
    let Assigned { lights, units } = found;
    let keeps_pace = keeps_pace(question, shot, &lights, &units);
    let result =
        ShotResult { id: shot.id.clone(), name: shot.name.clone(), feasible, keeps_pace, lights, remedies };
    (result, assigned)
}

/// The units of one shot.
struct Assigned {
    /// The result of each role.
    lights: Vec<RoleResult>,
    /// The index of the unit of each role.
    units: Vec<Option<usize>>,
}

impl Assigned {
    /// The unit of each role that has one.
    fn by_role(&self, shot: &Shot) -> Vec<(String, usize)> {
        let roles = shot.roles.iter().zip(&self.units);
        roles.filter_map(|(role, unit)| Some((role.name.clone(), (*unit)?))).collect()
    }
}

/// Assigns the units of one shot.
fn assign_shot(kit: &[KitUnit], shot: &Shot, before: &[(String, usize)], is_first: bool) -> Assigned {
    let moved = |role: &Role, unit: usize| {
        !is_first && !before.iter().any(|(name, assigned)| *name == role.name && *assigned == unit)
    };
    let headrooms = headrooms(kit, shot);
    let pair = |role: usize, unit: usize| {
        let fit = fit(&kit[unit], headrooms[role][unit]);
        Pair { short: fit.missed_by().abs(), headroom: fit.headroom, moved: moved(&shot.roles[role], unit) }
    };
    let pairs: Vec<Vec<Pair>> =
        (0..shot.roles.len()).map(|role| (0..kit.len()).map(|unit| pair(role, unit)).collect()).collect();
    let units = assign(&pairs);
    let roles = shot.roles.iter().zip(&headrooms).zip(&units);
    let lights = roles.map(|((role, headrooms), unit)| {
        let fits = |unit: usize| fit(&kit[unit], headrooms[unit]);
        role_result(kit, (shot, role), *unit, fits, |unit| moved(role, unit))
    });
    Assigned { lights: lights.collect(), units }
}

/// The headroom of each unit for each role.
fn headrooms(kit: &[KitUnit], shot: &Shot) -> Vec<Vec<f64>> {
    shot.roles.iter().map(|role| kit.iter().map(|kit| headroom(kit, role, shot)).collect()).collect()
}

/// Whether all roles of a shot can be reached at once: cheaper than the best assignment.
fn can_reach(kit: &[KitUnit], shot: &Shot) -> bool {
    let reached =
        |headrooms: Vec<f64>| kit.iter().zip(headrooms).map(|(kit, room)| reaches(kit, room)).collect();
    all_reached(&headrooms(kit, shot).into_iter().map(reached).collect::<Vec<_>>())
}

/// The result for a role, given its unit and how each unit of the kit fits.
fn role_result(
    kit: &[KitUnit],
    (shot, role): (&Shot, &Role),
    unit: Option<usize>,
    fits: impl Fn(usize) -> Fit,
    moved: impl Fn(usize) -> bool,
) -> RoleResult {
    let units = kit.len();
    let kit = unit.map(|unit| &kit[unit]);
    let found = unit.map(&fits);
    let (reason, missed_by) = match found.as_ref().map(Fit::missed_by) {
        None => {
            let lacks = (0..units).map(|unit| fits(unit).missed_by());
            (Some(Miss::NoUnitLeft), lacks.reduce(f64::max).unwrap_or_default().min(0.0))
        }
        Some(by) if by < 0.0 => (Some(Miss::TooWeak), by),
        Some(by) if by > 0.0 => (Some(Miss::TooStrong), by),
        Some(_) => (None, 0.0),
    };
    let stops = |of: fn(&Fit) -> f64| found.as_ref().map(|fit| Stops::new_unchecked(of(fit)));
    RoleResult {
        role: role.name.clone(),
        role_id: role.id.clone(),
        unit: kit.map(|kit| kit.name.clone()),
        unit_id: kit.and_then(|kit| kit.id.clone()),
        setting: kit.zip(found.as_ref()).map(|(kit, fit)| kit.unit.setting(fit.below)),
        error_stops: stops(|fit| fit.error),
        headroom_stops: stops(|fit| fit.headroom.max(0.0)),
        footroom_stops: stops(|fit| fit.footroom.max(0.0)),
        reason,
        shortfall_stops: Stops::new_unchecked((-missed_by).max(0.0)),
        excess_stops: Stops::new_unchecked(missed_by.max(0.0)),
        uncertainty: kit.and_then(|kit| role.uncertainty(&kit.unit, shot)),
        moved: unit.is_some_and(moved),
    }
}

#[cfg(test)]
mod tests;
