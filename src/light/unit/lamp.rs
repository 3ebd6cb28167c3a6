//! Lamps that burn through the exposure.
//!
//! The meter equation N² = E·t·S/C (published: ISO 2720:1974) has E·t where a flash has its luminous exposure, so a lamp of
//! I cd is for a time t a flash of I·t cd·s (derived).

use crate::light::quantity::{Estimate, Lux, Metres, constants::CONSTANT_C};

/// The light of a lamp at full output.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Lamp {
    /// Luminous intensity on the axis, cd.
    Intensity(f64),
    /// Luminous flux, lm. The intensity follows from coverage or beam.
    Flux(f64),
}

impl Lamp {
    /// A lamp that gives this illuminance on its axis at a distance, by the inverse-square law (CIE e-ILV 17-25-104).
    ///
    /// ```
    /// use stopwright::light::{quantity::{Lux, Metres}, unit::lamp::Lamp};
    /// let lamp = Lamp::metered(Lux::new_unchecked(1200.0), Metres::new_unchecked(2.0));
    /// assert_eq!(lamp, Lamp::Intensity(4800.0));
    /// ```
    pub fn metered(illuminance: Lux, distance: Metres) -> Self {
        Self::Intensity(illuminance.get() * distance.get() * distance.get())
    }

    /// Its intensity on the axis, cd. `per_steradian`: the part of its light in a unit of solid angle there; needed for a flux.
    pub fn intensity(self, per_steradian: Option<Estimate<f64>>) -> Option<Estimate<f64>> {
        match self {
            Self::Intensity(candela) => Some(Estimate::exact(candela)),
            Self::Flux(lumen) => per_steradian.map(|part| part.map(|part| part * lumen)),
        }
    }
}

/// The square of the guide number of a flash that gives as much light as a lamp of this intensity in one second:
/// GN² = Q·S/C at ISO 100.
pub fn square_of_a_second(candela: f64) -> f64 {
    candela * 100.0 / CONSTANT_C
}
