//! Checks a plan against recycle times, batteries, circuits and the duty limits of heads.
//!
//! A flash of E joules draws E divided by the charging efficiency. Peak power is that over the recycle time, mean power
//! is that over the frame interval; amperes are watts over volts and power factor, P = U·I·pf (derived). Shots are taken to
//! follow each other without a break, which is the worst case for a head. Without shots, all units on circuits are taken to
//! flash together at full power, as fast as they recycle: the worst case for a breaker. Heads on a pack recycle and draw with
//! it, by their energy together.

mod bank;
mod circuit;
mod evidence;
pub mod flicker;
pub mod heat;
mod question;
mod remarks;
pub mod summary;

pub use self::{
    bank::{Bank, PackUse},
    circuit::{Circuit, CircuitLoad, Device, Rating, Verdict},
    evidence::{Evidence, Pace, ShotLoad},
    heat::Heat,
    question::{PlannedShot, SupplyQuestion, Use},
};

use serde::Serialize;
use utoipa::ToSchema;

use self::{
    bank::{charging_w, greatest, mean_w, plus},
    summary::Summary,
};
use crate::light::{
    assumption::Assumption,
    id::Id,
    kit::Lacking,
    quantity::{Estimate, Joules, Number, Stops},
    remark::{Caution, Warning},
    set::packs::PackResult,
    unit::{Setting, keeps_up, scale::Scale},
};

/// The supply plan: the pace of its shots, the load of its units and of its circuits.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SupplyPlan {
    /// Whether no unit or pack is known to recycle too slowly, no head to exceed its duty limit, and no circuit to exceed its breaker rating.
    pub feasible: bool,
    /// Whether the kit states all that the plan needs.
    pub complete: bool,
    /// What the units used lack; what does not depend on it is answered.
    pub lacks: Vec<Lacking>,
    /// What its summary says.
    #[serde(skip)]
    #[schema(ignore)]
    pub summary: Summary,
    /// The shots, in the order of the request.
    pub shots: Vec<ShotPace>,
    /// The units used, in the order of the kit; without shots, those on circuits, with their draw alone.
    pub units: Vec<UnitSupply>,
    /// The packs used, in the order of the request; without shots, those on circuits, with their draw alone; absent if there are none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub packs: Vec<PackSupply>,
    /// The circuits, in the order of the request.
    pub circuits: Vec<CircuitLoad>,
    /// Assumptions behind the answer.
    pub assumptions: Vec<Assumption>,
    /// Warnings about the answer.
    pub warnings: Vec<Warning>,
    /// Safety cautions.
    pub cautions: Vec<Caution>,
}

/// How fast a shot can go.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ShotPace {
    /// The shot's id from the request.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub id: Option<Id>,
    /// Its name.
    pub name: String,
    /// Number of frames.
    pub frames: u32,
    /// The requested interval between frames, s; null if none was given.
    pub interval_s: Option<Number>,
    /// The shortest interval between frames, s: the longest known recycle time; null if none is known.
    pub shortest_interval_s: Option<Number>,
    /// The slowest unit or pack of those whose recycle time is known; null if none is known.
    pub slowest_unit: Option<String>,
    /// Its id.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub slowest_unit_id: Option<Id>,
    /// Whether all units recycle within the requested interval; true for a single frame; null if not known.
    pub holds: Option<bool>,
    /// Time from the first frame to the last, s, no faster than the known recycle times allow; null if no interval is known.
    pub lasts_s: Option<Number>,
}

/// What the plan requires of one unit.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct UnitSupply {
    /// Its name in the kit.
    pub unit: String,
    /// Its id.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub unit_id: Option<Id>,
    /// Its work in each of its shots, in order.
    pub work: Vec<UnitWork>,
    /// Battery charges; null if the unit states no `flashes_per_charge`, as on the mains, or is a head on a pack.
    pub charges: Option<Charges>,
    /// Electrical power drawn; null if the unit's energy is not known, or it is a head on a pack, which draws for it.
    pub power: Option<UnitPower>,
    /// Heat load of its head; null if the unit states no duty limit.
    pub heat: Option<Heat>,
}

/// A unit's work in one shot.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct UnitWork {
    /// The shot's name.
    pub shot: String,
    /// Its id.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub shot_id: Option<Id>,
    /// Its setting; of a head on a pack, with the energy that the head gets.
    pub setting: Setting,
    /// Number of flashes: one a frame.
    pub flashes: u32,
    /// Recycle time at this setting, s; of a head on a pack, that of the pack after all its heads; null if not known.
    pub recycle_s: Option<Number>,
    /// Whether the unit recycles within the requested interval between frames; null if either is not known.
    pub holds: Option<bool>,
    /// If it does not: the strongest setting that would; null if none would. Of a head whose pack has other heads with settings of their own: with those as they are.
    pub setting_that_holds: Option<Setting>,
}

/// What the plan requires of one pack.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PackSupply {
    /// Its name.
    pub pack: String,
    /// Its id.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub pack_id: Option<Id>,
    /// Its work in each of its shots, in order.
    pub work: Vec<PackWork>,
    /// Battery charges; null if it states no `flashes_per_charge`, as on the mains.
    pub charges: Option<Charges>,
    /// Electrical power drawn, with the modelling lamps of its heads.
    pub power: UnitPower,
}

/// A pack's work in one shot.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PackWork {
    /// The shot's name.
    pub shot: String,
    /// Its id.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub shot_id: Option<Id>,
    /// Its setting; null if its heads are set apart.
    pub setting: Option<Setting>,
    /// Energy that one flash of its heads takes, J.
    pub energy_j: Joules,
    /// Energy at full power that such a flash does not take, J.
    pub left_j: Joules,
    /// Number of flashes: one a frame.
    pub flashes: u32,
    /// Recycle time after the energy of all its heads, s; null if not known.
    pub recycle_s: Option<Number>,
    /// Whether it recycles within the requested interval between frames; null if either is not known.
    pub holds: Option<bool>,
}

/// Battery charges that the plan requires.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Charges {
    /// Charges used by the flashes, in proportion to their energy.
    pub used: Number,
    /// The fraction of each charge kept in reserve.
    pub reserve: Number,
    /// Whole charges needed, including the reserve.
    pub needed: u32,
}

/// Electrical power that a unit draws, including its modelling lamp, W.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct UnitPower {
    /// Mean power over its busiest shot, W; null if the interval between frames is not known for one of its shots.
    pub mean_w: Option<Estimate<Number>>,
    /// Power while it recycles, W: the mean while it charges, not an instantaneous peak; the greatest of its shots; null if its recycle time is not known.
    pub charging_w: Option<Estimate<Number>>,
    /// Power of the modelling lamp alone, W; a range if it is not stated.
    pub modelling_lamp_w: Estimate<Number>,
}

impl UnitSupply {
    /// Its draw alone.
    fn without_work(self) -> Self {
        Self { work: Vec::new(), charges: None, heat: None, ..self }
    }
}

impl PackSupply {
    /// Its draw alone.
    fn without_work(self) -> Self {
        Self { work: Vec::new(), charges: None, ..self }
    }
}

/// Checks a plan.
pub fn plan(asked: &SupplyQuestion) -> SupplyPlan {
    let at_full = asked.shots.is_empty().then(|| asked.at_full());
    let question = at_full.as_ref().unwrap_or(asked);
    let shots: Vec<ShotPace> = asked.shots.iter().map(|shot| shot_pace(asked, shot)).collect();
    let used = (0..question.kit.len()).filter(|&unit| question.shots_with(unit).next().is_some());
    let units: Vec<UnitSupply> = used.map(|unit| unit_supply(question, unit)).collect();
    let packs = (0..question.packs.len()).filter(|&pack| question.is_used(Bank::Pack(pack)));
    let packs: Vec<PackSupply> = packs.map(|pack| pack_supply(question, pack)).collect();
    let energy_kwh = |circuit| circuit::energy_kwh(asked, circuit);
    let circuits = asked.circuits.iter();
    let circuits: Vec<CircuitLoad> = circuits
        .map(|circuit| CircuitLoad { energy_kwh: energy_kwh(circuit), ..circuit::load(question, circuit) })
        .collect();
    let feasible = shots.iter().all(|shot| shot.holds != Some(false))
        && units.iter().all(|unit| unit.heat.as_ref().is_none_or(|heat| heat.within_duty != Some(false)))
        && circuits.iter().all(|circuit| circuit.verdict != Verdict::Over);
    let lacks = remarks::lacks(question);
    let warnings = remarks::warnings(asked, question, &units, &circuits);
    // What a unit draws needs no shot; the rest of it does.
    let (units, packs) = match at_full {
        Some(_) => (
            units.into_iter().map(UnitSupply::without_work).collect(),
            packs.into_iter().map(PackSupply::without_work).collect(),
        ),
        None => (units, packs),
    };
    SupplyPlan {
        feasible,
        complete: lacks.is_empty(),
        lacks,
        summary: remarks::summary(&shots, &units, &packs, &circuits),
        assumptions: remarks::assumptions(question, at_full.is_some()),
        warnings,
        cautions: remarks::cautions(asked),
        shots,
        units,
        packs,
        circuits,
    }
}

fn shot_pace(question: &SupplyQuestion, shot: &PlannedShot) -> ShotPace {
    let shortest = question.shortest_interval(shot);
    let all_known = question.banks_in(shot).all(|bank| question.recycle_s(bank, shot).is_some());
    let holds =
        shortest.zip(shot.interval_s).map(|((shortest, _), between)| keeps_pace(shot, shortest, between));
    let slowest = shortest.map(|(_, bank)| question.named(bank));
    ShotPace {
        id: shot.id.clone(),
        name: shot.name.clone(),
        frames: shot.frames,
        interval_s: shot.interval_s.map(Number::new_unchecked),
        shortest_interval_s: shortest.map(|(seconds, _)| Number::new_unchecked(seconds)),
        slowest_unit: slowest.clone().map(|slowest| slowest.name),
        slowest_unit_id: slowest.and_then(|slowest| slowest.id),
        holds: holds.filter(|holds| all_known || !holds),
        lasts_s: question
            .interval(shot)
            .map(|interval| Number::new_unchecked(f64::from(shot.frames - 1) * interval)),
    }
}

/// Whether a recycle time keeps up with an interval; always true for a single frame.
fn keeps_pace(shot: &PlannedShot, recycle: f64, between: f64) -> bool {
    shot.frames == 1 || keeps_up(recycle, between)
}

fn unit_supply(question: &SupplyQuestion, unit: usize) -> UnitSupply {
    let kit = &question.kit[unit];
    let bank = question.bank(unit);
    let own = Some(bank).filter(|bank| *bank == Bank::Unit(unit));
    UnitSupply {
        unit: kit.name.clone(),
        unit_id: kit.id.clone(),
        work: question.shots_with(unit).filter_map(|shot| unit_work(question, unit, shot)).collect(),
        charges: own.and_then(|bank| charges(question, bank)),
        power: own.filter(|bank| question.has_draw(*bank)).map(|bank| power(question, bank)),
        heat: heat::heat(question, unit),
    }
}

fn pack_supply(question: &SupplyQuestion, index: usize) -> PackSupply {
    let (pack, bank) = (&question.packs[index], Bank::Pack(index));
    PackSupply {
        pack: pack.name.clone(),
        pack_id: pack.id.clone(),
        work: question.shots_of(bank).map(|(shot, below)| pack_work(question, index, shot, below)).collect(),
        charges: charges(question, bank),
        power: power(question, bank),
    }
}

fn power(question: &SupplyQuestion, bank: Bank) -> UnitPower {
    let lamp = question.lamp_w(bank);
    let with_lamp = |power: Estimate<f64>| plus(power, lamp).map(Number::new_unchecked);
    let means = question.shots_of(bank).map(|(shot, _)| mean_w(question, bank, shot));
    UnitPower {
        mean_w: means.collect::<Option<Vec<_>>>().and_then(greatest).map(with_lamp),
        charging_w: charging_w(question, bank).map(with_lamp),
        modelling_lamp_w: lamp.map(Number::new_unchecked),
    }
}

/// Whether a bank recycles within the interval of a shot; `None` if that is not known.
fn holds(question: &SupplyQuestion, bank: Bank, shot: &PlannedShot) -> Option<bool> {
    let (recycle, between) = question.recycle_s(bank, shot).zip(shot.interval_s)?;
    Some(keeps_pace(shot, recycle, between))
}

fn unit_work(question: &SupplyQuestion, unit: usize, shot: &PlannedShot) -> Option<UnitWork> {
    let (below, bank, own) = (shot.below(unit)?, question.bank(unit), question.unit_in(unit, shot));
    let holds = holds(question, bank, shot);
    let slower = shot.interval_s.filter(|_| holds == Some(false));
    let recycle = |setting: Stops| {
        let Some(head) = own.head else { return own.recycle_s(setting) };
        let pack = &question.packs[head.pack];
        let part_at = |below: Stops| own.energy.map_or(0.0, |full| Scale::energy_at(full, below).get());
        let all = Scale::energy_at(pack.energy, shot.below_of(bank)?).get();
        let taken = if pack.is_set_as_one() {
            all * part_at(setting) / part_at(below)
        } else {
            all + part_at(setting) - part_at(below)
        };
        pack.feeding.recycle_s(Stops::new_unchecked((pack.energy.get() / taken).log2()))
    };
    Some(UnitWork {
        shot: shot.name.clone(),
        shot_id: shot.id.clone(),
        setting: own.setting(below),
        flashes: shot.frames,
        recycle_s: question.recycle_s(bank, shot).map(Number::new_unchecked),
        holds,
        setting_that_holds: slower
            .and_then(|between| strongest_in_time(&own.scale, recycle, between))
            .map(|below| own.setting(below)),
    })
}

fn pack_work(question: &SupplyQuestion, index: usize, shot: &PlannedShot, below: Stops) -> PackWork {
    let (pack, bank) = (&question.packs[index], Bank::Pack(index));
    let is_on = |used: &&Use| question.bank(used.unit) == bank;
    let common = shot.uses.iter().find(is_on).filter(|_| pack.is_set_as_one());
    let energy_j = Scale::energy_at(pack.energy, below).get();
    let PackResult { setting, energy_j, left_j, .. } =
        PackResult::new(pack, common.map(|used| used.below), energy_j);
    PackWork {
        shot: shot.name.clone(),
        shot_id: shot.id.clone(),
        setting,
        energy_j,
        left_j,
        flashes: shot.frames,
        recycle_s: question.recycle_s(bank, shot).map(Number::new_unchecked),
        holds: holds(question, bank, shot),
    }
}

/// The strongest setting whose flash recycles in time; in tenths of a stop for a unit without a scale.
pub fn strongest_in_time(
    scale: &Scale,
    recycle_s: impl Fn(Stops) -> Option<f64>,
    between: f64,
) -> Option<Stops> {
    let in_time = |below: f64| {
        let recycle = recycle_s(Stops::new_unchecked(below));
        recycle.is_some_and(|recycle| keeps_up(recycle, between))
    };
    let tenths: Vec<f64>;
    let settings = if scale.is_continuous() {
        tenths = (0..=(scale.range().get() * 10.0) as u32).map(|k| f64::from(k) / 10.0).collect();
        &tenths
    } else {
        scale.settings()
    };
    // Weaker flashes never take longer to recycle.
    let first = settings.partition_point(|&below| !in_time(below));
    settings.get(first).map(|&below| Stops::new_unchecked(below))
}

fn charges(question: &SupplyQuestion, bank: Bank) -> Option<Charges> {
    let per_charge = question.feeding(bank).flashes_per_charge?;
    let used = question.full_flashes(bank) / per_charge;
    let whole = (used / (1.0 - question.reserve) * (1.0 - 1e-12)).ceil().max(1.0);
    Some(Charges {
        used: Number::new_unchecked(used),
        reserve: Number::new_unchecked(question.reserve),
        needed: whole as u32,
    })
}

#[cfg(test)]
mod tests;
