//! What would make a shot feasible: for each kind of change the smallest that does, assigned again.

use super::{Question, Role, RoleResult, Shot};
use crate::light::{
    camera,
    placement::Placement,
    quantity::{GuideFeet, GuideMetres, Joules, Metres},
    remark::{By, Change, Remedy},
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
            let to = Metres::computed(from * factor);
            let detail = format!(
                "Move the light of \"{}\" from {} to {} and set the lights anew.",
                role.name,
                question.units.said(role.placement.distance),
                question.units.said(to),
            );
            let by = By::distance(to, question.units);
            found.push((2.0 * factor.log2().abs(), Remedy { change: Change::Distance, by, detail }));
        }
        let pops = (2..=question.limits.max_pops.min(16)).find(|&pops| works(&only(1.0 / f64::from(pops))));
        if let Some(pops) = pops {
            let detail =
                format!("Fire \"{}\" {pops} times in one exposure and set the lights anew.", role.name);
            found.push((f64::from(pops).log2(), Remedy { change: Change::Pops, by: By::pops(pops), detail }));
        }
    }
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut remedies: Vec<Remedy> = found.into_iter().map(|(_, remedy)| remedy).collect();
    remedies.extend(shot.roles.iter().zip(lights).filter_map(|(role, light)| borrowed(shot, role, light)));
    remedies.truncate(MOST_REMEDIES);
    remedies
}

/// A unit to borrow for a role that has none or too weak a one: by joules where they are known, else by guide
/// number.
fn borrowed(shot: &Shot, role: &Role, light: &RoleResult) -> Option<Remedy> {
    if light.headroom_stops.is_some() || light.error_stops.is_some_and(|error| error.get() > 0.0) {
        return None;
    }
    let energy = light.setting.as_ref().zip(light.shortfall_stops).and_then(|(setting, lack)| {
        Some(setting.energy_j?.get() / setting.fraction.get() * lack.get().exp2())
    });
    let transfer = role.placement.transfer(shot.exposure.iso).typical;
    let guide = GuideMetres::computed((role.wanted / transfer).sqrt());
    let more = if light.unit.is_none() { "one more unit" } else { "a unit" };
    let (by, least) = match energy {
        Some(energy) => (By::energy(Joules::computed(energy)), format!("{energy:.0} J")),
        None if guide.get().is_finite() => {
            let least = format!("guide number {:.0} m ({:.0} ft)", guide.get(), GuideFeet::of(guide).get());
            (By::guide_number(guide), least)
        }
        None => return None,
    };
    Some(Remedy {
        change: Change::Unit,
        by,
        detail: format!("Borrow {more} of at least {least} for \"{}\".", role.name),
    })
}
