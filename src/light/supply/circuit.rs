//! The load of all units and devices on a circuit, compared with the rating of its breaker or generator.

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    id::{Id, NamedEntry},
    quantity::{Estimate, Number},
    supply::{
        bank::{Bank, charging_w, charging_w_in, energy_drawn, greatest, mean_w, plus},
        question::{PlannedShot, SupplyQuestion},
    },
    unit::{DEVICE_POWER_FACTOR, POWER_FACTOR},
};

/// The fraction of the breaker rating that many electrical codes allow for a load that lasts hours (published for one
/// country: NFPA 70, 210.20(A), where a continuous load is one of three hours and more).
pub const CONTINUOUS_PART: f64 = 0.8;
/// Joules in a kilowatt-hour (by definition).
const KWH_J: f64 = 3.6e6;
/// A load that is beyond the rating by rounding alone is not.
const ROUNDING: f64 = 1.0 + 1e-9;

/// What a circuit may carry.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Rating {
    /// The rated current of its breaker, A.
    Breaker(f64),
    /// The apparent power that its generator gives, VA.
    Generator(f64),
}

impl Rating {
    /// The current that it allows, A.
    pub fn amperes(self, volts: f64) -> f64 {
        match self {
            Self::Breaker(amperes) => amperes,
            Self::Generator(volt_amperes) => volt_amperes / volts,
        }
    }

    /// The apparent power that it allows, VA.
    pub fn volt_amperes(self, volts: f64) -> f64 {
        match self {
            Self::Breaker(amperes) => amperes * volts,
            Self::Generator(volt_amperes) => volt_amperes,
        }
    }
}

/// A device that draws the same power all the time.
#[derive(Debug, Clone, PartialEq)]
pub struct Device {
    /// The client's id for it.
    pub id: Option<Id>,
    /// Its name.
    pub name: String,
    /// Its power, W.
    pub watts: f64,
    /// Its power factor, if it is stated.
    pub power_factor: Option<f64>,
}

impl Device {
    fn load(&self) -> Load {
        let factor = self.power_factor.map_or(DEVICE_POWER_FACTOR, Estimate::exact);
        Load::new(Estimate::exact(self.watts), factor)
    }

    fn named(&self) -> NamedEntry {
        NamedEntry { name: self.name.clone(), id: self.id.clone() }
    }
}

/// A circuit and its loads.
#[derive(Debug, Clone, PartialEq)]
pub struct Circuit {
    /// The client's id for it.
    pub id: Option<Id>,
    /// Its name.
    pub name: String,
    /// Its voltage, V.
    pub volts: f64,
    /// What it may carry.
    pub rating: Rating,
    /// Other load on the circuit, W.
    pub other_w: f64,
    /// The devices on it.
    pub devices: Vec<Device>,
    /// The units that it names, by their index in the kit.
    pub units: Vec<usize>,
    /// What draws on it: units that are on no pack, and packs, also those of its units.
    pub banks: Vec<Bank>,
}

/// Whether a load is within the breaker rating, given its uncertainty.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum Verdict {
    /// Even the high estimate of the worst case is within the rating of the breaker or generator.
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
    /// The packs on it, also those that only a head names; absent if there are none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub packs: Vec<NamedEntry>,
    /// The devices on it.
    pub devices: Vec<NamedEntry>,
    /// Mean power over the busiest shot, including modelling lamps, devices and other load, W; low, typical and high values are each the greatest of all shots; null if it is not known for a unit.
    pub mean_w: Option<Estimate<Number>>,
    /// The mean current, A.
    pub mean_a: Option<Estimate<Number>>,
    /// Power in the worst case, in which all its units recycle at once, W: for each unit the mean while it charges, the greatest of its shots, not an instantaneous peak; null if it is not known for a unit.
    pub charging_w: Option<Estimate<Number>>,
    /// The worst-case current, A.
    pub charging_a: Option<Estimate<Number>>,
    /// What the circuit may carry, A: its breaker rating, or what its generator gives at its voltage.
    pub breaker_a: Number,
    /// The same as apparent power, VA: volts times amperes.
    pub rated_va: Number,
    /// What is left of the rating in the worst case, by its high estimate, A; 0 if nothing is left; null if the worst case is not known.
    pub left_a: Option<Number>,
    /// Energy drawn in `hours`, kWh: the flashes of the plan once, modelling lamps, devices and other load all the time; null if no `hours` are given, if units on the circuit have no shots whose flashes could be counted, or if the energy of a unit is not known.
    pub energy_kwh: Option<Estimate<Number>>,
    /// What it may carry, and whether units are on it, for the summary.
    #[serde(skip)]
    #[schema(ignore)]
    pub(super) rating: Rating,
    /// `within`: even the high estimate of the worst case is within the breaker rating; `unsure`: the rating is below that, but not certainly exceeded; `over`: even the low estimate of the known load in one shot exceeds the rating; `unknown`: a load is not known, or modelling lamps that are not stated decide, and the known load does not exceed the rating.
    pub verdict: Verdict,
}

/// Real power (watts) and apparent power (volt-amperes).
#[derive(Clone, Copy)]
pub(super) struct Load {
    watts: Estimate<f64>,
    volt_amperes: Estimate<f64>,
}

impl Load {
    /// A load of a power and a power factor.
    fn new(watts: Estimate<f64>, power_factor: Estimate<f64>) -> Self {
        Self { watts, volt_amperes: watts.times(power_factor.inverse()) }
    }

    /// The current, A.
    pub fn amperes(self, volts: f64) -> Estimate<f64> {
        self.volt_amperes.map(|va| va / volts)
    }

    fn plus(self, other: Self) -> Self {
        Self {
            watts: plus(self.watts, other.watts),
            volt_amperes: plus(self.volt_amperes, other.volt_amperes),
        }
    }
}

/// What a bank draws in a shot, W.
type Power = fn(&SupplyQuestion, Bank, &PlannedShot) -> Option<Estimate<f64>>;

fn power_factor(question: &SupplyQuestion, bank: Bank) -> Estimate<f64> {
    question.feeding(bank).draw.power_factor.map_or(POWER_FACTOR, Estimate::exact)
}

/// The load of the modelling lamps of a bank.
fn lamp(question: &SupplyQuestion, bank: Bank) -> Load {
    Load::new(question.lamp_w(bank), power_factor(question, bank))
}

/// The load of modelling lamps, devices and other load, which are taken to be on all the time.
fn steady(question: &SupplyQuestion, circuit: &Circuit) -> Load {
    let other = Load::new(Estimate::exact(circuit.other_w), Estimate::exact(1.0));
    let lamps = circuit.banks.iter().map(|bank| lamp(question, *bank));
    lamps.chain(circuit.devices.iter().map(Device::load)).fold(other, Load::plus)
}

/// What draws on a circuit in a shot.
fn used<'c>(circuit: &'c Circuit, shot: &'c PlannedShot) -> impl Iterator<Item = Bank> + 'c {
    circuit.banks.iter().copied().filter(|bank| shot.below_of(*bank).is_some())
}

/// The load on a circuit in a shot; `None` if it is not known for a unit.
pub fn load_in(
    question: &SupplyQuestion,
    circuit: &Circuit,
    shot: &PlannedShot,
    power: Power,
) -> Option<Load> {
    let loads = used(circuit, shot)
        .map(|bank| Some(Load::new(power(question, bank, shot)?, power_factor(question, bank))));
    let loads = loads.collect::<Option<Vec<_>>>()?;
    Some(loads.into_iter().fold(steady(question, circuit), Load::plus))
}

/// Computes the load on a circuit.
pub fn load(question: &SupplyQuestion, circuit: &Circuit) -> CircuitLoad {
    let factor = |bank: Bank| power_factor(question, bank);
    let steady = steady(question, circuit);
    let rated_a = circuit.rating.amperes(circuit.volts);
    // The load of the busiest shot.
    let in_shot = |power: Power| {
        let shots = question.shots.iter().map(|shot| load_in(question, circuit, shot, power));
        let loads = shots.collect::<Option<Vec<_>>>()?;
        Some(Load {
            watts: greatest(loads.iter().map(|load| load.watts).collect())?,
            volt_amperes: greatest(loads.iter().map(|load| load.volt_amperes).collect())?,
        })
    };
    let mean = in_shot(mean_w);
    let at_work = circuit.banks.iter().filter(|bank| question.is_used(**bank));
    let all = at_work.map(|&bank| Some(Load::new(charging_w(question, bank)?, factor(bank))));
    let peak = all.collect::<Option<Vec<_>>>().map(|loads| loads.into_iter().fold(steady, Load::plus));
    // The known part of each shot's load: peak power, or mean power if the recycle time is not known.
    let known_amperes = question.shots.iter().map(|shot| {
        let known = |bank| charging_w_in(question, bank, shot).or_else(|| mean_w(question, bank, shot));
        let loads = used(circuit, shot).filter_map(|bank| Some(Load::new(known(bank)?, factor(bank))));
        loads.fold(steady, Load::plus).volt_amperes.low / circuit.volts
    });
    let is_over = known_amperes.fold(0.0, f64::max) > rated_a * ROUNDING;
    let watts = |load: Load| load.watts.map(Number::new_unchecked);
    let amperes = |load: Load| load.amperes(circuit.volts);
    // What lamps that are not stated may draw at the most.
    let is_unstated = |bank: &&Bank| question.feeding(**bank).draw.modelling_lamp_w.is_none();
    let unstated = circuit.banks.iter().filter(is_unstated);
    let unstated_a =
        unstated.map(|bank| lamp(question, *bank).volt_amperes.high).sum::<f64>() / circuit.volts;
    let worst_a = peak.map(|peak| amperes(peak).high);
    let left_a = worst_a.map(|worst| if worst * ROUNDING < rated_a { rated_a - worst } else { 0.0 });
    let verdict = match worst_a {
        _ if is_over => Verdict::Over,
        None => Verdict::Unknown,
        Some(most) if most <= rated_a * ROUNDING => Verdict::Within,
        Some(most) if most - unstated_a <= rated_a => Verdict::Unknown,
        Some(_) => Verdict::Unsure,
    };
    let packs = circuit.banks.iter().filter(|bank| matches!(bank, Bank::Pack(_)));
    CircuitLoad {
        id: circuit.id.clone(),
        name: circuit.name.clone(),
        units: circuit.units.iter().map(|&unit| question.kit[unit].named()).collect(),
        packs: packs.map(|bank| question.named(*bank)).collect(),
        devices: circuit.devices.iter().map(Device::named).collect(),
        mean_w: mean.map(watts),
        mean_a: mean.map(|mean| amperes(mean).map(Number::new_unchecked)),
        charging_w: peak.map(watts),
        charging_a: peak.map(|peak| amperes(peak).map(Number::new_unchecked)),
        breaker_a: Number::new_unchecked(rated_a),
        rated_va: Number::new_unchecked(circuit.rating.volt_amperes(circuit.volts)),
        left_a: left_a.map(Number::new_unchecked),
        energy_kwh: None,
        rating: circuit.rating,
        verdict,
    }
}

/// The energy that a circuit draws, kWh: that of the plan's flashes, n·E/η each, and that of what is on all the time.
/// `None` if the time is not stated, or the flashes are not known.
pub fn energy_kwh(question: &SupplyQuestion, circuit: &Circuit) -> Option<Estimate<Number>> {
    let seconds = question.hours? * 3600.0;
    let flashes = |bank: Bank| {
        let drawn = question.shots_of(bank).map(|(shot, below)| {
            let each = energy_drawn(question, bank, below)?;
            Some(each.map(|joules| joules * f64::from(shot.frames)))
        });
        Some(drawn.collect::<Option<Vec<_>>>()?.into_iter().fold(Estimate::exact(0.0), plus))
    };
    let is_counted = circuit.banks.is_empty() || !question.shots.is_empty();
    let flashes = circuit.banks.iter().map(|&bank| flashes(bank).filter(|_| is_counted));
    let lamps = circuit.banks.iter().map(|&bank| question.lamp_w(bank));
    let devices = circuit.devices.iter().map(|device| device.watts).sum::<f64>();
    let steady_w = lamps.fold(Estimate::exact(circuit.other_w + devices), plus);
    let joules =
        flashes.collect::<Option<Vec<_>>>()?.into_iter().fold(steady_w.map(|watts| watts * seconds), plus);
    Some(joules.map(|joules| Number::new_unchecked(joules / KWH_J)))
}
