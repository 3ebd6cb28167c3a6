//! Compares several kits for one brief.

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    error::InvalidPart,
    interrupt::Interrupt,
    kit::{KitCheck, KitQuestion, KitUnit, RoleResult, check, summary::Summary},
    quantity::{Number, Stops},
    remark::Remark,
};

/// A kit in a comparison.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedKit {
    /// Its name, for example a room or a package.
    pub name: String,
    /// Its price, in the same currency for all kits.
    pub price: Option<f64>,
    /// Its units.
    pub kit: Vec<KitUnit>,
}

/// Several kits compared for one brief.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct KitComparison {
    /// The kits, the best first.
    pub ranking: Vec<RankedKit>,
}

/// One kit in the ranking.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RankedKit {
    /// Its name.
    pub name: String,
    /// Its price from the request; null if none was given.
    pub price: Option<Number>,
    /// Whether every role of every shot is reached.
    pub feasible: bool,
    /// The number of feasible shots.
    pub feasible_shots: u32,
    /// Headroom of its tightest light, stops; null if the kit is not feasible.
    pub tightest_headroom_stops: Option<Stops>,
    /// The worst shortfall of all roles, stops; 0 if none is too weak, 60 if one has no unit.
    pub worst_shortfall_stops: Stops,
    /// The worst excess of all roles, stops; 0 if none is too strong.
    pub worst_excess_stops: Stops,
    /// The reason for its rank.
    #[schema(value_type = String)]
    pub reason: Summary,
    /// Warnings about this kit.
    pub warnings: Vec<Remark>,
}

/// Ranks kits. Feasible kits come first: the cheapest if prices are given, then the one with the most headroom. The
/// others follow by feasible shots, then by the worst role's error in either direction, then by price.
pub fn compare(
    kits: &[NamedKit],
    brief: &KitQuestion,
    interrupt: &dyn Interrupt,
) -> Result<KitComparison, Vec<InvalidPart>> {
    let mut faults = Vec::new();
    let mut ranking = Vec::new();
    for (index, NamedKit { name, price, kit }) in kits.iter().enumerate() {
        match check(&KitQuestion { kit: kit.clone(), ..brief.clone() }, interrupt) {
            Ok(answer) => ranking.push(ranked(name.clone(), *price, &answer)),
            Err(more) => faults.extend(more.into_iter().map(|fault| fault.in_kit(index))),
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
