//! The uncertainty of light: its 95 % ends, and what causes it.
//!
//! A part is a normal distribution of two halves, with half of the mass on each side. Half-widths of independent parts add as
//! the root of the sum of squares, each side by itself; what lights have in common adds linearly (JCGM 100:2008, 5.1 and
//! 5.2). Where the two sides differ much, that is not enough, and the ends are quantiles of draws (JCGM 101:2008). Of a set,
//! [`budget`] knows more: shares of light, joint chances, what cancels.

pub mod advice;
pub mod budget;
mod draws;
pub mod of_set;
pub mod prior;
pub mod sources;
pub mod sureness;

#[cfg(test)]
mod tests;

use serde::Serialize;
use utoipa::ToSchema;

use self::draws::Lattice;
use crate::light::{
    id::Id,
    quantity::{Estimate, Number, Stops, words::words},
};

words! {
    /// What makes light uncertain.
    pub enum Cause as "UncertaintyCause" {
        /// The light of a unit, by what is stated of it.
        Rating = "rating",
        /// What a modifier does.
        Modifier = "modifier",
        /// How far the light of a unit follows its scale.
        Setting = "setting",
        /// How far one flash is like another.
        Repeatability = "repeatability",
        /// How far a light stands from a point.
        Distance = "distance",
        /// The incidence, and the angle off the axis of a light.
        Angle = "angle",
        /// The filters on a light.
        Filter = "filter",
        /// The division of a pack among its heads.
        Pack = "pack",
        /// The reflectance of a board.
        Reflectance = "reflectance",
        /// The ambient light.
        Ambient = "ambient",
        /// The meter against the camera.
        Meter = "meter",
        /// What high-speed sync takes from a flash.
        HighSpeedSync = "high_speed_sync",
        /// The light that the walls of a room send on.
        Room = "room",
        /// The share of the light inside a coverage, or the efficacy of a unit, where units are compared by light or energy.
        Comparison = "comparison",
        /// The readings that the number rests on.
        Reading = "reading",
        /// All that is not listed.
        Other = "other",
    }
}

/// The uncertainty of a number of stops.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Uncertainty {
    /// The lower end relative to the number, stops; 0 or less.
    pub low_stops: Stops,
    /// The upper end relative to the number, stops; 0 or more.
    pub high_stops: Stops,
    /// The probability that the true value is between the two.
    pub confidence: Number,
    /// What causes it, most first, at most six; the rest is `other`.
    pub causes: Vec<CauseShare>,
}

/// A cause of uncertainty.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct CauseShare {
    /// The cause.
    pub cause: Cause,
    /// The light that it is about, if it is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub light: Option<String>,
    /// Its id.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub light_id: Option<Id>,
    /// Its share of the variance, 0 to 1.
    pub share: Number,
}

/// The most causes that are listed.
const MAX_CAUSES: usize = 6;
/// Ends nearer than this are exact, stops.
const EXACT: f64 = 1e-9;
/// Where the sides of parts differ by more than this, all in all, their ends are drawn, stops.
const UNEVEN: f64 = 0.08;

/// One part of an uncertainty: its half-widths, stops.
#[derive(Debug, Clone)]
pub struct UncertainPart {
    /// Its cause.
    pub cause: Cause,
    /// The light that it is about.
    pub light: Option<(String, Option<Id>)>,
    /// Downwards.
    pub low: f64,
    /// Upwards.
    pub high: f64,
}

impl UncertainPart {
    /// A part that is about no light.
    pub const fn new(cause: Cause, [low, high]: [f64; 2]) -> Self {
        Self { cause, light: None, low, high }
    }

    /// Its variance on a scale of its own, for shares.
    fn variance(&self) -> f64 {
        self.low.mul_add(self.low, self.high * self.high)
    }
}

impl Uncertainty {
    /// The uncertainty of these parts together; `None` if all are exact.
    pub fn of(parts: Vec<UncertainPart>) -> Option<Self> {
        let widths: Vec<[f64; 2]> = parts.iter().map(|part| [part.low, part.high]).collect();
        let found = Self::first_order(parts)?;
        let uneven: f64 = widths.iter().map(|[low, high]| (high - low).abs()).sum();
        if widths.len() < 2 || uneven < UNEVEN {
            return Some(found);
        }
        let lattice = Lattice::for_pairs(widths.len());
        let mut sums = vec![0.0; lattice.count()];
        for (part, widths) in widths.into_iter().enumerate() {
            lattice.add(part, &mut sums, widths);
        }
        Some(found.with_ends(draws::ends(sums)))
    }

    /// The same to the first order.
    fn first_order(parts: Vec<UncertainPart>) -> Option<Self> {
        let felt = parts.into_iter().filter(|part| part.low.max(part.high) > EXACT);
        // Causes that a reader cannot tell apart are one.
        let mut groups = felt.fold(Vec::<UncertainPart>::new(), |mut all, part| {
            match all.iter_mut().find(|other| other.cause == part.cause && other.light == part.light) {
                Some(other) => {
                    other.low = other.low.hypot(part.low);
                    other.high = other.high.hypot(part.high);
                }
                None => all.push(part),
            }
            all
        });
        let all: f64 = groups.iter().map(UncertainPart::variance).sum();
        if groups.is_empty() {
            return None;
        }
        let root = |side: fn(&UncertainPart) -> f64| {
            groups.iter().map(|part| side(part).powi(2)).sum::<f64>().sqrt()
        };
        let (low, high) = (root(|part| part.low), root(|part| part.high));
        groups.sort_by(|a, b| b.variance().total_cmp(&a.variance()));
        let share = |variance: f64| Number::new_unchecked(variance / all);
        let listed = groups.iter().take(MAX_CAUSES).map(|part| {
            let (light, light_id) = part.light.clone().unzip();
            CauseShare {
                cause: part.cause,
                light,
                light_id: light_id.flatten(),
                share: share(part.variance()),
            }
        });
        let rest: f64 = groups.iter().skip(MAX_CAUSES).map(UncertainPart::variance).sum();
        let rest = (rest > 0.0).then(|| CauseShare {
            cause: Cause::Other,
            light: None,
            light_id: None,
            share: share(rest),
        });
        Some(Self {
            low_stops: Stops::new_unchecked(-low),
            high_stops: Stops::new_unchecked(high),
            confidence: Number::new_unchecked(0.95),
            causes: listed.chain(rest).collect(),
        })
    }

    /// Of a light that need not be named.
    #[must_use]
    pub fn of_one_light(mut self) -> Self {
        for cause in &mut self.causes {
            (cause.light, cause.light_id) = (None, None);
        }
        self
    }

    /// With other ends, stops against the number.
    fn with_ends(self, [low, high]: [f64; 2]) -> Self {
        let [low_stops, high_stops] = [low.min(0.0), high.max(0.0)].map(Stops::new_unchecked);
        Self { low_stops, high_stops, ..self }
    }

    /// The longer of its two ends, stops.
    pub const fn longer_end(&self) -> f64 {
        self.high_stops.get().max(-self.low_stops.get())
    }

    /// Its two ends, stops.
    pub const fn ends(&self) -> [f64; 2] {
        [self.low_stops.get(), self.high_stops.get()]
    }
}

/// The half-widths of an estimate, stops.
pub fn half_widths(estimate: Estimate<f64>) -> [f64; 2] {
    if estimate.typical > 0.0 && estimate.low > 0.0 {
        [(estimate.typical / estimate.low).log2(), (estimate.high / estimate.typical).log2()]
    } else {
        [0.0, 0.0]
    }
}
