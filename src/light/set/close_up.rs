//! Close-ups: the light that a lens loses when it is extended.
//!
//! The effective f-number is N·(1 + m/p) with the magnification m and the pupil ratio p, so the lens loses 2·log2(1 + m/p)
//! stops; m is the extension over the focal length for a simple lens that was focused at infinity before (derived from
//! the lens equation; common practice, mostly with p = 1).

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::quantity::{FNumber, Number, Stops, marks::Step, nominal::Nominal};

/// A lens at a magnification.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CloseUp {
    /// Size of the image over size of the subject.
    pub magnification: f64,
    /// Diameter of the exit pupil over that of the entrance pupil.
    pub pupil_ratio: f64,
}

impl CloseUp {
    /// The effective f-number over the one that is set.
    fn factor(self) -> f64 {
        1.0 + self.magnification / self.pupil_ratio
    }

    /// The effect on the exposure, stops; 0 or less.
    ///
    /// ```
    /// use stopwright::light::set::close_up::CloseUp;
    /// assert_eq!(CloseUp { magnification: 1.0, pupil_ratio: 1.0 }.stops(), -2.0);
    /// ```
    pub fn stops(self) -> f64 {
        -2.0 * self.factor().log2()
    }
}

/// A close-up, and the f-numbers to convert.
#[derive(Debug, Clone, PartialEq)]
pub struct CloseUpQuestion {
    /// The lens.
    pub close_up: CloseUp,
    /// The f-number set on the lens.
    pub set: Option<FNumber>,
    /// The f-number that a hand-held meter reads.
    pub metered: Option<FNumber>,
    /// The step of the series of marks.
    pub step: Step,
}

/// What a close-up takes from the exposure.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = CloseUpExposure)]
pub struct CloseUpAnswer {
    /// Image size divided by subject size.
    pub magnification: Number,
    /// The effect on the exposure, stops; 0 or less.
    pub exposure_stops: Stops,
    /// The f-number that the lens works at, of the one that is set; absent without `f_number`.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub effective_f_number: Option<Nominal>,
    /// The f-number to set for the one that is metered; absent without `metered_f_number`.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub set_f_number: Option<Nominal>,
}

/// The exposure of a close-up.
pub fn close_up(question: &CloseUpQuestion) -> CloseUpAnswer {
    let CloseUpQuestion { close_up, set, metered, step } = question;
    let times =
        |f_number: &FNumber, by: f64| Nominal::f_number(FNumber::new_unchecked(f_number.get() * by), *step);
    CloseUpAnswer {
        magnification: Number::new_unchecked(close_up.magnification),
        exposure_stops: Stops::new_unchecked(close_up.stops()),
        effective_f_number: set.as_ref().map(|set| times(set, close_up.factor())),
        set_f_number: metered.as_ref().map(|metered| times(metered, 1.0 / close_up.factor())),
    }
}
