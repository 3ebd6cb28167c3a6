//! Whether lengths are told in feet beside metres.

use crate::light::quantity::{Feet, Metres, constants::FOOT_M, words::words};

/// The system of units that an answer's lengths are wanted in. Metres are always told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Units {
    /// Metres.
    #[default]
    Metric,
    /// Feet beside metres.
    Imperial,
}

/// Lengths under this are told as they are.
const NEAR: f64 = 0.1;

impl Units {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Metric, Self::Imperial];

    /// As it is written in a request.
    pub const fn text(self) -> &'static str {
        match self {
            Self::Metric => "metric",
            Self::Imperial => "imperial",
        }
    }

    /// The length in feet, where feet are wanted.
    ///
    /// ```
    /// use stopwright::light::{quantity::Metres, units::Units};
    /// let feet = Units::Imperial.feet(Metres::new_unchecked(2.4384));
    /// assert!(feet.is_some_and(|feet| (feet.get() - 8.0).abs() < 1e-12));
    /// assert_eq!(Units::Metric.feet(Metres::new_unchecked(2.4384)), None);
    /// ```
    pub fn feet(self, length: Metres) -> Option<Feet> {
        (self == Self::Imperial).then(|| Feet::of(length))
    }

    /// The unit in which a length is told first.
    pub const fn unit(self) -> &'static str {
        match self {
            Self::Metric => "m",
            Self::Imperial => "ft",
        }
    }

    /// The length in that unit.
    pub fn length(self, length: Metres) -> f64 {
        self.feet(length).map_or(length.get(), Feet::get)
    }

    /// A length that is told in that unit.
    pub fn metres(self, length: f64) -> Metres {
        Metres::new_unchecked(match self {
            Self::Metric => length,
            Self::Imperial => length * FOOT_M,
        })
    }

    /// The length in a sentence, to the centimetre or the hundredth of a foot: `2.12 m`, `6.96 ft`.
    ///
    /// ```
    /// use stopwright::light::{quantity::Metres, units::Units};
    /// assert_eq!(Units::Imperial.said(Metres::new_unchecked(-0.3)), "-0.98 ft");
    /// ```
    pub fn said(self, length: Metres) -> String {
        format!("{} {}", self.shown(length), self.unit())
    }

    /// Where a light is moved to, as a sentence tells it: what is rounded goes no less far.
    ///
    /// ```
    /// use stopwright::light::{quantity::Metres, units::Units};
    /// let moved = |from, to| Units::Metric.moved(Metres::new_unchecked(from), Metres::new_unchecked(to)).get();
    /// assert_eq!([moved(10.0, 5.297), moved(2.0, 5.291)], [5.29, 5.3]);
    /// ```
    pub fn moved(self, from: Metres, to: Metres) -> Metres {
        let value = self.length(to);
        let hundredths = value * 100.0;
        self.metres(if value < NEAR {
            crate::light::quantity::significant(value)
        } else if to.get() < from.get() {
            (hundredths + 1e-6).floor() / 100.0
        } else {
            (hundredths - 1e-6).ceil() / 100.0
        })
    }

    /// The length that [`Self::said`] tells.
    pub fn rounded(self, length: Metres) -> Metres {
        self.metres(self.shown(length))
    }

    fn shown(self, length: Metres) -> f64 {
        let value = self.length(length);
        if value.abs() < NEAR {
            crate::light::quantity::significant(value)
        } else {
            (value * 100.0).round() / 100.0
        }
    }
}

words! {
    /// The unit of a guide number.
    pub enum GuideUnit as "GuideUnit" {
        /// Metres.
        Metres = "m",
        /// Feet.
        Feet = "ft",
    }
}
