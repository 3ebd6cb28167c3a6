//! The heat load of a head over time, compared with the duty limit that its maker states.

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    quantity::{Number, Stops},
    supply::question::SupplyQuestion,
    unit::Duty,
};

/// The heat load of a head.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Heat {
    /// The most energy within any window of the limit's length, in flashes at full power; of a head on a pack, in flashes with the pack's full energy, or the most of its outlet if that is set by itself. Counts the shots whose interval between frames is known, one after another without a break; accurate to one flash where shots with different intervals meet.
    pub most_full_flashes: Number,
    /// The duty limit, in flashes at full power.
    pub duty_flashes: Number,
    /// The time that the limit applies to, s.
    pub in_s: Number,
    /// Whether the plan, or the train of flashes, keeps within the limit; null if the interval of one of the unit's shots is not known and the other shots keep within it.
    pub within_duty: Option<bool>,
    /// The shortest interval between flashes that keeps every shot, taken alone, within the limit, s. Shots that keep within it at any interval, or at none, do not count; null if there are no others.
    pub interval_within_duty_s: Option<Number>,
}

impl Heat {
    /// The most energy in the time of the limit, as a percentage of what that allows.
    pub fn percent(&self) -> f64 {
        100.0 * self.most_full_flashes.get() / self.duty_flashes.get()
    }
}

/// The flashes of one shot on the timeline of the plan.
struct Train {
    /// Time of the first flash, s.
    begins: f64,
    /// Time between flashes, s.
    interval: f64,
    flashes: u32,
    /// Energy of one flash, as a fraction of full power.
    part: f64,
}

impl Train {
    /// Time of the last flash, s.
    fn ends(&self) -> f64 {
        self.begins + f64::from(self.flashes - 1) * self.interval
    }

    /// Energy of the flashes from `from` (included) to `to` (excluded), in flashes at full power.
    fn energy_between(&self, from: f64, to: f64) -> f64 {
        let before = |time: f64| {
            let count = ((time - self.begins) / self.interval - 1e-9).ceil();
            count.clamp(0.0, f64::from(self.flashes))
        };
        (before(to) - before(from)) * self.part
    }
}

/// The heat load of a unit's head; `None` if it states no duty limit.
pub fn heat(question: &SupplyQuestion, unit: usize) -> Option<Heat> {
    let duty = question.kit[unit].unit.feeding.duty?;
    let (trains, all_known) = trains(question, unit);
    let intervals = question
        .shots_with(unit)
        .filter_map(|shot| interval_within_duty(duty, shot.frames, question.part_of_full(unit, shot)?));
    Some(of_trains(duty, &trains, all_known, intervals.reduce(f64::max)))
}

/// The heat load of one train of flashes at a setting, `interval` seconds apart.
pub fn of_train(duty: Duty, flashes: u32, interval: f64, below: Stops) -> Heat {
    let part = (-below.get()).exp2();
    let train = Train { begins: 0.0, interval, flashes, part };
    of_trains(duty, &[train], true, interval_within_duty(duty, flashes, part))
}

/// The heat load of trains that follow each other. `all_known` if these are all, `slowest` the interval that keeps each
/// within the limit.
fn of_trains(duty: Duty, trains: &[Train], all_known: bool, slowest: Option<f64>) -> Heat {
    let within =
        |from: f64| trains.iter().map(|train| train.energy_between(from, from + duty.in_s)).sum::<f64>();
    // A window of constant length holds the most energy when it begins with a train or ends with one.
    let after = |train: &Train| train.ends() + train.interval * 1e-6;
    let edges = trains.iter().flat_map(|train| [train.begins, (after(train) - duty.in_s).max(0.0)]);
    let most = edges.map(within).fold(0.0, f64::max);
    Heat {
        most_full_flashes: Number::new_unchecked(most),
        duty_flashes: Number::new_unchecked(duty.flashes),
        in_s: Number::new_unchecked(duty.in_s),
        within_duty: if most > duty.flashes * (1.0 + 1e-9) { Some(false) } else { all_known.then_some(true) },
        interval_within_duty_s: slowest.map(Number::new_unchecked),
    }
}

/// A unit's trains of flashes, shot after shot, and whether all their intervals are known. A shot whose interval is not
/// known is taken to last no time, which is the worst case for the others.
fn trains(question: &SupplyQuestion, unit: usize) -> (Vec<Train>, bool) {
    let mut clock = 0.0;
    let mut trains = Vec::new();
    let mut all_known = true;
    for shot in &question.shots {
        let interval = question.interval(shot);
        if let Some(part) = question.part_of_full(unit, shot) {
            match interval {
                Some(interval) => trains.push(Train { begins: clock, interval, flashes: shot.frames, part }),
                None => all_known = false,
            }
        }
        clock += f64::from(shot.frames) * interval.unwrap_or(0.0);
    }
    (trains, all_known)
}

/// The shortest interval at which a train alone keeps within the limit. `None` if every interval does, or if even one
/// flash exceeds the limit. `part` is the energy of a flash as a fraction of full power.
fn interval_within_duty(duty: Duty, flashes: u32, part: f64) -> Option<f64> {
    let most = (duty.flashes / part + 1e-9).floor();
    (most >= 1.0 && most < f64::from(flashes)).then(|| duty.in_s / most)
}
