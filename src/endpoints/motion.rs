//! `/v1/motion/freeze`.

use axum::response::Response;
use utoipa_axum::routes;

use crate::{
    endpoints::{calculation::Calculation, extract::Body},
    light::{
        error::InvalidPart,
        interrupt::Interrupt,
        measure::motion::{self, Duration, Freeze, FreezeQuestion, Shape},
        quantity::{Seconds, Stops},
        unit::Unit,
    },
    request::{
        declare::request,
        fields::{
            Blur, BlurLength, FlashDuration, MagnificationValue, PixelPitch, Pixels, SettingDurationInput,
            Size, Speed,
        },
        place::At,
        reader::{Read, Reader, words::reads_word},
        value::Value,
    },
    server::{problem::Problem, state::Routes},
    wording::fault::Fault,
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(freeze_motion))
}

reads_word!(Shape: Shape::ALL.map(|shape| (shape.text(), shape)));

request! {
    /// A flash and a moving subject.
    struct FreezeRequest {
        /// Time above half of the peak (ISO 2827). Alone it gives t0.1, unless the flash is cut off.
        t0_5_s: Option<FlashDuration>,
        /// Time above a tenth of the peak (ISO 2827).
        t0_1_s: Option<FlashDuration>,
        /// How the flash ends; `exponential` if left out.
        shape: Option<Shape>,
        /// Speed of the subject across the frame, m/s; needed for the blur.
        speed_m_s: Option<Speed>,
        /// Width of the field of view at the subject; needs `pixels_across`. Without the size of a pixel, blur is answered in metres only.
        field_width_m: Option<Size>,
        /// Pixels across the frame; needs `field_width_m`.
        pixels_across: Option<Pixels>,
        /// Image size divided by subject size; needs `pixel_pitch_um`.
        magnification: Option<MagnificationValue>,
        /// Pixel pitch of the sensor, µm; needs `magnification`.
        pixel_pitch_um: Option<PixelPitch>,
        /// The largest blur that counts as sharp, pixels; 1 if left out, where the size of a pixel is known.
        allowed_blur_px: Option<Blur>,
        /// The same as a length at the subject, as 0.002 (metres) or "2 mm"; at most one of the two.
        allowed_blur_m: Option<BlurLength>,
        /// The unit, for its `duration_by_setting`.
        unit: Option<Unit>,
        /// Durations at other settings, instead of those of the unit.
        duration_by_setting: Option<Vec<SettingDurationInput>>,
        /// The exposure time. If it is shorter than t0.1, it limits the blur and cuts off part of the flash. It also sets the length of the ghost that ambient light records.
        exposure_time: Option<Seconds>,
        /// The camera's sync time: with a shorter exposure time the flash does not light the whole frame.
        sync_time: Option<Seconds>,
        /// How far ambient light is below the flash, stops, as answered by `/v1/ambient/check`.
        ambient_below_flash_stops: Option<Stops>,
    }
    at most one of "the size of a pixel at the subject": field_width_m & pixels_across | magnification & pixel_pitch_um
}

impl Read for FreezeQuestion {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = FreezeRequest::read(value, at, reader)?;
        let shape = input.shape.unwrap_or(Shape::Exponential);
        let seconds = |duration: Option<FlashDuration>| duration.map(|duration| duration.0);
        if let (Some(t0_5), Some(t0_1)) = (input.t0_5_s, input.t0_1_s)
            && t0_1.0 < t0_5.0
        {
            return reader.push_fault(
                &At::Field(at, "t0_1_s"),
                Fault::T01Shorter { t0_1_s: t0_1.0.get(), t0_5_s: t0_5.0.get() },
            );
        }
        let (t0_5, t0_1) = (seconds(input.t0_5_s), seconds(input.t0_1_s));
        let duration = Duration::of(t0_5, t0_1, shape);
        if duration.is_none() && t0_5.is_some() {
            return reader.push_fault(&At::Field(at, "t0_1_s"), Fault::UnknownDuration);
        }
        let pixel_m =
            match (input.field_width_m, input.pixels_across, input.magnification, input.pixel_pitch_um) {
                (Some(Size(width)), Some(Pixels(pixels)), None, None) => Some(width.get() / pixels),
                (None, None, Some(magnification), Some(pitch)) if magnification.0 >= 1e-6 => {
                    Some(pitch.0 * 1e-6 / magnification.0)
                }
                (None, None, Some(_), Some(_)) => {
                    reader.push_fault(&At::Field(at, "magnification"), Fault::NoMagnification)
                }
                // Not stated, or refused by the reader.
                _ => None,
            };
        let durations_at = At::Field(at, "duration_by_setting");
        let stated = input.duration_by_setting.into_iter().flatten().enumerate();
        let stated: Vec<_> = stated
            .filter_map(|(index, row)| row.check(shape, &At::Index(&durations_at, index), reader))
            .collect();
        let by_setting = if stated.is_empty() {
            input.unit.map(|unit| unit.durations).unwrap_or_default()
        } else {
            stated
        };
        let allowed_m = match (input.allowed_blur_px, input.allowed_blur_m) {
            (Some(_), Some(_)) => {
                let ways = ["allowed_blur_px", "allowed_blur_m"].map(str::to_owned);
                let fault = Fault::Conflict { what: "the allowed blur", ways: ways.into() };
                return reader.push_fault(&At::Field(at, "allowed_blur_m"), fault);
            }
            (Some(_), None) if pixel_m.is_none() && reader.is_clean() => {
                let expected = "field_width_m with pixels_across, or magnification with pixel_pitch_um, for a blur in pixels; or allowed_blur_m".to_owned();
                return reader.push_fault(&At::Field(at, "field_width_m"), Fault::Missing { expected });
            }
            (px, None) => pixel_m.map(|pixel| pixel * px.map_or(1.0, |px| px.0)),
            (None, Some(BlurLength(length))) => Some(length.get()),
        };
        let question = Self {
            t0_5: duration.map(|duration| duration.t0_5),
            t0_1: duration.map(|duration| duration.t0_1).or(t0_1),
            shape,
            speed_m_s: input.speed_m_s.map(|speed| speed.0),
            pixel_m,
            allowed_m,
            by_setting,
            exposure_time: input.exposure_time,
            sync_time: input.sync_time,
            ambient_below_flash: input.ambient_below_flash_stops,
        };
        if !question.has_answer() && reader.is_clean() {
            let expected = "t0_5_s or t0_1_s, or speed_m_s with an exposure_time or an allowed blur";
            return reader.push_fault(&At::Field(at, "t0_5_s"), Fault::NothingAsked { expected });
        }
        Some(question)
    }
}

impl Calculation for FreezeQuestion {
    type Answer = Freeze;

    fn answer(&self, _: &dyn Interrupt) -> Result<Freeze, Vec<InvalidPart>> {
        Ok(motion::freeze(self))
    }
}

/// Freeze motion
///
/// How sharply a flash freezes a moving subject: blur in pixels and metres over t0.1, the fastest subject that stays sharp, and the same at other settings. Whatever can be told from what is given is answered: t0.5 alone gives t0.1, a speed and a time the blur in metres, a speed and an allowed blur the longest t0.1. With an exposure time, blur is counted over the shorter of the two times, and `bounded_by` says which that is; the answer then also has the part of the flash that the shutter cuts off, and the length of the ghost from ambient light.
#[utoipa::path(post, path = "/v1/motion/freeze", tag = "measuring", request_body = FreezeRequest,
    responses((status = 200, description = "The blur", body = Freeze)))]
async fn freeze_motion(body: Body<FreezeQuestion>) -> Result<Response, Problem> {
    body.answer().await
}
