//! Content negotiation: the media type by `Accept` (RFC 9110, 12.5.1), the coding by `Accept-Encoding`.

use axum::{
    http::{HeaderMap, HeaderValue, header},
    response::Response,
};

/// JSON.
pub const JSON: &str = "application/json";
/// One JSON text on each line.
pub const NDJSON: &str = "application/x-ndjson";
/// Plain text, for people.
pub const TEXT: &str = "text/plain";
/// SVG, for pictures.
pub const SVG: &str = "image/svg+xml";
/// HTML.
pub const HTML: &str = "text/html";
/// HTML with its charset, as the `Content-Type` of a page.
pub const HTML_UTF8: &str = "text/html; charset=utf-8";

/// The value offered with the media type of highest quality in `Accept`, the first of equals. `None` if `Accept` allows
/// none of them.
pub fn choose<T>(headers: &HeaderMap, offered: impl IntoIterator<Item = (&'static str, T)>) -> Option<T> {
    let mut offered = offered.into_iter();
    let mut values = headers.get_all(header::ACCEPT).iter().peekable();
    if values.peek().is_none() {
        return offered.next().map(|(_, first)| first);
    }
    let ranges: Vec<(String, f64)> = values
        .filter_map(|value| value.to_str().ok())
        .flat_map(|value| value.split(','))
        .map(range)
        .collect();
    let mut best: Option<(T, f64)> = None;
    for (media, value) in offered {
        let quality = quality(media, &ranges);
        if quality > 0.0 && best.as_ref().is_none_or(|(_, most)| quality > *most) {
            best = Some((value, quality));
        }
    }
    best.map(|(value, _)| value)
}

/// Whether the client accepts this content coding (RFC 9110, 12.5.3). Without `Accept-Encoding` it does not.
pub fn accepts_encoding(headers: &HeaderMap, coding: &str) -> bool {
    let values = headers.get_all(header::ACCEPT_ENCODING).iter().filter_map(|value| value.to_str().ok());
    let ranges: Vec<(String, f64)> = values.flat_map(|value| value.split(',')).map(range).collect();
    let named = |name: &str| ranges.iter().find(|(range, _)| range == name).map(|(_, quality)| *quality);
    let quality = named(coding).or_else(|| named("*")).unwrap_or_default();
    quality > 0.0 && named("identity").is_none_or(|identity| quality >= identity)
}

/// A range such as `text/*;q=0.5`: its name in lower case, and its quality.
fn range(text: &str) -> (String, f64) {
    let mut parts = text.split(';').map(str::trim);
    let name = parts.next().unwrap_or_default().to_ascii_lowercase();
    let quality = parts
        .find_map(|part| part.strip_prefix("q=").or_else(|| part.strip_prefix("Q=")))
        .map_or(1.0, |q| q.parse().unwrap_or(0.0));
    (name, quality)
}

/// The quality of the most specific range that covers the type.
fn quality(media: &str, ranges: &[(String, f64)]) -> f64 {
    let group = media.split('/').next().unwrap_or_default();
    [media.to_owned(), format!("{group}/*"), "*/*".to_owned()]
        .iter()
        .find_map(|range| ranges.iter().find(|(name, _)| name == range))
        .map_or(0.0, |(_, quality)| *quality)
}

/// Headers that a response has room for from the start, so that the map need not grow.
const HEADER_CAPACITY: usize = 12;

/// A response of this media type, with room for the headers that layers add.
pub fn response(media: &'static str, body: impl Into<axum::body::Body>) -> Response {
    let mut response = Response::new(body.into());
    let mut headers = HeaderMap::with_capacity(HEADER_CAPACITY);
    headers.insert(header::CONTENT_TYPE, HeaderValue::from_static(media));
    *response.headers_mut() = headers;
    response
}
