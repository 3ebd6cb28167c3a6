//! Limits of remedies.

use crate::light::quantity::{FNumber, Iso, Metres, bounds};

/// The limits within which remedies stay. Defaults: f/1 to f/64, ISO 25 to 25600, 0.3 m to 1 km, 64 pops.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Widest and smallest aperture.
    pub f_number: [FNumber; 2],
    /// Lowest and highest ISO speed.
    pub iso: [Iso; 2],
    /// Nearest and farthest distance of a light.
    pub distance: [Metres; 2],
    /// The largest number of flashes in one exposure.
    pub max_pops: u32,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            // The usual ranges of lenses and cameras (our judgement).
            f_number: [FNumber::new_unchecked(1.0), FNumber::new_unchecked(64.0)],
            iso: [Iso::new_unchecked(25.0), Iso::new_unchecked(25_600.0)],
            distance: [Metres::new_unchecked(0.3), Metres::new_unchecked(bounds::DISTANCE.greatest)],
            max_pops: 64,
        }
    }
}

impl Limits {
    /// Whether an aperture is within the limits.
    pub fn allows_f_number(&self, value: f64) -> bool {
        within(value, self.f_number[0].get(), self.f_number[1].get())
    }

    /// Whether an ISO speed is within the limits.
    pub fn allows_iso(&self, value: f64) -> bool {
        within(value, self.iso[0].get(), self.iso[1].get())
    }

    /// Whether a distance is within the limits.
    pub fn allows_distance(&self, value: f64) -> bool {
        within(value, self.distance[0].get(), self.distance[1].get())
    }
}

/// Whether a value is in the range, up to rounding errors.
fn within(value: f64, least: f64, greatest: f64) -> bool {
    value >= least * (1.0 - 1e-9) && value <= greatest * (1.0 + 1e-9)
}
