//! Request ids: the client's if it is well-formed, else one of our own.

use std::{
    hash::{BuildHasher, RandomState},
    sync::{
        LazyLock,
        atomic::{AtomicU32, Ordering},
    },
};

use axum::{
    extract::Request,
    http::{HeaderMap, HeaderName, HeaderValue},
};
use tower_http::request_id::{MakeRequestId, RequestId};

/// The request id header, as text.
pub const ID_HEADER: &str = "x-request-id";
/// The request id header, as a header name.
pub const ID: HeaderName = HeaderName::from_static(ID_HEADER);

/// Removes a malformed id, so that the request gets one of ours; well-formed is 1 to 64 of letters, digits, `.`, `_`,
/// `-`. [`SetRequestIdLayer`](tower_http::request_id::SetRequestIdLayer) would keep it.
pub fn drop_malformed(mut request: Request) -> Request {
    let is_well_formed = |id: &HeaderValue| {
        (1..=64).contains(&id.len())
            && id.as_bytes().iter().all(|byte| byte.is_ascii_alphanumeric() || b"._-".contains(byte))
    };
    if request.headers().get(ID).is_some_and(|id| !is_well_formed(id)) {
        request.headers_mut().remove(ID);
    }
    request
}

/// The id in the headers of a request or of its response.
pub fn of(headers: &HeaderMap) -> HeaderValue {
    headers.get(ID).cloned().unwrap_or_else(|| HeaderValue::from_static("none"))
}

/// Generates ids for requests without one.
#[derive(Debug, Clone, Copy)]
pub struct NewRequestId;

impl MakeRequestId for NewRequestId {
    fn make_request_id<B>(&mut self, _: &axum::http::Request<B>) -> Option<RequestId> {
        Some(RequestId::new(new_id()))
    }
}

/// A new id: a random number of this process, and a counter.
pub fn new_id() -> HeaderValue {
    static PROCESS: LazyLock<u64> = LazyLock::new(|| RandomState::new().hash_one(std::process::id()));
    static COUNT: AtomicU32 = AtomicU32::new(1);
    let mut id = [b'-'; 25];
    write_hex(*PROCESS, &mut id[..16]);
    write_hex(COUNT.fetch_add(1, Ordering::Relaxed).into(), &mut id[17..]);
    // Hexadecimal digits are always a valid header value.
    HeaderValue::from_bytes(&id).unwrap_or_else(|_| HeaderValue::from_static("none"))
}

/// Writes the last hexadecimal digits of a number, as many as fit.
fn write_hex(mut number: u64, out: &mut [u8]) {
    for digit in out.iter_mut().rev() {
        *digit = b"0123456789abcdef"[(number & 15) as usize];
        number >>= 4;
    }
}
