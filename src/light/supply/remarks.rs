//! The summary, assumptions, warnings and cautions of a supply plan.

use crate::light::{
    assumption::{Assumption, AssumptionKind},
    error::Part,
    kit::{KitUnit, Lacking, in_order},
    quantity::Number,
    remark::{Caution, CautionKind, Remark, Warning, WarningKind},
    supply::{
        CircuitLoad, Rating, ShotPace, SupplyQuestion, UnitSupply, Verdict,
        circuit::CONTINUOUS_PART,
        flicker::is_flicker,
        summary::{Limit, Point, Summary},
    },
    unit::{CHARGING_EFFICIENCY, DEVICE_POWER_FACTOR, MODELLING_LAMP_W, POWER_FACTOR},
};

/// The duration from which to warn of a continuous load, s (our judgement; the electrical code cited at
/// [`CONTINUOUS_PART`] says three hours).
const LONG_S: f64 = 3600.0;
/// The number of full-power flashes from which to caution about heat (our judgement).
const MANY_FLASHES: f64 = 50.0;

/// The summary for a booking page.
pub fn summary(shots: &[ShotPace], units: &[UnitSupply], circuits: &[CircuitLoad]) -> Summary {
    let mut points: Vec<Point> = pace(shots).into_iter().collect();
    points.extend(units.iter().filter_map(duty));
    // Where nothing but circuits is asked about, one that holds is an answer too.
    let is_asked = shots.is_empty();
    points.extend(circuits.iter().flat_map(|circuit| [load(circuit, is_asked), energy(circuit)]).flatten());
    let charges = units.iter().filter_map(|unit| unit.charges.as_ref());
    let needed: u64 = charges.map(|charges| u64::from(charges.needed)).sum();
    points.extend((needed > 0).then_some(Point::Charges { needed }));
    Summary(points)
}

fn pace(shots: &[ShotPace]) -> Option<Point> {
    let slow: Vec<&ShotPace> = shots.iter().filter(|shot| shot.holds == Some(false)).collect();
    match slow.first() {
        Some(shot) => Some(Point::TooFast {
            shot: shot.name.clone(),
            unit: shot.slowest_unit.clone()?,
            recycle_s: shot.shortest_interval_s?.get(),
            between_s: shot.interval_s?.get(),
            shots: slow.len(),
        }),
        None if shots.is_empty() => None,
        None => shots.iter().all(|shot| shot.holds == Some(true)).then_some(Point::InTime),
    }
}

fn duty(unit: &UnitSupply) -> Option<Point> {
    let heat = unit.heat.as_ref().filter(|heat| heat.within_duty == Some(false))?;
    Some(Point::OverDuty {
        unit: unit.unit.clone(),
        full_flashes: heat.most_full_flashes.get(),
        in_s: heat.in_s.get(),
        limit_flashes: heat.duty_flashes.get(),
    })
}

fn load(load: &CircuitLoad, is_asked: bool) -> Option<Point> {
    let circuit = load.name.clone();
    let limit = Limit {
        is_generator: matches!(load.rating, Rating::Generator(_)),
        amperes: load.breaker_a.get(),
        volt_amperes: load.rated_va.get(),
    };
    let has_units = !load.units.is_empty();
    let charging_a = load.charging_a.map(|peak| peak.high.get());
    match (load.verdict, charging_a) {
        (Verdict::Over, charging_a) => Some(Point::Overloaded { circuit, charging_a, limit, has_units }),
        (_, None) => Some(Point::PeakUnknown { circuit }),
        (Verdict::Unsure, Some(charging_a)) => {
            Some(Point::MayOverload { circuit, charging_a, limit, has_units })
        }
        (Verdict::Unknown, Some(_)) => Some(Point::LampUnknown { circuit }),
        (Verdict::Within, Some(charging_a)) => {
            is_asked.then_some(Point::Holds { circuit, charging_a, limit, left_a: load.left_a?.get() })
        }
    }
}

fn energy(load: &CircuitLoad) -> Option<Point> {
    let energy_kwh = load.energy_kwh?.map(Number::get);
    Some(Point::Energy { circuit: load.name.clone(), energy_kwh })
}

/// The assumptions that the plan depends on. `at_full` if its shot is one of ours.
pub fn assumptions(question: &SupplyQuestion, at_full: bool) -> Vec<Assumption> {
    let at_work = |unit: usize| question.shots_with(unit).next().is_some();
    let on_circuit = |unit: usize| question.circuits.iter().any(|circuit| circuit.units.contains(&unit));
    let units = || question.kit.iter().enumerate().map(|(unit, kit)| (unit, &kit.unit));
    let charged = || units().filter(|(unit, kit)| at_work(*unit) && kit.energy.is_some());
    let mut assumptions = Vec::new();
    if charged().any(|(_, kit)| kit.feeding.draw.charging_efficiency.is_none()) {
        assumptions.push(AssumptionKind::ChargingEfficiency { efficiency: CHARGING_EFFICIENCY }.into());
    }
    let lamps = units().filter(|(_, kit)| kit.feeding.draw.modelling_lamp_w != Some(0.0));
    if charged().chain(lamps).any(|(unit, kit)| on_circuit(unit) && kit.feeding.draw.power_factor.is_none()) {
        assumptions.push(AssumptionKind::PowerFactor { power_factor: POWER_FACTOR }.into());
    }
    let mut devices = question.circuits.iter().flat_map(|circuit| &circuit.devices);
    if devices.any(|device| device.watts > 0.0 && device.power_factor.is_none()) {
        let kind = AssumptionKind::DevicePowerFactor { power_factor: DEVICE_POWER_FACTOR };
        assumptions.push(kind.into());
    }
    let mut lit = units().filter(|(unit, kit)| on_circuit(*unit) || (at_work(*unit) && kit.energy.is_some()));
    if lit.any(|(_, kit)| kit.feeding.draw.modelling_lamp_w.is_none()) {
        assumptions.push(AssumptionKind::ModellingLamp { power_w: MODELLING_LAMP_W }.into());
    }
    let by_one_time = units().any(|(unit, kit)| match kit.feeding.recycle[..] {
        [[part, _]] => {
            question.shots_with(unit).any(|(_, below)| ((-below.get()).exp2() - part).abs() > 1e-9)
        }
        _ => false,
    });
    if by_one_time {
        assumptions.push(AssumptionKind::RecycleInProportion.into());
    }
    if at_full && units().any(|(unit, _)| at_work(unit)) {
        assumptions.push(AssumptionKind::AllAtFullPower.into());
    }
    assumptions
}

/// What the units used lack, an entry of the kit once for each purpose.
pub fn lacks(question: &SupplyQuestion, units: &[UnitSupply]) -> Vec<Lacking> {
    let lacking = |unit: &UnitSupply| {
        let kit = question.kit.iter().find(|kit| kit.name == unit.unit)?;
        let draw = (unit.power.is_none() && kit.unit.lamp.is_none()).then(|| Lacking::draw(kit));
        let recycle = kit.unit.lacks_recycle().then(|| Lacking::recycle(kit));
        Some([draw, recycle])
    };
    in_order(units.iter().filter_map(lacking).flatten().flatten())
}

/// The warnings of a plan as it was `asked`, with the shot that was taken where it has none.
pub fn warnings(
    asked: &SupplyQuestion,
    question: &SupplyQuestion,
    units: &[UnitSupply],
    circuits: &[CircuitLoad],
) -> Vec<Warning> {
    let used = |is_so: fn(&UnitSupply) -> bool| -> Vec<usize> {
        let is_used = |kit: &KitUnit| units.iter().any(|unit| unit.unit == kit.name && is_so(unit));
        (0..question.kit.len()).filter(|&unit| is_used(&question.kit[unit])).collect()
    };
    let has_battery = |unit: usize| question.kit[unit].unit.feeding.flashes_per_charge.is_some();
    let with_battery = |is_so: &dyn Fn(usize) -> bool| -> Vec<usize> {
        (0..question.kit.len()).filter(|&unit| has_battery(unit) && is_so(unit)).collect()
    };
    let on_circuits = |unit: usize| question.circuits.iter().any(|circuit| circuit.units.contains(&unit));
    let lit =
        |unit: usize| question.kit[unit].unit.feeding.draw.modelling_lamp_w.is_some_and(|watts| watts > 0.0);
    let mut warnings = Vec::new();
    let mut add = |units: Vec<usize>, warning: fn(Vec<String>) -> WarningKind| {
        if !units.is_empty() {
            let entries: Vec<usize> = units.iter().map(|&unit| question.kit[unit].entry).collect();
            let names = units.iter().map(|&unit| question.kit[unit].name.clone()).collect();
            warnings.push(Remark::about(Part::of_units(&entries), warning(names)));
        }
    };
    add(used(|unit| unit.power.is_none()), |units| WarningKind::EnergyUnknown { units });
    let lacks_recycle = used(|unit| unit.work.iter().any(|work| work.recycle_s.is_none()));
    add(lacks_recycle, |units| WarningKind::RecycleUnknown { units });
    add(with_battery(&on_circuits), |units| WarningKind::BatteryOnCircuit { units });
    let unchecked = used(|unit| unit.heat.as_ref().is_some_and(|heat| heat.within_duty.is_none()));
    add(unchecked, |units| WarningKind::DutyUnchecked { units });
    add(with_battery(&lit), |units| WarningKind::LampOnBattery { units });
    let is_long = asked.lasts_s().is_none_or(|seconds| seconds >= LONG_S);
    let by_breaker = |(_, circuit): &(usize, &CircuitLoad)| matches!(circuit.rating, Rating::Breaker(_));
    for (index, circuit) in circuits.iter().enumerate().filter(|_| is_long).filter(by_breaker) {
        let breaker = circuit.breaker_a.get();
        if circuit.mean_a.is_some_and(|mean| mean.high.get() > CONTINUOUS_PART * breaker) {
            let warning = WarningKind::LongLoad { circuit: circuit.name.clone(), share: CONTINUOUS_PART };
            warnings.push(Remark::about(Part::Circuit(index), warning));
        }
    }
    warnings
}

/// The safety cautions of a plan.
pub fn cautions(question: &SupplyQuestion) -> Vec<Caution> {
    let mut cautions = Vec::new();
    if !question.kit.is_empty() {
        cautions.push(CautionKind::StoredCharge.into());
    }
    let is_on_mains = question.kit.iter().any(|kit| kit.unit.feeding.flashes_per_charge.is_none());
    if is_on_mains || !question.circuits.is_empty() {
        cautions.push(CautionKind::MainsLoad.into());
    }
    let is_hot = question.kit.iter().enumerate().any(|(unit, kit)| {
        let feeding = &kit.unit.feeding;
        feeding.draw.modelling_lamp_w.is_some_and(|watts| watts > 0.0)
            || feeding.duty.is_some()
            || question.full_flashes(unit) >= MANY_FLASHES
    });
    if is_hot {
        cautions.push(CautionKind::Heat.into());
    }
    if question.shots.iter().any(|shot| shot.frames > 1 && question.interval(shot).is_some_and(is_flicker)) {
        cautions.push(CautionKind::Photosensitivity.into());
    }
    cautions
}
