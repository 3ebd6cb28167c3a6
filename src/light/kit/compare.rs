//! Compares several kits for one brief.

use std::cmp::Ordering;

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    assumption::{self, Assumption},
    id::Id,
    interrupt::Interrupt,
    kit::{
        KitCheck, KitQuestion, KitUnit, Lacking, RoleResult, ShotResult, TIGHT_STOPS, answer::SURE, check,
        summary::Summary,
    },
    quantity::{Number, Stops},
    remark::Warning,
    unit::pack::Pack,
};

/// A kit in a comparison.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedKit {
    /// The client's id for it.
    pub id: Option<Id>,
    /// Its name, for example a room or a package.
    pub name: String,
    /// Its price, in the same currency for all kits.
    pub price: Option<f64>,
    /// Its units.
    pub kit: Vec<KitUnit>,
    /// The packs that heads among them are on.
    pub packs: Vec<Pack>,
}

/// Several kits compared for one brief.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct KitComparison {
    /// The kits, the best first.
    pub ranking: Vec<RankedKit>,
    /// The half-widths that were not stated and matter for some kit.
    pub assumptions: Vec<Assumption>,
}

/// One kit in the ranking.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RankedKit {
    /// The kit's id from the request.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub id: Option<Id>,
    /// Its name.
    pub name: String,
    /// Its price from the request; null if none was given.
    pub price: Option<Number>,
    /// Whether every role of every shot is reached.
    pub feasible: bool,
    /// Whether every unit recycles within the `interval_s` of its shots; true where no interval was asked; null if it is not known for a unit, and no other is too slow.
    pub keeps_pace: Option<bool>,
    /// Whether the kit states all that the check needs.
    pub complete: bool,
    /// What entries of the kit lack. A unit whose light is not known is left out; the rest is answered.
    pub lacks: Vec<Lacking>,
    /// The number of feasible shots.
    pub feasible_shots: u32,
    /// The number of roles, in all shots, for which no unit is left.
    pub roles_without_unit: u32,
    /// Headroom of its tightest light, stops; 0 if the kit is not feasible.
    pub tightest_headroom_stops: Stops,
    /// The chance that the role that is least sure to be reached is reached, 0 to 1; null if a role has no unit.
    pub chance_reached: Option<Number>,
    /// The worst shortfall of all roles, stops; 0 if none is too weak.
    pub worst_shortfall_stops: Stops,
    /// The worst excess of all roles, stops; 0 if none is too strong.
    pub worst_excess_stops: Stops,
    /// The shots, in the order of the request, each with its worst role.
    pub shots: Vec<RankedShot>,
    /// The reason for its rank.
    #[schema(value_type = String)]
    pub reason: Summary,
    /// Warnings about this kit.
    pub warnings: Vec<Warning>,
}

/// One shot with one of the kits.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RankedShot {
    /// The shot's id from the request.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub id: Option<Id>,
    /// Its name.
    pub name: String,
    /// Whether every role is reached.
    pub feasible: bool,
    /// Whether every unit recycles within `interval_s`, as in a check of this kit alone.
    pub keeps_pace: Option<bool>,
    /// The worst role: one without a unit, else the one farthest off its target, else the one with the least headroom.
    pub worst_role: String,
    /// Its id.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub worst_role_id: Option<Id>,
    /// How far the light of that role is too weak, stops; 0 if it is reached or too strong. Without a unit: what the strongest unit of the kit would lack here if it were free.
    pub shortfall_stops: Stops,
    /// How far it is too strong, stops; 0 if it is reached or too weak.
    pub excess_stops: Stops,
    /// How much more light its unit gives at full power than the target, stops; null without a unit.
    pub headroom_stops: Option<Stops>,
    /// How much less light it gives at its least setting, stops; null without a unit.
    pub footroom_stops: Option<Stops>,
    /// The chance that the role of this shot that is least sure to be reached is reached, 0 to 1, each unit at its best setting; it need not be `worst_role`, which may have more to spare and be less sure. Null if a role has no unit.
    pub chance_reached: Option<Number>,
}

impl RankedShot {
    /// Whether it is reached, but it is doubtful whether one of its roles is.
    pub fn is_doubtful(&self) -> bool {
        self.feasible && self.chance_reached.is_some_and(|chance| chance.get() < SURE)
    }

    /// Whether it is reached with little to spare, or perhaps not.
    pub fn is_tight(&self) -> bool {
        let is_little = self.headroom_stops.is_some_and(|spare| spare.get() < TIGHT_STOPS);
        self.feasible && (is_little || self.is_doubtful())
    }
}

/// Ranks kits. Feasible kits come first: those that keep the pace, then those that may, then those that do not, in each
/// group the cheapest if prices are given, then the one with the most headroom. The others follow by feasible shots, then
/// by roles without a unit, then by the worst role's error in either direction, then by price.
pub fn compare(kits: &[NamedKit], brief: &KitQuestion, interrupt: &dyn Interrupt) -> KitComparison {
    let mut assumptions = Vec::new();
    let rank = |(index, kit): (usize, &NamedKit)| {
        let mut answer = check(
            &KitQuestion { kit: kit.kit.clone(), packs: kit.packs.clone(), ..brief.clone() },
            interrupt,
        );
        assumption::add_new(&mut assumptions, std::mem::take(&mut answer.assumptions));
        ranked(index, kit, answer)
    };
    let mut ranking: Vec<RankedKit> = kits.iter().enumerate().map(rank).collect();
    let lack = |kit: &RankedKit| kit.worst_shortfall_stops.get().max(kit.worst_excess_stops.get());
    let price = |kit: &RankedKit| kit.price.map_or(f64::INFINITY, Number::get);
    let pace = |kit: &RankedKit| match kit.keeps_pace {
        Some(true) => 0,
        None => 1,
        Some(false) => 2,
    };
    let cheapest = |a: &RankedKit, b: &RankedKit| price(a).total_cmp(&price(b));
    ranking.sort_by(|a, b| match (a.feasible, b.feasible) {
        (true, true) => {
            let spare = b.tightest_headroom_stops.get().total_cmp(&a.tightest_headroom_stops.get());
            pace(a).cmp(&pace(b)).then(cheapest(a, b)).then(spare)
        }
        (true, false) => Ordering::Less,
        (false, true) => Ordering::Greater,
        (false, false) => b
            .feasible_shots
            .cmp(&a.feasible_shots)
            .then(a.roles_without_unit.cmp(&b.roles_without_unit))
            .then(lack(a).total_cmp(&lack(b)))
            .then(cheapest(a, b)),
    });
    KitComparison { ranking, assumptions }
}

fn ranked(index: usize, kit: &NamedKit, answer: KitCheck) -> RankedKit {
    let lights = || answer.shots.iter().flat_map(|shot| &shot.lights);
    let spare = lights().filter_map(|light| light.headroom_stops).map(Stops::get).reduce(f64::min);
    let worst = |stops: fn(&RoleResult) -> Stops| {
        Stops::new_unchecked(lights().map(|light| stops(light).get()).fold(0.0, f64::max))
    };
    let in_kit = |lacking: Lacking| Lacking { pointer: lacking.pointer.in_kit(index), ..lacking };
    RankedKit {
        id: kit.id.clone(),
        name: kit.name.clone(),
        price: kit.price.map(Number::new_unchecked),
        feasible: answer.feasible,
        keeps_pace: answer.keeps_pace,
        complete: answer.complete,
        feasible_shots: answer.shots.iter().filter(|shot| shot.feasible).count() as u32,
        roles_without_unit: lights().filter(|light| light.unit.is_none()).count() as u32,
        tightest_headroom_stops: Stops::new_unchecked(spare.filter(|_| answer.feasible).unwrap_or_default()),
        chance_reached: least_chance(lights()),
        worst_shortfall_stops: worst(|light| light.shortfall_stops),
        worst_excess_stops: worst(|light| light.excess_stops),
        shots: answer.shots.iter().filter_map(ranked_shot).collect(),
        lacks: answer.lacks.into_iter().map(in_kit).collect(),
        reason: answer.summary,
        warnings: answer.warnings.into_iter().map(|warning| warning.in_kit(index)).collect(),
    }
}

/// A shot by its worst role; every shot has a role.
fn ranked_shot(shot: &ShotResult) -> Option<RankedShot> {
    let off = |light: &RoleResult| light.shortfall_stops.get().max(light.excess_stops.get());
    let spare = |light: &RoleResult| light.headroom_stops.map_or(0.0, Stops::get);
    // Of equally bad roles the first.
    let worst = shot.lights.iter().min_by(|a, b| {
        let by_unit = a.unit.is_some().cmp(&b.unit.is_some());
        by_unit.then(off(b).total_cmp(&off(a))).then(spare(a).total_cmp(&spare(b)))
    })?;
    Some(RankedShot {
        id: shot.id.clone(),
        name: shot.name.clone(),
        feasible: shot.feasible,
        keeps_pace: shot.keeps_pace,
        worst_role: worst.role.clone(),
        worst_role_id: worst.role_id.clone(),
        shortfall_stops: worst.shortfall_stops,
        excess_stops: worst.excess_stops,
        headroom_stops: worst.headroom_stops,
        footroom_stops: worst.footroom_stops,
        chance_reached: least_chance(shot.lights.iter()),
    })
}

/// The least chance of roles to be reached; `None` if one has no unit.
fn least_chance<'r>(mut lights: impl Iterator<Item = &'r RoleResult>) -> Option<Number> {
    let least = lights.try_fold(1.0_f64, |least, light| Some(least.min(light.chance_reached?.get())))?;
    Some(Number::new_unchecked(least))
}
