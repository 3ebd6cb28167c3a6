//! A plan to check: the kit, the shots with the settings of their lights, and the circuits.

use crate::light::{
    id::Id,
    kit::KitUnit,
    quantity::Stops,
    supply::{
        bank::{Bank, PackUse},
        circuit::Circuit,
    },
    unit::pack::Pack,
};

/// A unit used in a shot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Use {
    /// The unit's index in the kit.
    pub unit: usize,
    /// Its setting, stops below full.
    pub below: Stops,
}

/// A shot with the settings of its lights.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedShot {
    /// The shot's id from the request.
    pub id: Option<Id>,
    /// Its name.
    pub name: String,
    /// Number of frames.
    pub frames: u32,
    /// Interval between frames, s; `None` means as fast as the units recycle.
    pub interval_s: Option<f64>,
    /// The units used, each once.
    pub uses: Vec<Use>,
    /// The packs that they are on.
    pub packs: Vec<PackUse>,
}

/// A plan to check.
#[derive(Debug, Clone, PartialEq)]
pub struct SupplyQuestion {
    /// The packs that heads of the kit are on.
    pub packs: Vec<Pack>,
    /// The kit.
    pub kit: Vec<KitUnit>,
    /// The shots, in order.
    pub shots: Vec<PlannedShot>,
    /// The circuits; each unit is on at most one.
    pub circuits: Vec<Circuit>,
    /// The fraction of each charge to keep in reserve.
    pub reserve: f64,
    /// How long the circuits are in use, h.
    pub hours: Option<f64>,
}

impl PlannedShot {
    /// The setting of a unit, stops below full, if the shot uses it.
    pub(super) fn below(&self, unit: usize) -> Option<Stops> {
        self.uses.iter().find(|used| used.unit == unit).map(|used| used.below)
    }
}

impl SupplyQuestion {
    /// The same plan with one shot: all units on circuits at full power.
    pub(super) fn at_full(&self) -> Self {
        let banks = || self.circuits.iter().flat_map(|circuit| circuit.banks.iter().copied());
        let below = Stops::ZERO;
        let unit = |bank| if let Bank::Unit(unit) = bank { Some(Use { unit, below }) } else { None };
        let pack = |bank| if let Bank::Pack(pack) = bank { Some(PackUse { pack, below }) } else { None };
        let (uses, packs) = (banks().filter_map(unit).collect(), banks().filter_map(pack).collect());
        let shot = PlannedShot { id: None, name: String::new(), frames: 1, interval_s: None, uses, packs };
        Self { shots: vec![shot], ..self.clone() }
    }

    /// How long the circuits are in use, s: as stated, or until the last shot ends; `None` if that is not known.
    pub(super) fn lasts_s(&self) -> Option<f64> {
        let shots =
            || self.shots.iter().map(|shot| Some(f64::from(shot.frames) * self.interval(shot)?)).sum();
        match self.hours {
            Some(hours) => Some(hours * 3600.0),
            None if self.shots.is_empty() => None,
            None => shots(),
        }
    }

    /// Recycle time of a bank in a shot, s; `None` if it is not known, or the shot does not use it.
    pub(super) fn recycle_s(&self, bank: Bank, shot: &PlannedShot) -> Option<f64> {
        let below = shot.below_of(bank)?;
        match bank {
            Bank::Unit(unit) => self.kit[unit].unit.recycle_s(below),
            Bank::Pack(pack) => self.packs[pack].feeding.recycle_s(below),
        }
    }

    /// The shortest interval between a shot's frames, and the bank that limits it.
    pub(super) fn shortest_interval(&self, shot: &PlannedShot) -> Option<(f64, Bank)> {
        let recycle = |bank: Bank| Some((self.recycle_s(bank, shot)?, bank));
        let mut banks: Vec<Bank> = self.banks_in(shot).collect();
        // In the order of the shot.
        banks.sort_by_key(|bank| shot.uses.iter().position(|used| self.bank(used.unit) == *bank));
        // Of equally slow ones the first.
        banks.into_iter().filter_map(recycle).rev().max_by(|a, b| a.0.total_cmp(&b.0))
    }

    /// The actual interval between a shot's frames: the requested one, or the shortest one if that is longer.
    pub(super) fn interval(&self, shot: &PlannedShot) -> Option<f64> {
        let shortest = self.shortest_interval(shot).map(|(shortest, _)| shortest);
        shot.interval_s.into_iter().chain(shortest).reduce(f64::max)
    }

    /// The shots that use a unit.
    pub(super) fn shots_with(&self, unit: usize) -> impl Iterator<Item = &PlannedShot> {
        self.shots.iter().filter(move |shot| shot.below(unit).is_some())
    }
}
