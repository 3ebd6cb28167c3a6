//! The summary, assumptions, warnings and cautions of a supply plan.

use crate::light::{
    assumption::{Assumption, AssumptionKind},
    error::Part,
    kit::{Lacking, in_order},
    quantity::Number,
    remark::{Caution, CautionKind, Percentage, Remark, Warning, WarningKind},
    set::packs,
    supply::{
        Bank, CircuitLoad, PackSupply, Rating, ShotPace, SupplyQuestion, UnitSupply, Verdict,
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
pub fn summary(
    shots: &[ShotPace],
    units: &[UnitSupply],
    packs: &[PackSupply],
    circuits: &[CircuitLoad],
) -> Summary {
    let mut points: Vec<Point> = pace(shots).into_iter().collect();
    points.extend(units.iter().filter_map(duty));
    // Where nothing but circuits is asked about, one that holds is an answer too.
    let is_asked = shots.is_empty();
    points.extend(circuits.iter().flat_map(|circuit| [load(circuit, is_asked), energy(circuit)]).flatten());
    let packs = packs.iter().filter_map(|pack| pack.charges.as_ref());
    let charges = units.iter().filter_map(|unit| unit.charges.as_ref()).chain(packs);
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
    let has_units = !load.units.is_empty() || !load.packs.is_empty();
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
    let banks = || question.banks().map(|bank| (bank, question.feeding(bank)));
    let charged = || banks().filter(|(bank, _)| question.is_used(*bank) && question.energy(*bank).is_some());
    let mut assumptions = Vec::new();
    if charged().any(|(_, feeding)| feeding.draw.charging_efficiency.is_none()) {
        assumptions.push(AssumptionKind::ChargingEfficiency { efficiency: CHARGING_EFFICIENCY }.into());
    }
    let lamps = banks().filter(|(bank, _)| question.lamp_w(*bank).high > 0.0);
    if charged()
        .chain(lamps)
        .any(|(bank, feeding)| question.is_on_circuit(bank) && feeding.draw.power_factor.is_none())
    {
        assumptions.push(AssumptionKind::PowerFactor { power_factor: POWER_FACTOR }.into());
    }
    let mut devices = question.circuits.iter().flat_map(|circuit| &circuit.devices);
    if devices.any(|device| device.watts > 0.0 && device.power_factor.is_none()) {
        let kind = AssumptionKind::DevicePowerFactor { power_factor: DEVICE_POWER_FACTOR };
        assumptions.push(kind.into());
    }
    let at_work_or_on = |bank: Bank| {
        question.is_on_circuit(bank) || (question.is_used(bank) && question.energy(bank).is_some())
    };
    let mut lit = banks().filter(|(bank, _)| at_work_or_on(*bank) && question.lamp_w(*bank).high > 0.0);
    if lit.any(|(_, feeding)| feeding.draw.modelling_lamp_w.is_none()) {
        assumptions.push(AssumptionKind::ModellingLamp { power_w: MODELLING_LAMP_W }.into());
    }
    let by_one_time = banks().any(|(bank, feeding)| match feeding.recycle[..] {
        [[part, _]] => question.shots_of(bank).any(|(_, below)| ((-below.get()).exp2() - part).abs() > 1e-9),
        _ => false,
    });
    if by_one_time {
        assumptions.push(AssumptionKind::RecycleInProportion.into());
    }
    if at_full && question.banks().any(|bank| question.is_used(bank)) {
        assumptions.push(AssumptionKind::AllAtFullPower.into());
    }
    assumptions
}

/// What the units and packs used lack, an entry of the kit once for each purpose.
pub fn lacks(question: &SupplyQuestion) -> Vec<Lacking> {
    let used = question.banks().filter(|bank| question.is_used(*bank));
    let lacking = |bank: Bank| {
        let part = question.part_of(&[bank]);
        let is_lamp = question.is_lamp(bank);
        let draw = (!question.has_draw(bank)).then(|| Lacking::draw(part, is_lamp));
        let recycle = !is_lamp && question.feeding(bank).recycle.is_empty();
        let recycle = recycle.then(|| Lacking::recycle(part));
        [draw, recycle]
    };
    in_order(used.flat_map(lacking).flatten())
}

/// The warnings of a plan as it was `asked`, with the shot that was taken where it has none.
pub fn warnings(
    asked: &SupplyQuestion,
    question: &SupplyQuestion,
    units: &[UnitSupply],
    circuits: &[CircuitLoad],
) -> Vec<Warning> {
    let has_battery = |bank| question.feeding(bank).flashes_per_charge.is_some();
    let is_lit = |bank| question.feeding(bank).draw.modelling_lamp_w.is_some_and(|watts| watts > 0.0);
    let lacks_recycle =
        |bank| question.shots_of(bank).any(|(shot, _)| question.recycle_s(bank, shot).is_none());
    let mut warnings = Vec::new();
    let mut add = |(part, names): (Part, Vec<String>), warning: fn(Vec<String>) -> WarningKind| {
        if !names.is_empty() {
            warnings.push(Remark::about(part, warning(names)));
        }
    };
    let about = |is_so: &dyn Fn(Bank) -> bool| {
        let banks: Vec<Bank> = question.banks().filter(|bank| is_so(*bank)).collect();
        (question.part_of(&banks), banks.iter().map(|bank| question.named(*bank).name).collect())
    };
    let is_unknown = |bank| question.is_used(bank) && !question.has_draw(bank);
    add(about(&is_unknown), |units| WarningKind::EnergyUnknown { units });
    add(about(&lacks_recycle), |units| WarningKind::RecycleUnknown { units });
    let on_circuit = |bank| has_battery(bank) && question.is_on_circuit(bank);
    add(about(&on_circuit), |units| WarningKind::BatteryOnCircuit { units });
    add(unchecked_heads(question, units), |units| WarningKind::DutyUnchecked { units });
    let lit = |bank| has_battery(bank) && is_lit(bank);
    add(about(&lit), |units| WarningKind::LampOnBattery { units });
    let is_used = |pack| {
        question.kit.iter().any(|kit| kit.unit.is_on(pack)) || question.is_on_circuit(Bank::Pack(pack))
    };
    warnings.extend(packs::unused(&question.packs, is_used));
    let is_long = asked.lasts_s().is_none_or(|seconds| seconds >= LONG_S);
    let by_breaker = |(_, circuit): &(usize, &CircuitLoad)| matches!(circuit.rating, Rating::Breaker(_));
    for (index, circuit) in circuits.iter().enumerate().filter(|_| is_long).filter(by_breaker) {
        let breaker = circuit.breaker_a.get();
        if circuit.mean_a.is_some_and(|mean| mean.high.get() > CONTINUOUS_PART * breaker) {
            let warning =
                WarningKind::LongLoad { circuit: circuit.name.clone(), share: Percentage(CONTINUOUS_PART) };
            warnings.push(Remark::about(Part::Circuit(index), warning));
        }
    }
    warnings
}

/// The heads whose duty limit cannot be checked, with their place in the request.
fn unchecked_heads(question: &SupplyQuestion, units: &[UnitSupply]) -> (Part, Vec<String>) {
    let is_unchecked = |unit: &&UnitSupply| unit.heat.as_ref().is_some_and(|heat| heat.within_duty.is_none());
    let names: Vec<String> = units.iter().filter(is_unchecked).map(|unit| unit.unit.clone()).collect();
    let kit = question.kit.iter().filter(|kit| names.contains(&kit.name));
    let entries: Vec<usize> = kit.map(|kit| kit.entry).collect();
    (Part::of_units(&entries), names)
}

/// The safety cautions of a plan.
pub fn cautions(question: &SupplyQuestion) -> Vec<Caution> {
    let mut cautions = Vec::new();
    if question.banks().next().is_some() {
        cautions.push(CautionKind::StoredCharge.into());
    }
    let is_on_mains = question.banks().any(|bank| question.feeding(bank).flashes_per_charge.is_none());
    if is_on_mains || !question.circuits.is_empty() {
        cautions.push(CautionKind::MainsLoad.into());
    }
    let is_hot = question.banks().any(|bank| {
        question.feeding(bank).draw.modelling_lamp_w.is_some_and(|watts| watts > 0.0)
            || question.full_flashes(bank) >= MANY_FLASHES
    });
    let is_hot = is_hot || question.kit.iter().any(|kit| kit.unit.feeding.duty.is_some());
    if is_hot {
        cautions.push(CautionKind::Heat.into());
    }
    if question.shots.iter().any(|shot| shot.frames > 1 && question.interval(shot).is_some_and(is_flicker)) {
        cautions.push(CautionKind::Photosensitivity.into());
    }
    cautions
}
