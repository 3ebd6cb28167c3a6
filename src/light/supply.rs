//! Checks a plan against recycle times, batteries, circuits and the duty limits of heads.
//!
//! A flash of E joules draws E divided by the charging efficiency. Peak power is that over the recycle time, mean power
//! is that over the frame interval; amperes are watts over volts and power factor, P = U·I·pf (derived). Shots are taken to
//! follow each other without a break, which is the worst case for a head. Without shots, all units on circuits are taken to
//! flash together at full power, as fast as they recycle: the worst case for a breaker.

mod circuit;
pub mod flicker;
pub mod heat;
mod remarks;
pub mod summary;

pub use self::{
    circuit::{Circuit, CircuitLoad, Device, Rating, Verdict},
    heat::Heat,
};

use serde::Serialize;
use utoipa::ToSchema;

use self::summary::Summary;
use crate::light::{
    assumption::Assumption,
    id::Id,
    kit::{KitUnit, Lacking},
    quantity::{Estimate, Number, Stops},
    remark::{Caution, Warning},
    unit::{CHARGING_EFFICIENCY, Setting, Unit, keeps_up},
};

/// A unit used in a shot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Use {
    /// The unit's index in the kit.
    pub unit: usize,
    /// Its setting, stops below full.
    pub below: Stops,
}

/// A shot with the settings of its lights.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedShot {
    /// The shot's id from the request.
    pub id: Option<Id>,
    /// Its name.
    pub name: String,
    /// Number of frames.
    pub frames: u32,
    /// Interval between frames, s; `None` means as fast as the units recycle.
    pub interval_s: Option<f64>,
    /// The units used, each once.
    pub uses: Vec<Use>,
}

/// A plan to check.
#[derive(Debug, Clone, PartialEq)]
pub struct SupplyQuestion {
    /// The kit.
    pub kit: Vec<KitUnit>,
    /// The shots, in order.
    pub shots: Vec<PlannedShot>,
    /// The circuits; each unit is on at most one.
    pub circuits: Vec<Circuit>,
    /// The fraction of each charge to keep in reserve.
    pub reserve: f64,
    /// How long the circuits are in use, h.
    pub hours: Option<f64>,
}

/// The supply plan: the pace of its shots, the load of its units and of its circuits.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SupplyPlan {
    /// Whether no unit is known to recycle too slowly, no head to exceed its duty limit, and no circuit to exceed its breaker rating.
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
    /// The slowest unit of those whose recycle time is known; null if none is known.
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
    /// Battery charges; null if the unit states no `flashes_per_charge`, as on the mains.
    pub charges: Option<Charges>,
    /// Electrical power drawn; null if the unit's energy is not known.
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
    /// Its setting.
    pub setting: Setting,
    /// Number of flashes: one a frame.
    pub flashes: u32,
    /// Recycle time at this setting, s; null if not known.
    pub recycle_s: Option<Number>,
    /// Whether the unit recycles within the requested interval between frames; null if either is not known.
    pub holds: Option<bool>,
    /// If it does not: the strongest setting that would; null if none would.
    pub setting_that_holds: Option<Setting>,
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

impl PlannedShot {
    /// The setting of a unit, stops below full, if the shot uses it.
    fn below(&self, unit: usize) -> Option<Stops> {
        self.uses.iter().find(|used| used.unit == unit).map(|used| used.below)
    }
}

impl UnitSupply {
    /// Its draw alone.
    fn without_work(self) -> Self {
        Self { work: Vec::new(), charges: None, heat: None, ..self }
    }
}

impl SupplyQuestion {
    /// The same plan with one shot: all units on circuits at full power.
    fn at_full(&self) -> Self {
        let units = self.circuits.iter().flat_map(|circuit| &circuit.units);
        let uses = units.map(|&unit| Use { unit, below: Stops::ZERO }).collect();
        let shot = PlannedShot { id: None, name: String::new(), frames: 1, interval_s: None, uses };
        Self { shots: vec![shot], ..self.clone() }
    }

    /// How long the circuits are in use, s: as stated, or until the last shot ends; `None` if that is not known.
    fn lasts_s(&self) -> Option<f64> {
        let shots =
            || self.shots.iter().map(|shot| Some(f64::from(shot.frames) * self.interval(shot)?)).sum();
        match self.hours {
            Some(hours) => Some(hours * 3600.0),
            None if self.shots.is_empty() => None,
            None => shots(),
        }
    }

    /// The shortest interval between a shot's frames, and the unit that limits it.
    fn shortest_interval(&self, shot: &PlannedShot) -> Option<(f64, usize)> {
        let recycle = |used: &Use| Some((self.kit[used.unit].unit.recycle_s(used.below)?, used.unit));
        // Of equally slow units the first.
        shot.uses.iter().filter_map(recycle).rev().max_by(|a, b| a.0.total_cmp(&b.0))
    }

    /// The actual interval between a shot's frames: the requested one, or the shortest one if that is longer.
    fn interval(&self, shot: &PlannedShot) -> Option<f64> {
        let shortest = self.shortest_interval(shot).map(|(shortest, _)| shortest);
        shot.interval_s.into_iter().chain(shortest).reduce(f64::max)
    }

    /// The shots that use a unit, with its setting in each.
    fn shots_with(&self, unit: usize) -> impl Iterator<Item = (&PlannedShot, Stops)> {
        self.shots.iter().filter_map(move |shot| Some((shot, shot.below(unit)?)))
    }

    /// All flashes of a unit in the plan, as the equivalent number at full power.
    fn full_flashes(&self, unit: usize) -> f64 {
        self.shots_with(unit).map(|(shot, below)| f64::from(shot.frames) * (-below.get()).exp2()).sum()
    }
}

/// Electrical energy that one flash draws at a setting, J.
fn energy_drawn(unit: &Unit, below: Stops) -> Option<Estimate<f64>> {
    let energy = unit.energy?.get() * (-below.get()).exp2();
    let stated = unit.feeding.draw.charging_efficiency.map(Estimate::exact);
    let efficiency = stated.unwrap_or(CHARGING_EFFICIENCY);
    Some(Estimate {
        low: energy / efficiency.high,
        typical: energy / efficiency.typical,
        high: energy / efficiency.low,
    })
}

/// Mean power that a unit draws in a shot, without its modelling lamp, W.
fn mean_w(question: &SupplyQuestion, unit: usize, shot: &PlannedShot) -> Option<Estimate<f64>> {
    let interval = question.interval(shot)?;
    let below = shot.below(unit)?;
    Some(energy_drawn(&question.kit[unit].unit, below)?.map(|energy| energy / interval))
}

/// Power that a unit draws while it recycles in a shot, without its modelling lamp, W.
fn charging_w_in(question: &SupplyQuestion, unit: usize, shot: &PlannedShot) -> Option<Estimate<f64>> {
    let below = shot.below(unit)?;
    let unit = &question.kit[unit].unit;
    let seconds = unit.recycle_s(below)?;
    Some(energy_drawn(unit, below)?.map(|energy| energy / seconds))
}

/// The greatest such power over the plan, W.
fn charging_w(question: &SupplyQuestion, unit: usize) -> Option<Estimate<f64>> {
    let peaks = question.shots_with(unit).map(|(shot, _)| charging_w_in(question, unit, shot));
    greatest(peaks.collect::<Option<Vec<_>>>()?)
}

/// The greatest of several estimates: low, typical and high values each compared separately.
fn greatest(estimates: Vec<Estimate<f64>>) -> Option<Estimate<f64>> {
    estimates.into_iter().reduce(|a, b| Estimate {
        low: a.low.max(b.low),
        typical: a.typical.max(b.typical),
        high: a.high.max(b.high),
    })
}

/// The sum of two estimates, end by end.
fn plus(a: Estimate<f64>, b: Estimate<f64>) -> Estimate<f64> {
    Estimate { low: a.low + b.low, typical: a.typical + b.typical, high: a.high + b.high }
}

/// Checks a plan.
pub fn plan(asked: &SupplyQuestion) -> SupplyPlan {
    let at_full = asked.shots.is_empty().then(|| asked.at_full());
    let question = at_full.as_ref().unwrap_or(asked);
    let shots: Vec<ShotPace> = asked.shots.iter().map(|shot| shot_pace(asked, shot)).collect();
    let used = (0..question.kit.len()).filter(|&unit| question.shots_with(unit).next().is_some());
    let units: Vec<UnitSupply> = used.map(|unit| unit_supply(question, unit)).collect();
    let energy_kwh = |circuit| circuit::energy_kwh(asked, circuit);
    let circuits = asked.circuits.iter();
    let circuits: Vec<CircuitLoad> = circuits
        .map(|circuit| CircuitLoad { energy_kwh: energy_kwh(circuit), ..circuit::load(question, circuit) })
        .collect();
    let feasible = shots.iter().all(|shot| shot.holds != Some(false))
        && units.iter().all(|unit| unit.heat.as_ref().is_none_or(|heat| heat.within_duty != Some(false)))
        && circuits.iter().all(|circuit| circuit.verdict != Verdict::Over);
    let lacks = remarks::lacks(question, &units);
    let warnings = remarks::warnings(asked, question, &units, &circuits);
    // What a unit draws needs no shot; the rest of it does.
    let units: Vec<UnitSupply> = match at_full {
        Some(_) => units.into_iter().map(UnitSupply::without_work).collect(),
        None => units,
    };
    SupplyPlan {
        feasible,
        complete: lacks.is_empty(),
        lacks,
        summary: remarks::summary(&shots, &units, &circuits),
        assumptions: remarks::assumptions(question, at_full.is_some()),
        warnings,
        cautions: remarks::cautions(asked),
        shots,
        units,
        circuits,
    }
}

fn shot_pace(question: &SupplyQuestion, shot: &PlannedShot) -> ShotPace {
    let shortest = question.shortest_interval(shot);
    let known = |used: &Use| question.kit[used.unit].unit.recycle_s(used.below).is_some();
    let all_known = shot.uses.iter().all(known);
    let holds =
        shortest.zip(shot.interval_s).map(|((shortest, _), between)| keeps_pace(shot, shortest, between));
    ShotPace {
        id: shot.id.clone(),
        name: shot.name.clone(),
        frames: shot.frames,
        interval_s: shot.interval_s.map(Number::new_unchecked),
        shortest_interval_s: shortest.map(|(seconds, _)| Number::new_unchecked(seconds)),
        slowest_unit: shortest.map(|(_, unit)| question.kit[unit].name.clone()),
        slowest_unit_id: shortest.and_then(|(_, unit)| question.kit[unit].id.clone()),
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
    let lamp = kit.unit.feeding.draw.lamp_w();
    let with_lamp = |power: Estimate<f64>| plus(power, lamp).map(Number::new_unchecked);
    let means = question.shots_with(unit).map(|(shot, _)| mean_w(question, unit, shot));
    let power = kit.unit.energy.map(|_| UnitPower {
        mean_w: means.collect::<Option<Vec<_>>>().and_then(greatest).map(with_lamp),
        charging_w: charging_w(question, unit).map(with_lamp),
        modelling_lamp_w: lamp.map(Number::new_unchecked),
    });
    UnitSupply {
        unit: kit.name.clone(),
        unit_id: kit.id.clone(),
        work: question.shots_with(unit).map(|(shot, below)| unit_work(&kit.unit, shot, below)).collect(),
        charges: charges(question, unit),
        power,
        heat: heat::heat(question, unit),
    }
}

fn unit_work(unit: &Unit, shot: &PlannedShot, below: Stops) -> UnitWork {
    let recycle = unit.recycle_s(below);
    let holds = recycle.zip(shot.interval_s).map(|(recycle, between)| keeps_pace(shot, recycle, between));
    let slower = shot.interval_s.filter(|_| holds == Some(false));
    UnitWork {
        shot: shot.name.clone(),
        shot_id: shot.id.clone(),
        setting: unit.setting(below),
        flashes: shot.frames,
        recycle_s: recycle.map(Number::new_unchecked),
        holds,
        setting_that_holds: slower
            .and_then(|between| strongest_in_time(unit, between))
            .map(|below| unit.setting(below)),
    }
}

/// The strongest setting that recycles in time; in tenths of a stop for a unit without a scale.
pub fn strongest_in_time(unit: &Unit, between: f64) -> Option<Stops> {
    let in_time = |below: f64| {
        let recycle = unit.recycle_s(Stops::new_unchecked(below));
        recycle.is_some_and(|recycle| keeps_up(recycle, between))
    };
    let tenths: Vec<f64>;
    let settings = if unit.scale.is_continuous() {
        tenths = (0..=(unit.scale.range().get() * 10.0) as u32).map(|k| f64::from(k) / 10.0).collect();
        &tenths
    } else {
        unit.scale.settings()
    };
    // Weaker flashes never take longer to recycle.
    let first = settings.partition_point(|&below| !in_time(below));
    settings.get(first).map(|&below| Stops::new_unchecked(below))
}

fn charges(question: &SupplyQuestion, unit: usize) -> Option<Charges> {
    let per_charge = question.kit[unit].unit.feeding.flashes_per_charge?;
    let used = question.full_flashes(unit) / per_charge;
    let whole = (used / (1.0 - question.reserve) * (1.0 - 1e-12)).ceil().max(1.0);
    Some(Charges {
        used: Number::new_unchecked(used),
        reserve: Number::new_unchecked(question.reserve),
        needed: whole as u32,
    })
}

#[cfg(test)]
mod tests;
