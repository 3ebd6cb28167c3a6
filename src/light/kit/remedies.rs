//! What would make a shot feasible: for each kind of change the smallest that does, assigned again.

use super::{Question, RoleResult, Shot};
use crate::light::{
    camera,
    placement::Placement,
    quantity::{GuideMetres, Joules, Metres, significant},
    remark::{By, Remedy},
};

/// Most remedies of one shot.
const MOST_REMEDIES: usize = 8;

/// The remedies, the smallest change first. `works` tells whether the shot is feasible with the wanted light
/// of each role times a factor.
pub fn find(
    question: &Question,
    shot: &Shot,
    lights: &[RoleResult],
    works: impl Fn(&dyn Fn(usize) -> f64) -> bool,
) -> Vec<Remedy> {
    let mut found: Vec<(f64, Remedy)> = Vec::new();
    if let Some(stops) = camera::changes(question.step).find(|stops| works(&|_| (-stops).exp2())) {
        let then = ", and set the lights anew";
        let changed = camera::remedies(stops, shot.exposure, &question.limits, question.step, then);
        found.extend(changed.into_iter().map(|remedy| (stops.abs(), remedy)));
    }
    for (at, (role, light)) in shot.roles.iter().zip(lights).enumerate() {
        if light.headroom_stops.is_some() {
            continue;
        }
        let only = |factor: f64| move |index: usize| if index == at { factor } else { 1.0 };
        let from = role.placement.distance.get();
        // In sixths of a stop, nearer or farther.
        let twelfths = (1..=48).flat_map(|k| [-k, k]).map(|k| (f64::from(k) / 12.0).exp2());
        let before = role.placement.transfer(shot.exposure.iso).typical;
        let nearer = twelfths.filter(|factor| question.limits.takes_distance(from * factor)).find(|factor| {
            let moved = Placement { distance: Metres::computed(from * factor), ..role.placement.clone() };
            works(&only(before / moved.transfer(shot.exposure.iso).typical))
        });
        if let Some(factor) = nearer {
            let to = from * factor;
            let detail = format!(
                "Move the light of \"{}\" from {} m to {to:.2} m and set the lights anew.",
                role.name,
                significant(from)
            );
            let by = By::DistanceM(Metres::computed(to));
            found.push((2.0 * factor.log2().abs(), Remedy { change: "distance", by, detail }));
        }
        let pops = (2..=question.limits.max_pops.min(16)).find(|&pops| works(&only(1.0 / f64::from(pops))));
        if let Some(pops) = pops {
            let detail =
                format!("Fire \"{}\" {pops} times in one exposure and set the lights anew.", role.name);
            found.push((f64::from(pops).log2(), Remedy { change: "pops", by: By::Pops(pops), detail }));
        }
    }
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut remedies: Vec<Remedy> = found.into_iter().map(|(_, remedy)| remedy).collect();
    for (role, light) in shot.roles.iter().zip(lights) {
        if light.unit.is_none() {
            let transfer = role.placement.transfer(shot.exposure.iso).typical;
            let guide = (role.wanted / transfer).sqrt();
            if guide.is_finite() {
                remedies.push(Remedy {
                    change: "unit",
                    by: By::GuideNumberM(GuideMetres::computed(guide)),
                    detail: format!(
                        "Borrow one more unit of at least guide number {guide:.0} m for \"{}\".",
                        role.name
                    ),
                });
            }
        }
        let energy = light.setting.as_ref().and_then(|setting| {
            let lack = light.shortfall_stops?.get();
            let weak = light.error_stops?.get() < 0.0;
            weak.then(|| setting.energy_j.map(|energy| energy.get() / setting.fraction.get() * lack.exp2()))?
        });
        if let Some(energy) = energy {
            remedies.push(Remedy {
                change: "unit",
                by: By::EnergyJ(Joules::computed(energy)),
                detail: format!("Borrow a unit of at least {energy:.0} J for \"{}\".", light.role),
            });
        }
    }
    remedies.truncate(MOST_REMEDIES);
    remedies
}
