//! `/v1/ambient/check`.

use axum::response::Response;
use utoipa_axum::routes;

use crate::{
    endpoints::{
        calculation::{Calculation, patches_of},
        extract::Body,
    },
    light::{
        error::{InvalidPart, InvalidValue},
        interrupt::Interrupt,
        measure::{
            ambient::{self, Ambient, AmbientQuestion, Check},
            space::{Level, Space},
        },
        quantity::{FNumber, Iso, Lux, Seconds, Stops, constants::AMBIENT_ALLOWED},
        remedy::Patch,
        set::limits::Limits,
    },
    request::{
        declare::request,
        fields::{Bits, ExposureInput, LuxValue, Tolerance, check_level, encoding},
        place::At,
        reader::{Read, Reader},
        value::Value,
    },
    server::{problem::Problem, state::Routes},
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(check_ambient))
}

request! {
    /// Ambient light: `illuminance_lx`, or a meter reading as `f_number` with `exposure_time`, or `level`.
    struct AmbientLightInput {
        /// Illuminance, lx, 0 to 1000000.
        illuminance_lx: Option<LuxValue>,
        /// The f-number that a meter read; needs `exposure_time`.
        f_number: Option<FNumber>,
        /// The exposure time that the meter was set to.
        exposure_time: Option<Seconds>,
        /// The ISO speed that the meter was set to; that of the exposure if left out.
        iso: Option<Iso>,
        /// The level of an 18 % grey card in a frame taken at the exposure with the flash off.
        level: Option<Level>,
        /// Colour space of the level; `srgb` if left out.
        space: Option<Space>,
        /// Bit depth of the level, 8 or 16; 8 if left out.
        bits: Option<Bits>,
    }
    exactly one of "the ambient light": illuminance_lx | f_number & exposure_time | level
}

request! {
    /// A flash exposure and the ambient light.
    struct AmbientRequest {
        /// The exposure; its exposure time is required.
        exposure: ExposureInput,
        /// The ambient light.
        ambient: AmbientLightInput,
        /// The f-number that a meter reads for the flash alone; the working aperture if left out.
        flash_f_number: Option<FNumber>,
        /// How much ambient light may brighten the picture, stops, 0.001 to 4; 0.1 if left out.
        allowed_stops: Option<Tolerance>,
        /// For ambient light that is wanted: its level relative to the flash, stops. -2 is two stops under the flash.
        wanted_ambient_stops: Option<Stops>,
        /// Limits on the remedies that may be proposed.
        limits: Option<Limits>,
    }
}

impl Read for AmbientQuestion {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = AmbientRequest::read(value, at, reader)?;
        let flash = input.exposure.flash();
        let time = input.exposure.exposure_time.or_else(|| {
            reader.push_fault(
                &At::Field(&At::Field(at, "exposure"), "exposure_time"),
                InvalidValue::ExposureTimeMissing,
            )
        });
        let ambient = input.ambient.check(flash.iso, &At::Field(at, "ambient"), reader);
        Some(Self {
            f_number: flash.f_number,
            iso: flash.iso,
            exposure_time: time?,
            ambient: ambient?,
            flash: input.flash_f_number,
            sync_time: input.exposure.sync_time,
            allowed: input.allowed_stops.map_or(Stops::new_unchecked(AMBIENT_ALLOWED), |allowed| allowed.0),
            wanted: input.wanted_ambient_stops,
            limits: input.limits.unwrap_or_default(),
            rules: reader.rules,
        })
    }
}

impl Calculation for AmbientQuestion {
    type Answer = Check;

    fn patches(answer: &mut Check) -> Vec<&mut Patch> {
        patches_of(&mut answer.remedies).collect()
    }

    fn answer(&self, _: &dyn Interrupt) -> Result<Check, Vec<InvalidPart>> {
        Ok(ambient::check(self))
    }
}

impl AmbientLightInput {
    fn check(self, iso: Iso, at: &At<'_>, reader: &mut Reader) -> Option<Ambient> {
        let encoding = encoding(self.space, self.bits);
        match (self.illuminance_lx, self.f_number, self.exposure_time, self.level) {
            (Some(lux), None, None, None) => Some(Ambient::Illuminance(Lux::new_unchecked(lux.0))),
            (None, Some(f_number), Some(exposure_time), None) => {
                Some(Ambient::Reading { f_number, exposure_time, iso: self.iso.unwrap_or(iso) })
            }
            (None, None, None, Some(level)) => {
                check_level(level, encoding, &At::Field(at, "level"), reader);
                Some(Ambient::Patch { level, encoding })
            }
            // Refused by the reader.
            _ => None,
        }
    }
}

/// Check ambient light
///
/// How much ambient light a flash picture records: how many stops it is under the flash, its share of the light, and how much it brightens the picture. Answers the longest exposure time that keeps it out, other remedies, and the level to look for in a test frame with the flash off. If ambient light is wanted, state `wanted_ambient_stops`; the answer then has the exposure time for it.
#[utoipa::path(post, path = "/v1/ambient/check", tag = "measuring", request_body = AmbientRequest,
    responses((status = 200, description = "The ambient light", body = Check)))]
async fn check_ambient(body: Body<AmbientQuestion>) -> Result<Response, Problem> {
    body.answer().await
}
