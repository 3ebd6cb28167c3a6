//! Answers that caches may keep (RFC 9111): weak tags with the version in them, 304 where one matches.

use std::{
    hash::{DefaultHasher, Hash, Hasher},
    sync::OnceLock,
};

use axum::{
    body::Bytes,
    http::{HeaderMap, HeaderValue, StatusCode, header},
    response::{IntoResponse, Response},
};

use crate::server::{compression, negotiation};

/// What caches may do with an answer that depends on its question alone, for a day.
pub const BY_ALL: &str = "public, max-age=86400";
/// The same, where not all may ask.
pub const BY_ONE: &str = "private, max-age=86400";

/// A computed answer, as it is written, that a cache may keep.
pub fn answer(headers: &HeaderMap, (media, body): (&'static str, Vec<u8>)) -> Response {
    let tag = tag(&body);
    with_tag(headers, negotiation::response(media, body), &tag)
}

/// What only a new version changes: tagged once, and packed once.
pub struct Fixed {
    media: &'static str,
    bytes: Bytes,
    tag: String,
    packed: OnceLock<Option<Bytes>>,
}

impl Fixed {
    /// These bytes, of a media type.
    pub fn new(media: &'static str, bytes: impl Into<Bytes>) -> Self {
        let bytes = bytes.into();
        Self { media, tag: tag(&bytes), bytes, packed: OnceLock::new() }
    }

    /// The answer, compressed if the client takes gzip.
    pub fn answer(&self, headers: &HeaderMap) -> Response {
        let packed = || self.packed.get_or_init(|| compression::gzip(&self.bytes)).clone();
        let packed = negotiation::takes_coding(headers, "gzip").then(packed).flatten();
        let is_packed = packed.is_some();
        let body = packed.unwrap_or_else(|| self.bytes.clone());
        let mut response = with_tag(headers, negotiation::response(self.media, body), &self.tag);
        if is_packed && response.status() == StatusCode::OK {
            response.headers_mut().insert(header::CONTENT_ENCODING, HeaderValue::from_static("gzip"));
        }
        response
    }
}

/// A weak tag: compressed or not, the answer is the same (RFC 9110, 8.8.1).
fn tag(bytes: &[u8]) -> String {
    let mut hasher = DefaultHasher::new();
    bytes.hash(&mut hasher);
    format!("W/\"{}-{:016x}\"", env!("CARGO_PKG_VERSION"), hasher.finish())
}

fn with_tag(headers: &HeaderMap, mut response: Response, tag: &str) -> Response {
    let mut held = headers
        .get_all(header::IF_NONE_MATCH)
        .iter()
        .filter_map(|value| value.to_str().ok())
        .flat_map(|value| value.split(','))
        .map(str::trim);
    // The weak comparison: RFC 9110, 8.8.3.2.
    if held.any(|held| held == "*" || held.trim_start_matches("W/") == tag.trim_start_matches("W/")) {
        response = StatusCode::NOT_MODIFIED.into_response();
    }
    let out = response.headers_mut();
    if let Ok(tag) = HeaderValue::from_str(tag) {
        out.insert(header::ETAG, tag);
    }
    out.insert(header::CACHE_CONTROL, HeaderValue::from_static(BY_ALL));
    out.insert(header::VARY, HeaderValue::from_static("accept, accept-encoding"));
    response
}
