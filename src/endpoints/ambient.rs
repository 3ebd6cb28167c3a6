//! `/v1/ambient/check`.

use axum::response::Response;
use utoipa_axum::routes;

use crate::{
    drawing,
    endpoints::{
        calculation::{Calculation, Draw, patches_of},
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
        field_schema::looks_like,
        fields::{Bits, ExposureInput, LensInput, LuxValue, Tolerance, check_level, encoding},
        options::Options,
        place::At,
        reader::{Read, Reader},
        schema::AmbientOrLux,
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
    pub(crate) struct AmbientLightInput {
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
        /// How far the ambient light may be off, the last digit of the meter apart, ± stops at 95 %, 0.001 to 4; 0.12 if left out, and of a `level` what unknown tone curves make of it.
        plus_minus_stops: Option<Tolerance>,
    }
    exactly one of "the ambient light": illuminance_lx | f_number & exposure_time | level
}

request! {
    /// A flash exposure and the ambient light.
    struct AmbientRequest {
        /// The exposure. Its exposure time may be left out if the ambient light is no `level`: it is then found.
        exposure: ExposureInput,
        /// What the lens takes from the light.
        lens: Option<LensInput>,
        /// The ambient light: an illuminance, as 800 (lux) or "800 lx", or an object.
        ambient: AmbientLight,
        /// The f-number that a meter reads for the flash alone; if left out, the flash exposes correctly.
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
        let time = input.exposure.exposure_time;
        let lens = input.lens.map(|lens| lens.check(&At::Field(at, "lens"), reader));
        let plus_minus = input.ambient.0.plus_minus_stops.map(|it| it.0);
        let ambient = input.ambient.check(flash.iso, time, at, reader);
        Some(Self {
            f_number: flash.f_number,
            iso: flash.iso,
            exposure_time: time,
            lens: lens.unwrap_or_default(),
            ambient: ambient?,
            plus_minus,
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
    const OPTIONS: Options = Options::MARKS_DRAWN;
    const PICTURE: Option<Draw<Self, Check>> =
        Some(|question, answer, width| drawing::ambient(question, answer, question.limit_stops(), width));

    fn patches(answer: &mut Check) -> Vec<&mut Patch> {
        patches_of(&mut answer.remedies).collect()
    }

    fn answer(&self, _: &dyn Interrupt) -> Result<Check, Vec<InvalidPart>> {
        Ok(ambient::check(self))
    }
}

/// Ambient light, as its illuminance alone or as an object.
struct AmbientLight(AmbientLightInput);

looks_like!(AmbientLight as AmbientOrLux);

impl Read for AmbientLight {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        if !matches!(value, Value::Number(_) | Value::Text(_) | Value::Parameter(_)) {
            return AmbientLightInput::read(value, at, reader).map(Self);
        }
        let lux = LuxValue::read(value, at, reader)?;
        Some(Self(AmbientLightInput {
            illuminance_lx: Some(lux),
            f_number: None,
            exposure_time: None,
            iso: None,
            level: None,
            space: None,
            bits: None,
            plus_minus_stops: None,
        }))
    }

    fn expected() -> String {
        format!("{}, or {}", LuxValue::expected(), AmbientLightInput::expected())
    }
}

impl AmbientLight {
    /// Checks it beside the ISO speed and the time of the exposure, `at` the whole request.
    fn check(self, iso: Iso, time: Option<Seconds>, at: &At<'_>, reader: &mut Reader) -> Option<Ambient> {
        let Self(input) = self;
        let encoding = encoding(input.space, input.bits);
        match (input.illuminance_lx, input.f_number, input.exposure_time, input.level) {
            (Some(lux), None, None, None) => Some(Ambient::Illuminance(Lux::new_unchecked(lux.0))),
            (None, Some(f_number), Some(exposure_time), None) => {
                Some(Ambient::Reading { f_number, exposure_time, iso: input.iso.unwrap_or(iso) })
            }
            (None, None, None, Some(level)) => {
                check_level(level, encoding, &At::Field(&At::Field(at, "ambient"), "level"), reader);
                let Some(exposure_time) = time else {
                    let at = At::Field(at, "exposure");
                    let at = At::Field(&at, "exposure_time");
                    return reader.push_fault(&at, InvalidValue::ExposureTimeMissing);
                };
                Some(Ambient::Patch { level, encoding, exposure_time })
            }
            // Refused by the reader.
            _ => None,
        }
    }
}

/// Check ambient light
///
/// How much ambient light a flash picture records: how many stops it is under the flash, its share of the light, and how much it brightens the picture. Answers the longest exposure time that keeps it out, other remedies, and the level to look for in a test frame with the flash off. If ambient light is wanted, state `wanted_ambient_stops`; the answer then has the exposure time for it. If the request states no exposure time, the answer has the one to set: for the ambient light that is wanted, or the longest that keeps it out. Where the sync time forbids that, remedies say which aperture, ISO speed or filter does it with more flash; if none does, a warning says that it takes high-speed sync.
#[utoipa::path(post, path = "/v1/ambient/check", tag = "measuring", request_body = AmbientRequest,
    responses((status = 200, description = "The ambient light", body = Check)))]
async fn check_ambient(body: Body<AmbientQuestion>) -> Result<Response, Problem> {
    body.answer().await
}
