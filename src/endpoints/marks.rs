//! `/v1/marks/{kind}`.

use axum::{extract::Path, http::HeaderMap, response::Response};
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_axum::routes;

use crate::{
    endpoints::extract::Query,
    light::quantity::{
        Number, Stops,
        kind::Kind,
        marks::{self, Engraved, Step},
    },
    request::reader::Nothing,
    server::{
        problem::{Kind as ProblemKind, Problem, Refusals},
        state::Routes,
    },
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(list_marks))
}

/// An engraved series.
#[derive(Serialize, ToSchema)]
struct MarkSeries {
    /// What is engraved.
    kind: Kind,
    /// The step of the series.
    #[schema(value_type = Step)]
    step: &'static str,
    /// The marks, brightest first for f-numbers, times and densities, lowest first for ISO speeds.
    marks: Vec<MarkRow>,
}

/// One mark.
#[derive(Serialize, ToSchema)]
struct MarkRow {
    /// As it is written, so that it can be sent back.
    mark: String,
    /// The exact value that it stands for: f-number, seconds, ISO speed, density.
    value: Number,
    /// Av, Tv or Sv of APEX; null for density.
    apex: Option<Stops>,
    /// Exposure against f/1, 1 s, ISO 100, no filter, stops.
    exposure_stops: Stops,
}

/// List the marks of a series
///
/// What is engraved on lenses, cameras and filters in whole, half or third stops, and the exact values that the marks stand for.
#[utoipa::path(get, path = "/v1/marks/{kind}", tag = "stops",
    params(("kind" = MarksKind, Path, description = "What is engraved.")),
    responses((status = 200, description = "The series", body = MarkSeries), Refusals))]
async fn list_marks(
    Path(name): Path<String>,
    headers: HeaderMap,
    query: Query<Nothing>,
) -> Result<Response, Problem> {
    let Some((kind, engraved)) = Kind::named(&name)
        .and_then(|kind| kind.engraved().map(|engraved| (kind, engraved)))
        .filter(|(_, engraved)| *engraved != Engraved::FilterFactor)
    else {
        return Err(Problem::new(
            ProblemKind::NotFound,
            "Marks are known for f_number, exposure_time, iso and optical_density.",
        ));
    };
    let step = query.rules.step;
    let marks = marks::series(engraved, step)
        .iter()
        .map(|mark| MarkRow {
            mark: mark.text.clone(),
            value: Number::new_unchecked(mark.value),
            apex: marks::apex(engraved, mark).map(Stops::new_unchecked),
            exposure_stops: Stops::new_unchecked(mark.exposure_stops),
        })
        .collect();
    let series = MarkSeries { kind, step: step.text(), marks };
    query.tell(&headers, &series)
}

/// A kind that has marks.
#[derive(ToSchema)]
#[schema(rename_all = "snake_case")]
#[expect(dead_code, reason = "stands in the OpenAPI document only; the path is read as text")]
pub enum MarksKind {
    FNumber,
    ExposureTime,
    Iso,
    OpticalDensity,
}
