//! How a unit is fed: recycling, charges, electrical draw, duty.

use crate::light::quantity::{Estimate, Stops};

/// How a unit is fed, as far as it is known.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Feeding {
    /// Recycle times: part of full energy, rising, and seconds.
    pub recycle: Vec<[f64; 2]>,
    /// Flashes at full power that one charge holds; none for a unit on the mains.
    pub pops_per_charge: Option<f64>,
    /// What it draws.
    pub draw: Draw,
    /// What its head stands.
    pub duty: Option<Duty>,
}

/// What a unit draws, as far as it is stated.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Draw {
    /// Energy in the flash over the energy drawn for it.
    pub charging_efficiency: Option<f64>,
    /// Watts over volt-amperes.
    pub power_factor: Option<f64>,
    /// Modelling lamp, W.
    pub modelling_lamp_w: f64,
}

/// A limit of a head: so many flashes at full power, or as much energy in weaker ones, in so many seconds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Duty {
    /// Flashes at full power.
    pub pops: f64,
    /// The time that they are counted in, s.
    pub in_s: f64,
}

/// What is taken where no efficiency of charging is stated (from memory, wide on purpose).
pub const CHARGING_EFFICIENCY: Estimate<f64> = Estimate { low: 0.5, typical: 0.7, high: 0.9 };
/// What is taken where no power factor is stated (from memory, wide on purpose).
pub const POWER_FACTOR: Estimate<f64> = Estimate { low: 0.6, typical: 0.8, high: 1.0 };

impl Feeding {
    /// Recycle time after a flash at a setting, s: in proportion to its energy where one time is known; straight
    /// between the times of a table, no faster than its fastest, and in proportion beyond its slowest.
    pub fn recycle_s(&self, setting: Stops) -> Option<f64> {
        let part = (-setting.get()).exp2();
        let [slowest, seconds] = *self.recycle.last()?;
        let after = self.recycle.partition_point(|[known, _]| *known < part);
        match (after.checked_sub(1), self.recycle.get(after)) {
            (Some(before), Some([to, slow])) => {
                let [from, fast] = self.recycle[before];
                Some(fast + (slow - fast) * (part - from) / (to - from))
            }
            (None, Some([_, fastest])) if self.recycle.len() > 1 => Some(*fastest),
            _ => Some(seconds * part / slowest),
        }
    }
}

/// Whether a unit that recycles in so many seconds keeps up with frames so far apart, but for the last digits.
pub fn keeps_up(recycle_s: f64, seconds_between: f64) -> bool {
    recycle_s <= seconds_between * (1.0 + 1e-9)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn recycle_times_follow_energy_or_their_table() {
        let at = |recycle: &[[f64; 2]], below: f64| {
            Feeding { recycle: recycle.to_vec(), ..Feeding::default() }.recycle_s(Stops::new_unchecked(below))
        };
        assert_eq!(at(&[], 1.0), None);
        assert_eq!(at(&[[1.0, 2.0]], 0.0), Some(2.0));
        assert_eq!(at(&[[1.0, 2.0]], 2.0), Some(0.5));
        // A time at half power says the one at full.
        assert_eq!(at(&[[0.5, 1.0]], 0.0), Some(2.0));
        let table = [[0.25, 0.6], [0.5, 0.8], [1.0, 1.8]];
        assert_eq!(at(&table, 1.0), Some(0.8));
        assert_eq!(at(&table, 5.0), Some(0.6));
        let between = at(&table, -(0.75_f64.log2()));
        assert!(between.is_some_and(|seconds| (seconds - 1.3).abs() < 1e-12), "{between:?}");
    }
}
