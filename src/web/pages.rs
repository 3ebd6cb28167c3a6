//! Pages for people, and the files that they load: all in the binary, so that no internet is needed.

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

use crate::server::{caching::Fixed, negotiation, state::AppState};

const CSS: &str = "text/css; charset=utf-8";
const JS: &str = "text/javascript; charset=utf-8";

/// Every file but the front page, by its path.
static FILES: LazyLock<[(&str, Fixed); 9]> = LazyLock::new(|| {
    let own = |media, text: &'static str| Fixed::new(media, text.as_bytes());
    let icon = include_str!("pages/icon.svg");
    [
        ("/assets/front.css", own(CSS, include_str!("pages/front.css"))),
        ("/assets/front.js", own(JS, include_str!("pages/front.js"))),
        ("/assets/icon.svg", own(negotiation::SVG, icon)),
        // What browsers ask for beside an answer that is no page.
        ("/favicon.ico", own(negotiation::SVG, icon)),
        ("/docs/", own(negotiation::HTML_UTF8, include_str!("pages/docs.html"))),
        ("/docs/docs.css", own(CSS, include_str!("pages/docs.css"))),
        ("/docs/docs.js", own(JS, include_str!("pages/docs.js"))),
        ("/docs/swagger-ui.css", Fixed::new(CSS, swagger_ui("swagger-ui.css"))),
        ("/docs/swagger-ui-bundle.js", Fixed::new(JS, swagger_ui("swagger-ui-bundle.js"))),
    ]
});

/// The paths that stand in no document, as templates.
pub const TEMPLATES: [&str; 3] = ["/assets/{file}", "/docs/{file}", "/favicon.ico"];

/// The routes of these files.
pub fn routes() -> Router<Arc<AppState>> {
    let others =
        Router::new().route("/docs", get(async || Redirect::to("/docs/"))).route("/docs/", get(show_file));
    TEMPLATES.into_iter().fold(others, |router, template| router.route(template, get(show_file)))
}

async fn show_file(uri: Uri, headers: HeaderMap) -> Response {
    match FILES.iter().find(|(path, _)| *path == uri.path()) {
        Some((_, file)) => file.answer(&headers),
        None => StatusCode::NOT_FOUND.into_response(),
    }
}

/// A file of Swagger UI, out of the crate that carries it.
fn swagger_ui(name: &str) -> Bytes {
    match utoipa_swagger_ui::serve(name, Arc::new(Config::default())) {
        Ok(Some(SwaggerFile { bytes: Cow::Borrowed(bytes), .. })) => Bytes::from_static(bytes),
        Ok(Some(SwaggerFile { bytes: Cow::Owned(bytes), .. })) => bytes.into(),
        // A test holds that the crate has what is asked of it.
        Ok(None) | Err(_) => Bytes::new(),
    }
}
