//! `/v1/lights/softness`.

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
        quantity::Metres,
        set::{
            placement::Source,
            softness::{self, Other, Softness, SoftnessQuestion},
        },
    },
    request::{
        declare::request,
        options::Options,
        place::At,
        reader::{Read, Reader},
        value::Value,
    },
    server::{problem::Problem, state::Routes},
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(tell_softness_by_query, tell_softness))
}

request! {
    /// A light whose softness is asked for.
    struct SoftnessRequest {
        /// The face of the source, turned to the subject. In a query: `source[disc_m]=0.9`.
        source: Source,
        /// From the light to the subject, whose edge throws the shadow.
        distance: Metres,
        /// From that edge to the surface that the shadow falls on, to get the width of its soft edge.
        behind: Option<Metres>,
        /// Another distance, to get the size of a source that is as soft from there; at most one of this and `to_source`.
        to_distance: Option<Metres>,
        /// Another source, to get the distance from which it is as soft. In a query: `to_source[disc_m]=1.2`.
        to_source: Option<Source>,
    }
    at most one of "what is to be as soft": to_distance | to_source
}

impl Read for SoftnessQuestion {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = SoftnessRequest::read(value, at, reader)?;
        Some(Self {
            source: input.source,
            distance: input.distance,
            behind: input.behind,
            other: input.to_distance.map(Other::At).or(input.to_source.map(Other::Of)),
            units: reader.rules.units,
        })
    }
}

impl Calculation for SoftnessQuestion {
    type Answer = Softness;
    const OPTIONS: Options = Options::LENGTHS;

    fn answer(&self, _: &dyn Interrupt) -> Result<Softness, Vec<InvalidPart>> {
        Ok(softness::softness(self))
    }
}

/// Tell softness, by query
///
/// How soft a light is: its angular size, the soft edge of a shadow, and what is as soft. Answers may be cached.
#[utoipa::path(get, path = "/v1/lights/softness", tag = "ratios", params(SoftnessRequest),
    responses((status = 200, description = "The softness", body = Softness)))]
async fn tell_softness_by_query(
    headers: HeaderMap,
    query: Query<SoftnessQuestion>,
) -> Result<Response, Problem> {
    query.answer(&headers)
}

/// Tell softness
///
/// How soft a light is: its angular size as the subject sees it, and with `behind` the width of the soft edge of a shadow. With `to_distance`, the size of a source that is as soft from there; with `to_source`, the distance from which that source is as soft. Between sources of different shapes, the geometric mean of width and height counts.
#[utoipa::path(post, path = "/v1/lights/softness", tag = "ratios", request_body = SoftnessRequest,
    responses((status = 200, description = "The softness", body = Softness)))]
async fn tell_softness(body: Body<SoftnessQuestion>) -> Result<Response, Problem> {
    body.answer().await
}
