//! What a plan asks of each circuit shot by shot, and of each unit in its hardest shot: for pictures of an answer.

use crate::light::{
    quantity::{Estimate, Stops},
    supply::{
        bank::{Bank, charging_w_in, mean_w},
        circuit::{Load, load_in},
        question::{PlannedShot, SupplyQuestion},
    },
    unit::keeps_up,
};

/// The load of a circuit in one shot, A; `None` where it is not known of something on it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShotLoad {
    /// On average over the shot.
    pub mean_a: Option<Estimate<f64>>,
    /// While all its units recycle.
    pub charging_a: Option<Estimate<f64>>,
}

/// The pace of a unit or a pack in the shot that is the hardest for it.
#[derive(Debug, Clone, PartialEq)]
pub struct Pace {
    /// The unit or the pack.
    pub name: String,
    /// The shot.
    pub shot: String,
    /// Its recycle time there, s.
    pub recycle_s: f64,
    /// The requested interval between frames, s.
    pub interval_s: f64,
    /// Whether it recycles in time.
    pub holds: bool,
}

/// What the answer of a plan rests on.
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    /// The names of the shots; of one with all units at full power if none are asked about.
    pub shots: Vec<String>,
    /// The load of each circuit in each of these shots, in order.
    pub circuits: Vec<Vec<ShotLoad>>,
    /// The units and packs for which a recycle time and an interval are known.
    pub paces: Vec<Pace>,
}

impl Evidence {
    /// The evidence for a plan.
    pub fn of(asked: &SupplyQuestion) -> Self {
        let at_full = asked.shots.is_empty().then(|| asked.at_full());
        let question = at_full.as_ref().unwrap_or(asked);
        let circuits = question.circuits.iter().map(|circuit| {
            let amperes = |load: Load| load.amperes(circuit.volts);
            let in_shot = |shot| ShotLoad {
                mean_a: load_in(question, circuit, shot, mean_w).map(amperes),
                charging_a: load_in(question, circuit, shot, charging_w_in).map(amperes),
            };
            question.shots.iter().map(in_shot).collect()
        });
        Self {
            shots: question.shots.iter().map(|shot| shot.name.clone()).collect(),
            circuits: circuits.collect(),
            paces: question.banks().filter_map(|bank| pace(question, bank)).collect(),
        }
    }
}

/// The pace of a bank in the shot whose interval leaves it the least time.
fn pace(question: &SupplyQuestion, bank: Bank) -> Option<Pace> {
    let in_shot = |(shot, _): (&PlannedShot, Stops)| {
        let (recycle_s, interval_s) = question.recycle_s(bank, shot).zip(shot.interval_s)?;
        let holds = keeps_up(recycle_s, interval_s);
        (shot.frames > 1).then(|| Pace {
            name: question.named(bank).name,
            shot: shot.name.clone(),
            recycle_s,
            interval_s,
            holds,
        })
    };
    let hardest = |a: &Pace, b: &Pace| (a.recycle_s / a.interval_s).total_cmp(&(b.recycle_s / b.interval_s));
    // Of equally hard shots the first.
    let all: Vec<Pace> = question.shots_of(bank).filter_map(in_shot).collect();
    all.into_iter().rev().max_by(hardest)
}
