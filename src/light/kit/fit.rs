//! How well one unit fits one role.

use crate::light::{
    kit::question::{KitUnit, Role, Shot},
    quantity::Stops,
};

/// Stops closer than this are equal.
pub const SAME: f64 = 1e-9;

/// How well one unit fits one role.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fit {
    /// The nearest setting, stops below full.
    pub below: Stops,
    /// Achieved minus target, stops.
    pub error: f64,
    /// How much more light than the target the unit gives at full power with its correction, stops; negative if less.
    pub headroom: f64,
    /// How much less it gives at least power, stops; negative if more.
    pub footroom: f64,
    /// Whether the unit reaches the role.
    pub reached: bool,
}

impl Fit {
    /// How far the light is from the target if the role is not reached: negative if too weak, stops.
    pub const fn missed_by(&self) -> f64 {
        if self.reached { 0.0 } else { self.error }
    }
}

/// A unit's headroom for a role at its rated full power, stops; the least if its output is not known.
pub fn headroom(kit: &KitUnit, role: &Role, shot: &Shot) -> f64 {
    let full = role.light(&kit.unit, shot).map_or(0.0, |light| light.typical);
    (full / role.wanted(shot)).log2().max(LEAST_HEADROOM)
}

/// How far a unit may be too weak at full power, or too strong at least power, and still reach: half a third of a
/// stop (our judgement).
pub const END_TOLERANCE: f64 = 1.0 / 6.0;

/// The least headroom, stops: anything lower counts as this.
const LEAST_HEADROOM: f64 = -60.0;

/// How well a unit fits, given its headroom at rated full power.
pub fn fit(kit: &KitUnit, headroom: f64) -> Fit {
    let below = kit.unit.nearest(headroom);
    let error = headroom - kit.unit.below(below);
    // Between two settings half a click. Beyond the ends clicks do not matter, so all units have one tolerance.
    let (at_full, at_least) = (kit.unit.below(Stops::ZERO), kit.unit.below(kit.unit.scale.range()));
    let is_beyond = headroom < at_full || headroom > at_least;
    let tolerance = if is_beyond { END_TOLERANCE } else { kit.unit.half_click(below).get() };
    Fit {
        below,
        error,
        // The headroom at full power includes the correction there.
        headroom: headroom - at_full,
        footroom: at_least - headroom,
        reached: error.abs() <= tolerance + 1e-9,
    }
}

/// Whether a unit reaches, given its headroom at rated full power: [`fit`] without the setting.
pub fn reaches(kit: &KitUnit, headroom: f64) -> bool {
    if kit.unit.corrections.is_empty() {
        // Between two settings of a scale, the nearer one is always within half a click.
        let range = kit.unit.scale.range().get();
        let tolerance = END_TOLERANCE + 1e-9;
        return (-tolerance..=range + tolerance).contains(&headroom);
    }
    fit(kit, headroom).reached
}
