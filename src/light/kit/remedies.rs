//! Remedies: changes that would make a shot feasible. For each kind of change, the smallest that works, checked by
//! assigning the units again.

use crate::light::{
    kit::{KitQuestion, Missing, RoleResult, Shot},
    quantity::{Joules, Metres},
    remedy::{Action, Borrowed, By, Change, Need, Remedy, Then},
    set::{camera, placement::Placement},
};

/// The most remedies of one shot.
const MAX_REMEDIES: usize = 8;

/// Finds the remedies, the smallest change first. `works` returns whether the shot is feasible with each role's target
/// light multiplied by a factor.
pub fn find(
    question: &KitQuestion,
    shot: &Shot,
    lights: &[RoleResult],
    missing: &[Missing],
    works: impl Fn(&dyn Fn(usize) -> f64) -> bool,
) -> Vec<Remedy> {
    let mut found: Vec<(f64, Remedy)> = Vec::new();
    let works_exposed = |stops: f64| works(&|_| (-stops).exp2());
    let then = |_| Then::ChooseUnits;
    let reach = (camera::MAX_STOPS, question.step);
    let changed = camera::remedies(shot.exposure, &question.limits, reach, &works_exposed, &then);
    // A target f-number is what a meter reads: it does not follow the camera's exposure.
    let is_metered = shot.roles.iter().any(|role| role.is_f_number);
    found.extend(changed.into_iter().map(|remedy| {
        (remedy.by.in_stops().unwrap_or_default().abs(), camera::with_notes(remedy, is_metered, false))
    }));
    for (role_index, (role, light)) in shot.roles.iter().zip(lights).enumerate() {
        if !light.is_missed() {
            continue;
        }
        let only = |factor: f64| move |index: usize| if index == role_index { factor } else { 1.0 };
        let from = role.placement.distance;
        // In sixths of a stop, nearer or farther.
        let twelfths = (1..=48).flat_map(|k| [-k, k]).map(|k| (f64::from(k) / 12.0).exp2());
        let before = role.placement.transfer(shot.exposure.iso).typical;
        let mut moved = twelfths
            .map(|factor| (factor, question.units.moved(from, Metres::new_unchecked(from.get() * factor))))
            .filter(|(_, to)| question.limits.allows_distance(to.get()));
        let nearer = moved.find(|(_, distance)| {
            let moved = Placement { distance: *distance, ..role.placement.clone() };
            works(&only(before / moved.transfer(shot.exposure.iso).typical))
        });
        if let Some((factor, to)) = nearer {
            let action = Action::MoveRole { role: role.name.clone(), from, units: question.units };
            let by = By::distance(to, question.units);
            found.push((2.0 * factor.log2().abs(), Remedy { change: Change::Distance, by, action }));
        }
        let own = role.pops;
        let pops = (own + 1..=question.limits.max_pops.min(own.saturating_mul(16)))
            .find(|&pops| works(&only(f64::from(own) / f64::from(pops))));
        if let Some(pops) = pops {
            let action = Action::FireRole { role: role.name.clone() };
            let more = (f64::from(pops) / f64::from(own)).log2();
            found.push((more, Remedy { change: Change::Pops, by: By::pops(pops), action }));
        }
    }
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut remedies: Vec<Remedy> = found.into_iter().map(|(_, remedy)| remedy).collect();
    remedies.truncate(MAX_REMEDIES - 1);
    remedies.extend(borrowed(lights, missing));
    remedies
}

/// The units to borrow: one for each role whose unit is missing or too weak. `None` if some light is too strong, or no
/// unit would reach.
fn borrowed(lights: &[RoleResult], missing: &[Missing]) -> Option<Remedy> {
    if missing.len() < lights.iter().filter(|light| light.is_missed()).count() {
        return None;
    }
    let own =
        |role: &str| lights.iter().find(|light| light.role == role).and_then(|light| light.unit.as_deref());
    let units: Option<Vec<Borrowed>> =
        missing.iter().map(|lack| unit_to_borrow(lack, own(&lack.role))).collect();
    // `by` states the greatest of all, in joules if all energies are known.
    let energies: Option<Vec<f64>> = missing.iter().map(|lack| lack.energy_j.map(Joules::get)).collect();
    let by = match energies {
        Some(energies) => By::energy(Joules::new_unchecked(energies.into_iter().fold(0.0, f64::max))),
        None => {
            let guides = missing.iter().filter_map(|lack| lack.guide_number_m);
            By::guide_number(guides.max_by(|a, b| a.get().total_cmp(&b.get()))?)
        }
    };
    Some(Remedy { change: Change::Unit, by, action: Action::Borrow { units: units? } })
}

/// The unit to borrow for a role; `own` is the unit that the role has.
fn unit_to_borrow(lack: &Missing, own: Option<&str>) -> Option<Borrowed> {
    let (metres, feet) = lack.guide_number_m.zip(lack.guide_number_ft)?;
    let need = match lack.energy_j {
        Some(energy) => Need::Energy { like: own.map(str::to_owned), energy },
        None => Need::Guide { metres, feet, is_one_more: !lack.has_unit },
    };
    Some(Borrowed { role: lack.role.clone(), need })
}
