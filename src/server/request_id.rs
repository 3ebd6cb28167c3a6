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
    response::Response,
};

use super::around::Around;

/// The request id header, as text.
pub const ID_HEADER: &str = "x-request-id";
/// The request id header, as a header name.
pub const ID: HeaderName = HeaderName::from_static(ID_HEADER);

/// Gives the request a new id unless it has a well-formed one: 1 to 64 of letters, digits, `.`, `_`, `-`. tower-http's
/// layer would keep a malformed one, and copies each id into extensions.
pub fn set(mut request: Request) -> Request {
    let is_well_formed = |id: &HeaderValue| {
        (1..=64).contains(&id.len())
            && id.as_bytes().iter().all(|byte| byte.is_ascii_alphanumeric() || b"._-".contains(byte))
    };
    if !request.headers().get(ID).is_some_and(is_well_formed) {
        request.headers_mut().insert(ID, new_id());
    }
    request
}

/// The id in the headers of a request or of its response.
pub fn of(headers: &HeaderMap) -> HeaderValue {
    headers.get(ID).cloned().unwrap_or_else(|| HeaderValue::from_static("none"))
}

/// Copies the id of a request into its response. tower-http's layer also puts it into the response's extensions, which
/// takes three allocations.
#[derive(Debug, Clone, Copy)]
pub struct CopyToResponse;

impl Around for CopyToResponse {
    /// The id.
    type State = HeaderValue;

    fn before(&self, request: &mut Request) -> Result<HeaderValue, Response> {
        Ok(of(request.headers()))
    }

    fn after(id: HeaderValue, response: &mut Response) {
        response.headers_mut().insert(ID, id);
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
