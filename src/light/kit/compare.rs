//! Several kits against one brief.

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    error::FieldError,
    interrupt::Interrupt,
    kit::{KitCheck, KitUnit, Question, RoleResult, check},
    quantity::{Number, Stops},
    remark::Remark,
};

/// A kit in a comparison.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedKit {
    /// Its name: a room, a package.
    pub name: String,
    /// Its price, in whatever all are in.
    pub price: Option<f64>,
    /// Its units.
    pub kit: Vec<KitUnit>,
}

/// Several kits against one brief, the best first.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct KitComparison {
    /// The ranking.
    pub ranking: Vec<RankedKit>,
}

/// One kit.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RankedKit {
    /// Its name.
    pub name: String,
    /// Its price, as it was given.
    pub price: Option<Number>,
    /// Whether every role of every shot is reached.
    pub feasible: bool,
    /// Shots that can be done.
    pub feasible_shots: u32,
    /// What its tightest light has to spare, stops; null where it is not feasible.
    pub tightest_headroom_stops: Option<Stops>,
    /// The worst shortfall of all roles, stops; 0 where none is too weak, 60 where one has no unit.
    pub worst_shortfall_stops: Stops,
    /// The worst excess of all roles, stops; 0 where none is too strong.
    pub worst_excess_stops: Stops,
    /// Why it stands where it does.
    pub reason: String,
    /// What to doubt of it.
    pub warnings: Vec<Remark>,
}

/// Compares: feasible ones first, the cheapest of them where prices are given, else the one with the most to
/// spare; then by shots that can be done, and by how far the worst role is off, to either side.
pub fn compare(
    kits: &[NamedKit],
    brief: &Question,
    interrupt: &dyn Interrupt,
) -> Result<KitComparison, Vec<FieldError>> {
    let mut faults = Vec::new();
    let mut ranking = Vec::new();
    for NamedKit { name, price, kit } in kits {
        match check(&Question { kit: kit.clone(), ..brief.clone() }, interrupt) {
            Ok(answer) => ranking.push(ranked(name.clone(), *price, &answer)),
            Err(more) => faults.extend(more),
        }
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    let spare = |kit: &RankedKit| kit.tightest_headroom_stops.map_or(0.0, Stops::get);
    let lack = |kit: &RankedKit| kit.worst_shortfall_stops.get().max(kit.worst_excess_stops.get());
    let price = |kit: &RankedKit| kit.price.map_or(f64::INFINITY, Number::get);
    ranking.sort_by(|a, b| {
        let by_shots = b.feasible_shots.cmp(&a.feasible_shots);
        let order = b.feasible.cmp(&a.feasible);
        if a.feasible && b.feasible {
            order.then(price(a).total_cmp(&price(b))).then(spare(b).total_cmp(&spare(a)))
        } else {
            order.then(by_shots).then(lack(a).total_cmp(&lack(b))).then(price(a).total_cmp(&price(b)))
        }
    });
    Ok(KitComparison { ranking })
}

fn ranked(name: String, price: Option<f64>, answer: &KitCheck) -> RankedKit {
    let lights = || answer.shots.iter().flat_map(|shot| &shot.lights);
    let spare = lights().filter_map(|light| light.headroom_stops).map(Stops::get).reduce(f64::min);
    let worst = |stops: fn(&RoleResult) -> Stops| {
        Stops::new_unchecked(lights().map(|light| stops(light).get()).fold(0.0, f64::max))
    };
    RankedKit {
        name,
        price: price.map(Number::new_unchecked),
        feasible: answer.feasible,
        feasible_shots: answer.shots.iter().filter(|shot| shot.feasible).count() as u32,
        tightest_headroom_stops: spare.filter(|_| answer.feasible).map(Stops::new_unchecked),
        worst_shortfall_stops: worst(|light| light.shortfall_stops),
        worst_excess_stops: worst(|light| light.excess_stops),
        reason: answer.summary.clone(),
        warnings: answer.warnings.clone(),
    }
}
