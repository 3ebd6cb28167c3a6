//! Units of length in answers: metres, with or without feet.

use crate::light::quantity::{Feet, Metres, constants::FOOT_M, significant, words::words};

/// An inch, m.
const INCH_M: f64 = FOOT_M / 12.0;

/// The system of units for lengths in answers. Metres are always included.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Units {
    /// Metres only.
    #[default]
    Metric,
    /// Metres and feet.
    Imperial,
}

/// Lengths below this are written to 4 significant digits instead of hundredths.
const EXACT_BELOW: f64 = 0.1;

impl Units {
    /// Both systems.
    pub const ALL: [Self; 2] = [Self::Metric, Self::Imperial];

    /// The value in a request.
    pub const fn text(self) -> &'static str {
        match self {
            Self::Metric => "metric",
            Self::Imperial => "imperial",
        }
    }

    /// The length in feet, or `None` with metric units.
    ///
    /// ```
    /// use stopwright::light::quantity::{Metres, units::Units};
    /// let feet = Units::Imperial.feet(Metres::new_unchecked(2.4384));
    /// assert!(feet.is_some_and(|feet| (feet.get() - 8.0).abs() < 1e-12));
    /// assert_eq!(Units::Metric.feet(Metres::new_unchecked(2.4384)), None);
    /// ```
    pub fn feet(self, length: Metres) -> Option<Feet> {
        (self == Self::Imperial).then(|| Feet::from_metres(length))
    }

    /// The unit of lengths in sentences.
    pub const fn unit(self) -> &'static str {
        match self {
            Self::Metric => "m",
            Self::Imperial => "ft",
        }
    }

    /// The length in the unit of [`Self::unit`].
    pub fn length(self, length: Metres) -> f64 {
        self.feet(length).map_or(length.get(), Feet::get)
    }

    /// The inverse of [`Self::length`].
    pub fn metres(self, length: f64) -> Metres {
        Metres::new_unchecked(match self {
            Self::Metric => length,
            Self::Imperial => length * FOOT_M,
        })
    }

    /// Distances about this one to move a light to, the nearest first: an eighteenth of a stop apart, ten stops in all either
    /// way, with this many significant digits; in feet to the inch.
    ///
    /// ```
    /// use stopwright::light::quantity::{Metres, units::Units};
    /// let about = |from, digits| Units::Metric.distances_about(Metres::new_unchecked(from), digits);
    /// assert_eq!(about(2.0, 2)[..2].iter().map(|to| to.get()).collect::<Vec<_>>(), [2.1, 1.9]);
    /// assert_eq!(about(2.0, 3)[..2].iter().map(|to| to.get()).collect::<Vec<_>>(), [2.08, 1.92]);
    /// ```
    pub fn distances_about(self, from: Metres, digits: i32) -> Vec<Metres> {
        let rounded = |to: f64| match self {
            Self::Metric => {
                let unit = 10_f64.powi(to.log10().floor() as i32 + 1 - digits);
                significant((to / unit).round() * unit)
            }
            Self::Imperial => (to / INCH_M).round() * INCH_M,
        };
        // An eighteenth of a stop each, five doublings either way.
        let parts = (1..=180).flat_map(|k| [-k, k]).map(|k| f64::from(k) / 36.0);
        let mut all: Vec<f64> = parts.map(|doublings| rounded(from.get() * doublings.exp2())).collect();
        // A move of less than a tenth of a stop is none.
        all.retain(|to| *to > 0.0 && 2.0 * (to / from.get()).log2().abs() >= 0.1);
        let size = |to: &f64| (to / from.get()).log2().abs();
        all.sort_by(|a, b| size(a).total_cmp(&size(b)));
        all.dedup();
        all.into_iter().map(Metres::new_unchecked).collect()
    }

    /// A length as a person can measure it: in feet to the inch.
    pub fn measurable(self, length: f64) -> f64 {
        match self {
            Self::Metric => significant(length),
            Self::Imperial => (length / INCH_M).round() * INCH_M,
        }
    }

    /// The length as a person measures it: `2.1 m`, `6 ft 11 in`.
    pub fn measured(self, length: Metres) -> String {
        match self {
            Self::Metric => format!("{} m", self.rounded_value(length)),
            Self::Imperial => {
                let inches = (length.get() / INCH_M).round();
                match (inches / 12.0).floor() {
                    0.0 => format!("{inches} in"),
                    feet if inches % 12.0 == 0.0 => format!("{feet} ft"),
                    feet => format!("{feet} ft {} in", inches % 12.0),
                }
            }
        }
    }

    /// The length rounded as in a sentence, in the unit of [`Self::unit`]: to the centimetre or the hundredth of a foot.
    pub fn rounded_value(self, length: Metres) -> f64 {
        let value = self.length(length);
        if value.abs() < EXACT_BELOW {
            format!("{value:.3e}").parse().map_or(value, significant)
        } else {
            (value * 100.0).round() / 100.0
        }
    }
}

words! {
    /// The unit of length of a guide number.
    pub enum GuideUnit as "GuideUnit" {
        /// Metres.
        Metres = "m",
        /// Feet.
        Feet = "ft",
    }
}
