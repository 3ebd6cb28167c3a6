//! Which responses are compressed (RFC 9110, 8.4 and 12.5.3). Small ones are not: a response of one packet arrives no
//! sooner, and compressing it costs more than everything else.

use std::io::Write;

use axum::{
    body::{Body, Bytes, HttpBody},
    http::{Response, header},
};
use flate2::{Compression, write::GzEncoder};
use tower_http::compression::{CompressionBody, Predicate};

/// The smallest size worth compressing, in bytes: three packets become one.
const MIN_SIZE: u64 = 4 * 1024;
/// The largest size that is compressed, in bytes: beyond it, compressing would delay quick calls.
const MAX_SIZE: u64 = 1024 * 1024;

/// True for responses of a known size within these limits. A stream has no known size, and compression would delay it.
#[derive(Debug, Clone, Copy)]
pub struct WorthCompressing;

impl Predicate for WorthCompressing {
    fn should_compress<B: HttpBody>(&self, response: &Response<B>) -> bool {
        response.body().size_hint().exact().is_some_and(|size| (MIN_SIZE..=MAX_SIZE).contains(&size))
    }
}

/// Turns the compression layer's body into axum's. A body that it left alone is not boxed again.
pub fn to_body(response: Response<CompressionBody<Body>>) -> Response<Body> {
    let has_coding = response.headers().contains_key(header::CONTENT_ENCODING);
    response.map(|body| if has_coding { Body::new(body) } else { body.into_inner() })
}

/// Compresses a document that is compressed only once, such as the OpenAPI document. `None` on an error, which does not
/// happen in memory.
pub fn gzip(bytes: &[u8]) -> Option<Bytes> {
    let mut encoder = GzEncoder::new(Vec::with_capacity(bytes.len() / 4), Compression::best());
    encoder.write_all(bytes).ok()?;
    encoder.finish().ok().map(Bytes::from)
}
