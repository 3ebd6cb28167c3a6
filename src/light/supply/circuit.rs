//! The load of all units on a circuit, compared with its breaker rating.

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    quantity::{Estimate, Number},
    supply::{PlannedShot, SupplyQuestion, greatest, mean_w, peak_w, peak_w_in},
    unit::POWER_FACTOR,
};

/// The fraction of the breaker rating that many electrical codes allow for a load that lasts hours (published for one
/// country: NFPA 70, 210.20(A), where a continuous load is one of three hours and more).
pub const CONTINUOUS_PART: f64 = 0.8;

/// A circuit and its loads.
#[derive(Debug, Clone, PartialEq)]
pub struct Circuit {
    /// Its name.
    pub name: String,
    /// Its voltage, V.
    pub volts: f64,
    /// Breaker rating, A.
    pub breaker_amps: f64,
    /// Other load on the circuit, W.
    pub other_w: f64,
    /// The units on it, by their index in the kit.
    pub units: Vec<usize>,
}

/// Whether a load is within the breaker rating, given its uncertainty.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum Verdict {
    /// Even the high estimate of the worst case is within the breaker rating.
    Within,
    /// The high estimate of the worst case exceeds the breaker rating, but it is not certain to be exceeded.
    Unsure,
    /// Even the low estimate of the known load in one shot exceeds the breaker rating.
    Over,
    /// The recycle time or the energy of a unit is not known, and the known load is within the breaker rating.
    Unknown,
}

/// The load on a circuit.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct CircuitLoad {
    /// Its name.
    pub name: String,
    /// The names of the units on it.
    pub units: Vec<String>,
    /// Mean power over the busiest shot, including modelling lamps and other load, W; low, typical and high values are each the greatest of all shots; null if it is not known for a unit.
    pub mean_w: Option<Estimate<Number>>,
    /// The mean current, A.
    pub mean_a: Option<Estimate<Number>>,
    /// Power in the worst case, in which all its units recycle at once, each at its greatest power in the plan, W; null if it is not known for a unit.
    pub peak_w: Option<Estimate<Number>>,
    /// The worst-case current, A.
    pub peak_a: Option<Estimate<Number>>,
    /// Breaker rating, A.
    pub breaker_a: Number,
    /// `within`: even the high estimate of the worst case is within the breaker rating; `unsure`: the rating is below that, but not certainly exceeded; `over`: even the low estimate of the known load in one shot exceeds the rating; `unknown`: not all loads are known, and the known load does not exceed the rating.
    pub verdict: Verdict,
}

/// Real power (watts) and apparent power (volt-amperes).
#[derive(Clone, Copy)]
struct Load {
    watts: Estimate<f64>,
    volt_amperes: Estimate<f64>,
}

impl Load {
    /// A load of a power and a power factor.
    fn new(watts: Estimate<f64>, power_factor: Estimate<f64>) -> Self {
        let volt_amperes = Estimate {
            low: watts.low / power_factor.high,
            typical: watts.typical / power_factor.typical,
            high: watts.high / power_factor.low,
        };
        Self { watts, volt_amperes }
    }

    fn plus(self, other: Self) -> Self {
        let sum = |a: Estimate<f64>, b: Estimate<f64>| Estimate {
            low: a.low + b.low,
            typical: a.typical + b.typical,
            high: a.high + b.high,
        };
        Self { watts: sum(self.watts, other.watts), volt_amperes: sum(self.volt_amperes, other.volt_amperes) }
    }
}

/// Computes the load on a circuit.
pub fn load(question: &SupplyQuestion, circuit: &Circuit) -> CircuitLoad {
    let factor = |unit: usize| {
        let stated = question.kit[unit].unit.feeding.draw.power_factor.map(Estimate::exact);
        stated.unwrap_or(POWER_FACTOR)
    };
    // Modelling lamps and other load are taken to be on all the time.
    let lamp = |&unit: &usize| {
        let watts = question.kit[unit].unit.feeding.draw.modelling_lamp_w;
        Load::new(Estimate::exact(watts), factor(unit))
    };
    let other = Load::new(Estimate::exact(circuit.other_w), Estimate::exact(1.0));
    let steady = circuit.units.iter().map(lamp).fold(other, Load::plus);
    // The load of the busiest shot, where `power` is what a unit draws in a shot.
    let in_shot = |power: fn(&SupplyQuestion, usize, &PlannedShot) -> Option<Estimate<f64>>| {
        let shots = question.shots.iter().map(|shot| {
            let used = shot.uses.iter().filter(|used| circuit.units.contains(&used.unit));
            let loads =
                used.map(|used| Some(Load::new(power(question, used.unit, shot)?, factor(used.unit))));
            Some(loads.collect::<Option<Vec<_>>>()?.into_iter().fold(steady, Load::plus))
        });
        let loads = shots.collect::<Option<Vec<_>>>()?;
        Some(Load {
            watts: greatest(loads.iter().map(|load| load.watts).collect())?,
            volt_amperes: greatest(loads.iter().map(|load| load.volt_amperes).collect())?,
        })
    };
    let mean = in_shot(mean_w);
    let at_work = circuit.units.iter().filter(|&&unit| question.shots_with(unit).next().is_some());
    let all = at_work.map(|&unit| Some(Load::new(peak_w(question, unit)?, factor(unit))));
    let peak = all.collect::<Option<Vec<_>>>().map(|loads| loads.into_iter().fold(steady, Load::plus));
    // The known part of each shot's load: peak power, or mean power if the recycle time is not known.
    let known_amperes = question.shots.iter().map(|shot| {
        let used = shot.uses.iter().filter(|used| circuit.units.contains(&used.unit));
        let known = |unit: usize| peak_w_in(question, unit, shot).or_else(|| mean_w(question, unit, shot));
        let loads = used.filter_map(|used| Some(Load::new(known(used.unit)?, factor(used.unit))));
        loads.fold(steady, Load::plus).volt_amperes.low / circuit.volts
    });
    let is_over = known_amperes.fold(0.0, f64::max) > circuit.breaker_amps;
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
