//! `/v1/patches/level`.

use axum::{http::HeaderMap, response::Response as HttpResponse};
use utoipa_axum::routes;

use crate::{
    endpoints::{
        calculation::Calculation,
        extract::{Body, Query},
    },
    light::{
        error::InvalidPart,
        interrupt::Interrupt,
        measure::{
            patch_level::{self, Known, PatchLevelAnswer, PatchLevelQuestion},
            response::Response,
            space::{Level, Space},
        },
        quantity::Stops,
    },
    request::{
        declare::request,
        fields::{Bits, ReflectanceValue, check_level, encoding_with},
        options::Options,
        place::At,
        reader::{Read, Reader},
        value::Value,
    },
    server::{problem::Problem, state::Routes},
    wording::fault::Fault,
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(tell_level_by_query, tell_level))
}

request! {
    /// A surface in a picture: its reflectance, its level, or both.
    struct LevelRequest as "PatchLevelRequest" {
        /// The reflectance of the surface, a share as 0.9 or "90 %". White paper has about 0.9, black cloth 0.03.
        reflectance: Option<ReflectanceValue>,
        /// The light on it against the working exposure, stops; 0 if left out, or asked for if reflectance and level are given.
        incident_stops: Option<Stops>,
        /// Its level, to go back to the exposure.
        level: Option<Level>,
        /// Colour space of the level; that of the `response`, or else `srgb`, if left out.
        space: Option<Space>,
        /// Bit depth of the level, 8 or 16; that of the `response`, or else 8, if left out.
        bits: Option<Bits>,
        /// The response of the camera, as answered by `/v1/patches/response`.
        response: Option<Response>,
    }
}

impl Read for PatchLevelQuestion {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = LevelRequest::read(value, at, reader)?;
        let encoding = encoding_with(input.response.as_ref(), input.space, input.bits, at, reader);
        if let Some(level) = input.level {
            check_level(level, encoding, &At::Field(at, "level"), reader);
        }
        let incident = || input.incident_stops.unwrap_or(Stops::ZERO);
        let known = match (input.reflectance, input.level) {
            (Some(ReflectanceValue(reflectance)), None) => Known::Scene { reflectance, incident: incident() },
            (None, Some(level)) => Known::Light { incident: incident(), level },
            (Some(ReflectanceValue(reflectance)), Some(level)) => {
                if input.incident_stops.is_some() {
                    let ways = ["incident_stops", "reflectance with level"].map(str::to_owned);
                    let fault = Fault::Conflict { what: "the light on the surface", ways: ways.into() };
                    reader.push_fault::<()>(&At::Field(at, "incident_stops"), fault);
                }
                Known::Surface { reflectance, level }
            }
            (None, None) => {
                let expected = "reflectance, as 0.9 or \"18 %\", or level, or both";
                return reader.push_fault(&At::Field(at, "reflectance"), Fault::NothingAsked { expected });
            }
        };
        Some(Self { known, encoding, response: input.response })
    }
}

impl Calculation for PatchLevelQuestion {
    type Answer = PatchLevelAnswer;
    const OPTIONS: Options = Options::NONE;

    fn answer(&self, _: &dyn Interrupt) -> Result<PatchLevelAnswer, Vec<InvalidPart>> {
        Ok(patch_level::patch_level(self))
    }
}

/// Tell the level of a surface, by query
///
/// At which level a surface shows, and whether it is clipped; or the exposure that a level stands for. Write `%25` for a percent sign. Answers may be cached.
#[utoipa::path(get, path = "/v1/patches/level", tag = "measuring", params(LevelRequest),
    responses((status = 200, description = "The level", body = PatchLevelAnswer)))]
async fn tell_level_by_query(
    headers: HeaderMap,
    query: Query<PatchLevelQuestion>,
) -> Result<HttpResponse, Problem> {
    query.answer(&headers)
}

/// Tell the level of a surface
///
/// At which level a surface shows, and whether it is clipped: white paper (0.9) one stop over, black cloth (0.03). With a `level` in place of the `reflectance`, the exposure that it stands for; with both, the light that makes this surface show so (a grey wall to black). A file has a tone curve that its colour space does not describe: send the `response` that `/v1/patches/response` fits to bracketed frames, or take the range seriously.
#[utoipa::path(post, path = "/v1/patches/level", tag = "measuring", request_body = LevelRequest,
    responses((status = 200, description = "The level", body = PatchLevelAnswer)))]
async fn tell_level(body: Body<PatchLevelQuestion>) -> Result<HttpResponse, Problem> {
    body.answer().await
}
