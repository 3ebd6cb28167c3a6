//! One table of 95 % half-widths: how far a number that states none may be off, by its kind.
//!
//! A half-width is 1.96 standard deviations of a normal distribution (published: JCGM 100:2008, 6.2). The values are
//! judgements, but for those that other tables have.

use crate::light::quantity::{Stops, constants::REPEATABILITY};

/// The half-width of one kind of number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HalfWidth {
    /// The kind of number, as named in a sentence.
    pub what: &'static str,
    /// The half-width.
    pub value: f64,
    /// Its unit.
    pub unit: &'static str,
    /// The grade of the value.
    pub grade: &'static str,
    /// Why it is so.
    pub reason: &'static str,
}

const JUDGED: &str = "our judgement";

const fn judged(what: &'static str, value: f64, unit: &'static str, reason: &'static str) -> HalfWidth {
    HalfWidth { what, value, unit, grade: JUDGED, reason }
}

impl HalfWidth {
    /// The half-width in stops: what is stated, else this.
    pub fn or(&self, stated: Option<Stops>) -> f64 {
        stated.map_or(self.value, Stops::get)
    }
}

/// A distance.
pub const DISTANCE: HalfWidth =
    judged("distance", 0.04, "m", "a tape held between a face and a subject that moves");
/// Incidence, and an angle off the axis.
pub const ANGLE: HalfWidth = judged("incidence and angle off the axis", 6.0, "degrees", "aimed by eye");
/// A guide number, or the stated energy of a unit that is compared with its like.
pub const RATING: HalfWidth =
    judged("guide number of a unit", 0.5, "stops", "ratings are measured in favourable rooms, or rounded up");
/// The effect of a modifier as a number.
pub const MODIFIER: HalfWidth =
    judged("effect of a modifier as a number", 0.2, "stops", "metered on another unit, or another day");
/// A setting.
pub const DIAL: HalfWidth = judged(
    "setting of a unit",
    0.1,
    "stops",
    "how far its light tracks its scale, between calibrated settings",
);
/// Repeatability.
pub const REPEAT: HalfWidth =
    judged("repeatability of a unit", REPEATABILITY, "stops", "flash to flash, recycled fully");
/// A reading, its digit apart.
pub const READING: HalfWidth = judged(
    "reading of a meter",
    0.12,
    "stops",
    "how the dome is held, and where; the meter's digit comes on top",
);
/// The last digit of a meter, whole. Its distribution is rectangular.
pub const DIGIT: HalfWidth = HalfWidth {
    what: "last digit of a meter",
    value: 0.1,
    unit: "stops",
    grade: "common practice",
    reason: "meters show tenths; counted as a rectangular distribution as wide (JCGM 100:2008, 4.3.7)",
};
/// The meter against the camera.
pub const METER_OFFSET: HalfWidth = judged(
    "meter against the camera",
    0.2,
    "stops",
    "makers' constants and calibrations of meters and cameras",
);
/// The meter against the camera, where its offset was measured.
pub const MEASURED_OFFSET: HalfWidth =
    judged("measured offset of the meter", 0.06, "stops", "what a comparison of some frames leaves");
/// The stated light of a lamp.
pub const LAMP: HalfWidth =
    judged("stated light of a lamp", 0.3, "stops", "warm-up, age and mains; makers' best case");
/// A filter.
pub const FILTER: HalfWidth = judged("filter", 0.1, "stops", "marks are rounded, and gels fade");
/// The division of a pack.
pub const PACK: HalfWidth = judged("division of a pack", 0.1, "stops", "cables and heads differ");
/// The reflectance of a board.
pub const REFLECTANCE: HalfWidth =
    judged("reflectance of a board", 0.2, "stops", "white is 80 to 95 %, and boards get dirty");

/// All rows of the table, for the document and the tests.
pub const ALL: &[HalfWidth] = &[
    DISTANCE,
    ANGLE,
    RATING,
    MODIFIER,
    DIAL,
    REPEAT,
    READING,
    DIGIT,
    METER_OFFSET,
    MEASURED_OFFSET,
    LAMP,
    FILTER,
    PACK,
    REFLECTANCE,
];

/// Standard deviations of a normal distribution in its 95 % half-width (published: JCGM 100:2008, table G.1).
pub const SIGMAS: f64 = 1.96;

/// The half-width of a reading with its own half-width and the digit of the meter: a rectangular distribution of width d has
/// the variance d²/12 (published: JCGM 100:2008, 4.3.7).
///
/// ```
/// use stopwright::light::quantity::half_widths::{DIGIT, READING, with_digit};
/// assert!((with_digit(READING.value, DIGIT.value) - 0.1327).abs() < 1e-4);
/// ```
pub fn with_digit(half_width: f64, digit: f64) -> f64 {
    half_width.hypot(SIGMAS * digit / 12_f64.sqrt())
}
