//! What a head bears over time, against a limit that its maker states.

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    quantity::{Number, Stops},
    supply::{PlannedShot, Question},
    unit::Duty,
};

/// What a head bears.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Heat {
    /// The most energy within the time of the limit, in flashes at full power, of the shots whose pace is known, following each other without a break; within a flash where shots of several paces meet.
    pub most_full_pops: Number,
    /// The limit, in flashes at full power.
    pub duty_pops: Number,
    /// The time that they are counted in, s.
    pub in_s: Number,
    /// Whether the plan keeps to the limit; null where the pace of a shot that the unit is in is not known, and the others keep to it.
    pub within_duty: Option<bool>,
    /// The shortest time from frame to frame that keeps to it in each shot alone, s: the longest over the shots; null where every pace does, or none.
    pub interval_within_duty_s: Option<Number>,
}

/// Flashes of one shot on the clock of the whole plan.
struct Train {
    begins: f64,
    interval: f64,
    pops: u32,
    /// Energy of one, in flashes at full power.
    part: f64,
}

impl Train {
    fn ends(&self) -> f64 {
        self.begins + f64::from(self.pops - 1) * self.interval
    }

    /// Energy of the flashes from `from` on and before `to`.
    fn between(&self, from: f64, to: f64) -> f64 {
        let before = |time: f64| {
            let count = ((time - self.begins) / self.interval - 1e-9).ceil();
            count.clamp(0.0, f64::from(self.pops))
        };
        (before(to) - before(from)) * self.part
    }
}

pub fn of(question: &Question, unit: usize) -> Option<Heat> {
    let duty = question.kit[unit].unit.feeding.duty?;
    let (trains, all_known) = trains(question, unit);
    let within = |from: f64| trains.iter().map(|train| train.between(from, from + duty.in_s)).sum::<f64>();
    // A window of constant length holds most with an end at the end of a train.
    let after = |train: &Train| train.ends() + train.interval * 1e-6;
    let edges = trains.iter().flat_map(|train| [train.begins, (after(train) - duty.in_s).max(0.0)]);
    let most = edges.map(within).fold(0.0, f64::max);
    let slowest =
        question.works(unit).filter_map(|(shot, below)| slow_enough(duty, shot, below)).reduce(f64::max);
    Some(Heat {
        most_full_pops: Number::new_unchecked(most),
        duty_pops: Number::new_unchecked(duty.pops),
        in_s: Number::new_unchecked(duty.in_s),
        within_duty: if most > duty.pops * (1.0 + 1e-9) { Some(false) } else { all_known.then_some(true) },
        interval_within_duty_s: slowest.map(Number::new_unchecked),
    })
}

/// The flashes of a unit, shot after shot, and whether the pace of all of them is known. A shot that it rests in and
/// whose pace is not known is taken to last no time, which is the worst.
fn trains(question: &Question, unit: usize) -> (Vec<Train>, bool) {
    let mut clock = 0.0;
    let mut trains = Vec::new();
    let mut all_known = true;
    for shot in &question.shots {
        let interval = question.interval(shot);
        if let Some(below) = shot.below(unit) {
            let part = (-below.get()).exp2();
            match interval {
                Some(interval) => trains.push(Train { begins: clock, interval, pops: shot.pops, part }),
                None => all_known = false,
            }
        }
        clock += f64::from(shot.pops) * interval.unwrap_or(0.0);
    }
    (trains, all_known)
}

/// The shortest time from frame to frame at which a shot alone keeps to the limit; none where any does, or where
/// one flash is too much.
fn slow_enough(duty: Duty, shot: &PlannedShot, below: Stops) -> Option<f64> {
    let most = (duty.pops * below.get().exp2() + 1e-9).floor();
    (most >= 1.0 && most < f64::from(shot.pops)).then(|| duty.in_s / most)
}
