//! The load of all units on a circuit, compared with its breaker rating.

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    id::{Id, NamedEntry},
    quantity::{Estimate, Number},
    supply::{PlannedShot, SupplyQuestion, charging_w, charging_w_in, greatest, mean_w, plus},
    unit::POWER_FACTOR,
};

/// The fraction of the breaker rating that many electrical codes allow for a load that lasts hours (published for one
/// country: NFPA 70, 210.20(A), where a continuous load is one of three hours and more).
pub const CONTINUOUS_PART: f64 = 0.8;

/// A circuit and its loads.
#[derive(Debug, Clone, PartialEq)]
pub struct Circuit {
    /// The client's id for it.
    pub id: Option<Id>,
    /// Its name.
    pub name: String,
    /// Its voltage, V.
    pub volts: f64,
    /// Breaker rating, A.
    pub breaker_a: f64,
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
    /// The recycle time or the energy of a unit is not known, or modelling lamps that are not stated decide; the known load is within the breaker rating.
    Unknown,
}

/// The load on a circuit.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct CircuitLoad {
    /// The circuit's id from the request.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub id: Option<Id>,
    /// Its name.
    pub name: String,
    /// The units on it.
    pub units: Vec<NamedEntry>,
    /// Mean power over the busiest shot, including modelling lamps and other load, W; low, typical and high values are each the greatest of all shots; null if it is not known for a unit.
    pub mean_w: Option<Estimate<Number>>,
    /// The mean current, A.
    pub mean_a: Option<Estimate<Number>>,
    /// Power in the worst case, in which all its units recycle at once, W: for each unit the mean while it charges, the greatest of its shots, not an instantaneous peak; null if it is not known for a unit.
    pub charging_w: Option<Estimate<Number>>,
    /// The worst-case current, A.
    pub charging_a: Option<Estimate<Number>>,
    /// Breaker rating, A.
    pub breaker_a: Number,
    /// `within`: even the high estimate of the worst case is within the breaker rating; `unsure`: the rating is below that, but not certainly exceeded; `over`: even the low estimate of the known load in one shot exceeds the rating; `unknown`: a load is not known, or modelling lamps that are not stated decide, and the known load does not exceed the rating.
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
        Self { watts, volt_amperes: watts.times(power_factor.inverse()) }
    }

    fn plus(self, other: Self) -> Self {
        Self {
            watts: plus(self.watts, other.watts),
            volt_amperes: plus(self.volt_amperes, other.volt_amperes),
        }
    }
}

/// Computes the load on a circuit.
pub fn load(question: &SupplyQuestion, circuit: &Circuit) -> CircuitLoad {
    let factor = |unit: usize| {
        let stated = question.kit[unit].unit.feeding.draw.power_factor.map(Estimate::exact);
        stated.unwrap_or(POWER_FACTOR)
    };
    // Modelling lamps and other load are taken to be on all the time.
    let lamp = |&unit: &usize| Load::new(question.kit[unit].unit.feeding.draw.lamp_w(), factor(unit));
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
    let all = at_work.map(|&unit| Some(Load::new(charging_w(question, unit)?, factor(unit))));
    let peak = all.collect::<Option<Vec<_>>>().map(|loads| loads.into_iter().fold(steady, Load::plus));
    // The known part of each shot's load: peak power, or mean power if the recycle time is not known.
    let known_amperes = question.shots.iter().map(|shot| {
        let used = shot.uses.iter().filter(|used| circuit.units.contains(&used.unit));
        let known =
            |unit: usize| charging_w_in(question, unit, shot).or_else(|| mean_w(question, unit, shot));
        let loads = used.filter_map(|used| Some(Load::new(known(used.unit)?, factor(used.unit))));
        loads.fold(steady, Load::plus).volt_amperes.low / circuit.volts
    });
    let is_over = known_amperes.fold(0.0, f64::max) > circuit.breaker_a;
    let watts = |load: Load| load.watts.map(Number::new_unchecked);
    let amperes = |load: Load| load.volt_amperes.map(|va| va / circuit.volts);
    // What lamps that are not stated may draw at the most.
    let is_unstated = |unit: &&usize| question.kit[**unit].unit.feeding.draw.modelling_lamp_w.is_none();
    let unstated = circuit.units.iter().filter(is_unstated);
    let unstated_a = unstated.map(|unit| lamp(unit).volt_amperes.high).sum::<f64>() / circuit.volts;
    let verdict = match peak.map(|peak| amperes(peak).high) {
        _ if is_over => Verdict::Over,
        None => Verdict::Unknown,
        Some(most) if most <= circuit.breaker_a => Verdict::Within,
        Some(most) if most - unstated_a <= circuit.breaker_a => Verdict::Unknown,
        Some(_) => Verdict::Unsure,
    };
    CircuitLoad {
        id: circuit.id.clone(),
        name: circuit.name.clone(),
        units: circuit.units.iter().map(|&unit| question.kit[unit].named()).collect(),
        mean_w: mean.map(watts),
        mean_a: mean.map(|mean| amperes(mean).map(Number::new_unchecked)),
        charging_w: peak.map(watts),
        charging_a: peak.map(|peak| amperes(peak).map(Number::new_unchecked)),
        breaker_a: Number::new_unchecked(circuit.breaker_a),
        verdict,
    }
}
