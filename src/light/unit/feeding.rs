//! Power supply of a unit: recycling, battery charges, electrical draw and duty limit.

use crate::light::quantity::{Estimate, Stops};

/// The power supply of a unit, as far as it is known.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Feeding {
    /// Recycle times: rows of fraction of full energy, rising, and seconds.
    pub recycle: Vec<[f64; 2]>,
    /// Full-power flashes per battery charge; `None` for a mains unit.
    pub flashes_per_charge: Option<f64>,
    /// Its electrical draw.
    pub draw: Draw,
    /// The duty limit of its head.
    pub duty: Option<Duty>,
}

/// The electrical draw of a unit, as far as it is stated.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Draw {
    /// Energy of the flash over the energy drawn to charge it.
    pub charging_efficiency: Option<f64>,
    /// Watts over volt-amperes.
    pub power_factor: Option<f64>,
    /// Power of the modelling lamp, W.
    pub modelling_lamp_w: Option<f64>,
}

impl Draw {
    /// Power of the modelling lamp, W: as stated, or any.
    pub fn lamp_w(&self) -> Estimate<f64> {
        self.modelling_lamp_w.map_or(MODELLING_LAMP_W, Estimate::exact)
    }
}

/// A duty limit: a number of full-power flashes, or the same energy in weaker ones, within a time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Duty {
    /// Full-power flashes.
    pub flashes: f64,
    /// The time in which they are counted, s.
    pub in_s: f64,
}

/// Default charging efficiency (from memory, wide on purpose).
pub const CHARGING_EFFICIENCY: Estimate<f64> = Estimate { low: 0.5, typical: 0.7, high: 0.9 };
/// Power of a modelling lamp that is not stated, W (common practice: off or a few watts of LED, to 250 W of halogen; the
/// typical value is our judgement).
pub const MODELLING_LAMP_W: Estimate<f64> = Estimate { low: 0.0, typical: 100.0, high: 250.0 };
/// Default power factor (from memory, wide on purpose).
pub const POWER_FACTOR: Estimate<f64> = Estimate { low: 0.6, typical: 0.8, high: 1.0 };
/// Power factor of a device that states none (from memory, rough: 1 for heaters, halogen lamps and supplies with
/// correction; motors and small supplies are below).
pub const DEVICE_POWER_FACTOR: Estimate<f64> = Estimate { low: 0.7, typical: 1.0, high: 1.0 };

impl Feeding {
    /// Recycle time after a flash at a setting, s; `None` if no time is known. With one known time, proportional to
    /// energy. With a table, linear between its rows, never shorter than its shortest time, and proportional to energy
    /// beyond its last row.
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

/// Whether a unit recycles before the next frame, up to rounding errors.
pub fn keeps_up(recycle_s: f64, interval_s: f64) -> bool {
    recycle_s <= interval_s * (1.0 + 1e-9)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn recycle_times_follow_energy_or_the_table() {
        let recycle_s = |recycle: &[[f64; 2]], below: f64| {
            Feeding { recycle: recycle.to_vec(), ..Feeding::default() }.recycle_s(Stops::new_unchecked(below))
        };
        assert_eq!(recycle_s(&[], 1.0), None);
        assert_eq!(recycle_s(&[[1.0, 2.0]], 0.0), Some(2.0));
        assert_eq!(recycle_s(&[[1.0, 2.0]], 2.0), Some(0.5));
        // A time at half power determines the one at full power.
        assert_eq!(recycle_s(&[[0.5, 1.0]], 0.0), Some(2.0));
        let table = [[0.25, 0.6], [0.5, 0.8], [1.0, 1.8]];
        assert_eq!(recycle_s(&table, 1.0), Some(0.8));
        assert_eq!(recycle_s(&table, 5.0), Some(0.6));
        let between = recycle_s(&table, -(0.75_f64.log2()));
        assert!(between.is_some_and(|seconds| (seconds - 1.3).abs() < 1e-12), "{between:?}");
    }
}
