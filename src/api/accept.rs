//! Which of the offered media types a caller takes (RFC 9110, 12.5.1).

use axum::http::{HeaderMap, header};

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

/// The first of `offered` with the highest quality in `Accept`; none if all are refused.
pub fn choose<'o>(headers: &HeaderMap, offered: &[&'o str]) -> Option<&'o str> {
    let mut values = headers.get_all(header::ACCEPT).iter().peekable();
    if values.peek().is_none() {
        return offered.first().copied();
    }
    let ranges: Vec<(String, f64)> = values
        .filter_map(|value| value.to_str().ok())
        .flat_map(|value| value.split(','))
        .map(range)
        .collect();
    let mut best: Option<(&str, f64)> = None;
    for &media in offered {
        let quality = quality(media, &ranges);
        if quality > 0.0 && best.is_none_or(|(_, q)| quality > q) {
            best = Some((media, quality));
        }
    }
    best.map(|(media, _)| media)
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
