//! The summary of a plan for a booking page, its assumptions, warnings and cautions.

use crate::light::{
    assumption::Assumption,
    remark::Remark,
    supply::{CircuitLoad, ShotPace, SupplyQuestion, UnitSupply, Verdict, circuit::CONTINUOUS_PART},
    unit::{CHARGING_EFFICIENCY, POWER_FACTOR},
};

/// More flashes in a second than this can trigger a seizure (published: WCAG 2.x, success criterion 2.3.1).
const FLASHES_A_SECOND: f64 = 3.0;
/// The duration from which to warn of a continuous load, s (our judgement; the electrical code cited at
/// [`CONTINUOUS_PART`] says three hours).
const LONG_S: f64 = 3600.0;
/// The number of full-power flashes from which to caution about heat (our judgement).
const MANY_POPS: f64 = 50.0;

/// Two different numbers, with the fewest digits that still show which is greater.
fn distinct(value: f64, limit: f64) -> [String; 2] {
    let digits = |value: f64, places: usize| {
        let text = format!("{value:.places$e}");
        text.parse().unwrap_or(value)
    };
    let shown = (1..6).map(|places| [digits(value, places), digits(limit, places)]);
    let shown = shown.into_iter().find(|[a, b]| (a - b) * (value - limit) > 0.0);
    shown.unwrap_or([value, limit]).map(|number| number.to_string())
}

/// The summary for a booking page.
pub fn summary(shots: &[ShotPace], units: &[UnitSupply], circuits: &[CircuitLoad]) -> String {
    let mut sentences = Vec::new();
    let slow: Vec<&ShotPace> = shots.iter().filter(|shot| shot.holds == Some(false)).collect();
    if let Some(shot) = slow.first()
        && let (Some(shortest), Some(unit), Some(between)) =
            (shot.shortest_interval_s, &shot.slowest_unit, shot.seconds_between)
    {
        let [shortest, between] = distinct(shortest.get(), between.get());
        sentences
            .push(format!("In \"{}\" {unit} recycles in {shortest} s, not within {between} s.", shot.name));
        if slow.len() > 1 {
            sentences.push(format!("{} shots are too fast for their units.", slow.len()));
        }
    } else if shots.iter().all(|shot| shot.holds == Some(true)) {
        sentences.push("Every unit recycles in time.".to_owned());
    }
    for unit in units {
        if let Some(heat) = unit.heat.as_ref().filter(|heat| heat.within_duty == Some(false)) {
            let [most, limit] = distinct(heat.most_full_pops.get(), heat.duty_pops.get());
            sentences.push(format!(
                "The head of {} gets {most} full flashes in {} s; its limit is {limit}.",
                unit.unit,
                heat.in_s.get()
            ));
        }
    }
    for circuit in circuits {
        let Some(peak) = circuit.peak_a else {
            if circuit.verdict == Verdict::Over {
                sentences.push(format!(
                    "Circuit \"{}\" is overloaded, though not all that it draws is known.",
                    circuit.name
                ));
                continue;
            }
            sentences.push(format!("What circuit \"{}\" draws at the most is not known.", circuit.name));
            continue;
        };
        let name = &circuit.name;
        let [most, breaker] = distinct(peak.high.get(), circuit.breaker_a.get());
        match circuit.verdict {
            Verdict::Over => sentences.push(format!(
                "Circuit \"{name}\" is overloaded while its units recycle: up to {most} A, and its breaker is for {breaker} A."
            )),
            Verdict::Unsure => sentences.push(format!(
                "With all its units recycling at once, circuit \"{name}\" may draw up to {most} A; its breaker is for {breaker} A."
            )),
            Verdict::Within | Verdict::Unknown => {}
        }
    }
    let charges: u64 =
        units.iter().filter_map(|unit| unit.charges.as_ref()).map(|charges| u64::from(charges.needed)).sum();
    if charges > 0 {
        let plural = if charges == 1 { "charge" } else { "charges" };
        sentences.push(format!("Have {charges} {plural} for the battery units."));
    }
    sentences.push("Local code and a licensed electrician decide what a circuit may carry.".to_owned());
    sentences.join(" ")
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
