//! The packs of a set: what each of their heads gets, and what a flash takes of them.

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    error::{InvalidPart, InvalidValue, Part},
    id::Id,
    quantity::{Joules, Number, Stops, rounded_up, significant},
    remark::{Remark, Warning, WarningKind},
    remedy::{Named, Subject},
    set::{Light, Scene},
    unit::{Setting, pack::Pack, scale::Scale},
};

/// A pack at its setting.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PackResult {
    /// The pack's name.
    pub pack: String,
    /// Its id.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub pack_id: Option<Id>,
    /// The setting to dial, with the energy of the pack; null if its heads are off, or are set apart.
    pub setting: Option<Setting>,
    /// Energy that one flash of its heads takes, J.
    pub energy_j: Joules,
    /// Energy at full power that such a flash does not take, J.
    pub left_j: Joules,
}

/// Rounding error of energies, relative.
pub const ROUNDING: f64 = 1e-9;

/// Gives each head its part of its pack's energy.
pub fn divide(packs: &[Pack], lights: &mut [Light]) {
    for (index, pack) in packs.iter().enumerate() {
        let heads: Vec<&mut Light> = lights.iter_mut().filter(|light| light.unit.is_on(index)).collect();
        let count = heads.len();
        for light in heads {
            light.unit.take_part(pack, count);
        }
    }
}

impl PackResult {
    /// A pack at its setting, stops below full, whose heads take this energy, J.
    pub fn new(pack: &Pack, setting: Option<Stops>, energy_j: f64) -> Self {
        let full = pack.energy.get();
        let left_j = full - energy_j;
        Self {
            pack: pack.name.clone(),
            pack_id: pack.id.clone(),
            setting: setting.map(|below| setting_of(pack, below)),
            energy_j: Joules::new_unchecked(energy_j),
            left_j: Joules::new_unchecked(if left_j > full * ROUNDING { left_j } else { 0.0 }),
        }
    }
}

/// An error if a flash takes more than a pack has, J.
pub fn check_taken(pack: &Pack, takes_j: f64) -> Result<(), InvalidValue> {
    let energy_j = pack.energy.get();
    if takes_j <= energy_j * (1.0 + ROUNDING) {
        return Ok(());
    }
    Err(InvalidValue::PackOverdrawn {
        pack: pack.name.clone(),
        takes_j: rounded_up(takes_j),
        energy_j: significant(energy_j),
    })
}

/// The warning about packs that nothing is on.
pub fn unused(packs: &[Pack], is_used: impl Fn(usize) -> bool) -> Option<Warning> {
    let unused = packs.iter().enumerate().filter(|(index, _)| !is_used(*index));
    let (indexes, packs): (Vec<usize>, Vec<String>) =
        unused.map(|(index, pack)| (index, pack.name.clone())).unzip();
    let part = Part::of_packs(&indexes);
    (!packs.is_empty()).then_some(Remark::about(part, WarningKind::PackUnused { packs }))
}

impl Scene {
    /// The lights on a pack.
    pub fn heads(&self, pack: usize) -> impl Iterator<Item = usize> {
        let lights = self.lights.iter().enumerate();
        lights.filter(move |(_, light)| light.unit.is_on(pack)).map(|(index, _)| index)
    }

    /// The packs whose heads are set apart, and together must not take more than the pack has.
    pub fn limited_packs(&self) -> impl Iterator<Item = (usize, &Pack)> {
        let packs = self.packs.iter().enumerate();
        packs.filter(|(index, pack)| !pack.is_set_as_one() && self.heads(*index).next().is_some())
    }

    /// The pack whose setting a light has; `None` if it has its own.
    pub fn pack_of_setting(&self, light: usize) -> Option<usize> {
        let pack = self.lights[light].unit.head?.pack;
        self.packs[pack].is_set_as_one().then_some(pack)
    }

    /// What is set where a light is, as what a remedy changes, and the setting at stops below full: the light, or its pack
    /// if that has other heads.
    pub fn control_of(&self, light: usize) -> (Subject, impl Fn(Stops) -> Setting) {
        let pack = self.pack_of_setting(light).filter(|pack| self.heads(*pack).nth(1).is_some());
        let pack = pack.map(|pack| &self.packs[pack]);
        let subject = match pack {
            Some(pack) => Subject::Pack(Named::new(&pack.name, pack.id.as_ref())),
            None => self.subject(light),
        };
        let unit = &self.lights[light].unit;
        (subject, move |below| pack.map_or_else(|| unit.setting(below), |pack| setting_of(pack, below)))
    }

    /// The energy of one flash of a pack's heads at these settings (stops below full; `None` if a light is off), J.
    fn energy_of(&self, pack: usize, below: &[Option<Stops>]) -> f64 {
        let energy = |light: usize| {
            let full = self.lights[light].unit.energy?;
            Some(Scale::energy_at(full, below[light]?).get())
        };
        self.heads(pack).filter_map(energy).sum()
    }

    /// Adds a fault for each pack with less energy than its heads take at these settings.
    pub fn check_packs(&self, below: &[Option<Stops>], faults: &mut Vec<InvalidPart>) {
        for (index, pack) in self.packs.iter().enumerate() {
            let checked = check_taken(pack, self.energy_of(index, below));
            faults.extend(checked.err().map(|error| error.in_part(Part::Pack(index))));
        }
    }

    /// The packs at these settings of the lights.
    pub fn packs_at(&self, below: &[Option<Stops>]) -> Vec<PackResult> {
        let packs = self.packs.iter().enumerate();
        packs
            .map(|(index, pack)| {
                let energy_j = self.energy_of(index, below);
                let common = self.heads(index).next().filter(|_| pack.is_set_as_one());
                PackResult::new(pack, common.and_then(|light| below[light]), energy_j)
            })
            .collect()
    }

    /// The warning about packs that no light is on.
    pub fn unused_packs(&self) -> Option<Warning> {
        unused(&self.packs, |pack| self.heads(pack).next().is_some())
    }
}

/// The setting of a pack, for an answer.
pub fn setting_of(pack: &Pack, below: Stops) -> Setting {
    Setting {
        label: pack.scale.label(below),
        stops_below_full: below,
        fraction: Number::new_unchecked((-below.get()).exp2()),
        energy_j: Some(Scale::energy_at(pack.energy, below)),
    }
}
