//! Refuses ambiguous requests: those with an unclear host or length. RFC 9112 demands it and the HTTP parser lets them
//! pass; a proxy in front of the service may read such a message differently (request smuggling).

use axum::{
    extract::Request,
    http::{HeaderMap, HeaderValue, Version, header},
    response::{IntoResponse, Response},
};

use crate::server::problem::{Kind, Problem};

/// Answers 400 to an ambiguous message and closes the connection, since what follows may be part of the message.
#[expect(clippy::result_large_err, reason = "the signature that tower-http's ValidateRequest requires")]
pub fn refuse(request: &mut Request) -> Result<(), Response> {
    check(request).map_err(|problem| {
        let mut response = problem.into_response();
        response.headers_mut().insert(header::CONNECTION, HeaderValue::from_static("close"));
        response
    })
}

fn check(request: &Request) -> Result<(), Problem> {
    let refusal = |detail| Err(Problem::new(Kind::Malformed, detail));
    if !has_one_host(request.headers(), request.version()) {
        return refusal("Send one Host header, with a name or an address and perhaps a port.");
    }
    if !is_framed(request.headers()) {
        return refusal(
            "Send the body with Transfer-Encoding: chunked and no other coding, or with a Content-Length.",
        );
    }
    Ok(())
}

/// RFC 9112, 3.2: exactly one Host header, of characters that a host may have (RFC 3986, 3.2.2). HTTP/1.0 may omit it.
fn has_one_host(headers: &HeaderMap, version: Version) -> bool {
    let is_host_byte = |byte: &u8| {
        byte.is_ascii_alphanumeric()
            || matches!(byte, b'-' | b'.' | b'_' | b'~' | b'%' | b'!' | b'$' | b'&' | b'\'' | b'(' | b')')
            || matches!(byte, b'*' | b'+' | b',' | b';' | b'=' | b':' | b'[' | b']')
    };
    let mut lines = headers.get_all(header::HOST).iter();
    match (lines.next(), lines.next()) {
        (None, _) => version < Version::HTTP_11,
        (Some(host), None) => host.as_bytes().iter().all(is_host_byte),
        (Some(_), Some(_)) => false,
    }
}

/// RFC 9112, 6.1: an unknown transfer coding is refused, and `chunked` may occur once.
fn is_framed(headers: &HeaderMap) -> bool {
    let mut lines = headers.get_all(header::TRANSFER_ENCODING).iter();
    match (lines.next(), lines.next()) {
        (None, _) => true,
        (Some(coding), None) => coding.as_bytes().trim_ascii().eq_ignore_ascii_case(b"chunked"),
        (Some(_), Some(_)) => false,
    }
}
