//! What is around the calculations: `/`, `/openapi.json`, `/problems/{slug}`, `/healthz`, `/readyz`.

use std::sync::LazyLock;

use axum::{extract::Path, http::HeaderMap, response::Response};
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_axum::routes;

use crate::{
    endpoints::{
        extract,
        format::{self, Form},
    },
    light::error,
    openapi::{self, Refusals},
    server::{
        caching::{self, Fixed},
        negotiation, problem,
        state::Routes,
    },
    web::front_page,
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new()
        .routes(routes!(show_index))
        .routes(routes!(fetch_openapi))
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
    /// Where to read on.
    links: Links,
}

/// One endpoint.
#[derive(Serialize, ToSchema)]
pub struct Endpoint {
    /// The method.
    pub method: String,
    /// The path.
    pub path: String,
    /// What it does.
    pub summary: String,
    /// The topic that it belongs to.
    #[serde(skip)]
    pub tag: String,
    /// What the document calls it.
    #[serde(skip)]
    pub id: String,
}

/// Where to read on.
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

/// Every operation of the document.
fn endpoints() -> Vec<Endpoint> {
    let document = openapi::parsed();
    let text = |value: &serde_json::Value| value.as_str().unwrap_or_default().to_owned();
    let mut endpoints = Vec::new();
    for (path, operations) in document["paths"].as_object().into_iter().flatten() {
        for (method, operation) in operations.as_object().into_iter().flatten() {
            endpoints.push(Endpoint {
                method: method.to_uppercase(),
                path: path.clone(),
                summary: text(&operation["summary"]),
                tag: text(&operation["tags"][0]),
                id: text(&operation["operationId"]),
            });
        }
    }
    endpoints
}

/// Show the index
///
/// What the service offers, with links; JSON, or HTML where `Accept` asks for it.
#[utoipa::path(get, path = "/", tag = "service",
    responses((status = 200, description = "The index", content(
        (Index = "application/json"), (String = "text/html"))), Refusals))]
async fn show_index(headers: HeaderMap) -> Result<Response, problem::Problem> {
    static JSON: LazyLock<Fixed> =
        LazyLock::new(|| Fixed::new(negotiation::JSON, serde_json::to_vec(&index()).unwrap_or_default()));
    static HTML: LazyLock<Fixed> =
        LazyLock::new(|| Fixed::new(negotiation::HTML_UTF8, front_page::page(&endpoints())));
    match negotiation::choose(&headers, [(negotiation::JSON, &JSON), (negotiation::HTML, &HTML)]) {
        Some(index) => Ok(index.answer(&headers)),
        None => Err(problem::Problem::new(
            problem::Kind::NotAcceptable,
            "The index is application/json or text/html.",
        )),
    }
}

fn index() -> Index {
    Index {
        name: "stopwright",
        version: env!("CARGO_PKG_VERSION"),
        job: JOB,
        endpoints: endpoints(),
        links: Links { docs: "/docs/", openapi: "/openapi.json" },
    }
}

/// Fetch the OpenAPI document
///
/// The OpenAPI 3.1 description of this service, from which clients can be made.
#[utoipa::path(get, path = "/openapi.json", tag = "service",
    responses((status = 200, description = "The document", body = crate::request::schema::Document, content_type = "application/json"), Refusals))]
async fn fetch_openapi(headers: HeaderMap) -> Response {
    static DOCUMENT: LazyLock<Fixed> =
        LazyLock::new(|| Fixed::new(negotiation::JSON, openapi::document().as_bytes()));
    DOCUMENT.answer(&headers)
}

/// What a kind of problem means.
#[derive(Serialize, ToSchema)]
struct ProblemExplanation {
    /// The path that stands as `type` in problem documents.
    r#type: String,
    /// The kind of problem in words.
    title: &'static str,
    /// The HTTP status it comes with.
    status: u16,
    /// What it means and what to do.
    explanation: &'static str,
}

/// Explain a problem
///
/// What the `type` of a problem document means, and what to do.
#[utoipa::path(get, path = "/problems/{slug}", tag = "service",
    params(("slug" = String, Path, description = "The last part of a problem's `type`.")),
    responses((status = 200, description = "The explanation", body = ProblemExplanation), Refusals))]
async fn explain_problem(Path(slug): Path<String>, headers: HeaderMap) -> Result<Response, problem::Problem> {
    let Some(kind) = problem::Kind::ALL.into_iter().find(|kind| kind.slug() == slug) else {
        let known: Vec<&str> = problem::Kind::ALL.iter().map(|kind| kind.slug()).collect();
        return Err(problem::Problem::new(
            problem::Kind::NotFound,
            format!("The problems are {}.", error::names(&known)),
        ));
    };
    let explanation = ProblemExplanation {
        r#type: format!("/problems/{slug}"),
        title: kind.title(),
        status: kind.status().as_u16(),
        explanation: kind.explanation(),
    };
    let form = Form::of(&headers, format::WRITTEN)?;
    Ok(caching::answer(&headers, form.write(&explanation)?))
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
    responses((status = 200, description = "Alive", body = Health), Refusals))]
async fn check_health() -> Result<Response, problem::Problem> {
    extract::answer(&Health { status: "ok" })
}

/// Check that the service takes requests
///
/// Answers when the service is ready. It keeps no state, so it is ready as soon as it listens.
#[utoipa::path(get, path = "/readyz", tag = "service",
    responses((status = 200, description = "Ready", body = Health), Refusals))]
async fn check_readiness() -> Result<Response, problem::Problem> {
    extract::answer(&Health { status: "ok" })
}
