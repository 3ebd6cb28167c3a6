//! What recycles and draws by itself: a unit, or a pack with all its heads. A pack's flash is that of the heads of a shot
//! together, against its full energy.

use crate::light::{
    error::Part,
    id::NamedEntry,
    kit::KitUnit,
    quantity::{Estimate, Joules, Stops},
    supply::question::{PlannedShot, SupplyQuestion, Use},
    unit::{CHARGING_EFFICIENCY, Feeding, MODELLING_LAMP_W, Unit, pack::Pack, scale::Scale},
};

/// What recycles and draws by itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bank {
    /// A unit that is on no pack, by its index in the kit.
    Unit(usize),
    /// A pack, by its index.
    Pack(usize),
}

/// A pack that is used in a shot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PackUse {
    /// Its index.
    pub pack: usize,
    /// The energy of all its heads together, stops below its full energy.
    pub below: Stops,
}

impl PackUse {
    /// The packs that units of a shot are on.
    pub fn of(packs: &[Pack], kit: &[KitUnit], uses: &[Use]) -> Vec<Self> {
        let used = |index: usize, pack: &Pack| {
            let energies = heads_of(index, kit, uses).map(|used| head_energy(pack, index, kit, uses, used));
            let energy: f64 = energies.sum();
            let below = Stops::new_unchecked((pack.energy.get() / energy).log2());
            (energy > 0.0).then_some(Self { pack: index, below })
        };
        packs.iter().enumerate().filter_map(|(index, pack)| used(index, pack)).collect()
    }
}

/// The heads on a pack in a shot.
fn heads_of<'u>(pack: usize, kit: &'u [KitUnit], uses: &'u [Use]) -> impl Iterator<Item = &'u Use> {
    uses.iter().filter(move |used| kit[used.unit].unit.is_on(pack))
}

/// The energy of one of them, J.
fn head_energy(pack: &Pack, index: usize, kit: &[KitUnit], uses: &[Use], used: &Use) -> f64 {
    let outlet = kit[used.unit].unit.head.and_then(|head| head.outlet);
    let full = pack.head_energy(outlet, heads_of(index, kit, uses).count());
    Scale::energy_at(full, used.below).get()
}

impl PlannedShot {
    /// The energy of a bank in this shot, stops below its full energy; `None` if the shot does not use it.
    pub(super) fn below_of(&self, bank: Bank) -> Option<Stops> {
        match bank {
            Bank::Unit(unit) => self.below(unit),
            Bank::Pack(pack) => self.packs.iter().find(|used| used.pack == pack).map(|used| used.below),
        }
    }
}

impl SupplyQuestion {
    /// What feeds a unit.
    pub(super) fn bank(&self, unit: usize) -> Bank {
        self.kit[unit].unit.head.map_or(Bank::Unit(unit), |head| Bank::Pack(head.pack))
    }

    /// All banks: the units that are on no pack, and the packs.
    pub(super) fn banks(&self) -> impl Iterator<Item = Bank> {
        let units = (0..self.kit.len()).filter(|&unit| self.kit[unit].unit.head.is_none());
        units.map(Bank::Unit).chain((0..self.packs.len()).map(Bank::Pack))
    }

    /// The banks of a shot.
    pub(super) fn banks_in<'s>(&'s self, shot: &'s PlannedShot) -> impl Iterator<Item = Bank> + 's {
        self.banks().filter(|bank| shot.below_of(*bank).is_some())
    }

    /// The shots that use a bank, with its energy in each.
    pub(super) fn shots_of(&self, bank: Bank) -> impl Iterator<Item = (&PlannedShot, Stops)> {
        self.shots.iter().filter_map(move |shot| Some((shot, shot.below_of(bank)?)))
    }

    /// Whether a shot uses a bank.
    pub(super) fn is_used(&self, bank: Bank) -> bool {
        self.shots_of(bank).next().is_some()
    }

    /// Whether a bank is on a circuit.
    pub(super) fn is_on_circuit(&self, bank: Bank) -> bool {
        self.circuits.iter().any(|circuit| circuit.banks.contains(&bank))
    }

    /// All flashes of a bank in the plan, as the equivalent number at its full energy.
    pub(super) fn full_flashes(&self, bank: Bank) -> f64 {
        self.shots_of(bank).map(|(shot, below)| f64::from(shot.frames) * (-below.get()).exp2()).sum()
    }

    /// The energy of a bank at full power.
    pub(super) fn energy(&self, bank: Bank) -> Option<Joules> {
        match bank {
            Bank::Unit(unit) => self.kit[unit].unit.energy,
            Bank::Pack(pack) => Some(self.packs[pack].energy),
        }
    }

    /// Whether it is a lamp, which does not recycle.
    pub(super) fn is_lamp(&self, bank: Bank) -> bool {
        matches!(bank, Bank::Unit(unit) if self.kit[unit].unit.lamp.is_some())
    }

    /// Whether it is known what a bank draws: by its energy, or the power that a lamp states.
    pub(super) fn has_draw(&self, bank: Bank) -> bool {
        self.energy(bank).is_some()
            || (self.is_lamp(bank) && self.feeding(bank).draw.modelling_lamp_w.is_some())
    }

    /// How a bank is fed.
    pub(super) fn feeding(&self, bank: Bank) -> &Feeding {
        match bank {
            Bank::Unit(unit) => &self.kit[unit].unit.feeding,
            Bank::Pack(pack) => &self.packs[pack].feeding,
        }
    }

    /// The power of the modelling lamps on a bank, W: on a pack, of as many heads as the kit has and the pack takes.
    pub(super) fn lamp_w(&self, bank: Bank) -> Estimate<f64> {
        let draw = self.feeding(bank).draw;
        match bank {
            // A lamp has no modelling lamp to assume.
            Bank::Unit(_) if self.is_lamp(bank) => Estimate::exact(draw.modelling_lamp_w.unwrap_or(0.0)),
            Bank::Unit(_) => draw.lamp_w(),
            Bank::Pack(pack) => draw.modelling_lamp_w.map_or_else(
                || {
                    let heads = self.kit.iter().filter(|kit| kit.unit.is_on(pack)).count();
                    let heads = heads.min(self.packs[pack].outlets as usize);
                    MODELLING_LAMP_W.map(|watts| watts * heads as f64)
                },
                Estimate::exact,
            ),
        }
    }

    /// The name of a bank, with its id.
    pub(super) fn named(&self, bank: Bank) -> NamedEntry {
        match bank {
            Bank::Unit(unit) => self.kit[unit].named(),
            Bank::Pack(pack) => {
                let pack = &self.packs[pack];
                NamedEntry { name: pack.name.clone(), id: pack.id.clone() }
            }
        }
    }

    /// Where the request states these banks: the only one, or else all units, or all packs.
    pub(super) fn part_of(&self, banks: &[Bank]) -> Part {
        let unit = |bank: &Bank| if let Bank::Unit(unit) = bank { Some(self.kit[*unit].entry) } else { None };
        let pack = |bank: &Bank| if let Bank::Pack(pack) = bank { Some(*pack) } else { None };
        let units: Vec<usize> = banks.iter().filter_map(unit).collect();
        let packs: Vec<usize> = banks.iter().filter_map(pack).collect();
        if units.is_empty() { Part::of_packs(&packs) } else { Part::of_units(&units) }
    }

    /// A unit as it is in a shot: a head has its part of its pack's energy there.
    pub(super) fn unit_in(&self, unit: usize, shot: &PlannedShot) -> Unit {
        let mut own = self.kit[unit].unit.clone();
        if let Some(head) = own.head {
            own.take_part(&self.packs[head.pack], heads_of(head.pack, &self.kit, &shot.uses).count());
        }
        own
    }

    /// The energy of one flash of a unit in a shot over what it can be at the most: that of its pack, or of its outlet if
    /// that is set by itself. `None` if the shot does not use it.
    pub(super) fn part_of_full(&self, unit: usize, shot: &PlannedShot) -> Option<f64> {
        let below = shot.below(unit)?;
        let own = &self.kit[unit].unit;
        let share = own.head.map_or(1.0, |head| {
            let pack = &self.packs[head.pack];
            let most = if pack.is_set_as_one() { pack.energy } else { pack.head_energy(head.outlet, 1) };
            let heads = heads_of(head.pack, &self.kit, &shot.uses).count();
            pack.head_energy(head.outlet, heads).get() / most.get()
        });
        Some(share * (-below.get()).exp2())
    }
}

/// Electrical energy that one flash of a bank draws, J; none for a lamp, whose power is that of its light.
pub(super) fn energy_drawn(question: &SupplyQuestion, bank: Bank, below: Stops) -> Option<Estimate<f64>> {
    if question.is_lamp(bank) {
        return question.has_draw(bank).then_some(Estimate::exact(0.0));
    }
    let energy = Scale::energy_at(question.energy(bank)?, below).get();
    let stated = question.feeding(bank).draw.charging_efficiency.map(Estimate::exact);
    let efficiency = stated.unwrap_or(CHARGING_EFFICIENCY);
    Some(Estimate {
        low: energy / efficiency.high,
        typical: energy / efficiency.typical,
        high: energy / efficiency.low,
    })
}

/// Mean power that a bank draws in a shot, without its modelling lamps, W.
pub(super) fn mean_w(question: &SupplyQuestion, bank: Bank, shot: &PlannedShot) -> Option<Estimate<f64>> {
    let energy = energy_drawn(question, bank, shot.below_of(bank)?)?;
    if question.is_lamp(bank) {
        return Some(energy);
    }
    let interval = question.interval(shot)?;
    Some(energy.map(|energy| energy / interval))
}

/// Power that a bank draws while it recycles in a shot, without its modelling lamps, W.
pub(super) fn charging_w_in(
    question: &SupplyQuestion,
    bank: Bank,
    shot: &PlannedShot,
) -> Option<Estimate<f64>> {
    let energy = energy_drawn(question, bank, shot.below_of(bank)?)?;
    if question.is_lamp(bank) {
        return Some(energy);
    }
    let seconds = question.recycle_s(bank, shot)?;
    Some(energy.map(|energy| energy / seconds))
}

/// The greatest such power over the plan, W.
pub(super) fn charging_w(question: &SupplyQuestion, bank: Bank) -> Option<Estimate<f64>> {
    let peaks = question.shots_of(bank).map(|(shot, _)| charging_w_in(question, bank, shot));
    greatest(peaks.collect::<Option<Vec<_>>>()?)
}

/// The greatest of several estimates: low, typical and high values each compared separately.
pub(super) fn greatest(estimates: Vec<Estimate<f64>>) -> Option<Estimate<f64>> {
    estimates.into_iter().reduce(|a, b| Estimate {
        low: a.low.max(b.low),
        typical: a.typical.max(b.typical),
        high: a.high.max(b.high),
    })
}

/// The sum of two estimates, end by end.
pub(super) fn plus(a: Estimate<f64>, b: Estimate<f64>) -> Estimate<f64> {
    Estimate { low: a.low + b.low, typical: a.typical + b.typical, high: a.high + b.high }
}
