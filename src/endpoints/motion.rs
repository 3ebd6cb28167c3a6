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
            Blur, FlashDuration, MagnificationValue, PixelPitch, Pixels, SettingDurationInput, Size, Speed,
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
        /// Time above half of the peak (ISO 2827).
        t0_5_s: Option<FlashDuration>,
        /// Time above a tenth of the peak (ISO 2827).
        t0_1_s: Option<FlashDuration>,
        /// How the flash ends; `exponential` if left out.
        shape: Option<Shape>,
        /// Speed of the subject across the frame, m/s.
        speed_m_s: Speed,
        /// Width of the field of view at the subject; needs `pixels_across`.
        field_width_m: Option<Size>,
        /// Pixels across the frame; needs `field_width_m`.
        pixels_across: Option<Pixels>,
        /// Image size divided by subject size; needs `pixel_pitch_um`.
        magnification: Option<MagnificationValue>,
        /// Pixel pitch of the sensor, µm; needs `magnification`.
        pixel_pitch_um: Option<PixelPitch>,
        /// The largest blur that counts as sharp, pixels; 1 if left out.
        allowed_blur_px: Option<Blur>,
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
    exactly one of "the size of a pixel at the subject": field_width_m & pixels_across | magnification & pixel_pitch_um
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
        let duration = Duration::of(seconds(input.t0_5_s), seconds(input.t0_1_s), shape).or_else(|| {
            let name = if input.t0_5_s.is_some() { "t0_1_s" } else { "t0_5_s" };
            reader.push_fault(&At::Field(at, name), Fault::UnknownDuration)
        });
        let pixel_m =
            match (input.field_width_m, input.pixels_across, input.magnification, input.pixel_pitch_um) {
                (Some(Size(width)), Some(Pixels(pixels)), None, None) => Some(width.get() / pixels),
                (None, None, Some(magnification), Some(pitch)) if magnification.0 >= 1e-6 => {
                    Some(pitch.0 * 1e-6 / magnification.0)
                }
                (None, None, Some(_), Some(_)) => {
                    reader.push_fault(&At::Field(at, "magnification"), Fault::NoMagnification)
                }
                // Refused by the reader.
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
        Some(Self {
            duration: duration?,
            shape,
            speed_m_s: input.speed_m_s.0,
            pixel_m: pixel_m?,
            allowed_px: input.allowed_blur_px.map_or(1.0, |blur| blur.0),
            by_setting,
            exposure_time: input.exposure_time,
            sync_time: input.sync_time,
            ambient_below_flash: input.ambient_below_flash_stops,
        })
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
/// How sharply a flash freezes a moving subject: blur in pixels and metres over t0.1, the fastest subject that stays sharp, and the same at other settings. With an exposure time, blur is counted over the shorter of the two times, and `bounded_by` says which that is; the answer then also has the part of the flash that the shutter cuts off, and the length of the ghost from ambient light.
#[utoipa::path(post, path = "/v1/motion/freeze", tag = "measuring", request_body = FreezeRequest,
    responses((status = 200, description = "The blur", body = Freeze)))]
async fn freeze_motion(body: Body<FreezeQuestion>) -> Result<Response, Problem> {
    body.answer().await
}
