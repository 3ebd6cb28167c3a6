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
        // The light that a role wants as an f-number is a meter's, not the picture's.
        let is_metered = shot.roles.iter().any(|role| role.is_f_number);
        found.extend(changed.into_iter().map(|mut remedy| {
            if is_metered && matches!(remedy.change, Change::Aperture) {
                remedy.detail.push_str(" Move the lights that are wanted as f-numbers alike.");
            }
            (stops.abs(), remedy)
        }));
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
    remedies.truncate(MOST_REMEDIES - 1);
    remedies.extend(borrowed(shot, lights));
    remedies
}

/// What to borrow: a unit for each role that has none or too weak a one, together.
fn borrowed(shot: &Shot, lights: &[RoleResult]) -> Option<Remedy> {
    let lacking = shot.roles.iter().zip(lights).filter(|(_, light)| light.headroom_stops.is_none());
    let all: Vec<(By, f64, String)> =
        lacking.map(|(role, light)| one(shot, role, light)).collect::<Option<_>>()?;
    // The largest of them stands for all in `by`.
    let (by, _, _) = all.iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
    let told: Vec<&str> = all.iter().map(|(_, _, told)| told.as_str()).collect();
    let detail = format!("Borrow {}.", told.join(", and "));
    Some(Remedy { change: Change::Unit, by: *by, detail })
}

/// A unit to borrow for a role, by joules where they are known, else by guide number; how many stops it is more, and in
/// words. None where less power is wanted, or no unit would do.
fn one(shot: &Shot, role: &Role, light: &RoleResult) -> Option<(By, f64, String)> {
    if light.error_stops.is_some_and(|error| error.get() > 0.0) {
        return None;
    }
    let energy = light.setting.as_ref().zip(light.shortfall_stops).and_then(|(setting, lack)| {
        Some(setting.energy_j?.get() / setting.fraction.get() * lack.get().exp2())
    });
    let transfer = role.placement.transfer(shot.exposure.iso).typical;
    let guide = GuideMetres::computed((role.wanted / transfer).sqrt());
    if !guide.get().is_finite() {
        return None;
    }
    let more = if light.unit.is_none() { "one more unit" } else { "a unit" };
    let (by, least) = match energy {
        Some(energy) => (By::energy(Joules::computed(energy)), format!("{energy:.0} J")),
        None => {
            let least = format!("guide number {:.0} m ({:.0} ft)", guide.get(), GuideFeet::of(guide).get());
            (By::guide_number(guide), least)
        }
    };
    Some((by, guide.get(), format!("{more} of at least {least} for \"{}\"", role.name)))
}
