//! The chance that an uncertain error is within a tolerance.

use distrs::Normal;

use crate::light::{quantity::half_widths::SIGMAS, set::target::TargetSide};

/// The chance that an error of about 0 is within ± `tolerance`, with this 95 % half-width.
pub fn chance_within(tolerance: f64, half_width: f64) -> f64 {
    if half_width <= 0.0 { 1.0 } else { 2.0 * normal(tolerance * SIGMAS / half_width) - 1.0 }
}

/// The chance that light at `off` stops from its target, ± `half_width` at 95 %, is within the tolerance.
pub fn chance(off: f64, half_width: f64, tolerance: f64, side: TargetSide) -> f64 {
    let below = |bound: f64| {
        let gap = bound - off;
        if half_width > 0.0 { normal(gap * SIGMAS / half_width) } else { f64::from(u8::from(gap >= -1e-9)) }
    };
    let most = if side == TargetSide::AtLeast { 1.0 } else { below(tolerance) };
    let least = if side == TargetSide::AtMost { 0.0 } else { below(-tolerance - 2e-9) };
    (most - least).clamp(0.0, 1.0)
}

fn normal(deviations: f64) -> f64 {
    Normal::cdf(deviations, 0.0, 1.0)
}
