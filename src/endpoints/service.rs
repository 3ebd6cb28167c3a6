//! The endpoints beside the calculations: `/`, `/openapi.json`, `/problems/{slug}`, `/healthz`, `/readyz`.

use std::sync::Arc;

use axum::{
    extract::{Path, State},
    http::HeaderMap,
    response::Response,
};
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_axum::routes;

use crate::{
    endpoints::format,
    request::{
        format::{AnswerFormat, WRITTEN},
        schema::Document,
    },
    server::{
        caching,
        cors::Origins,
        negotiation,
        problem::{Kind, Problem},
        state::{AppState, Routes, Site},
    },
    wording::format::names,
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new()
        .routes(routes!(show_index))
        // Tools on other origins fetch it.
        .merge(Routes::new().routes(routes!(fetch_openapi)).layer(Origins::Any.layer()))
        .routes(routes!(explain_problem))
        .routes(routes!(check_health))
        .routes(routes!(check_readiness))
}

/// What the service offers.
#[derive(Serialize, ToSchema)]
#[schema(as = ServiceIndex)]
struct Index {
    /// Always `stopwright`.
    name: &'static str,
    /// The version of the service.
    version: &'static str,
    /// What it does.
    job: &'static str,
    /// Every endpoint.
    endpoints: Vec<Endpoint>,
    /// Links to the documentation.
    links: Links,
}

/// One endpoint.
#[derive(Serialize, ToSchema)]
pub struct Endpoint {
    /// The HTTP method.
    pub method: String,
    /// The path.
    pub path: String,
    /// What it does.
    pub summary: String,
    /// Its tag in the OpenAPI document.
    #[serde(skip)]
    pub tag: String,
    /// Its `operationId` in the OpenAPI document.
    #[serde(skip)]
    pub id: String,
}

/// Links to the documentation.
#[derive(Serialize, ToSchema)]
#[schema(as = ServiceLinks)]
struct Links {
    /// The documentation page.
    docs: &'static str,
    /// The OpenAPI document.
    openapi: &'static str,
}

const JOB: &str =
    "The lighting arithmetic of a flash studio: stops, energies, guide numbers and lighting ratios.";

/// Show the index
///
/// What the service offers, with links, as JSON or, if `Accept` prefers it, HTML.
#[utoipa::path(get, path = "/", tag = "service",
    responses((status = 200, description = "The index", content(
        (Index = "application/json"), (String = "text/html")))))]
async fn show_index(State(state): State<Arc<AppState>>, headers: HeaderMap) -> Result<Response, Problem> {
    let Site { index, front_page, .. } = state.site;
    match negotiation::choose(&headers, [(negotiation::JSON, index), (negotiation::HTML, front_page)]) {
        Some(page) => Ok(page().answer(&headers)),
        None => Err(Problem::new(Kind::NotAcceptable, "The index is application/json or text/html.")),
    }
}

/// The index with these endpoints, as JSON.
pub fn index(endpoints: Vec<Endpoint>) -> Vec<u8> {
    let index = Index {
        name: "stopwright",
        version: env!("CARGO_PKG_VERSION"),
        job: JOB,
        endpoints,
        links: Links { docs: "/docs/", openapi: "/openapi.json" },
    };
    serde_json::to_vec(&index).unwrap_or_default()
}

/// Fetch the OpenAPI document
///
/// The OpenAPI 3.1 document of this service, from which clients can be generated.
#[utoipa::path(get, path = "/openapi.json", tag = "service",
    responses((status = 200, description = "The document", body = Document, content_type = "application/json")))]
async fn fetch_openapi(State(state): State<Arc<AppState>>, headers: HeaderMap) -> Response {
    (state.site.openapi)().answer(&headers)
}

/// What a kind of problem means.
#[derive(Serialize, ToSchema)]
struct ProblemExplanation {
    /// The `type` of the problem documents, a path.
    r#type: String,
    /// The title of the problem.
    title: &'static str,
    /// The HTTP status of the response.
    status: u16,
    /// What it means, and what to do about it.
    explanation: &'static str,
}

/// Explain a problem
///
/// What the `type` of a problem document means, and what to do about it, as JSON, text or, if `Accept` prefers it, HTML.
#[utoipa::path(get, path = "/problems/{slug}", tag = "service",
    params(("slug" = String, Path, description = "The last part of a problem's `type`.")),
    responses((status = 200, description = "The explanation", content(
        (ProblemExplanation = "application/json"), (String = "text/plain"), (String = "text/html")))))]
async fn explain_problem(
    State(state): State<Arc<AppState>>,
    Path(slug): Path<String>,
    headers: HeaderMap,
) -> Result<Response, Problem> {
    let Some(kind) = Kind::ALL.into_iter().find(|kind| kind.slug() == slug) else {
        let known: Vec<&str> = Kind::ALL.iter().map(|kind| kind.slug()).collect();
        return Err(Problem::new(Kind::NotFound, format!("The problems are {}.", names(&known))));
    };
    let explanation = ProblemExplanation {
        r#type: format!("/problems/{slug}"),
        title: kind.title(),
        status: kind.status().as_u16(),
        explanation: kind.explanation(),
    };
    let offered = [(negotiation::JSON, false), (negotiation::TEXT, false), (negotiation::HTML, true)];
    if negotiation::choose(&headers, offered).unwrap_or_default() {
        let page = (state.site.explanation_page)(kind);
        return Ok(caching::answer(&headers, (negotiation::HTML_UTF8, page.into_bytes())));
    }
    let format = AnswerFormat::from_accept(&headers, WRITTEN)?;
    Ok(caching::answer(&headers, format::write(format, &explanation)?))
}

/// The state of the service.
#[derive(Serialize, ToSchema)]
struct Health {
    /// Always `ok`.
    status: &'static str,
}

/// Check that the process lives
///
/// Answers as long as the process runs.
#[utoipa::path(get, path = "/healthz", tag = "service",
    responses((status = 200, description = "Alive", body = Health)))]
async fn check_health() -> Result<Response, Problem> {
    answer(&Health { status: "ok" })
}

/// Check that the service takes requests
///
/// Answers when the service is ready. It has no state to load, so it is ready as soon as it listens.
#[utoipa::path(get, path = "/readyz", tag = "service",
    responses((status = 200, description = "Ready", body = Health)))]
async fn check_readiness() -> Result<Response, Problem> {
    answer(&Health { status: "ok" })
}

/// Responds with JSON.
fn answer<T: Serialize>(answer: &T) -> Result<Response, Problem> {
    let (media, body) = format::write(AnswerFormat::Json, answer)?;
    Ok(negotiation::response(media, body))
}
