//! The headers that keep a page safe in a browser.

use axum::{
    http::{HeaderName, HeaderValue, header},
    response::Response,
};

use super::negotiation;

/// Pages load from this origin only, send to this origin only, and cannot be framed. No inline scripts, and no inline
/// style but that of pictures, by its hash (`STYLE` in `drawing/canvas/colour.rs`, of which this room knows nothing; a
/// test compares them). `data:` is for the images in Swagger UI's styles.
const POLICY: &str = "default-src 'none'; script-src 'self'; \
                      style-src 'self' 'sha256-Xrdc4god2T6qFEEBcM988+eWA2C2vEN38IL7VHLrqDg='; \
                      img-src 'self' data:; connect-src 'self'; base-uri 'none'; form-action 'self'; \
                      frame-ancestors 'none'";

const HEADERS: [(HeaderName, HeaderValue); 4] = [
    (header::CONTENT_SECURITY_POLICY, HeaderValue::from_static(POLICY)),
    (header::X_FRAME_OPTIONS, HeaderValue::from_static("DENY")),
    (header::REFERRER_POLICY, HeaderValue::from_static("no-referrer")),
    (HeaderName::from_static("cross-origin-opener-policy"), HeaderValue::from_static("same-origin")),
];

/// Sets them on a response that a browser may open as a page: HTML, or SVG, which may hold scripts.
pub fn set(mut response: Response) -> Response {
    let is_page =
        |media: &HeaderValue| media == negotiation::SVG || media.as_bytes().starts_with(b"text/html");
    if response.headers().get(header::CONTENT_TYPE).is_some_and(is_page) {
        response.headers_mut().extend(HEADERS);
    }
    response
}
