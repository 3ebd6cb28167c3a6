//! What fires in a shot: the units but for lamps, and each pack once for all its heads.

use crate::light::{
    error::Part,
    kit::{
        answer::RoleResult,
        question::{KitQuestion, Shot},
    },
    quantity::{Joules, Stops},
    unit::Feeding,
};

/// A unit or a pack that fires in a shot.
pub struct Fired<'q> {
    /// Its name.
    pub name: &'q str,
    /// Where it is stated.
    pub part: Part,
    /// How it is fed.
    pub feeding: &'q Feeding,
    /// Recycle time after all its flashes in a frame, s; `None` if it is not known.
    pub recycle_s: Option<f64>,
    /// Its flashes in a frame; of a pack whose heads are set apart, the most of any.
    pub pops: u32,
    /// All its flashes in a frame, as the equivalent number at its full energy.
    pub full_flashes: f64,
}

/// Recycle time after so many flashes, each `below` stops under the full energy, s.
fn recycle_s(feeding: &Feeding, below: Stops, pops: u32) -> Option<f64> {
    feeding.recycle_s(below).map(|one| one * f64::from(pops))
}

/// What fires in a shot, given its lights: the units in the order of the roles, then the packs.
pub fn fired<'q>(question: &'q KitQuestion, shot: &Shot, lights: &[RoleResult]) -> Vec<Fired<'q>> {
    let unit_of = |light: &RoleResult| question.kit.iter().find(|kit| light.unit.as_ref() == Some(&kit.name));
    let served = shot.roles.iter().zip(lights);
    let served: Vec<_> =
        served.filter_map(|(role, light)| Some((role, unit_of(light)?, light.setting.as_ref()?))).collect();
    let own = served.iter().filter(|(_, kit, _)| kit.unit.head.is_none() && kit.unit.lamp.is_none());
    let own = own.map(|(role, kit, setting)| Fired {
        name: &kit.name,
        part: kit.part(),
        feeding: &kit.unit.feeding,
        recycle_s: recycle_s(&kit.unit.feeding, setting.stops_below_full, role.pops),
        pops: role.pops,
        full_flashes: f64::from(role.pops) * setting.fraction.get(),
    });
    let packs = question.packs.iter().enumerate().filter_map(|(index, pack)| {
        let heads = || served.iter().filter(|(_, kit, _)| kit.unit.is_on(index));
        let pops = heads().map(|(role, ..)| role.pops).max()?;
        let part = |energy: Option<Joules>| energy.map_or(0.0, |energy| energy.get() / pack.energy.get());
        let flash: f64 = heads().map(|(.., setting)| part(setting.energy_j)).sum();
        let all = heads().map(|(role, _, setting)| f64::from(role.pops) * part(setting.energy_j));
        Some(Fired {
            name: &pack.name,
            part: Part::Pack(index),
            feeding: &pack.feeding,
            recycle_s: recycle_s(&pack.feeding, Stops::new_unchecked(-flash.log2()), pops),
            pops,
            full_flashes: all.sum(),
        })
    });
    own.chain(packs).collect()
}
