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
    let exposed = |stops: f64| works(&|_| (-stops).exp2());
    if let Some(stops) = camera::changes(question.step).find(|stops| exposed(*stops)) {
        let then = |_| ", and set the lights anew".to_owned();
        let changed =
            camera::remedies(stops, shot.exposure, &question.limits, question.step, &exposed, &then);
        // The light that a role wants as an f-number is a meter's, not the picture's.
        let is_metered = shot.roles.iter().any(|role| role.is_f_number);
        found.extend(changed.into_iter().map(|mut remedy| {
            if is_metered {
                camera::mind_metered(&mut remedy);
            }
            (remedy.by.in_stops().unwrap_or(stops).abs(), remedy)
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

/// What to borrow: a unit for each role that has none or too weak a one, together. None where less power is wanted
/// somewhere, or no unit would do.
fn borrowed(shot: &Shot, lights: &[RoleResult]) -> Option<Remedy> {
    let lacking = shot.roles.iter().zip(lights).filter(|(_, light)| light.headroom_stops.is_none());
    let all: Vec<Wanted> = lacking.map(|(role, light)| wanted(shot, role, light)).collect::<Option<_>>()?;
    let most = |all: &mut dyn Iterator<Item = f64>| all.fold(0.0, f64::max);
    // The greatest stands for all, in joules where all are known.
    let energies: Option<Vec<f64>> = all.iter().map(|unit| unit.energy).collect();
    let by = match energies {
        Some(energies) => By::energy(Joules::computed(most(&mut energies.into_iter()))),
        None => By::guide_number(GuideMetres::computed(most(&mut all.iter().map(|unit| unit.guide)))),
    };
    let told: Vec<&str> = all.iter().map(|unit| unit.told.as_str()).collect();
    Some(Remedy { change: Change::Unit, by, detail: format!("Borrow {}.", told.join(", and ")) })
}

/// A unit to borrow for a role.
struct Wanted {
    /// Its guide number, m at ISO 100.
    guide: f64,
    /// Its energy, J, if it is like the one that the role has.
    energy: Option<f64>,
    /// In words.
    told: String,
}

/// The next whole number, but for the last digits of what is one.
fn at_least(value: f64) -> f64 {
    (value - 1e-6).ceil()
}

fn wanted(shot: &Shot, role: &Role, light: &RoleResult) -> Option<Wanted> {
    let is_too_strong = light.error_stops.is_some_and(|error| error.get() > 0.0);
    let transfer = role.placement.transfer(shot.exposure.iso).typical;
    let guide = (role.wanted / transfer).sqrt();
    if is_too_strong || !guide.is_finite() {
        return None;
    }
    let energy = light.setting.as_ref().zip(light.shortfall_stops).and_then(|(setting, lack)| {
        Some(setting.energy_j?.get() / setting.fraction.get() * lack.get().exp2())
    });
    let told = match energy {
        Some(energy) => {
            format!("a unit like its own of at least {} J for \"{}\"", at_least(energy), role.name)
        }
        None => {
            let feet = GuideFeet::of(GuideMetres::computed(guide)).get();
            let more = if light.unit.is_none() { "one more unit" } else { "a unit" };
            format!(
                "{more} of at least guide number {} m ({} ft) for \"{}\"",
                at_least(guide),
                at_least(feet),
                role.name
            )
        }
    };
    Some(Wanted { guide, energy, told })
}
