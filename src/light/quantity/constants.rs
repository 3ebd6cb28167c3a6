//! The constants of the maths, with source and grade.

use crate::light::quantity::Estimate;

/// One foot in metres, exactly (international foot; published, ISO 80000-3).
pub const FOOT_M: f64 = 0.3048;
/// One inch in metres, exactly.
pub const INCH_M: f64 = 0.0254;
/// One foot-candle in lux: a lumen on a square foot (derived from the foot).
pub const FOOT_CANDLE_LX: f64 = 1.0 / (FOOT_M * FOOT_M);
/// Incident-light constant C for a flat receptor, lx·s·ISO: 250 in common use, 240 to 400 allowed
/// (published: ISO 2720:1974).
pub const CONSTANT_C: f64 = 250.0;
/// The other constant in use, `GN_ft² = 0.063 · (cd·s) · S`: converted to C it is
/// 1 / (0.063 · 0.3048²) = 170.86 (from memory).
pub const CONSTANT_C_OTHER: f64 = 1.0 / (0.063 * FOOT_M * FOOT_M);
/// Luminous efficacy of a xenon flash, whole unit, lm·s per J (common practice, wide on purpose).
pub const EFFICACY: Estimate<f64> = Estimate { low: 15.0, typical: 40.0, high: 50.0 };
/// Share of the lamp's light inside the coverage of a 35 mm lens or a wider one (from memory).
pub const SHARE_WIDE: Estimate<f64> = Estimate { low: 0.5, typical: 0.7, high: 0.9 };
/// Share of the lamp's light inside the coverage of a 50 mm lens (from memory).
pub const SHARE_50: Estimate<f64> = Estimate { low: 0.35, typical: 0.5, high: 0.7 };
/// Share of the lamp's light inside the coverage of a 105 mm lens or a longer one (from memory).
pub const SHARE_LONG: Estimate<f64> = Estimate { low: 0.1, typical: 0.25, high: 0.4 };
/// The default frame for focal lengths, mm.
pub const FRAME_MM: [f64; 2] = [36.0, 24.0];
/// Power range of a unit without a stated scale, stops (our assumption).
pub const CONTINUOUS_RANGE: f64 = 8.0;
/// Default click of a scale, stops.
pub const DEFAULT_CLICK: f64 = 0.1;
/// How precisely a unit without clicks can be set, ± stops.
pub const CONTINUOUS_HALF_CLICK: f64 = 0.05;
/// Default repeatability of a flash, ± stops at 95 % (our judgement).
pub const REPEATABILITY: f64 = 0.06;
/// Default tolerance for matching a grey patch, ± stops.
pub const PATCH_TOLERANCE: f64 = 0.1;
/// Default limit on how much ambient light may brighten a picture, stops.
pub const AMBIENT_ALLOWED: f64 = 0.1;
/// Total rated energy of several units from which the answer carries a caution about mains load, J (our judgement).
pub const MAINS_LOAD_J: f64 = 2000.0;
/// Default outlets of a pack.
pub const DEFAULT_OUTLETS: u32 = 2;
/// Default reserve: the part of each battery charge that is not used (our judgement).
pub const CHARGE_RESERVE: f64 = 0.2;
/// Default evenness over the depth of a subject, stops.
pub const EVENNESS: f64 = 1.0 / 3.0;
/// The largest error at which a balance counts as feasible, stops.
pub const BALANCE_TOLERANCE: f64 = 1.0 / 3.0;
