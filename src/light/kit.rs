//! Checks whether a kit can do a shoot: assigns a unit to every role of every shot, and lists what is missing.
//!
//! One unit alone must reach a role, from the role's placement (see [`crate::light::set::placement`]), within half a
//! click as in [`super::equivalence`]. Shots are assigned in order; each assignment is the best one given the shot before.

mod assign;
mod compare;
mod fit;
mod lacks;
mod missing;
mod pace;
mod remarks;
mod remedies;
pub mod summary;

pub use self::{
    assign::Optimality,
    compare::{KitComparison, NamedKit, compare},
    lacks::{Lacking, in_order},
    missing::Missing,
};

use serde::Serialize;
use utoipa::ToSchema;

use self::{
    assign::{Pair, all_reached, assign},
    fit::{Fit, fit, headroom, reaches},
    lacks::{has_light, lacks},
    pace::keeps_pace,
    summary::Summary,
};
use crate::light::{
    error::Part,
    id::{Id, NamedEntry},
    interrupt::Interrupt,
    quantity::{Estimate, FNumber, Joules, Stops, constants::MAINS_LOAD_J, rules::Rules, words::words},
    remark::{Caution, CautionKind, Remark, Warning, WarningKind},
    remedy::Remedy,
    set::{
        exposure::FlashExposure,
        filter::{self, Filter},
        lens::Lens,
        limits::Limits,
        placement::{Placement, beam_at_full},
    },
    uncertainty::{Cause, UncertainPart, Uncertainty, half_widths},
    unit::{Setting, Unit},
};

/// Maximum number of units in a kit.
pub const MAX_UNITS: usize = 64;

/// A unit of the kit, with a name of its own.
#[derive(Debug, Clone, PartialEq)]
pub struct KitUnit {
    /// Its name. Several units of one kind are named `big`, `big #2` and so on.
    pub name: String,
    /// The client's id for its entry, which all units of the entry share.
    pub id: Option<Id>,
    /// The unit.
    pub unit: Unit,
    /// The index of its entry in the kit.
    pub entry: usize,
}

impl KitUnit {
    /// Its name with its id.
    pub fn named(&self) -> NamedEntry {
        NamedEntry { name: self.name.clone(), id: self.id.clone() }
    }

    /// The part of the question that it is.
    pub const fn part(&self) -> Part {
        Part::KitUnit { kit: None, entry: self.entry }
    }
}

/// A role in a shot, and its target light.
#[derive(Debug, Clone, PartialEq)]
pub struct Role {
    /// Its name, unique in its shot.
    pub name: String,
    /// The client's id for the role.
    pub id: Option<Id>,
    /// Its target light.
    pub target: RoleTarget,
    /// Flashes in one exposure.
    pub pops: u32,
    /// Where its unit is placed.
    pub placement: Placement,
    /// The filters on its light.
    pub filters: Vec<Filter>,
}

/// The target light of a role, in the picture: what the lens takes counts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum RoleTarget {
    /// What would be set on the lens for this light alone.
    FNumber(FNumber),
    /// Stops relative to the working exposure.
    Stops(Stops),
}

impl Role {
    /// The light that each flash is to give, as N².
    fn wanted(&self, shot: &Shot) -> f64 {
        let in_picture = match self.target {
            RoleTarget::FNumber(f_number) => f_number.squared(),
            RoleTarget::Stops(stops) => shot.exposure.f_number.squared() * stops.factor(),
        };
        in_picture / shot.lens.stops(shot.exposure.f_number).exp2() / f64::from(self.pops)
    }

    /// The light of one flash of a unit at full power, as N²; `None` if it is not known.
    fn light(&self, unit: &Unit, shot: &Shot) -> Option<Estimate<f64>> {
        let filters = filter::stops(&self.filters).exp2();
        Some(self.placement.light(unit, shot.exposure.iso)?.map(|light| light * filters))
    }

    /// The uncertainty of its light.
    fn uncertainty(&self, unit: &Unit) -> Option<Uncertainty> {
        let rating = beam_at_full(unit, self.placement.beam.as_ref()).map_or([0.0; 2], half_widths);
        let modifier = half_widths(self.placement.modifier.map(Stops::factor));
        Uncertainty::of(vec![
            UncertainPart::new(Cause::Rating, rating),
            UncertainPart::new(Cause::Modifier, modifier),
        ])
    }

    /// That light over the square of the unit's guide number.
    fn transfer(&self, shot: &Shot) -> f64 {
        self.placement.transfer(shot.exposure.iso).typical * filter::stops(&self.filters).exp2()
    }
}

/// One shot of the brief.
#[derive(Debug, Clone, PartialEq)]
pub struct Shot {
    /// The shot's id from the request.
    pub id: Option<Id>,
    /// Its name.
    pub name: String,
    /// Its exposure.
    pub exposure: FlashExposure,
    /// What the lens takes.
    pub lens: Lens,
    /// Its roles.
    pub roles: Vec<Role>,
    /// Number of frames.
    pub frames: u32,
    /// Interval between frames, s.
    pub interval_s: Option<f64>,
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
    /// How numbers are read and written.
    pub rules: Rules,
}

/// Whether a kit can do the shots, and what is missing.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct KitCheck {
    /// Whether every role of every shot is reached: within half a click of its unit, or within a sixth of a stop beyond full or least power.
    pub feasible: bool,
    /// Whether every unit recycles within the `interval_s` of its shots; true where no interval was asked; null if it is not known for a unit, and no other is too slow.
    pub keeps_pace: Option<bool>,
    /// Whether the kit states all that the check needs.
    pub complete: bool,
    /// What entries of the kit lack. A unit whose light is not known is left out; the rest is answered.
    pub lacks: Vec<Lacking>,
    /// What its summary says.
    #[serde(skip)]
    #[schema(ignore)]
    pub summary: Summary,
    /// The shots, in the order of the request.
    pub shots: Vec<ShotResult>,
    /// Lights that the kit lacks.
    pub missing: Vec<Missing>,
    /// How the units were assigned.
    #[schema(value_type = String)]
    pub optimality: Optimality,
    /// Warnings about the answer.
    pub warnings: Vec<Warning>,
    /// Safety cautions.
    pub cautions: Vec<Caution>,
}

/// The result for one shot.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ShotResult {
    /// The shot's id from the request.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub id: Option<Id>,
    /// Its name.
    pub name: String,
    /// Whether every role is reached.
    pub feasible: bool,
    /// Whether every unit recycles within `interval_s`; true where no interval was asked; null if it is not known for a unit, and no other is too slow.
    pub keeps_pace: Option<bool>,
    /// The roles, in the order of the request.
    pub lights: Vec<RoleResult>,
    /// Changes each of which would make the shot feasible; empty if it is. Each was tried by assigning the units again.
    pub remedies: Vec<Remedy>,
}

words! {
    /// Why a role is not reached.
    pub enum Miss as "RoleMiss" {
        /// Other roles of the shot need all usable units of the kit.
        NoUnitLeft = "no_unit_left",
        /// The light is too weak at full power.
        TooWeak = "too_weak",
        /// The light is too strong at the least setting.
        TooStrong = "too_strong",
    }
}

/// The result for one role.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RoleResult {
    /// The role's name.
    pub role: String,
    /// Its id.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub role_id: Option<Id>,
    /// The unit's name; null if the kit has no unit left.
    pub unit: Option<String>,
    /// The id of its entry in the kit.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub unit_id: Option<Id>,
    /// The setting to dial; null without a unit.
    pub setting: Option<Setting>,
    /// Achieved minus target, stops; positive is too bright; null without a unit.
    pub error_stops: Option<Stops>,
    /// How much more light the unit gives at full power than the target, stops; 0 if it needs full power or is too weak; null without a unit.
    pub headroom_stops: Option<Stops>,
    /// How much less light it gives at its least setting, stops; 0 if it needs that or is too strong; null without a unit.
    pub footroom_stops: Option<Stops>,
    /// Why the role is not reached; null if it is.
    pub reason: Option<Miss>,
    /// How far the light is too weak, stops: the whole difference from the target; 0 if the role is reached or the light is too strong. Without a unit (`no_unit_left`): what the strongest unit of the kit would lack here if it were free, which may be 0; `missing` has what would do.
    pub shortfall_stops: Stops,
    /// How far the light is too strong at the unit's least setting, stops: the whole difference from the target; 0 if the role is reached, has no unit, or its light is too weak.
    pub excess_stops: Stops,
    /// The uncertainty of the light; null if nothing was estimated.
    pub uncertainty: Option<Uncertainty>,
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
        self.reason.is_some()
    }

    /// Whether its unit is too strong even at its least setting.
    pub fn is_too_strong(&self) -> bool {
        self.reason == Some(Miss::TooStrong)
    }

    /// How far a reached role may fall short with every assumption at its worst end, stops. `None` if it is not
    /// reached, or may fall short by no more than 0.05 stop.
    pub fn may_lack(&self) -> Option<f64> {
        let spare = self.headroom_stops.filter(|_| !self.is_missed())?.get();
        // At full power it may be a little too weak and still reach.
        let lack = if spare > 0.0 { 0.0 } else { self.error_stops.map_or(0.0, |error| error.get().min(0.0)) };
        let least = spare + lack + self.uncertainty.as_ref()?.low_stops.get();
        // A shortfall that rounds to zero tenths is not reported.
        (least < -0.05).then_some(-least)
    }
}

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
    let estimated: Vec<usize> =
        question.kit.iter().filter(|kit| kit.unit.guide_number.is_none()).map(|kit| kit.entry).collect();
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
        role_result(kit, role, *unit, fits, |unit| moved(role, unit))
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
    role: &Role,
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
        uncertainty: kit.and_then(|kit| role.uncertainty(&kit.unit)),
        moved: unit.is_some_and(moved),
    }
}

#[cfg(test)]
mod tests;
