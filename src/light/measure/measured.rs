//! What a swap on set says: two units that gave the same picture, each at its own aperture.
//!
//! Light goes with the square of the f-number (N² = H·S/C, ISO 2720:1974 applied to flash).

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    error::{InvalidValue, Pointer},
    quantity::{FNumber, Joules, Stops, marks::Step},
    remark::Remark,
    unit::Unit,
};

/// The unit whose energy is known, as it was used.
#[derive(Debug, Clone, PartialEq)]
pub struct Reference {
    /// Its rated energy.
    pub energy: Joules,
    /// The unit and its setting, where they are known: its corrections count.
    pub used: Option<(Unit, Stops)>,
}

impl Reference {
    /// A unit of which nothing but the energy is known.
    pub const fn of(energy: Joules) -> Self {
        Self { energy, used: None }
    }

    /// Its rated energy with so much more light.
    fn with_more(&self, stops: f64) -> Joules {
        let rated = self
            .used
            .as_ref()
            .map_or(stops, |(unit, setting)| setting.get() - unit.setting_for(unit.below(*setting) - stops));
        Joules::new_unchecked(self.energy.get() * rated.exp2())
    }
}

/// One frame of a grey patch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    /// Aperture of the frame.
    pub f_number: FNumber,
    /// Level of the patch in it.
    pub patch_level: f64,
}

/// The aperture at which the other unit gave the reference's picture.
#[derive(Debug, Clone, PartialEq)]
pub enum Other {
    /// Met exactly.
    At(FNumber),
    /// To be found between frames, where the patch has the reference's level.
    Between {
        /// The reference's level.
        level: f64,
        /// Frames of the other unit.
        frames: Vec<Frame>,
    },
}

/// Two units, compared by what they gave.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = MeasuredComparison)]
pub struct Measured {
    /// How much more (+) or less (-) light the other unit gave, stops.
    pub difference_stops: Stops,
    /// Rated energy of the reference unit that would give the other's light, its corrections counted, J.
    pub matching_energy_j: Joules,
    /// The aperture at which the other unit gave the reference's picture.
    pub other_f_number: FNumber,
    /// How far the difference may be off, either way, stops: half a click where two apertures were said to match; between frames what the curve between them and the spread of levels leave open.
    pub uncertainty_stops: Stops,
    /// What to doubt: above all, what the number is not.
    pub warnings: Vec<Remark>,
    /// What to beware of.
    pub cautions: Vec<Remark>,
}

/// Compares. Wrong at `/other/frames` where the levels do not enclose the reference's.
///
/// ```
/// use stopwright::light::{measure::measured::{Other, Reference, measure}, quantity::{FNumber, Joules, marks::Step}};
/// let reference = Reference::of(Joules::new_unchecked(500.0));
/// let other = Other::At(FNumber::new_unchecked(f64::exp2(3.0 - 2.0 / 3.0)));
/// let answer = measure(&reference, FNumber::new_unchecked(8.0), &other, Step::Third).unwrap();
/// assert!((answer.matching_energy_j.get() - 198.4).abs() < 0.05);
/// ```
pub fn measure(
    reference: &Reference,
    f_number: FNumber,
    other: &Other,
    step: Step,
) -> Result<Measured, crate::light::error::FieldError> {
    let mut warnings = vec![Remark::new(
        "not_stored_energy",
        "This is the energy of the reference unit that gives as much light on this set: reflector, tube and aim are in it. It is not the energy that the other unit stores.",
    )];
    let (met, uncertainty) = match other {
        Other::At(met) => (met.get(), 0.5 / f64::from(step.per_stop())),
        Other::Between { level, frames } => {
            let (stops, uncertainty) = between(*level, frames)?;
            if frames.iter().any(|frame| [0.0, 255.0, 65_535.0].contains(&frame.patch_level)) {
                warnings.push(Remark::new(
                    "clipped",
                    "A frame's level is at an end of its range (0, 255 or 65535), where light is no longer told apart: leave such frames out.",
                ));
            }
            warnings.push(Remark::new(
                "interpolated",
                "The aperture was found between two frames, level against stops in a straight line.",
            ));
            ((stops / 2.0).exp2(), uncertainty)
        }
    };
    let difference = 2.0 * (met / f_number.get()).log2();
    Ok(Measured {
        difference_stops: Stops::new_unchecked(difference),
        matching_energy_j: reference.with_more(difference),
        other_f_number: FNumber::new_unchecked(met),
        uncertainty_stops: Stops::new_unchecked(uncertainty),
        warnings,
        cautions: vec![Remark::stored_charge()],
    })
}

/// The aperture, as Av, at which the patch has `level`: straight between the two apertures that enclose it,
/// each at the mean of its frames. And how far it may be off: the curve between two frames of a rising
/// response bends by no more than an eighth of their distance if its slope changes by half over it (derived:
/// a parabola); levels are off by their rounding and the spread of repeated frames, over the slope.
fn between(level: f64, frames: &[Frame]) -> Result<(f64, f64), crate::light::error::FieldError> {
    let mut sorted: Vec<(f64, f64)> =
        frames.iter().map(|frame| (2.0 * frame.f_number.get().log2(), frame.patch_level)).collect();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let groups: Vec<Group> = sorted
        .chunk_by(|a, b| (a.0 - b.0).abs() < 1e-9)
        .map(|same| {
            let count = same.len() as f64;
            let mean = same.iter().map(|frame| frame.1).sum::<f64>() / count;
            let squares = same.iter().map(|frame| (frame.1 - mean).powi(2)).sum::<f64>();
            // Rounding alone is half a level either way.
            let spread = if count > 1.0 { (squares / (count - 1.0) / count).sqrt() } else { 0.0 };
            Group { av: same[0].0, level: mean, off: 0.5 + spread }
        })
        .collect();
    groups
        .windows(2)
        .find_map(|pair| {
            let [wide, narrow] = pair else { return None };
            let rise = wide.level - narrow.level;
            let encloses = rise > 0.0 && (narrow.level..=wide.level).contains(&level);
            let width = narrow.av - wide.av;
            encloses.then(|| {
                let levels = (wide.off.max(narrow.off) + 0.5) * width / rise;
                (wide.av + width * (wide.level - level) / rise, (width / 8.0 + levels).min(width))
            })
        })
        .ok_or_else(|| {
            InvalidValue::new(
                format!(
                    "no two neighbouring frames enclose the level {level}, the darker at the smaller aperture"
                ),
                "frames with levels on both sides of the reference's level",
            )
            .at(&Pointer::root().field("other").field("frames"))
        })
}

/// The frames of one aperture.
struct Group {
    av: f64,
    level: f64,
    off: f64,
}
