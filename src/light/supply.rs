//! What a plan asks of recycling, batteries, circuits and heads.
//!
//! Energy over time: a flash of E joules draws E over the efficiency of charging, within its recycle time at the
//! peak, within the time from frame to frame on the mean; amperes are watts over volts and power factor
//! (derived). Shots follow each other without a break, which is the worst that they can do to a head.

mod circuit;
mod heat;
mod told;

pub use self::{
    circuit::{Circuit, CircuitLoad, Verdict},
    heat::Heat,
};

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    kit::KitUnit,
    quantity::{Estimate, Number, Stops},
    remark::{Assumption, Remark},
    unit::{CHARGING_EFFICIENCY, Setting, Unit, keeps_up},
};

/// A unit at work in a shot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Use {
    /// Which unit of the kit.
    pub unit: usize,
    /// Its setting, stops below full.
    pub below: Stops,
}

/// A shot whose lights are set.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedShot {
    /// The caller's id of this entry.
    pub id: Option<String>,
    /// Its name.
    pub name: String,
    /// Frames that it takes.
    pub pops: u32,
    /// Time from frame to frame, s; as fast as the units recycle if none.
    pub seconds_between: Option<f64>,
    /// Its lights, each unit once.
    pub uses: Vec<Use>,
}

/// What is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// The kit.
    pub kit: Vec<KitUnit>,
    /// The shots, in order.
    pub shots: Vec<PlannedShot>,
    /// The circuits, each unit on one at most.
    pub circuits: Vec<Circuit>,
    /// Part of each charge that is held back.
    pub reserve: f64,
}

/// Whether a plan holds: its pace, its units and its circuits.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SupplyPlan {
    /// Whether all units recycle in time, no head is surely driven beyond its duty limit, and no circuit is surely beyond its breaker.
    pub feasible: bool,
    /// A sentence or two for a booking page.
    pub summary: String,
    /// The shots, in the order asked.
    pub shots: Vec<ShotPace>,
    /// The units that are used, in the order of the kit.
    pub units: Vec<UnitSupply>,
    /// The circuits, in the order asked.
    pub circuits: Vec<CircuitLoad>,
    /// What was assumed.
    pub assumptions: Vec<Assumption>,
    /// What to doubt.
    pub warnings: Vec<Remark>,
    /// What to beware of.
    pub cautions: Vec<Remark>,
}

/// How fast a shot can go.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ShotPace {
    /// The caller's id of the shot.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub id: Option<String>,
    /// Its name.
    pub name: String,
    /// Frames that it takes.
    pub pops: u32,
    /// The time from frame to frame that was asked for, s.
    pub seconds_between: Option<Number>,
    /// The shortest time from frame to frame: the slowest recycle time that is known, s; null where none is.
    pub shortest_interval_s: Option<Number>,
    /// The unit that recycles most slowly, of those whose time is known.
    pub slowest_unit: Option<String>,
    /// Whether all units recycle within the time asked for; true of a single frame; null where that is not known.
    pub holds: Option<bool>,
    /// From the first frame to the last, s, no faster than the units recycle as far as that is known; null where no time is.
    pub lasts_s: Option<Number>,
}

/// What a plan asks of one unit.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct UnitSupply {
    /// Its name in the kit.
    pub unit: String,
    /// Its shots, in order.
    pub work: Vec<UnitWork>,
    /// What it needs of batteries; null for a unit on the mains.
    pub charges: Option<Charges>,
    /// What it draws; null where its energy is not known.
    pub power: Option<UnitPower>,
    /// What its head bears; null where no duty limit or no time is known.
    pub heat: Option<Heat>,
}

/// A unit in one shot.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct UnitWork {
    /// The shot.
    pub shot: String,
    /// Its setting.
    pub setting: Setting,
    /// Flashes.
    pub pops: u32,
    /// Recycle time at this setting, s; null where it is not known.
    pub recycle_s: Option<Number>,
    /// Whether it recycles within the time from frame to frame; null where either is not known.
    pub holds: Option<bool>,
    /// Where it does not: the strongest setting that would; null where none does.
    pub setting_that_holds: Option<Setting>,
}

/// What a plan needs of batteries.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Charges {
    /// Charges that the flashes use, in proportion to their energy.
    pub used: Number,
    /// Part of each charge that is held back.
    pub reserve: Number,
    /// Whole charges to have, the reserve counted.
    pub needed: u32,
}

/// What a unit draws, its modelling lamp counted, W.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct UnitPower {
    /// On the mean over its busiest shot; null where no time from frame to frame is known.
    pub mean_w: Option<Estimate<Number>>,
    /// While it recycles, at the most; null where its recycle time is not known.
    pub peak_w: Option<Estimate<Number>>,
    /// The modelling lamp alone.
    pub modelling_lamp_w: Number,
}

impl PlannedShot {
    /// The setting of a unit that is in it.
    fn below(&self, unit: usize) -> Option<Stops> {
        self.uses.iter().find(|used| used.unit == unit).map(|used| used.below)
    }
}

impl Question {
    /// The shortest time from frame to frame of a shot, and the unit that sets it.
    fn shortest(&self, shot: &PlannedShot) -> Option<(f64, usize)> {
        let recycle = |used: &Use| Some((self.kit[used.unit].unit.feeding.recycle_s(used.below)?, used.unit));
        // The first of several alike.
        shot.uses.iter().filter_map(recycle).rev().max_by(|a, b| a.0.total_cmp(&b.0))
    }

    /// The time from frame to frame that a shot comes to.
    fn interval(&self, shot: &PlannedShot) -> Option<f64> {
        let shortest = self.shortest(shot).map(|(shortest, _)| shortest);
        shot.seconds_between.into_iter().chain(shortest).reduce(f64::max)
    }

    fn works(&self, unit: usize) -> impl Iterator<Item = (&PlannedShot, Stops)> {
        self.shots.iter().filter_map(move |shot| Some((shot, shot.below(unit)?)))
    }

    /// A unit's flashes of the whole plan, counted as so many at full power.
    fn full_pops(&self, unit: usize) -> f64 {
        self.works(unit).map(|(shot, below)| f64::from(shot.pops) * (-below.get()).exp2()).sum()
    }
}

/// Electrical energy of one flash at a setting, J: more where charging is less efficient.
fn drawn(unit: &Unit, below: Stops) -> Option<Estimate<f64>> {
    let energy = unit.energy?.get() * (-below.get()).exp2();
    let stated = unit.feeding.draw.charging_efficiency.map(Estimate::exact);
    let efficiency = stated.unwrap_or(CHARGING_EFFICIENCY);
    Some(Estimate {
        low: energy / efficiency.high,
        typical: energy / efficiency.typical,
        high: energy / efficiency.low,
    })
}

/// What a unit draws in a shot, its lamp not counted, W.
fn mean_w(question: &Question, unit: usize, shot: &PlannedShot) -> Option<Estimate<f64>> {
    let interval = question.interval(shot)?;
    let below = shot.below(unit)?;
    Some(drawn(&question.kit[unit].unit, below)?.map(|energy| energy / interval))
}

/// What a unit draws while it recycles in a shot, its lamp not counted, W.
fn peak_in(question: &Question, unit: usize, shot: &PlannedShot) -> Option<Estimate<f64>> {
    let below = shot.below(unit)?;
    let unit = &question.kit[unit].unit;
    let seconds = unit.feeding.recycle_s(below)?;
    Some(drawn(unit, below)?.map(|energy| energy / seconds))
}

/// The same at the most over the plan.
fn peak_w(question: &Question, unit: usize) -> Option<Estimate<f64>> {
    let peaks = question.works(unit).map(|(shot, _)| peak_in(question, unit, shot));
    greatest(peaks.collect::<Option<Vec<_>>>()?)
}

/// The greatest of several, each end for itself.
fn greatest(estimates: Vec<Estimate<f64>>) -> Option<Estimate<f64>> {
    estimates.into_iter().reduce(|a, b| Estimate {
        low: a.low.max(b.low),
        typical: a.typical.max(b.typical),
        high: a.high.max(b.high),
    })
}

/// Answers.
pub fn plan(question: &Question) -> SupplyPlan {
    let shots: Vec<ShotPace> = question.shots.iter().map(|shot| pace(question, shot)).collect();
    let used = (0..question.kit.len()).filter(|&unit| question.works(unit).next().is_some());
    let units: Vec<UnitSupply> = used.map(|unit| supply(question, unit)).collect();
    let circuits: Vec<CircuitLoad> =
        question.circuits.iter().map(|circuit| circuit::load(question, circuit)).collect();
    let feasible = shots.iter().all(|shot| shot.holds != Some(false))
        && units.iter().all(|unit| unit.heat.as_ref().is_none_or(|heat| heat.within_duty != Some(false)))
        && circuits.iter().all(|circuit| circuit.verdict != Verdict::Over);
    SupplyPlan {
        feasible,
        summary: told::summary(&shots, &units, &circuits),
        assumptions: told::assumptions(question),
        warnings: told::warnings(question, &units, &circuits),
        cautions: told::cautions(question),
        shots,
        units,
        circuits,
    }
}

fn pace(question: &Question, shot: &PlannedShot) -> ShotPace {
    let shortest = question.shortest(shot);
    let known = |used: &Use| question.kit[used.unit].unit.feeding.recycle_s(used.below).is_some();
    let all_known = shot.uses.iter().all(known);
    let holds = shortest
        .zip(shot.seconds_between)
        .map(|((shortest, _), between)| keeps_pace(shot, shortest, between));
    ShotPace {
        id: shot.id.clone(),
        name: shot.name.clone(),
        pops: shot.pops,
        seconds_between: shot.seconds_between.map(Number::new_unchecked),
        shortest_interval_s: shortest.map(|(seconds, _)| Number::new_unchecked(seconds)),
        slowest_unit: shortest.map(|(_, unit)| question.kit[unit].name.clone()),
        holds: holds.filter(|holds| all_known || !holds),
        lasts_s: question
            .interval(shot)
            .map(|interval| Number::new_unchecked(f64::from(shot.pops - 1) * interval)),
    }
}

/// A single frame waits for no other.
fn keeps_pace(shot: &PlannedShot, recycle: f64, between: f64) -> bool {
    shot.pops == 1 || keeps_up(recycle, between)
}

fn supply(question: &Question, unit: usize) -> UnitSupply {
    let kit = &question.kit[unit];
    let lamp = kit.unit.feeding.draw.modelling_lamp_w;
    let with_lamp = |power: Estimate<f64>| power.map(|watts| Number::new_unchecked(watts + lamp));
    let means = question.works(unit).map(|(shot, _)| mean_w(question, unit, shot));
    let power = kit.unit.energy.map(|_| UnitPower {
        mean_w: means.collect::<Option<Vec<_>>>().and_then(greatest).map(with_lamp),
        peak_w: peak_w(question, unit).map(with_lamp),
        modelling_lamp_w: Number::new_unchecked(lamp),
    });
    UnitSupply {
        unit: kit.name.clone(),
        work: question.works(unit).map(|(shot, below)| work(&kit.unit, shot, below)).collect(),
        charges: charges(question, unit),
        power,
        heat: heat::of(question, unit),
    }
}

fn work(unit: &Unit, shot: &PlannedShot, below: Stops) -> UnitWork {
    let recycle = unit.feeding.recycle_s(below);
    let holds =
        recycle.zip(shot.seconds_between).map(|(recycle, between)| keeps_pace(shot, recycle, between));
    let slower = shot.seconds_between.filter(|_| holds == Some(false));
    UnitWork {
        shot: shot.name.clone(),
        setting: unit.setting(below),
        pops: shot.pops,
        recycle_s: recycle.map(Number::new_unchecked),
        holds,
        setting_that_holds: slower
            .and_then(|between| strongest_in_time(unit, between))
            .map(|below| unit.setting(below)),
    }
}

/// The strongest setting that recycles in time; of a unit without a scale, in tenths of a stop.
fn strongest_in_time(unit: &Unit, between: f64) -> Option<Stops> {
    let in_time = |below: f64| {
        let recycle = unit.feeding.recycle_s(Stops::new_unchecked(below));
        recycle.is_some_and(|recycle| keeps_up(recycle, between))
    };
    let tenths: Vec<f64>;
    let settings = if unit.scale.is_continuous() {
        tenths = (0..=(unit.scale.range().get() * 10.0) as u32).map(|k| f64::from(k) / 10.0).collect();
        &tenths
    } else {
        unit.scale.settings()
    };
    // Weaker flashes never recycle more slowly.
    let first = settings.partition_point(|&below| !in_time(below));
    settings.get(first).map(|&below| Stops::new_unchecked(below))
}

fn charges(question: &Question, unit: usize) -> Option<Charges> {
    let per_charge = question.kit[unit].unit.feeding.pops_per_charge?;
    let used = question.full_pops(unit) / per_charge;
    let whole = (used / (1.0 - question.reserve) * (1.0 - 1e-12)).ceil().max(1.0);
    Some(Charges {
        used: Number::new_unchecked(used),
        reserve: Number::new_unchecked(question.reserve),
        needed: whole as u32,
    })
}

#[cfg(test)]
mod tests;
