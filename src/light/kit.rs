//! Checks whether a kit can do a shoot: assigns a unit to every role of every shot, and lists what is missing.
//!
//! One unit alone must reach a role, from the role's placement (see [`crate::light::set::placement`]), within half a
//! click as in [`super::equivalence`]. Shots are assigned in order; each assignment is the best one given the shot before.
//! Heads on packs are units that share what their pack has.

mod answer;
mod assign;
mod choices;
mod compare;
mod fired;
mod fit;
mod heads;
mod lacks;
mod missing;
mod pace;
mod question;
mod remarks;
mod remedies;
mod shot;
pub mod summary;
mod sure;
mod together;

pub use self::{
    answer::{KitCheck, Miss, RoleResult, ShotResult, TIGHT_STOPS},
    assign::Optimality,
    compare::{KitComparison, NamedKit, RankedKit, RankedShot, compare},
    lacks::{Lacking, in_order},
    missing::Missing,
    question::{KitQuestion, KitUnit, MAX_UNITS, Role, RoleTarget, Shot},
};

use self::{
    fired::fired,
    lacks::{has_light, lacks},
    pace::keeps_pace,
    shot::{Assigned, assign_shot},
};
use crate::light::{
    assumption::{self, Assumption},
    error::Part,
    interrupt::Interrupt,
    quantity::constants::MAINS_LOAD_J,
    remark::{CautionKind, Remark, WarningKind},
    set::packs,
    unit::{self, Unit, lamp::Lamp},
};

/// Checks a kit against its shots. `interrupt` is called before each shot, and may end the check early.
pub fn check(all: &KitQuestion, interrupt: &dyn Interrupt) -> KitCheck {
    let usable: Vec<KitUnit> = all.kit.iter().filter(|kit| has_light(&kit.unit)).cloned().collect();
    let question = &KitQuestion { kit: usable, ..all.clone() };
    let room = MAX_UNITS.saturating_sub(all.kit.len());
    let mut before: Vec<(String, usize)> = Vec::new();
    let mut shots = Vec::new();
    let mut missing = Vec::new();
    let mut assumptions = Vec::new();
    let mut optimality = Optimality::ShotByShot;
    for index in 0..question.shots.len() {
        if interrupt.checkpoint() {
            break;
        }
        let (result, assigned, is_best) =
            check_shot(question, index, &before, room, &mut missing, &mut assumptions);
        shots.push(result);
        before = assigned;
        if !is_best {
            optimality = Optimality::NotAllWays;
        }
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
    let is_used = |pack| all.kit.iter().any(|kit| kit.unit.is_on(pack));
    warnings.extend(packs::unused(&all.packs, is_used));
    let energies: f64 = unit::energies(all.kit.iter().map(|kit| &kit.unit), &all.packs).sum();
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
        optimality,
        assumptions,
        warnings,
        cautions,
    }
}

/// Checks one shot. Also returns the unit of each role, and whether no assignment is better; adds to `missing` what the kit
/// lacks, and the assumptions that are not known yet.
fn check_shot(
    question: &KitQuestion,
    index: usize,
    before: &[(String, usize)],
    room: usize,
    missing: &mut Vec<Missing>,
    assumptions: &mut Vec<Assumption>,
) -> (ShotResult, Vec<(String, usize)>, bool) {
    let shot = &question.shots[index];
    let mut found = assign_shot(question.stock(), shot, before, index == 0);
    let feasible = !found.lights.iter().any(RoleResult::is_missed);
    // What a head lacks may be the other heads' doing, and no energy of its own.
    let own = |unit: usize| Some(&question.kit[unit].unit).filter(|unit| unit.head.is_none());
    let roles = shot.roles.iter().zip(found.lights.iter().zip(&found.units));
    let lacking = roles.filter_map(|(role, (light, unit))| {
        missing::missing_light(shot, role, light, unit.and_then(own).and_then(|unit| unit.energy))
    });
    let lacking: Vec<Missing> = lacking.collect();
    let remedies =
        if feasible { Vec::new() } else { remedies::find(question, index, before, &found, (&lacking, room)) };
    missing.extend(lacking);
    let sure = sure::add(question, shot, &found.units, &mut found.lights);
    assumption::add_new(assumptions, sure.assumptions);
    let assigned = found.by_role(shot);
    let Assigned { lights, packs, is_best, .. } = found;
    let result = ShotResult {
        id: shot.id.clone(),
        name: shot.name.clone(),
        feasible,
        keeps_pace: keeps_pace(shot, &fired(question, shot, &lights)),
        chance_reached: sure.chance,
        lights,
        packs,
        remedies,
    };
    (result, assigned, is_best)
}

#[cfg(test)]
mod tests;
