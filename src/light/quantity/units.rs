//! Units of length in answers: metres, with or without feet.

use crate::light::quantity::{Feet, Metres, constants::FOOT_M, words::words};

/// The system of units for lengths in answers. Metres are always included.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Units {
    /// Metres only.
    #[default]
    Metric,
    /// Metres and feet.
    Imperial,
}

/// Lengths below this are written to 6 significant digits instead of hundredths.
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

    /// Rounds the new distance of a moved light as in a sentence, always away from the old distance: the rounded move is
    /// never the shorter one.
    ///
    /// ```
    /// use stopwright::light::quantity::{Metres, units::Units};
    /// let moved = |from, to| Units::Metric.moved(Metres::new_unchecked(from), Metres::new_unchecked(to)).get();
    /// assert_eq!([moved(10.0, 5.297), moved(2.0, 5.291)], [5.29, 5.3]);
    /// ```
    pub fn moved(self, from: Metres, to: Metres) -> Metres {
        let value = self.length(to);
        let hundredths = value * 100.0;
        self.metres(if value < EXACT_BELOW {
            crate::light::quantity::significant(value)
        } else if to.get() < from.get() {
            (hundredths + 1e-6).floor() / 100.0
        } else {
            (hundredths - 1e-6).ceil() / 100.0
        })
    }

    /// The length rounded as in a sentence: to the centimetre or the hundredth of a foot.
    pub fn rounded(self, length: Metres) -> Metres {
        self.metres(self.rounded_value(length))
    }

    /// The same in the unit of [`Self::unit`].
    pub fn rounded_value(self, length: Metres) -> f64 {
        let value = self.length(length);
        if value.abs() < EXACT_BELOW {
            crate::light::quantity::significant(value)
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
