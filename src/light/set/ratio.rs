//! A lighting ratio of two lights on two sides.

use crate::light::quantity::words::words;

words! {
    /// How a lighting ratio is counted.
    pub enum Counting as "RatioCounting" {
        /// The fill reaches both sides: (key + fill) : fill.
        Sides = "sides",
        /// Each light metered alone: key : fill.
        Lights = "lights",
    }
}

/// Names of the two points in the two-light shorthand.
pub const SIDES: [&str; 2] = ["lit side", "shadow side"];

/// A lighting ratio of two lights on two sides: `lit side` is point 0, `shadow side` is point 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LightingRatio {
    /// The ratio, to 1, in its own counting.
    pub value: f64,
    /// How it is counted.
    pub counting: Counting,
    /// Index of the key light.
    pub key: usize,
    /// Index of the fill light.
    pub fill: usize,
}

/// The light on one side at full power: of the key, of the fill, and ambient.
#[derive(Debug, Clone, Copy)]
pub struct Side {
    /// That of the key.
    pub key: f64,
    /// That of the fill.
    pub fill: f64,
    /// Ambient light.
    pub ambient: f64,
}

impl LightingRatio {
    /// The ratio of the sides if the fill reaches both equally, the key reaches one, and there is no other light.
    pub fn sides(&self) -> f64 {
        match self.counting {
            Counting::Sides => self.value,
            Counting::Lights => self.value + 1.0,
        }
    }

    /// The light on the shadow side, given that on the lit side. `None` if no lights can make the ratio.
    pub fn shadow(&self, lit_target: f64, sides: [Side; 2]) -> Option<f64> {
        match self.counting {
            Counting::Sides => Some(lit_target / self.sides()),
            Counting::Lights => self.shadow_by_lights(lit_target, sides),
        }
    }

    /// The light on the shadow side if the key alone on the lit side is `value` times the fill alone on the shadow
    /// side, and key, fill and ambient light together give the lit side its target. `None` if the ambient light alone
    /// already does.
    fn shadow_by_lights(&self, lit_target: f64, [lit, shadow]: [Side; 2]) -> Option<f64> {
        // The part of the key's light on the lit side that reaches the shadow side, and of the fill's light the other way.
        let (spill, reach) = (shadow.key / lit.key, lit.fill / shadow.fill);
        let fill = (lit_target - lit.ambient) / (self.value + reach);
        let target = fill * (1.0 + self.value * spill) + shadow.ambient;
        (fill > 0.0 && target.is_finite()).then_some(target)
    }

    /// Key alone to fill alone if both sides exactly get their targets; `None` if no lights can do that.
    pub fn lights_by_sides(targets: [f64; 2], [lit, shadow]: [Side; 2]) -> Option<f64> {
        let (needed_lit, needed_shadow) = (targets[0] - lit.ambient, targets[1] - shadow.ambient);
        let ((a, b), (c, d)) = ((lit.key, lit.fill), (shadow.key, shadow.fill));
        // Cramer's rule; the determinant cancels out of the ratio.
        let ratio = (needed_lit * d - needed_shadow * b) * a / ((needed_shadow * a - needed_lit * c) * d);
        (ratio.is_finite() && ratio >= 0.0).then_some(ratio)
    }
}
