//! Which answers are compressed (RFC 9110, 8.4 and 12.5.3). Small ones never: an answer of one packet arrives no sooner,
//! and packing it costs more than all else.

use std::io::Write;

use axum::body::{Bytes, HttpBody};
use flate2::{Compression, write::GzEncoder};
use tower_http::compression::Predicate;

/// Bytes from which on it pays: three packets become one.
const LEAST: u64 = 4 * 1024;
/// Bytes beyond which answers are left as they are: packing would hold up light calls.
const MOST: u64 = 1024 * 1024;

/// Answers of a known and middling size. A stream has none, and would be held back.
#[derive(Debug, Clone, Copy)]
pub struct WholeAndLarge;

impl Predicate for WholeAndLarge {
    fn should_compress<B: HttpBody>(&self, response: &axum::http::Response<B>) -> bool {
        response.body().size_hint().exact().is_some_and(|size| (LEAST..=MOST).contains(&size))
    }
}

/// Compresses what is packed only once, as the OpenAPI document; `None` if that fails, which it does not in memory.
pub fn gzip(bytes: &[u8]) -> Option<Bytes> {
    let mut packer = GzEncoder::new(Vec::with_capacity(bytes.len() / 4), Compression::fast());
    packer.write_all(bytes).ok()?;
    packer.finish().ok().map(Bytes::from)
}
