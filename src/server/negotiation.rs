//! Which of the offered media types a caller takes (RFC 9110, 12.5.1).

use axum::{
    http::{HeaderMap, HeaderValue, header},
    response::Response,
};

/// JSON.
pub const JSON: &str = "application/json";
/// JSON, one text a line.
pub const NDJSON: &str = "application/x-ndjson";
/// Text for people.
pub const TEXT: &str = "text/plain";
/// A picture.
pub const SVG: &str = "image/svg+xml";
/// HTML.
pub const HTML: &str = "text/html";
/// HTML, as it is sent.
pub const HTML_UTF8: &str = "text/html; charset=utf-8";

/// What stands for the first media type with the highest quality in `Accept`; none if all are refused.
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
    for (media, what) in offered {
        let quality = quality(media, &ranges);
        if quality > 0.0 && best.as_ref().is_none_or(|(_, most)| quality > *most) {
            best = Some((what, quality));
        }
    }
    best.map(|(what, _)| what)
}

/// Whether a caller takes answers in this coding (RFC 9110, 12.5.3); who says nothing takes them plain.
pub fn takes_coding(headers: &HeaderMap, coding: &str) -> bool {
    let values = headers.get_all(header::ACCEPT_ENCODING).iter().filter_map(|value| value.to_str().ok());
    let ranges: Vec<(String, f64)> = values.flat_map(|value| value.split(',')).map(range).collect();
    let named = |name: &str| ranges.iter().find(|(range, _)| range == name).map(|(_, quality)| *quality);
    let quality = named(coding).or_else(|| named("*")).unwrap_or_default();
    quality > 0.0 && named("identity").is_none_or(|plain| quality >= plain)
}

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
        .find_map(|wanted| ranges.iter().find(|(name, _)| name == wanted))
        .map_or(0.0, |(_, quality)| *quality)
}

/// Lines that an answer's head has room for from the start, so that it need not grow.
const HEAD_LINES: usize = 12;

/// An answer of a media type, with room in its head.
pub fn response(media: &'static str, body: impl Into<axum::body::Body>) -> Response {
    let mut response = Response::new(body.into());
    let mut head = HeaderMap::with_capacity(HEAD_LINES);
    head.insert(header::CONTENT_TYPE, HeaderValue::from_static(media));
    *response.headers_mut() = head;
    response
}
