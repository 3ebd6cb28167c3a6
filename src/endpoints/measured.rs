//! `/v1/energy/measured`.

use axum::response::Response;
use utoipa_axum::routes;

use crate::{
    endpoints::{calculation::Calculation, extract::Body},
    light::{
        error::InvalidPart,
        interrupt::Interrupt,
        measure::measured::{self, Frame, Measured, Other},
        quantity::{FNumber, Joules, marks::Step},
        unit::{Unit, scale::Scale},
    },
    request::{
        declare::request,
        field_schema::looks_like,
        fields::{PatchLevel, SettingText, Tolerance},
        place::At,
        reader::{Read, Reader, lists::Item},
        value::Value,
    },
    server::{problem::Problem, state::Routes},
    wording::fault::Fault,
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(compare_measured_units))
}

request! {
    /// The unit whose energy is known: `unit` with `setting`, or `energy`.
    struct MeasuredReferenceInput {
        /// The unit; needs `setting`.
        unit: Option<Unit>,
        /// Its setting; needs `unit`.
        setting: Option<SettingText>,
        /// The energy at which it was used, instead of `unit` and `setting`.
        energy: Option<Joules>,
        /// The aperture at which it was metered or photographed.
        f_number: FNumber,
        /// How far that reading may be off, its last digit apart, ± stops at 95 %, 0.001 to 4. If left out, the two readings are taken to match within half a click.
        plus_minus_stops: Option<Tolerance>,
        /// The level of a grey patch in its frame, 0 to 65535; for use with the other's `frames`.
        level: Option<PatchLevel>,
    }
    exactly one of "the energy of the reference": unit & setting | energy
}

request! {
    /// The other unit: `f_number`, or `frames`.
    struct MeasuredOtherInput {
        /// The aperture that gave the same reading.
        f_number: Option<FNumber>,
        /// How far that may be off, its last digit apart, ± stops at 95 %, 0.001 to 4; with `f_number`.
        plus_minus_stops: Option<Tolerance>,
        /// Frames with levels around that of the reference, between which the aperture is interpolated.
        frames: Option<Vec<Frame>>,
    }
    exactly one of "the light of the other unit": f_number | frames
}

request! {
    /// One frame with a grey patch.
    struct FrameInput {
        /// Aperture of the frame.
        f_number: FNumber,
        /// Level of the patch in it, 0 to 65535.
        level: PatchLevel,
    }
}

looks_like!(MeasuredReference as MeasuredReferenceInput, Frame as FrameInput);

impl Read for Frame {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = FrameInput::read(value, at, reader)?;
        Some(Self { f_number: input.f_number, level: input.level.0 })
    }
}

impl Item for Frame {
    const MIN: usize = 2;
    const MAX: usize = 64;
    const PLURAL: &'static str = "frames";
}

/// The unit whose energy is known, as it was used.
struct MeasuredReference {
    reference: measured::Reference,
    f_number: FNumber,
    level: Option<f64>,
}

impl Read for MeasuredReference {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = MeasuredReferenceInput::read(value, at, reader)?;
        let reference = match (input.unit, input.setting, input.energy) {
            (None, None, Some(energy)) => Some(measured::Reference::of(energy)),
            (Some(unit), Some(setting), None) => {
                let below = setting.check(&unit, &At::Field(at, "setting"), reader);
                match (unit.energy, below) {
                    (Some(full), below) => {
                        let below = below?;
                        Some(measured::Reference {
                            energy: Scale::energy_at(full, below),
                            used: Some((unit, below)),
                            plus_minus: None,
                        })
                    }
                    (None, _) => reader.push_fault(&At::Field(at, "unit"), Fault::ReferenceWithoutEnergy),
                }
            }
            // Refused by the reader.
            _ => None,
        };
        let level = input.level.map(|level| level.0);
        let plus_minus = input.plus_minus_stops.map(|it| it.0);
        let reference = measured::Reference { plus_minus, ..reference? };
        Some(Self { reference, f_number: input.f_number, level })
    }

    fn expected() -> String {
        MeasuredReferenceInput::expected()
    }
}

request! {
    /// Two units that gave the same reading.
    struct MeasuredRequest {
        /// The unit whose energy is known.
        reference: MeasuredReference,
        /// The other unit, lighting the same subject from the same place.
        other: MeasuredOtherInput,
    }
}

pub(crate) struct MeasuredQuestion {
    reference: measured::Reference,
    f_number: FNumber,
    other: Other,
    step: Step,
}

impl Read for MeasuredQuestion {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = MeasuredRequest::read(value, at, reader)?;
        let reference = input.reference;
        let reference_at = At::Field(at, "reference");
        let level_at = At::Field(&reference_at, "level");
        let other = match (input.other.f_number, input.other.frames, reference.level) {
            (Some(f_number), None, None) => Other::At(f_number, input.other.plus_minus_stops.map(|it| it.0)),
            (None, Some(frames), Some(level)) => Other::Between { level, frames },
            (None, Some(_), None) => return reader.push_fault(&level_at, Fault::LevelToFindMissing),
            (Some(_), None, Some(_)) => return reader.push_fault(&level_at, Fault::LevelWithoutFrames),
            // Refused by the reader.
            _ => return None,
        };
        Some(Self {
            reference: reference.reference,
            f_number: reference.f_number,
            other,
            step: reader.rules.step,
        })
    }
}

impl Calculation for MeasuredQuestion {
    type Answer = Measured;

    fn answer(&self, _: &dyn Interrupt) -> Result<Measured, Vec<InvalidPart>> {
        measured::measure(&self.reference, self.f_number, &self.other, self.step).map_err(|fault| vec![fault])
    }
}

/// Compare units by what they gave
///
/// Two units lit the same subject in turn, and gave the same meter or grey-patch reading at two apertures. Answers how many stops apart they are, and the energy at which the reference would give the other's light. That is not the energy that the other unit stores.
#[utoipa::path(post, path = "/v1/energy/measured", tag = "energy", request_body = MeasuredRequest,
    responses((status = 200, description = "The difference", body = Measured)))]
async fn compare_measured_units(body: Body<MeasuredQuestion>) -> Result<Response, Problem> {
    body.answer().await
}
