//! `/v1/marks/{kind}`.

use axum::{extract::Path, http::HeaderMap, response::Response};
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_axum::routes;

use crate::{
    endpoints::{extract::Query, format::QueryRequest},
    light::quantity::{
        Number, Stops,
        kind::Kind,
        marks::{self, Engraved, Step},
    },
    request::{
        declare::request,
        format::{AnswerFormat, WRITTEN},
        options::Options,
    },
    server::{
        problem::{Kind as ProblemKind, Problem},
        state::Routes,
    },
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(list_marks))
}

request! {
    /// The choice of a series.
    struct SeriesRequest {
        /// The series of marks; third stops if left out.
        step: Option<Step>,
    }
}

impl QueryRequest for SeriesRequest {
    const FORMATS: &'static [AnswerFormat] = WRITTEN;
    const OPTIONS: Options = Options::NONE;
}

/// A series of engraved marks.
#[derive(Serialize, ToSchema)]
struct MarkSeries {
    /// The kind of quantity.
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
    /// The mark as written; it can be used in requests.
    mark: String,
    /// The exact value that it stands for: f-number, seconds, ISO speed or density.
    value: Number,
    /// The APEX value Av, Tv or Sv; null for density.
    apex: Option<Stops>,
    /// Exposure relative to f/1, 1 s, ISO 100 or no filter, stops.
    exposure_stops: Stops,
}

/// List the marks of a series
///
/// The marks engraved on lenses, cameras and filters in whole, half or third stops, and the exact values that they stand for.
#[utoipa::path(get, path = "/v1/marks/{kind}", tag = "stops",
    params(("kind" = MarksKind, Path, description = "What is engraved."), SeriesRequest),
    responses((status = 200, description = "The series", body = MarkSeries)))]
async fn list_marks(
    Path(name): Path<String>,
    headers: HeaderMap,
    query: Query<SeriesRequest>,
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
    let step = query.request.step.unwrap_or_default();
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
    query.respond(&headers, &series)
}

/// A kind that has marks.
#[derive(ToSchema)]
#[schema(rename_all = "snake_case")]
#[expect(dead_code, reason = "for the OpenAPI document only; the path is read as text")]
pub enum MarksKind {
    FNumber,
    ExposureTime,
    Iso,
    OpticalDensity,
}
