//! Cacheable answers (RFC 9111): weak entity tags that include the version, and 304 if one matches.

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

/// `Cache-Control` of an answer that depends on the request alone: any cache may keep it for a day.
pub const PUBLIC: &str = "public, max-age=86400";
/// `Cache-Control` of the same answer if it needed a key: only the client's own cache may keep it.
pub const PRIVATE: &str = "private, max-age=86400";

/// A cacheable response with a computed body.
pub fn answer(headers: &HeaderMap, (media, body): (&'static str, Vec<u8>)) -> Response {
    let tag = tag(&body);
    with_tag(headers, negotiation::response(media, body), &tag)
}

/// A document that is the same until the next version: tagged once, compressed once.
pub struct StaticDocument {
    media: &'static str,
    bytes: Bytes,
    tag: String,
    compressed: OnceLock<Option<Bytes>>,
}

impl StaticDocument {
    /// A document of this media type.
    pub fn new(media: &'static str, bytes: impl Into<Bytes>) -> Self {
        let bytes = bytes.into();
        Self { media, tag: tag(&bytes), bytes, compressed: OnceLock::new() }
    }

    /// The response, compressed if the client accepts gzip.
    pub fn answer(&self, headers: &HeaderMap) -> Response {
        let compressed = || self.compressed.get_or_init(|| compression::gzip(&self.bytes)).clone();
        let compressed = negotiation::accepts_encoding(headers, "gzip").then(compressed).flatten();
        let is_compressed = compressed.is_some();
        let body = compressed.unwrap_or_else(|| self.bytes.clone());
        let mut response = with_tag(headers, negotiation::response(self.media, body), &self.tag);
        if is_compressed && response.status() == StatusCode::OK {
            response.headers_mut().insert(header::CONTENT_ENCODING, HeaderValue::from_static("gzip"));
        }
        response
    }
}

/// A weak entity tag, because the same tag covers the compressed and the uncompressed form (RFC 9110, 8.8.1).
fn tag(bytes: &[u8]) -> String {
    let mut hasher = DefaultHasher::new();
    bytes.hash(&mut hasher);
    format!("W/\"{}-{:016x}\"", env!("CARGO_PKG_VERSION"), hasher.finish())
}

fn with_tag(headers: &HeaderMap, mut response: Response, tag: &str) -> Response {
    let mut known_tags = headers
        .get_all(header::IF_NONE_MATCH)
        .iter()
        .filter_map(|value| value.to_str().ok())
        .flat_map(|value| value.split(','))
        .map(str::trim);
    // Weak comparison: RFC 9110, 8.8.3.2.
    if known_tags.any(|known| known == "*" || known.trim_start_matches("W/") == tag.trim_start_matches("W/"))
    {
        response = StatusCode::NOT_MODIFIED.into_response();
    }
    let out = response.headers_mut();
    if let Ok(tag) = HeaderValue::from_str(tag) {
        out.insert(header::ETAG, tag);
    }
    out.insert(header::CACHE_CONTROL, HeaderValue::from_static(PUBLIC));
    out.insert(header::VARY, HeaderValue::from_static("accept, accept-encoding"));
    response
}
