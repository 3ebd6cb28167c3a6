//! `/v1/motion/freeze`.

use axum::response::Response;
use utoipa::ToSchema;
use utoipa_axum::routes;

use crate::{
    endpoints::{calculation::Calculation, extract::Body},
    light::{
        error::FieldError,
        interrupt::Interrupt,
        measure::motion::{self, Duration, Freeze, Question, Shape},
        quantity::{Seconds, Stops},
        unit::Unit,
    },
    request::{
        fields::{
            Blur, DURATION_EXPECTED, FlashDuration, MagnificationValue, PixelPitch, Pixels,
            SettingDurationInput, Size, Speed, UnitInput,
        },
        place::At,
        reader::{Read, Reader, reads, reads_word},
        schema::{DurationInput, ExposureTimeInput, SizeInput, StopsInput},
        value::Value,
    },
    server::{
        problem::{Problem, Refusals},
        state::Routes,
    },
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(freeze_motion))
}

reads_word!(Shape: Shape::ALL.map(|shape| (shape.text(), shape)));

/// A flash and a moving subject.
#[derive(ToSchema)]
struct FreezeRequest {
    /// Time above half of the peak (ISO 2827).
    #[schema(value_type = Option<DurationInput>)]
    t0_5_s: Option<FlashDuration>,
    /// Time above a tenth of the peak (ISO 2827).
    #[schema(value_type = Option<DurationInput>)]
    t0_1_s: Option<FlashDuration>,
    /// How it ends; `exponential` if left out.
    shape: Option<Shape>,
    /// Speed of the subject across the picture, m/s.
    speed_m_s: Speed,
    /// Width of what the picture shows, at the subject; goes with `pixels_across`.
    #[schema(value_type = Option<SizeInput>)]
    field_width_m: Option<Size>,
    /// Pixels across the picture.
    pixels_across: Option<Pixels>,
    /// Size of the image over that of the subject; goes with `pixel_pitch_um`.
    magnification: Option<MagnificationValue>,
    /// Distance of pixels on the sensor, µm.
    pixel_pitch_um: Option<PixelPitch>,
    /// Blur that is still sharp, pixels; 1 if left out.
    allowed_blur_px: Option<Blur>,
    /// The unit, for its `duration_by_setting`.
    #[schema(value_type = Option<UnitInput>)]
    unit: Option<Unit>,
    /// Durations at other settings, where no unit tells them.
    #[schema(max_items = 64)]
    duration_by_setting: Option<Vec<SettingDurationInput>>,
    /// The exposure time: it bounds the blur where it is shorter than t0.1, cuts off the flash, and draws the ambient ghost.
    #[schema(value_type = Option<ExposureTimeInput>)]
    exposure_time: Option<Seconds>,
    /// How far ambient light is under the flash, stops (as `ambient/check` tells it).
    #[schema(value_type = Option<StopsInput>)]
    ambient_below_flash_stops: Option<Stops>,
}
reads!(FreezeRequest {
    t0_5_s,
    t0_1_s,
    shape,
    speed_m_s,
    field_width_m,
    pixels_across,
    magnification,
    pixel_pitch_um,
    allowed_blur_px,
    unit,
    duration_by_setting,
    exposure_time,
    ambient_below_flash_stops
});

pub(crate) struct FreezeChecked(Question);

impl Read for FreezeChecked {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let form = FreezeRequest::read(tree, at, reader)?;
        let shape = form.shape.unwrap_or(Shape::Exponential);
        let seconds = |duration: Option<FlashDuration>| duration.map(|duration| duration.0);
        if let (Some(t0_5), Some(t0_1)) = (form.t0_5_s, form.t0_1_s)
            && t0_1.0 < t0_5.0
        {
            return reader.fault(
                &At::Field(at, "t0_1_s"),
                format!("{} s is shorter than t0_5_s, {} s", t0_1.0.get(), t0_5.0.get()),
                "the time above a tenth of the peak, which is the longer",
            );
        }
        let duration = Duration::of(seconds(form.t0_5_s), seconds(form.t0_1_s), shape).or_else(|| {
            let name = if form.t0_5_s.is_some() { "t0_1_s" } else { "t0_5_s" };
            reader.fault(&At::Field(at, name), "the duration is not known", DURATION_EXPECTED)
        });
        let pixel_m = match (form.field_width_m, form.pixels_across, form.magnification, form.pixel_pitch_um)
        {
            (Some(Size(width)), Some(Pixels(pixels)), None, None) => Some(width.get() / pixels),
            (None, None, Some(magnification), Some(pitch)) if magnification.0 >= 1e-6 => {
                Some(pitch.0 * 1e-6 / magnification.0)
            }
            (width, pixels, magnification, pitch) => {
                let name = match (width, pixels, magnification, pitch) {
                    (Some(_), None, ..) => "pixels_across",
                    (.., Some(_), None) => "pixel_pitch_um",
                    (.., Some(_), Some(_)) => "magnification",
                    _ => "field_width_m",
                };
                reader.fault(
                    &At::Field(at, name),
                    "nothing tells how large a pixel is at the subject",
                    "field_width_m with pixels_across, or magnification, 0.000001 or more, with pixel_pitch_um",
                )
            }
        };
        let durations_at = At::Field(at, "duration_by_setting");
        let own = form.duration_by_setting.into_iter().flatten().enumerate();
        let own: Vec<_> = own
            .filter_map(|(index, row)| row.check(shape, &At::Index(&durations_at, index), reader))
            .collect();
        let by_setting =
            if own.is_empty() { form.unit.map(|unit| unit.durations).unwrap_or_default() } else { own };
        Some(Self(Question {
            duration: duration?,
            shape,
            speed_m_s: form.speed_m_s.0,
            pixel_m: pixel_m?,
            allowed_px: form.allowed_blur_px.map_or(1.0, |blur| blur.0),
            by_setting,
            exposure_time: form.exposure_time,
            ambient_below_flash: form.ambient_below_flash_stops,
        }))
    }
}

impl Calculation for FreezeChecked {
    type Answer = Freeze;

    fn answer(&self, _: &dyn Interrupt) -> Result<Freeze, Vec<FieldError>> {
        Ok(motion::freeze(&self.0))
    }
}

/// Freeze motion
///
/// How sharp a flash stops a moving subject: blur in pixels and millimetres over t0.1, the fastest subject that stays sharp, and the same at other settings. With an exposure time blur is counted over no more than that, and `bounded_by` tells which of the two ended it; also what the shutter cuts off the flash, and how long a ghost the ambient light draws.
#[utoipa::path(post, path = "/v1/motion/freeze", tag = "measuring", request_body = FreezeRequest,
    responses((status = 200, description = "The blur", body = Freeze), Refusals))]
async fn freeze_motion(body: Body<FreezeChecked>) -> Result<Response, Problem> {
    body.answer().await
}
