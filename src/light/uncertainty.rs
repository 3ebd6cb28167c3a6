//! The uncertainty of light: its 95 % ends, and what causes it.
//!
//! Half-widths of independent parts add as the root of the sum of squares, each side by itself; what lights have in common
//! adds linearly (JCGM 100:2008, 5.1 and 5.2). A part counts by the share of the light that it is about.

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    id::Id,
    quantity::{Estimate, Number, Stops, words::words},
    set::{LightMatrix, Scene, placement::beam_at_full},
};

words! {
    /// What makes light uncertain.
    pub enum Cause as "UncertaintyCause" {
        /// The light of a unit, estimated from its energy.
        Rating = "rating",
        /// A modifier that is known by its kind only.
        Modifier = "modifier",
        /// What high-speed sync takes from a flash, where it is not stated.
        HighSpeedSync = "high_speed_sync",
        /// The light that the walls of a room send on.
        Room = "room",
        /// The share of the light inside a coverage, or the efficacy of a unit, where units are compared by light or energy.
        Comparison = "comparison",
        /// The readings that the number rests on.
        Reading = "reading",
        /// The meter against the camera.
        Meter = "meter",
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

/// One part of an uncertainty: its half-widths, stops.
#[derive(Debug, Clone)]
pub struct UncertainPart {
    /// Its cause.
    pub cause: Cause,
    /// The light that it is about.
    pub light: Option<(String, Option<Id>)>,
    /// What it has in common with other parts of the same cause.
    pub common: Option<String>,
    /// Downwards.
    pub low: f64,
    /// Upwards.
    pub high: f64,
}

impl UncertainPart {
    /// A part that is about no light, and has nothing in common with others.
    pub const fn new(cause: Cause, [low, high]: [f64; 2]) -> Self {
        Self { cause, light: None, common: None, low, high }
    }

    /// Its variance on a scale of its own, for shares.
    fn variance(&self) -> f64 {
        self.low.mul_add(self.low, self.high * self.high)
    }
}

impl Uncertainty {
    /// The uncertainty of these parts together; `None` if all are exact.
    pub fn of(parts: Vec<UncertainPart>) -> Option<Self> {
        let mut groups: Vec<UncertainPart> = Vec::new();
        for part in parts.into_iter().filter(|part| part.low.max(part.high) > EXACT) {
            let same = |group: &&mut UncertainPart| {
                group.cause == part.cause && group.common.is_some() && group.common == part.common
            };
            match groups.iter_mut().find(same) {
                Some(group) => {
                    group.low += part.low;
                    group.high += part.high;
                    group.light = group.light.take().filter(|light| Some(light) == part.light.as_ref());
                }
                None => groups.push(part),
            }
        }
        // Causes that a reader cannot tell apart are one.
        let mut groups = groups.into_iter().fold(Vec::<UncertainPart>::new(), |mut all, part| {
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

/// The uncertainty of the light at a point of a set, with every light at a part of its power.
pub fn at_point(scene: &Scene, matrix: &LightMatrix, point: usize, powers: &[f64]) -> Option<Uncertainty> {
    let gain = &matrix.gain[point];
    let light = |index: usize| gain[index].typical * powers[index];
    let total = matrix.ambient[point] + (0..gain.len()).map(light).sum::<f64>();
    let placements = matrix.rated().filter(|(of, ..)| *of == point);
    let parts = placements.flat_map(|(_, index, placement)| {
        let named = &scene.lights[*index];
        let share = if total > 0.0 { light(*index) / total } else { 0.0 };
        let rating = beam_at_full(&named.unit, placement.beam.as_ref()).map_or([0.0; 2], half_widths);
        let modifier = half_widths(placement.modifier.map(Stops::factor));
        let sync = named.unit.through(scene.shutter()).map_or([0.0; 2], half_widths);
        let room = placement.factor.map_or([0.0; 2], half_widths);
        let kind = placement.kind.map(|kind| kind.kind.0.to_owned());
        let part = |cause, [low, high]: [f64; 2], common| UncertainPart {
            cause,
            light: Some((named.name.clone(), named.id.clone())),
            common,
            low: share * low,
            high: share * high,
        };
        let unit = || named.unit.name.clone();
        [
            part(Cause::Rating, rating, unit()),
            part(Cause::Modifier, modifier, kind),
            part(Cause::HighSpeedSync, sync, unit()),
            part(Cause::Room, room, Some(String::new())),
        ]
    });
    Uncertainty::of(parts.collect())
}
