//! What a swap on set says: two units that gave the same picture, each at its own aperture.
//!
//! Light goes with the square of the f-number (N² = H·S/C, ISO 2720:1974 applied to flash).

use serde::Serialize;
use utoipa::ToSchema;

use super::{
    fault::{Place, Wrong},
    quantity::{FNumber, Joules, Stops},
    remark::Remark,
};

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

/// The answer.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Measured {
    /// How much more (+) or less (-) light the other unit gave, stops.
    pub difference_stops: Stops,
    /// Energy of the reference unit that would give the other's light, J.
    pub matching_energy_j: Joules,
    /// The aperture at which the other unit gave the reference's picture.
    pub other_f_number: FNumber,
    /// What to doubt: above all, what the number is not.
    pub warnings: Vec<Remark>,
    /// What to beware of.
    pub cautions: Vec<Remark>,
}

/// Compares. Wrong at `/other/frames` where the levels do not enclose the reference's.
///
/// ```
/// use stopwright::light::{measured::{Other, measure}, quantity::{FNumber, Joules}};
/// let reference = FNumber::computed(8.0);
/// let other = Other::At(FNumber::computed(f64::exp2(3.0 - 2.0 / 3.0)));
/// let answer = measure(Joules::computed(500.0), reference, &other).unwrap();
/// assert!((answer.matching_energy_j.get() - 198.4).abs() < 0.05);
/// ```
pub fn measure(energy: Joules, reference: FNumber, other: &Other) -> Result<Measured, super::fault::Fault> {
    let mut warnings = vec![Remark::new(
        "not_stored_energy",
        "This is the energy of the reference unit that gives as much light on this set: reflector, tube and aim are in it. It is not the energy that the other unit stores.",
    )];
    let met = match other {
        Other::At(f_number) => f_number.get(),
        Other::Between { level, frames } => {
            let stops = between(*level, frames)?;
            warnings.push(Remark::new(
                "interpolated",
                "The aperture was found between two frames, level against stops in a straight line.",
            ));
            (stops / 2.0).exp2()
        }
    };
    let difference = 2.0 * (met / reference.get()).log2();
    Ok(Measured {
        difference_stops: Stops::computed(difference),
        matching_energy_j: Joules::computed(energy.get() * difference.exp2()),
        other_f_number: FNumber::computed(met),
        warnings,
        cautions: vec![Remark::stored_charge()],
    })
}

/// The aperture, as Av, at which the patch has `level`: straight between the two frames that enclose it.
fn between(level: f64, frames: &[Frame]) -> Result<f64, super::fault::Fault> {
    let mut sorted: Vec<(f64, f64)> =
        frames.iter().map(|frame| (2.0 * frame.f_number.get().log2(), frame.patch_level)).collect();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    sorted
        .windows(2)
        .find_map(|pair| {
            let &[(wide, bright), (narrow, dark)] = pair else {
                return None;
            };
            let encloses = bright > dark && (dark..=bright).contains(&level);
            encloses.then(|| wide + (narrow - wide) * (bright - level) / (bright - dark))
        })
        .ok_or_else(|| {
            Wrong::new(
                format!(
                    "no two neighbouring frames enclose the level {level}, the darker at the smaller aperture"
                ),
                "frames with levels on both sides of the reference's patch_level",
            )
            .at(&Place::root().field("other").field("frames"))
        })
}
