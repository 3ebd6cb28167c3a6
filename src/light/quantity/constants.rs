//! Every constant of the maths, with its source and grade.

use crate::light::quantity::Estimate;

/// One foot in metres, exactly (international foot; published, ISO 80000-3).
pub const FOOT_M: f64 = 0.3048;
/// One inch in metres, exactly.
pub const INCH_M: f64 = 0.0254;
/// Incident-light constant C for a flat receptor, lx·s·ISO: 250 in common use, 240 to 400 allowed
/// (published: ISO 2720:1974).
pub const CONSTANT_C: f64 = 250.0;
/// The second constant in use, `GN_ft² = 0.063 · (cd·s) · S`: as C it is 1 / (0.063 · 0.3048²) =
/// 170.86 (from memory).
pub const CONSTANT_C_OTHER: f64 = 1.0 / (0.063 * FOOT_M * FOOT_M);
/// Luminous efficacy of a xenon flash, whole unit, lm·s per J (common practice, wide on purpose).
pub const EFFICACY: Estimate<f64> = Estimate { low: 15.0, typical: 40.0, high: 50.0 };
/// Share of the lamp's light inside a coverage as wide as that of a 35 mm lens or wider (from memory).
pub const SHARE_WIDE: Estimate<f64> = Estimate { low: 0.5, typical: 0.7, high: 0.9 };
/// The same at 50 mm (from memory).
pub const SHARE_50: Estimate<f64> = Estimate { low: 0.35, typical: 0.5, high: 0.7 };
/// The same at 105 mm and longer (from memory).
pub const SHARE_LONG: Estimate<f64> = Estimate { low: 0.1, typical: 0.25, high: 0.4 };
/// The frame that focal lengths are stated for, mm.
pub const FRAME_MM: [f64; 2] = [36.0, 24.0];
/// Range of a unit that states no scale, stops: our assumption.
pub const CONTINUOUS_RANGE: f64 = 8.0;
/// The click taken where a scale states none, stops.
pub const DEFAULT_CLICK: f64 = 0.1;
/// How close a unit without clicks is held to have been set, stops.
pub const CONTINUOUS_HALF_CLICK: f64 = 0.05;
/// How well a flash repeats if nothing else is said, stops: a half-width of 95 % (our judgement).
pub const REPEATABILITY: f64 = 0.06;
/// How far off a grey patch still matches if nothing else is said, stops.
pub const PATCH_TOLERANCE: f64 = 0.1;
/// How much brighter ambient light may make a picture if nothing else is said, stops.
pub const AMBIENT_ALLOWED: f64 = 0.1;
/// Sum of rated energies at which several units on one circuit are worth a word, J: our judgement.
pub const MAINS_LOAD_J: f64 = 2000.0;
/// Part of each charge that is held back if nothing else is said: our judgement.
pub const CHARGE_RESERVE: f64 = 0.2;
/// How even light over a depth is to be if nothing else is said, stops.
pub const EVENNESS: f64 = 1.0 / 3.0;
/// Worst error at which a balance is called feasible, stops.
pub const BALANCE_TOLERANCE: f64 = 1.0 / 3.0;
