//! `/v1/ambient/check`.

use axum::response::Response;
use utoipa::ToSchema;
use utoipa_axum::routes;

use crate::{
    endpoints::{calculation::Calculation, extract::Body},
    light::{
        error::FieldError,
        interrupt::Interrupt,
        measure::{
            ambient::{self, Ambient, Check, Question},
            space::{Level, Space},
        },
        quantity::{FNumber, Iso, Lux, Seconds, Stops, constants::AMBIENT_ALLOWED},
        set::limits::Limits,
    },
    request::{
        fields::{Bits, ExposureInput, LimitsInput, LuxValue, Tolerance, encoding, within},
        place::At,
        reader::{Read, Reader, reads},
        schema::{ExposureTimeInput, FNumberInput, IsoInput, LevelInput, StopsInput},
        value::Value,
    },
    server::{
        problem::{Problem, Refusals},
        state::Routes,
    },
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(check_ambient))
}

/// Ambient light: `illuminance_lx`; or a meter's reading, `f_number` with `exposure_time`; or `patch_level`.
#[derive(ToSchema)]
struct AmbientLightInput {
    /// Illuminance, lx, 0 to 1000000.
    illuminance_lx: Option<LuxValue>,
    /// What a meter read, with `exposure_time`.
    #[schema(value_type = Option<FNumberInput>)]
    f_number: Option<FNumber>,
    /// The time that the meter was set to.
    #[schema(value_type = Option<ExposureTimeInput>)]
    exposure_time: Option<Seconds>,
    /// The ISO speed that the meter was set to; that of the exposure if left out.
    #[schema(value_type = Option<IsoInput>)]
    iso: Option<Iso>,
    /// The level of an 18 % grey card in a frame at the exposure with the flash off.
    #[schema(value_type = Option<LevelInput>)]
    patch_level: Option<Level>,
    /// The space of the level; `srgb` if left out.
    space: Option<Space>,
    /// Bits of the level, 8 or 16; 8 if left out.
    #[schema(value_type = Option<u32>, minimum = 8, maximum = 16)]
    bits: Option<Bits>,
}
reads!(AmbientLightInput { illuminance_lx, f_number, exposure_time, iso, patch_level, space, bits });

/// A flash exposure and the light that is there anyway.
#[derive(ToSchema)]
struct AmbientRequest {
    /// The exposure, with its time.
    exposure: ExposureInput,
    /// The ambient light.
    ambient: AmbientLightInput,
    /// What a meter reads of the flash alone; the working aperture if left out.
    #[schema(value_type = Option<FNumberInput>)]
    flash_f_number: Option<FNumber>,
    /// The shortest time at which the camera's shutter is fully open.
    #[schema(value_type = Option<ExposureTimeInput>)]
    sync_time: Option<Seconds>,
    /// How much brighter ambient light may make the picture, stops, 0.001 to 4; 0.1 if left out.
    #[schema(value_type = Option<StopsInput>)]
    allowed_stops: Option<Tolerance>,
    /// Where ambient light is wanted on purpose, stops against the flash: -2 is two stops under it.
    #[schema(value_type = Option<StopsInput>)]
    wanted_ambient_stops: Option<Stops>,
    /// How far remedies may go.
    #[schema(value_type = Option<LimitsInput>)]
    limits: Option<Limits>,
}
reads!(AmbientRequest {
    exposure,
    ambient,
    flash_f_number,
    sync_time,
    allowed_stops,
    wanted_ambient_stops,
    limits
});

pub(crate) struct AmbientChecked(Question);

impl Read for AmbientChecked {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let form = AmbientRequest::read(tree, at, reader)?;
        let flash = form.exposure.flash();
        let time = form.exposure.exposure_time.or_else(|| {
            reader.fault(
                &At::Field(&At::Field(at, "exposure"), "exposure_time"),
                "ambient light depends on the exposure time",
                "an exposure time, as \"1/125\"",
            )
        });
        let ambient = form.ambient.check(flash.iso, &At::Field(at, "ambient"), reader);
        Some(Self(Question {
            f_number: flash.f_number,
            iso: flash.iso,
            exposure_time: time?,
            ambient: ambient?,
            flash: form.flash_f_number,
            sync_time: form.sync_time,
            allowed: form.allowed_stops.map_or(Stops::new_unchecked(AMBIENT_ALLOWED), |allowed| allowed.0),
            wanted: form.wanted_ambient_stops,
            limits: form.limits.unwrap_or_default(),
            step: reader.rules.step,
        }))
    }
}

impl Calculation for AmbientChecked {
    type Answer = Check;

    fn answer(&self, _: &dyn Interrupt) -> Result<Check, Vec<FieldError>> {
        Ok(ambient::check(&self.0))
    }
}

impl AmbientLightInput {
    fn check(self, iso: Iso, at: &At<'_>, reader: &mut Reader) -> Option<Ambient> {
        let encoding = encoding(self.space, self.bits);
        match (self.illuminance_lx, self.f_number, self.exposure_time, self.patch_level) {
            (Some(lux), None, None, None) => Some(Ambient::Illuminance(Lux::new_unchecked(lux.0))),
            (None, Some(f_number), Some(exposure_time), None) => {
                Some(Ambient::Reading { f_number, exposure_time, iso: self.iso.unwrap_or(iso) })
            }
            (None, None, None, Some(level)) => {
                within(level, encoding, &At::Field(at, "patch_level"), reader);
                Some(Ambient::Patch { level, encoding })
            }
            (None, Some(_), None, None) => reader.fault(
                &At::Field(at, "exposure_time"),
                "a meter's reading needs the time it was set to",
                "an exposure time, as \"1/125\"",
            ),
            _ => reader.fault(
                at,
                "ambient light is told in exactly one way",
                "illuminance_lx, or f_number with exposure_time, or patch_level",
            ),
        }
    }
}

/// Check ambient light
///
/// How much ambient light gets into a flash picture: how far it is under the flash, its share, and how much it brightens. Answers the longest exposure time that keeps it out, what else would, and the level to look for in a test frame with the flash off. For a picture that wants ambient light, `wanted_ambient_stops` gives the time.
#[utoipa::path(post, path = "/v1/ambient/check", tag = "measuring", request_body = AmbientRequest,
    responses((status = 200, description = "The ambient light", body = Check), Refusals))]
async fn check_ambient(body: Body<AmbientChecked>) -> Result<Response, Problem> {
    body.answer().await
}
