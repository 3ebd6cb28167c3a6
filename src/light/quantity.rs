//! Typed quantities: one small type each, rounded only on serialisation.
//!
//! `new` checks the range in [`crate::light::quantity::bounds`]; `new_unchecked` wraps a computed result, which may lie
//! outside the range of a request. Answers carry stops to 4 decimals and everything else to 6 significant digits. A
//! number that is not finite is a serialisation error.

pub mod bounds;
pub mod constants;
pub mod half_widths;
pub mod kind;
pub mod marks;
pub mod nominal;
pub mod notation;
pub mod rules;
pub mod units;
pub(crate) mod words;

use serde::{Serialize, Serializer, ser::Error as _};
use utoipa::ToSchema;

use self::constants::FOOT_M;
use crate::light::error::InvalidValue;

/// Rounds to 6 significant digits; never `-0`.
pub fn significant(value: f64) -> f64 {
    if value == 0.0 || !value.is_finite() {
        return if value == 0.0 { 0.0 } else { value };
    }
    fast_significant(value).unwrap_or_else(|| format!("{value:.5e}").parse().unwrap_or(value))
}

/// Fast path of [`significant`]: `None` outside the usual sizes, or if the rounding is too close to call.
fn fast_significant(value: f64) -> Option<f64> {
    // Whole numbers below 2^53 and powers of ten up to 10^22 are exact, so one division or product of them gives the
    // nearest double.
    const TENS: [f64; 17] =
        [1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16];
    let size = value.abs();
    if !(1e-10..1e12).contains(&size) {
        return None;
    }
    let shift = |number: f64, places: i32| {
        let power = TENS.get(places.unsigned_abs() as usize)?;
        Some(if places < 0 { number / power } else { number * power })
    };
    // 1233/4096 approximates log10(2), so this is the decade or the one below.
    let exponent = (size.to_bits() >> 52) as i32 - 1023;
    let mut places = 5 - ((exponent * 1233) >> 12);
    let mut shifted = shift(size, places)?;
    if shifted >= 1e6 {
        places -= 1;
        shifted = shift(size, places)?;
    }
    let digits = shifted.round();
    // Near a half, and near the ends of a decade, rounding errors could decide.
    let is_plain = (shifted.fract() - 0.5).abs() > 1e-6 && (100_001.0..999_999.0).contains(&digits);
    let rounded = shift(digits, -places)?;
    is_plain.then_some(rounded.copysign(value))
}

/// A requirement rounded up so that it suffices: to three significant digits, or to a whole number if it is 100 or more. A
/// value within rounding error of such a number is not rounded up.
pub fn rounded_up(need: f64) -> f64 {
    let digits = 2 - need.log10().floor().clamp(-9.0, 2.0) as i32;
    let parts = 10_f64.powi(digits);
    significant((need * parts * (1.0 - 1e-9)).ceil() / parts)
}

/// Rounds to 4 decimals; never `-0`.
pub fn four_decimals(value: f64) -> f64 {
    let rounded = (value * 1e4).round() / 1e4;
    if rounded == 0.0 { 0.0 } else { rounded }
}

fn write<S: Serializer>(value: f64, rounded: f64, serializer: S) -> Result<S::Ok, S::Error> {
    // Rounding may overflow to infinity.
    if value.is_finite() && rounded.is_finite() {
        serializer.serialize_f64(rounded)
    } else {
        Err(S::Error::custom("a result is not a finite number"))
    }
}

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $bounds:path, $round:path) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, ToSchema)]
        #[schema(value_type = f64)]
        pub struct $name(f64);

        impl $name {
            /// An input value, checked against its row of [`crate::light::quantity::bounds`].
            pub fn new(value: f64) -> Result<Self, InvalidValue> {
                $bounds.check(value).map(Self)
            }

            /// A computed value, without a range check.
            pub const fn new_unchecked(value: f64) -> Self {
                Self(value)
            }

            /// The number, in the unit of the type.
            pub const fn get(self) -> f64 {
                self.0
            }
        }

        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                write(self.0, $round(self.0), serializer)
            }
        }
    };
}

quantity!(
    /// Stops of exposure; `+1` is twice the light.
    Stops, bounds::SHIFT, four_decimals
);
quantity!(
    /// f-number.
    FNumber, bounds::F_NUMBER, significant
);
quantity!(
    /// Seconds.
    Seconds, bounds::EXPOSURE_TIME, significant
);
quantity!(
    /// ISO speed.
    Iso, bounds::ISO, significant
);
quantity!(
    /// Joules (watt-seconds).
    Joules, bounds::ENERGY, significant
);
quantity!(
    /// Metres.
    Metres, bounds::DISTANCE, significant
);
quantity!(
    /// Feet.
    Feet, bounds::DISTANCE, significant
);
quantity!(
    /// Guide number in metres at ISO 100.
    GuideMetres, bounds::GUIDE_NUMBER, significant
);
quantity!(
    /// Guide number in feet at ISO 100.
    GuideFeet, bounds::GUIDE_NUMBER, significant
);
quantity!(
    /// Candela-seconds: the strength of a flash beam on its axis.
    CandelaSeconds, bounds::LIGHT_RATIO, significant
);
quantity!(
    /// Lumen-seconds: the light of a whole flash.
    LumenSeconds, bounds::LIGHT_RATIO, significant
);
quantity!(
    /// Steradians.
    Steradians, bounds::LIGHT_RATIO, significant
);
quantity!(
    /// A number without a unit: a fraction or a ratio.
    Number, bounds::LIGHT_RATIO, significant
);
quantity!(
    /// Lux-seconds: luminous exposure.
    LuxSeconds, bounds::LIGHT_RATIO, significant
);
quantity!(
    /// Colour temperature, K.
    Kelvin, bounds::KELVIN, significant
);
quantity!(
    /// Mired: a million over the colour temperature.
    Mired, bounds::MIRED, significant
);
quantity!(
    /// Illuminance in lux.
    Lux, bounds::ILLUMINANCE, significant
);

quantity!(
    /// Exposure value: stops on a scale of its own, on which a higher one is more light on the scene, or a darker setting.
    ExposureValue, bounds::EXPOSURE_VALUE, four_decimals
);

impl Stops {
    /// No change.
    pub const ZERO: Self = Self(0.0);

    /// The factor of light: 2^stops.
    pub fn factor(self) -> f64 {
        self.0.exp2()
    }
}

impl FNumber {
    /// N², which the required light is proportional to.
    pub fn squared(self) -> f64 {
        self.0 * self.0
    }
}

impl Feet {
    /// Converts a length to feet.
    pub fn from_metres(length: Metres) -> Self {
        Self(length.0 / FOOT_M)
    }
}

impl GuideFeet {
    /// Converts a guide number to feet.
    pub fn of(guide: GuideMetres) -> Self {
        Self(guide.0 / FOOT_M)
    }
}

impl Iso {
    /// ISO 100, at which guide numbers are stated.
    pub const BASE: Self = Self(100.0);
}

/// A range of a quantity.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct Range<T> {
    /// The lowest value.
    #[schema(value_type = f64)]
    pub low: T,
    /// The highest value.
    #[schema(value_type = f64)]
    pub high: T,
}

impl<T> Range<T> {
    /// A range, with a function applied to both ends.
    pub fn of<U>(ends: [U; 2], f: impl Fn(U) -> T) -> Self {
        let [low, high] = ends.map(f);
        Self { low, high }
    }

    /// Both ends.
    pub fn ends(self) -> [T; 2] {
        [self.low, self.high]
    }
}

/// An estimated value with its range.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct Estimate<T> {
    /// The lower 95 % end.
    #[schema(value_type = f64)]
    pub low: T,
    /// The typical value.
    #[schema(value_type = f64)]
    pub typical: T,
    /// The upper 95 % end.
    #[schema(value_type = f64)]
    pub high: T,
}

impl<T: Copy> Estimate<T> {
    /// A value without uncertainty.
    pub fn exact(value: T) -> Self {
        Self { low: value, typical: value, high: value }
    }

    /// Applies an increasing function to all three values.
    pub fn map<U>(self, f: impl Fn(T) -> U) -> Estimate<U> {
        Estimate { low: f(self.low), typical: f(self.typical), high: f(self.high) }
    }
}

impl Estimate<Stops> {
    /// Stops with the same half-width on both sides.
    pub fn plus_minus(typical: Stops, half_width: f64) -> Self {
        let end = |off: f64| Stops::new_unchecked(typical.get() + off);
        Self { low: end(-half_width), typical, high: end(half_width) }
    }
}

impl Estimate<f64> {
    /// A value with the same half-width in stops on both sides.
    pub fn within(typical: f64, half_width_stops: f64) -> Self {
        let end = |off: f64| typical * off.exp2();
        Self { low: end(-half_width_stops), typical, high: end(half_width_stops) }
    }

    /// The product of two independent estimates: their half-widths in stops add as the root of the sum of squares, each
    /// side by itself.
    #[must_use]
    pub fn times(self, other: Self) -> Self {
        let typical = self.typical * other.typical;
        // A middle of 0 has no stops: the ends are then multiplied.
        let end = |[own, its]: [f64; 2], sign: f64| {
            if typical > 0.0 {
                let both = (own / self.typical).log2().hypot((its / other.typical).log2());
                typical * (sign * both).exp2()
            } else {
                own * its
            }
        };
        Self { low: end([self.low, other.low], -1.0), typical, high: end([self.high, other.high], 1.0) }
    }

    /// One over the estimate.
    #[must_use]
    pub fn inverse(self) -> Self {
        Self { low: 1.0 / self.high, typical: 1.0 / self.typical, high: 1.0 / self.low }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn a_value_that_rounds_to_infinity_is_an_error_and_not_null() {
        assert!(serde_json::to_string(&Stops::new_unchecked(1e305)).is_err());
        assert!(serde_json::to_string(&Number::new_unchecked(f64::NAN)).is_err());
        assert_eq!(
            serde_json::to_string(&Number::new_unchecked(f64::MAX)).ok().as_deref(),
            Some("1.79769e+308")
        );
    }

    proptest! {
        #[test]
        fn six_digits_are_those_of_formatted_text(bits: u64, exponent in -14..14_i32, digits in 0..20_000_000_u32) {
            let text = |value: f64| format!("{value:.5e}").parse::<f64>().unwrap_or(f64::NAN);
            // Any double, doubles of usual size, and doubles near a half of the last digit.
            let usual = (bits as f64 / u64::MAX as f64) * 10_f64.powi(exponent);
            let half = f64::from(digits) / 20.0 * 10_f64.powi(exponent);
            for value in [f64::from_bits(bits), usual, half, half.next_up(), half.next_down(), -usual] {
                if value.is_finite() && value != 0.0 {
                    prop_assert_eq!(significant(value).to_bits(), text(value).to_bits(), "{}", value);
                }
            }
        }
    }
}
