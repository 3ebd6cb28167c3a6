//! What the units on a circuit draw together, against its breaker.

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    quantity::{Estimate, Number},
    supply::{PlannedShot, Question, greatest, mean_w, peak_in, peak_w},
    unit::POWER_FACTOR,
};

/// Part of its breaker that a load of hours may take in many codes (published for one country: NFPA 70, 210.20(A),
/// whose continuous load is one of three hours and more).
pub const CONTINUOUS_PART: f64 = 0.8;

/// A circuit and what is on it.
#[derive(Debug, Clone, PartialEq)]
pub struct Circuit {
    /// Its name.
    pub name: String,
    /// Its voltage, V.
    pub volts: f64,
    /// What its breaker is for, A.
    pub breaker_amps: f64,
    /// Other load on it, W.
    pub other_w: f64,
    /// The units on it, by their place in the kit.
    pub units: Vec<usize>,
}

/// Whether a load is within a breaker, its uncertainty counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum Verdict {
    /// Even the high estimate is within the breaker.
    Within,
    /// The breaker lies between the estimates.
    Unsure,
    /// Even the low estimate of a shot is beyond it.
    Over,
    /// The recycle time or the energy of a unit is not known.
    Unknown,
}

/// The load on a circuit.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct CircuitLoad {
    /// Its name.
    pub name: String,
    /// The units on it.
    pub units: Vec<String>,
    /// On the mean over the busiest shot, modelling lamps and other load counted, W, each end of the range for itself; null where it is not known of a unit.
    pub mean_w: Option<Estimate<Number>>,
    /// The same, A.
    pub mean_a: Option<Estimate<Number>>,
    /// The worst case: all its units recycle at once, each at its greatest power of the plan, W; null where it is not known of a unit.
    pub peak_w: Option<Estimate<Number>>,
    /// The same, A.
    pub peak_a: Option<Estimate<Number>>,
    /// What its breaker is for, A.
    pub breaker_a: Number,
    /// `within`: even the high estimate of the worst case is within the breaker; `unsure`: the breaker lies between the estimates; `over`: even the low one of what is surely drawn in one shot is beyond it; `unknown`: not all is known, and what is known is within.
    pub verdict: Verdict,
}

/// Watts and volt-amperes.
#[derive(Clone, Copy)]
struct Load {
    watts: Estimate<f64>,
    volt_amperes: Estimate<f64>,
}

impl Load {
    fn of(watts: Estimate<f64>, factor: Estimate<f64>) -> Self {
        let volt_amperes = Estimate {
            low: watts.low / factor.high,
            typical: watts.typical / factor.typical,
            high: watts.high / factor.low,
        };
        Self { watts, volt_amperes }
    }

    fn and(self, other: Self) -> Self {
        let sum = |a: Estimate<f64>, b: Estimate<f64>| Estimate {
            low: a.low + b.low,
            typical: a.typical + b.typical,
            high: a.high + b.high,
        };
        Self { watts: sum(self.watts, other.watts), volt_amperes: sum(self.volt_amperes, other.volt_amperes) }
    }
}

pub fn load(question: &Question, circuit: &Circuit) -> CircuitLoad {
    let factor = |unit: usize| {
        let stated = question.kit[unit].unit.feeding.draw.power_factor.map(Estimate::exact);
        stated.unwrap_or(POWER_FACTOR)
    };
    // Lamps, and what else is on it, are taken to be on all the time.
    let lamp = |&unit: &usize| {
        let watts = question.kit[unit].unit.feeding.draw.modelling_lamp_w;
        Load::of(Estimate::exact(watts), factor(unit))
    };
    let other = Load::of(Estimate::exact(circuit.other_w), Estimate::exact(1.0));
    let steady = circuit.units.iter().map(lamp).fold(other, Load::and);
    // A shot's units that are on the circuit, each with what it draws there.
    let in_shot = |power: fn(&Question, usize, &PlannedShot) -> Option<Estimate<f64>>| {
        let shots = question.shots.iter().map(|shot| {
            let used = shot.uses.iter().filter(|used| circuit.units.contains(&used.unit));
            let loads = used.map(|used| Some(Load::of(power(question, used.unit, shot)?, factor(used.unit))));
            Some(loads.collect::<Option<Vec<_>>>()?.into_iter().fold(steady, Load::and))
        });
        let loads = shots.collect::<Option<Vec<_>>>()?;
        Some(Load {
            watts: greatest(loads.iter().map(|load| load.watts).collect())?,
            volt_amperes: greatest(loads.iter().map(|load| load.volt_amperes).collect())?,
        })
    };
    let mean = in_shot(mean_w);
    let at_work = circuit.units.iter().filter(|&&unit| question.works(unit).next().is_some());
    let all = at_work.map(|&unit| Some(Load::of(peak_w(question, unit)?, factor(unit))));
    let peak = all.collect::<Option<Vec<_>>>().map(|loads| loads.into_iter().fold(steady, Load::and));
    // What is surely drawn, though not all is known: a mean where the recycle time is not.
    let sure = question.shots.iter().map(|shot| {
        let used = shot.uses.iter().filter(|used| circuit.units.contains(&used.unit));
        let known = |unit: usize| peak_in(question, unit, shot).or_else(|| mean_w(question, unit, shot));
        let loads = used.filter_map(|used| Some(Load::of(known(used.unit)?, factor(used.unit))));
        loads.fold(steady, Load::and).volt_amperes.low / circuit.volts
    });
    let is_over = sure.fold(0.0, f64::max) > circuit.breaker_amps;
    let watts = |load: Load| load.watts.map(Number::new_unchecked);
    let amperes = |load: Load| load.volt_amperes.map(|va| va / circuit.volts);
    let verdict = match peak.map(amperes) {
        _ if is_over => Verdict::Over,
        None => Verdict::Unknown,
        Some(peak) if peak.high <= circuit.breaker_amps => Verdict::Within,
        Some(_) => Verdict::Unsure,
    };
    CircuitLoad {
        name: circuit.name.clone(),
        units: circuit.units.iter().map(|&unit| question.kit[unit].name.clone()).collect(),
        mean_w: mean.map(watts),
        mean_a: mean.map(|mean| amperes(mean).map(Number::new_unchecked)),
        peak_w: peak.map(watts),
        peak_a: peak.map(|peak| amperes(peak).map(Number::new_unchecked)),
        breaker_a: Number::new_unchecked(circuit.breaker_amps),
        verdict,
    }
}
