//! Large answers in fewer bytes, for those who take them so (RFC 9110, 8.4 and 12.5.3). Small ones never: an answer of
//! one packet arrives no sooner, and packing it costs more than all else.

use std::io::Write;

use axum::{
    body::{Body, Bytes, HttpBody},
    http::{HeaderMap, HeaderValue, header},
    response::Response,
};
use flate2::{Compression, write::GzEncoder};
use tokio::sync::Semaphore;

use crate::server::negotiation;

/// Bytes from which on it pays: three packets become one.
const LEAST: u64 = 4 * 1024;
/// Bytes up to which an answer is packed where it is made; larger ones would hold up light calls.
const AT_ONCE: u64 = 64 * 1024;
/// Bytes beyond which answers are left as they are.
const MOST: u64 = 1024 * 1024;
/// What the tag of a packed answer ends with: it is another sequence of bytes, so its strong tag differs.
const SUFFIX: &str = "-gzip\"";

/// Whether the caller takes gzip.
pub fn is_taken(headers: &HeaderMap) -> bool {
    negotiation::takes_coding(headers, "gzip")
}

/// Answers that may be packed beside light calls at once; more are sent as they are.
static PACKING: Semaphore = Semaphore::const_new(2);

/// Packs an answer, if it is large enough and not packed yet.
pub async fn pack(mut response: Response, is_taken: bool) -> Response {
    let size = response.body().size_hint().exact();
    if size.is_none_or(|size| size < LEAST) || response.headers().contains_key(header::CONTENT_ENCODING) {
        return response;
    }
    response.headers_mut().entry(header::VARY).or_insert(HeaderValue::from_static("accept-encoding"));
    let Some(size) = size.filter(|size| is_taken && *size <= MOST) else { return response };
    let (mut parts, body) = response.into_parts();
    let Ok(bytes) = axum::body::to_bytes(body, usize::MAX).await else {
        // What has a size is in memory already, and cannot break off.
        return Response::from_parts(parts, Body::empty());
    };
    let plain = bytes.clone();
    let packed = if size <= AT_ONCE {
        gzip(&bytes)
    } else if let Ok(_place) = PACKING.try_acquire() {
        tokio::task::spawn_blocking(move || gzip(&bytes)).await.ok().flatten()
    } else {
        None
    };
    if packed.is_some() {
        mark(&mut parts.headers);
    }
    Response::from_parts(parts, Body::from(packed.unwrap_or(plain)))
}

/// Says in an answer's head that its body is packed.
pub fn mark(headers: &mut HeaderMap) {
    headers.insert(header::CONTENT_ENCODING, HeaderValue::from_static("gzip"));
    headers.remove(header::CONTENT_LENGTH);
    let tag = headers.get(header::ETAG).and_then(|tag| tag.to_str().ok()).map(packed_tag);
    if let Some(tag) = tag.and_then(|tag| HeaderValue::try_from(tag).ok()) {
        headers.insert(header::ETAG, tag);
    }
}

/// The tag of the packed form of what has this tag.
pub fn packed_tag(tag: &str) -> String {
    format!("{}{SUFFIX}", tag.trim_end_matches('"'))
}

/// The bytes packed; none where that fails, which it does not in memory.
pub fn gzip(bytes: &[u8]) -> Option<Bytes> {
    let mut packer = GzEncoder::new(Vec::with_capacity(bytes.len() / 4), Compression::fast());
    packer.write_all(bytes).ok()?;
    packer.finish().ok().map(Bytes::from)
}
