//! Whether a request says plainly whom it is for and where it ends. What is refused here is what RFC 9112 has refused
//! and the parser lets pass; a proxy before the service may read such a message otherwise.

use axum::{
    extract::Request,
    http::{HeaderMap, HeaderValue, Version, header},
    response::{IntoResponse, Response},
};

use crate::server::problem::{Kind, Problem};

/// Refuses a message that may be read in two ways, and closes its connection: what follows may be part of it.
#[expect(clippy::result_large_err, reason = "the shape that tower-http's ValidateRequest wants")]
pub fn refuse(request: &mut Request) -> Result<(), Response> {
    check(request).map_err(|problem| {
        let mut response = problem.into_response();
        response.headers_mut().insert(header::CONNECTION, HeaderValue::from_static("close"));
        response
    })
}

fn check(request: &Request) -> Result<(), Problem> {
    let refused = |detail| Err(Problem::new(Kind::Malformed, detail));
    if !has_one_host(request.headers(), request.version()) {
        return refused("Send one Host header, with a name or an address and perhaps a port.");
    }
    if !is_framed(request.headers()) {
        return refused(
            "Send the body with Transfer-Encoding: chunked and no other coding, or with a Content-Length.",
        );
    }
    Ok(())
}

/// RFC 9112, 3.2: one host line, and a value that may be one (RFC 3986, 3.2.2); HTTP/1.0 may do without.
fn has_one_host(headers: &HeaderMap, version: Version) -> bool {
    let is_of_host = |byte: &u8| {
        byte.is_ascii_alphanumeric()
            || matches!(byte, b'-' | b'.' | b'_' | b'~' | b'%' | b'!' | b'$' | b'&' | b'\'' | b'(' | b')')
            || matches!(byte, b'*' | b'+' | b',' | b';' | b'=' | b':' | b'[' | b']')
    };
    let mut lines = headers.get_all(header::HOST).iter();
    match (lines.next(), lines.next()) {
        (None, _) => version < Version::HTTP_11,
        (Some(host), None) => host.as_bytes().iter().all(is_of_host),
        (Some(_), Some(_)) => false,
    }
}

/// RFC 9112, 6.1: a coding that is not understood is refused, and chunked stands once.
fn is_framed(headers: &HeaderMap) -> bool {
    let mut lines = headers.get_all(header::TRANSFER_ENCODING).iter();
    match (lines.next(), lines.next()) {
        (None, _) => true,
        (Some(coding), None) => coding.as_bytes().trim_ascii().eq_ignore_ascii_case(b"chunked"),
        (Some(_), Some(_)) => false,
    }
}
