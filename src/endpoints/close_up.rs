//! `/v1/lens/close-up`.

use axum::{http::HeaderMap, response::Response};
use utoipa_axum::routes;

use crate::{
    endpoints::{
        calculation::Calculation,
        extract::{Body, Query},
    },
    light::{
        error::InvalidPart,
        interrupt::Interrupt,
        quantity::FNumber,
        set::close_up::{self, CloseUp, CloseUpAnswer, CloseUpQuestion},
    },
    request::{
        declare::request,
        fields::{Extension, FocalLength, MagnificationValue, PupilRatio},
        place::At,
        reader::{Read, Reader},
        value::Value,
    },
    server::{problem::Problem, state::Routes},
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(tell_close_up_by_query, tell_close_up))
}

request! {
    /// A close-up: `magnification`, or `extension_mm` with `focal_length_mm`.
    struct CloseUpRequest {
        /// Image size divided by subject size, as 0.5 or "1:2", 0 to 20.
        magnification: Option<MagnificationValue>,
        /// How far the lens is moved out from its place at infinity by rings, bellows or its mount, mm; needs `focal_length_mm`.
        extension_mm: Option<Extension>,
        /// The focal length, mm; needs `extension_mm`.
        focal_length_mm: Option<FocalLength>,
        /// Diameter of the exit pupil over that of the entrance pupil, as seen from behind and from in front; 1 if left out. Long lenses have less, wide ones more.
        pupil_ratio: Option<PupilRatio>,
        /// The f-number set on the lens, to get the effective one.
        f_number: Option<FNumber>,
        /// The f-number that a hand-held meter reads, to get the one to set.
        metered_f_number: Option<FNumber>,
    }
    exactly one of "the magnification": magnification | extension_mm & focal_length_mm
}

impl Read for CloseUpQuestion {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = CloseUpRequest::read(value, at, reader)?;
        let magnification = match (input.magnification, input.extension_mm.zip(input.focal_length_mm)) {
            (Some(magnification), None) => magnification.0,
            (None, Some((extension, focal_length))) => extension.magnification(focal_length, at, reader)?,
            // Refused by the reader.
            _ => return None,
        };
        let pupil_ratio = input.pupil_ratio.map_or(1.0, |ratio| ratio.0);
        Some(Self {
            close_up: CloseUp { magnification, pupil_ratio },
            set: input.f_number,
            metered: input.metered_f_number,
            step: reader.rules.step,
        })
    }
}

impl Calculation for CloseUpQuestion {
    type Answer = CloseUpAnswer;

    fn answer(&self, _: &dyn Interrupt) -> Result<CloseUpAnswer, Vec<InvalidPart>> {
        Ok(close_up::close_up(self))
    }
}

/// Tell the exposure of a close-up, by query
///
/// The light that a lens loses in a close-up, by its magnification or its extension, and the f-number to set. Answers may be cached.
#[utoipa::path(get, path = "/v1/lens/close-up", tag = "stops", params(CloseUpRequest),
    responses((status = 200, description = "The exposure", body = CloseUpAnswer)))]
async fn tell_close_up_by_query(
    headers: HeaderMap,
    query: Query<CloseUpQuestion>,
) -> Result<Response, Problem> {
    query.answer(&headers)
}

/// Tell the exposure of a close-up
///
/// The light that a lens loses in a close-up, by its magnification, or by its extension and focal length: two stops at life size (1:1). With the `f_number` that is set, the effective one; with the `metered_f_number` of a hand-held meter, the one to set. A meter in the camera counts the loss already, and so does a camera that shows the effective f-number.
#[utoipa::path(post, path = "/v1/lens/close-up", tag = "stops", request_body = CloseUpRequest,
    responses((status = 200, description = "The exposure", body = CloseUpAnswer)))]
async fn tell_close_up(body: Body<CloseUpQuestion>) -> Result<Response, Problem> {
    body.answer().await
}
