//! The duration of a flash.
//!
//! t0.5 is the time above half of the peak, t0.1 the time above a tenth (ISO 2827). After the peak a flash decays
//! exponentially, so that t0.1 = t0.5·ln 10/ln 2 (derived). A unit that cuts its flash off with a switch does not, so
//! that both times must be known.

use std::f64::consts::{LN_2, LN_10};

use crate::light::quantity::{Seconds, words::words};

words! {
    /// How a flash ends.
    pub enum Shape as "FlashShape" {
        /// The light decays exponentially.
        Exponential = "exponential",
        /// A switch cuts the flash off; both times must be known.
        CutOff = "cut_off",
    }
}

/// The duration of a flash.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Duration {
    /// Time above half of the peak.
    pub t0_5: Seconds,
    /// Time above a tenth of the peak.
    pub t0_1: Seconds,
}

impl Duration {
    /// The duration from the stated times. `None` if no time is given, if only one is given for a flash that is cut
    /// off, or if t0.5 is longer than t0.1.
    pub fn of(t0_5: Option<Seconds>, t0_1: Option<Seconds>, shape: Shape) -> Option<Self> {
        let ratio = LN_10 / LN_2;
        let scaled = |time: Seconds, by: f64| Seconds::new_unchecked(time.get() * by);
        let duration = match (t0_5, t0_1, shape) {
            (Some(t0_5), Some(t0_1), _) => Self { t0_5, t0_1 },
            (Some(t0_5), None, Shape::Exponential) => Self { t0_5, t0_1: scaled(t0_5, ratio) },
            (None, Some(t0_1), Shape::Exponential) => Self { t0_5: scaled(t0_1, 1.0 / ratio), t0_1 },
            _ => return None,
        };
        (duration.t0_5 <= duration.t0_1).then_some(duration)
    }
}
