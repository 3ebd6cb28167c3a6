//! The summary, assumptions, warnings and cautions of a supply plan.

use crate::light::{
    assumption::Assumption,
    remark::Remark,
    supply::{
        CircuitLoad, ShotPace, SupplyQuestion, UnitSupply, Verdict,
        circuit::CONTINUOUS_PART,
        summary::{Point, Summary},
    },
    unit::{CHARGING_EFFICIENCY, POWER_FACTOR},
};

/// More flashes in a second than this can trigger a seizure (published: WCAG 2.x, success criterion 2.3.1).
const FLASHES_A_SECOND: f64 = 3.0;
/// The duration from which to warn of a continuous load, s (our judgement; the electrical code cited at
/// [`CONTINUOUS_PART`] says three hours).
const LONG_S: f64 = 3600.0;
/// The number of full-power flashes from which to caution about heat (our judgement).
const MANY_POPS: f64 = 50.0;

/// The summary for a booking page.
pub fn summary(shots: &[ShotPace], units: &[UnitSupply], circuits: &[CircuitLoad]) -> Summary {
    let mut points: Vec<Point> = pace(shots).into_iter().collect();
    points.extend(units.iter().filter_map(duty));
    points.extend(circuits.iter().filter_map(load));
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
            between_s: shot.seconds_between?.get(),
            shots: slow.len(),
        }),
        None => shots.iter().all(|shot| shot.holds == Some(true)).then_some(Point::InTime),
    }
}

fn duty(unit: &UnitSupply) -> Option<Point> {
    let heat = unit.heat.as_ref().filter(|heat| heat.within_duty == Some(false))?;
    Some(Point::OverDuty {
        unit: unit.unit.clone(),
        full_pops: heat.most_full_pops.get(),
        in_s: heat.in_s.get(),
        limit_pops: heat.duty_pops.get(),
    })
}

fn load(load: &CircuitLoad) -> Option<Point> {
    let (circuit, breaker_a) = (load.name.clone(), load.breaker_a.get());
    let peak_a = load.peak_a.map(|peak| peak.high.get());
    match (load.verdict, peak_a) {
        (Verdict::Over, peak_a) => Some(Point::Overloaded { circuit, peak_a, breaker_a }),
        (_, None) => Some(Point::PeakUnknown { circuit }),
        (Verdict::Unsure, Some(peak_a)) => Some(Point::MayOverload { circuit, peak_a, breaker_a }),
        (Verdict::Within | Verdict::Unknown, Some(_)) => None,
    }
}

/// The assumptions that the plan depends on.
pub fn assumptions(question: &SupplyQuestion) -> Vec<Assumption> {
    let at_work = |unit: usize| question.shots_with(unit).next().is_some();
    let on_circuit = |unit: usize| question.circuits.iter().any(|circuit| circuit.units.contains(&unit));
    let units = || question.kit.iter().enumerate().map(|(unit, kit)| (unit, &kit.unit));
    let charged = || units().filter(|(unit, kit)| at_work(*unit) && kit.energy.is_some());
    let mut assumptions = Vec::new();
    if charged().any(|(_, kit)| kit.feeding.draw.charging_efficiency.is_none()) {
        assumptions.push(Assumption::ChargingEfficiency { range: CHARGING_EFFICIENCY });
    }
    let lit = units().filter(|(_, kit)| kit.feeding.draw.modelling_lamp_w > 0.0);
    if charged().chain(lit).any(|(unit, kit)| on_circuit(unit) && kit.feeding.draw.power_factor.is_none()) {
        assumptions.push(Assumption::PowerFactor { range: POWER_FACTOR });
    }
    let by_one_time = units().any(|(unit, kit)| match kit.feeding.recycle[..] {
        [[part, _]] => {
            question.shots_with(unit).any(|(_, below)| ((-below.get()).exp2() - part).abs() > 1e-9)
        }
        _ => false,
    });
    if by_one_time {
        assumptions.push(Assumption::RecycleInProportion);
    }
    assumptions
}

/// The warnings of a plan.
pub fn warnings(question: &SupplyQuestion, units: &[UnitSupply], circuits: &[CircuitLoad]) -> Vec<Remark> {
    let used = |is_so: fn(&UnitSupply) -> bool| -> Vec<String> {
        units.iter().filter(|unit| is_so(unit)).map(|unit| unit.unit.clone()).collect()
    };
    let has_battery = |unit: usize| question.kit[unit].unit.feeding.pops_per_charge.is_some();
    let with_battery = |is_so: &dyn Fn(usize) -> bool| -> Vec<String> {
        let units = (0..question.kit.len()).filter(|&unit| has_battery(unit) && is_so(unit));
        units.map(|unit| question.kit[unit].name.clone()).collect()
    };
    let on_circuits = |unit: usize| question.circuits.iter().any(|circuit| circuit.units.contains(&unit));
    let lit = |unit: usize| question.kit[unit].unit.feeding.draw.modelling_lamp_w > 0.0;
    let mut warnings = Vec::new();
    let mut add = |units: Vec<String>, warning: fn(Vec<String>) -> Remark| {
        if !units.is_empty() {
            warnings.push(warning(units));
        }
    };
    add(used(|unit| unit.power.is_none()), |units| Remark::EnergyUnknown { units });
    let lacks_recycle = used(|unit| unit.work.iter().any(|work| work.recycle_s.is_none()));
    add(lacks_recycle, |units| Remark::RecycleUnknown { units });
    add(with_battery(&on_circuits), |units| Remark::BatteryOnCircuit { units });
    let unchecked = used(|unit| unit.heat.as_ref().is_some_and(|heat| heat.within_duty.is_none()));
    add(unchecked, |units| Remark::DutyUnchecked { units });
    add(with_battery(&lit), |units| Remark::LampOnBattery { units });
    let lasts = question.shots.iter().map(|shot| Some(f64::from(shot.pops) * question.interval(shot)?));
    let is_long = lasts.sum::<Option<f64>>().is_none_or(|seconds| seconds >= LONG_S);
    for circuit in circuits.iter().filter(|_| is_long) {
        let breaker = circuit.breaker_a.get();
        if circuit.mean_a.is_some_and(|mean| mean.high.get() > CONTINUOUS_PART * breaker) {
            warnings.push(Remark::LongLoad { circuit: circuit.name.clone(), part: CONTINUOUS_PART });
        }
    }
    warnings
}

/// The safety cautions of a plan.
pub fn cautions(question: &SupplyQuestion) -> Vec<Remark> {
    let mut cautions = vec![Remark::StoredCharge];
    let is_on_mains = question.kit.iter().any(|kit| kit.unit.feeding.pops_per_charge.is_none());
    if is_on_mains || !question.circuits.is_empty() {
        cautions.push(Remark::MainsLoad);
    }
    let is_hot = question.kit.iter().enumerate().any(|(unit, kit)| {
        let feeding = &kit.unit.feeding;
        feeding.draw.modelling_lamp_w > 0.0 || feeding.duty.is_some() || question.full_pops(unit) >= MANY_POPS
    });
    if is_hot {
        cautions.push(Remark::Heat);
    }
    let is_fast = |interval: f64| interval * FLASHES_A_SECOND < 1.0 - 1e-9;
    if question.shots.iter().any(|shot| shot.pops > 1 && question.interval(shot).is_some_and(is_fast)) {
        cautions.push(Remark::Photosensitivity);
    }
    cautions
}
