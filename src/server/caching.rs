//! Answers that caches may keep (RFC 9111): strong tags with the version in them, 304 where one matches.

use std::{
    hash::{DefaultHasher, Hash, Hasher},
    sync::OnceLock,
};

use axum::{
    body::Bytes,
    http::{HeaderMap, HeaderValue, StatusCode, header},
    response::{IntoResponse, Response},
};

use crate::{endpoints::extract, server::compression};

/// What caches may do with an answer that depends on its question alone, for a day.
pub const BY_ALL: &str = "public, max-age=86400";
/// The same, where not all may ask.
pub const BY_ONE: &str = "private, max-age=86400";

/// A computed answer, as it is written, that a cache may keep.
pub fn answer(headers: &HeaderMap, (media, body): (&'static str, Vec<u8>)) -> Response {
    let tag = tag(&body);
    with_tag(headers, extract::of_media(media, body), &tag)
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

    /// The answer, packed for those who take it so.
    pub fn answer(&self, headers: &HeaderMap) -> Response {
        let packed = || self.packed.get_or_init(|| compression::gzip(&self.bytes)).clone();
        let packed = compression::is_taken(headers).then(packed).flatten();
        let is_packed = packed.is_some();
        let body = packed.unwrap_or_else(|| self.bytes.clone());
        let mut response = with_tag(headers, extract::of_media(self.media, body), &self.tag);
        if is_packed && response.status() == StatusCode::OK {
            compression::mark(response.headers_mut());
        }
        response
    }
}

fn tag(bytes: &[u8]) -> String {
    let mut hasher = DefaultHasher::new();
    bytes.hash(&mut hasher);
    format!("\"{}-{:016x}\"", env!("CARGO_PKG_VERSION"), hasher.finish())
}

fn with_tag(headers: &HeaderMap, mut response: Response, tag: &str) -> Response {
    // The packed form has a tag of its own; who has either is up to date.
    let forms = [tag.to_owned(), compression::packed_tag(tag)];
    let had = headers
        .get_all(header::IF_NONE_MATCH)
        .iter()
        .filter_map(|value| value.to_str().ok())
        .flat_map(|value| value.split(','))
        .map(str::trim)
        .find_map(|given| match given.trim_start_matches("W/") {
            "*" => Some(&forms[0]),
            given => forms.iter().find(|form| *form == given),
        });
    if had.is_some() {
        response = StatusCode::NOT_MODIFIED.into_response();
    }
    let out = response.headers_mut();
    if let Ok(tag) = HeaderValue::from_str(had.unwrap_or(&forms[0])) {
        out.insert(header::ETAG, tag);
    }
    out.insert(header::CACHE_CONTROL, HeaderValue::from_static(BY_ALL));
    out.insert(header::VARY, HeaderValue::from_static("accept, accept-encoding"));
    response
}
