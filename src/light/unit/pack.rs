//! A pack: one bank of capacitors that feeds several heads.
//!
//! Heads that are set together share its energy, evenly or in fixed parts: with parts of 2:1 they get 2/3 and 1/3 (common
//! practice). Outlets that are set apart take from one total.

use crate::light::{
    id::Id,
    quantity::{Joules, Stops},
    unit::{feeding::Feeding, scale::Scale},
};

/// A pack of a set.
#[derive(Debug, Clone, PartialEq)]
pub struct Pack {
    /// The client's id for this entry.
    pub id: Option<Id>,
    /// Its name, unique among packs.
    pub name: String,
    /// Its energy at full power.
    pub energy: Joules,
    /// The scale of its setting; with [`Split::Each`], that of an outlet.
    pub scale: Scale,
    /// How many heads it takes.
    pub outlets: u32,
    /// How its energy is divided.
    pub split: Split,
    /// Its recycling, charges and draw; the duty limit is that of each head.
    pub feeding: Feeding,
    /// How far a head's part may be off, if stated: ± stops at 95 %.
    pub plus_minus: Option<Stops>,
}

/// How a pack divides its energy.
#[derive(Debug, Clone, PartialEq)]
pub enum Split {
    /// Evenly, among the heads that are on it.
    Even,
    /// In fixed parts by outlet, whatever is plugged in: one number for each outlet.
    Shares(Vec<f64>),
    /// Each outlet by its own setting.
    Each {
        /// The most energy of one outlet.
        most: Joules,
    },
}

/// The place of a head on a pack.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Head {
    /// The index of the pack.
    pub pack: usize,
    /// The outlet, counted from 1; `None` if it does not matter.
    pub outlet: Option<u32>,
}

impl Pack {
    /// Whether its heads have one setting.
    pub const fn is_set_as_one(&self) -> bool {
        !matches!(self.split, Split::Each { .. })
    }

    /// Whether a head's light depends on how the pack divides its energy, with this many heads on it. Where each outlet has a
    /// setting of its own, that tells its part, unless the pack states how far it may be off.
    pub const fn is_divided(&self, heads: usize) -> bool {
        match self.split {
            Split::Even => heads > 1,
            Split::Shares(_) => true,
            Split::Each { .. } => self.plus_minus.is_some(),
        }
    }

    /// The energy of a head at the full setting, with this many heads on the pack.
    ///
    /// ```
    /// use stopwright::light::{quantity::Joules, unit::{Feeding, pack::{Pack, Split}, scale::Scale}};
    /// let pack = |split| Pack {
    ///     id: None,
    ///     name: "p".to_owned(),
    ///     energy: Joules::new_unchecked(2400.0),
    ///     scale: Scale::continuous(),
    ///     outlets: 2,
    ///     split,
    ///     feeding: Feeding::default(),
    ///     plus_minus: None,
    /// };
    /// assert_eq!(pack(Split::Even).head_energy(None, 2).get(), 1200.0);
    /// assert_eq!(pack(Split::Shares(vec![2.0, 1.0])).head_energy(Some(1), 1).get(), 1600.0);
    /// ```
    pub fn head_energy(&self, outlet: Option<u32>, heads: usize) -> Joules {
        let full = self.energy.get();
        match &self.split {
            Split::Even => Joules::new_unchecked(full / heads.max(1) as f64),
            Split::Shares(shares) => {
                let share = outlet.and_then(|outlet| shares.get((outlet as usize).checked_sub(1)?));
                Joules::new_unchecked(full * share.unwrap_or(&0.0) / shares.iter().sum::<f64>())
            }
            Split::Each { most } => *most,
        }
    }
}
