//! Request ids: a well-formed one that the client sent, else one of our own.

use std::{
    hash::{BuildHasher, RandomState},
    sync::{
        LazyLock,
        atomic::{AtomicU32, Ordering},
    },
};

use axum::{
    extract::Request,
    http::{HeaderName, HeaderValue},
};
use tower_http::request_id::{MakeRequestId, RequestId};

/// The header of a request's id.
pub const ID_HEADER: &str = "x-request-id";
/// The same, as a header name.
pub const ID: HeaderName = HeaderName::from_static(ID_HEADER);

/// Drops an id that is not well-formed (1 to 64 of letters, digits, `.`, `_`, `-`), so that the request gets one of ours:
/// [`SetRequestIdLayer`](tower_http::request_id::SetRequestIdLayer) keeps whatever it finds.
pub fn drop_malformed(mut request: Request) -> Request {
    let well_formed = |id: &HeaderValue| {
        (1..=64).contains(&id.len())
            && id.as_bytes().iter().all(|byte| byte.is_ascii_alphanumeric() || b"._-".contains(byte))
    };
    if request.headers().get(ID).is_some_and(|id| !well_formed(id)) {
        request.headers_mut().remove(ID);
    }
    request
}

/// Makes the ids of requests that come without one.
#[derive(Debug, Clone, Copy)]
pub struct NewRequestId;

impl MakeRequestId for NewRequestId {
    fn make_request_id<B>(&mut self, _: &axum::http::Request<B>) -> Option<RequestId> {
        Some(RequestId::new(made_id()))
    }
}

/// A new id.
pub fn made_id() -> HeaderValue {
    static PROCESS: LazyLock<u64> = LazyLock::new(|| RandomState::new().hash_one(std::process::id()));
    static COUNT: AtomicU32 = AtomicU32::new(1);
    let mut id = [b'-'; 25];
    write_hex(*PROCESS, &mut id[..16]);
    write_hex(COUNT.fetch_add(1, Ordering::Relaxed).into(), &mut id[17..]);
    // Hexadecimal digits are always a value of a header.
    HeaderValue::from_bytes(&id).unwrap_or_else(|_| HeaderValue::from_static("none"))
}

/// The last digits of a number, as many as there is room for.
fn write_hex(mut number: u64, out: &mut [u8]) {
    for digit in out.iter_mut().rev() {
        *digit = b"0123456789abcdef"[(number & 15) as usize];
        number >>= 4;
    }
}
