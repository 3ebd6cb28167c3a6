//! Compares two units by a swap on set: both give the same picture, each at its own aperture.
//!
//! Light is proportional to the square of the f-number (N² = H·S/C, ISO 2720:1974 applied to flash).

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    error::{InvalidPart, InvalidValue, Part},
    quantity::{
        FNumber, Joules, Stops,
        half_widths::{DIGIT, REPEAT, with_digit},
        marks::Step,
    },
    remark::{Caution, CautionKind, Remark, Warning, WarningKind},
    uncertainty::{Cause, UncertainPart, Uncertainty},
    unit::Unit,
};

/// The unit whose energy is known, at the setting used.
#[derive(Debug, Clone, PartialEq)]
pub struct Reference {
    /// The rated energy.
    pub energy: Joules,
    /// The unit and its setting, if known. Its corrections are then applied.
    pub used: Option<(Unit, Stops)>,
    /// How sure its reading is, if stated: ± stops at 95 %.
    pub plus_minus: Option<Stops>,
}

impl Reference {
    /// A unit of which only the energy is known.
    pub const fn of(energy: Joules) -> Self {
        Self { energy, used: None, plus_minus: None }
    }

    /// The rated energy that gives `stops` more light.
    fn energy_for(&self, stops: f64) -> Joules {
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
    /// The aperture of the frame.
    pub f_number: FNumber,
    /// The level of the patch in the frame.
    pub level: f64,
}

/// The aperture at which the other unit gave the same picture as the reference unit.
#[derive(Debug, Clone, PartialEq)]
pub enum Other {
    /// The aperture, and how sure it is if stated: ± stops at 95 %.
    At(FNumber, Option<Stops>),
    /// The aperture is interpolated between frames, at the level that the patch has with the reference unit.
    Between {
        /// The level of the patch with the reference unit.
        level: f64,
        /// Frames taken with the other unit.
        frames: Vec<Frame>,
    },
}

/// Two units, compared by their measured light.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = MeasuredComparison)]
pub struct Measured {
    /// How much more (+) or less (-) light the other unit gave than the reference unit, stops.
    pub difference_stops: Stops,
    /// The rated energy at which the reference unit would give the same light as the other unit, with its corrections applied, J.
    pub matching_energy_j: Joules,
    /// The aperture at which the other unit gave the same picture as the reference unit.
    pub other_f_number: FNumber,
    /// The uncertainty of the difference: of the two readings as stated, else half a click if two matching apertures were given; for frames it covers the unknown curve between them and the spread of the levels. The repeatability of both units counts.
    pub uncertainty: Option<Uncertainty>,
    /// Warnings; above all, what the number does not mean.
    pub warnings: Vec<Warning>,
    /// Safety cautions.
    pub cautions: Vec<Caution>,
}

/// Compares the two units.
///
/// # Errors
///
/// An error at `/other/frames` if no two neighbouring frames enclose the level of the reference.
///
/// ```
/// use stopwright::light::{measure::measured::{Other, Reference, measure}, quantity::{FNumber, Joules, marks::Step}};
/// let reference = Reference::of(Joules::new_unchecked(500.0));
/// let other = Other::At(FNumber::new_unchecked(f64::exp2(3.0 - 2.0 / 3.0)), None);
/// let answer = measure(&reference, FNumber::new_unchecked(8.0), &other, Step::Third).unwrap();
/// assert!((answer.matching_energy_j.get() - 198.4).abs() < 0.05);
/// ```
pub fn measure(
    reference: &Reference,
    f_number: FNumber,
    other: &Other,
    step: Step,
) -> Result<Measured, InvalidPart> {
    let mut warnings = vec![WarningKind::NotStoredEnergy.into()];
    let (met, uncertainty) = match other {
        Other::At(met, plus_minus) => {
            let own = |stated: Option<Stops>| stated.map(|stated| with_digit(stated.get(), DIGIT.value));
            let both = [own(reference.plus_minus), own(*plus_minus)];
            let half_click = 0.5 / f64::from(step.per_stop());
            let stated = both.iter().flatten().fold(0.0_f64, |sum, half_width| sum.hypot(*half_width));
            // A match within half a click is one number for both.
            (met.get(), if both.iter().all(Option::is_some) { stated } else { stated.hypot(half_click) })
        }
        Other::Between { level, frames } => {
            let (stops, uncertainty) = interpolate(*level, frames)?;
            if frames.iter().any(|frame| [0.0, 255.0, 65_535.0].contains(&frame.level)) {
                warnings.push(Remark::about(Part::OtherFrames, WarningKind::ComparedFrameClipped));
            }
            warnings.push(Remark::about(Part::OtherFrames, WarningKind::Interpolated));
            ((stops / 2.0).exp2(), uncertainty)
        }
    };
    let difference = 2.0 * (met / f_number.get()).log2();
    let repeat = REPEAT.or(reference.used.as_ref().and_then(|(unit, _)| unit.repeat));
    Ok(Measured {
        difference_stops: Stops::new_unchecked(difference),
        matching_energy_j: reference.energy_for(difference),
        other_f_number: FNumber::new_unchecked(met),
        uncertainty: Uncertainty::of(vec![
            UncertainPart::new(Cause::Reading, [uncertainty; 2]),
            UncertainPart::new(Cause::Repeatability, [repeat.hypot(REPEAT.value); 2]),
        ]),
        warnings,
        cautions: vec![CautionKind::StoredCharge.into()],
    })
}

/// The aperture, as Av, at which the patch has `level`, and its uncertainty.
///
/// The aperture is interpolated linearly between the two apertures whose levels enclose `level`, each at the mean of
/// its frames. The uncertainty has two parts. The curve between two frames of a rising response deviates from the
/// straight line by at most an eighth of their distance if its slope changes by half over it (derived: a parabola). The
/// levels are off by their rounding and by the spread of repeated frames, divided by the slope.
fn interpolate(level: f64, frames: &[Frame]) -> Result<(f64, f64), InvalidPart> {
    let mut sorted: Vec<(f64, f64)> =
        frames.iter().map(|frame| (2.0 * frame.f_number.get().log2(), frame.level)).collect();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let groups: Vec<Group> = sorted
        .chunk_by(|a, b| (a.0 - b.0).abs() < 1e-9)
        .map(|same| {
            let count = same.len() as f64;
            let mean = same.iter().map(|frame| frame.1).sum::<f64>() / count;
            let squares = same.iter().map(|frame| (frame.1 - mean).powi(2)).sum::<f64>();
            // Rounding alone adds half a level either way.
            let spread = if count > 1.0 { (squares / (count - 1.0) / count).sqrt() } else { 0.0 };
            Group { av: same[0].0, level: mean, uncertainty: 0.5 + spread }
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
                let levels = (wide.uncertainty.max(narrow.uncertainty) + 0.5) * width / rise;
                (wide.av + width * (wide.level - level) / rise, (width / 8.0 + levels).min(width))
            })
        })
        .ok_or_else(|| InvalidValue::NotEnclosed { level }.in_part(Part::OtherFrames))
}

/// The frames of one aperture: its Av, their mean level, and the uncertainty of that level.
struct Group {
    av: f64,
    level: f64,
    uncertainty: f64,
}
