//! The routes of pages and of the files that they load.

use std::{
    borrow::Cow,
    sync::{Arc, LazyLock},
};

use axum::{
    Router,
    body::Bytes,
    http::{HeaderMap, StatusCode, Uri},
    response::{IntoResponse, Redirect, Response},
    routing::get,
};
use utoipa_swagger_ui::{Config, SwaggerFile};

use super::front_page;
use crate::server::{caching::StaticDocument, negotiation, state::AppState};

const CSS: &str = "text/css; charset=utf-8";
const JS: &str = "text/javascript; charset=utf-8";

/// Every file except the front page, by path.
static FILES: LazyLock<[(&str, StaticDocument); 12]> = LazyLock::new(|| {
    let file = |media, text: &'static str| StaticDocument::new(media, text.as_bytes());
    let icon = include_str!("pages/icon.svg");
    [
        ("/assets/front.css", file(CSS, include_str!("pages/front.css"))),
        ("/assets/front.js", file(JS, include_str!("pages/front.js"))),
        ("/assets/problem.css", file(CSS, include_str!("pages/problem.css"))),
        ("/assets/icon.svg", file(negotiation::SVG, icon)),
        ("/assets/balance.svg", file(negotiation::SVG, front_page::BALANCE)),
        ("/assets/balance_narrow.svg", file(negotiation::SVG, front_page::BALANCE_NARROW)),
        // Browsers request this next to an answer that is not a page.
        ("/favicon.ico", file(negotiation::SVG, icon)),
        ("/docs/", file(negotiation::HTML_UTF8, include_str!("pages/docs.html"))),
        ("/docs/docs.css", file(CSS, include_str!("pages/docs.css"))),
        ("/docs/docs.js", file(JS, include_str!("pages/docs.js"))),
        ("/docs/swagger-ui.css", StaticDocument::new(CSS, swagger_ui("swagger-ui.css"))),
        ("/docs/swagger-ui-bundle.js", StaticDocument::new(JS, swagger_ui("swagger-ui-bundle.js"))),
    ]
});

/// The path templates that are not in the OpenAPI document.
pub const TEMPLATES: [&str; 3] = ["/assets/{file}", "/docs/{file}", "/favicon.ico"];

/// The routes of these files.
pub fn routes() -> Router<Arc<AppState>> {
    let router =
        Router::new().route("/docs", get(async || Redirect::to("/docs/"))).route("/docs/", get(show_file));
    TEMPLATES.into_iter().fold(router, |router, template| router.route(template, get(show_file)))
}

async fn show_file(uri: Uri, headers: HeaderMap) -> Response {
    match FILES.iter().find(|(path, _)| *path == uri.path()) {
        Some((_, file)) => file.answer(&headers),
        None => StatusCode::NOT_FOUND.into_response(),
    }
}

/// A file of Swagger UI, from the crate that embeds it.
fn swagger_ui(name: &str) -> Bytes {
    match utoipa_swagger_ui::serve(name, Arc::new(Config::default())) {
        Ok(Some(SwaggerFile { bytes: Cow::Borrowed(bytes), .. })) => Bytes::from_static(bytes),
        Ok(Some(SwaggerFile { bytes: Cow::Owned(bytes), .. })) => bytes.into(),
        // A test checks that the crate has these files.
        Ok(None) | Err(_) => Bytes::new(),
    }
}
