//! Errors as problem documents (RFC 9457), one shape for all of them.
//!
//! The kinds are in `problem/kind.rs`, the responses that every operation shares in `problem/responses.rs`.

mod kind;
mod responses;
mod shortened;

use std::borrow::Cow;

use axum::{
    body::Bytes,
    http::{HeaderMap, HeaderValue, StatusCode, header},
    response::{IntoResponse, Response},
};
use serde::Serialize;
use utoipa::ToSchema;

pub use self::{
    kind::Kind,
    responses::Refusals,
    shortened::{json_bytes, shortened},
};

/// The size limit of a problem document, in bytes.
pub const MAX_DOCUMENT_BYTES: usize = 64 * 1024;
/// Bytes reserved for everything but the list of errors.
const AROUND: usize = 4 * 1024;
/// Bytes of one listed error beside its texts: field names, indents, quotes.
const AROUND_FAULT: usize = 112;
/// Bytes of a pointer. It may quote the request, which can be long, so it is cut at the end.
const MAX_POINTER_BYTES: usize = 320;
/// Bytes of a detail or expectation, cut likewise.
const MAX_TEXT_BYTES: usize = 576;

/// Errors listed at most.
pub const LISTED: usize = 100;

/// The errors of a rejected request.
#[derive(Debug, Clone, Default)]
pub struct Refused {
    /// The first errors, in document order.
    pub first: Vec<LocatedError>,
    /// The number of errors beyond those.
    pub more: usize,
}

/// An error on its way to the client. It travels in the extensions of its response; the problem layer writes it out
/// with the request id.
#[derive(Debug, Clone)]
pub struct Problem {
    kind: Kind,
    detail: String,
    errors: Vec<LocatedError>,
    /// The number of errors beyond those.
    more_errors: usize,
    retry_after_s: Option<u64>,
    /// The document, if it is written already.
    written: Option<Bytes>,
}

impl Problem {
    /// A problem without located errors.
    pub fn new(kind: Kind, detail: impl Into<String>) -> Self {
        let retry_after_s = (kind == Kind::Unavailable).then_some(1);
        let detail = shortened(&detail.into(), MAX_TEXT_BYTES + MAX_POINTER_BYTES).into_owned();
        Self { kind, detail, errors: Vec::new(), more_errors: 0, retry_after_s, written: None }
    }

    /// A problem with one located error.
    pub fn located(kind: Kind, error: LocatedError) -> Self {
        let detail = error.detail.clone();
        Self { errors: vec![error], ..Self::new(kind, detail) }
    }

    /// The problem for an error response of the framework, which has a status and no document.
    pub fn from_status(status: StatusCode) -> Self {
        let kind = Kind::from_status(status);
        let detail = match kind {
            Kind::MethodNotAllowed => "The Allow header names the methods that it takes.",
            _ => kind.title(),
        };
        Self::new(kind, detail)
    }

    /// Sets `Retry-After`, in seconds.
    #[must_use]
    pub const fn retry_after(mut self, seconds: u64) -> Self {
        self.retry_after_s = Some(seconds);
        self
    }

    /// Prefixes the detail with the item of a batch that it is about.
    #[must_use]
    pub fn for_item(mut self, what: &str, number: usize) -> Self {
        self.detail = format!("{what} {number}: {}", self.detail);
        self
    }

    /// The HTTP status.
    pub const fn status(&self) -> StatusCode {
        self.kind.status()
    }

    /// The document as JSON on one line.
    pub fn document(&self, request_id: &str) -> Vec<u8> {
        serde_json::to_vec(&self.to_document(request_id)).unwrap_or_default()
    }

    fn to_document<'p>(&'p self, request_id: &'p str) -> ProblemDocument<'p> {
        let located = matches!(self.kind, Kind::Malformed | Kind::Invalid);
        ProblemDocument {
            r#type: format!("/problems/{}", self.kind.slug()),
            title: self.kind.title(),
            status: self.kind.status().as_u16(),
            detail: &self.detail,
            request_id,
            errors: located.then(|| {
                if self.errors.is_empty() {
                    Cow::Owned(vec![LocatedError::new("", &self.detail, "a whole request")])
                } else {
                    Cow::Borrowed(self.errors.as_slice())
                }
            }),
            more_errors: self.more_errors,
        }
    }

    /// Writes the document now, on this thread, instead of in the problem layer.
    #[must_use]
    pub fn written(mut self, request_id: &HeaderValue) -> Self {
        self.written = Some(self.pretty_document(request_id));
        self.errors = Vec::new();
        self
    }

    /// The document as people read it in a terminal.
    fn pretty_document(&self, request_id: &HeaderValue) -> Bytes {
        let document = self.to_document(request_id.to_str().unwrap_or_default());
        let mut body = serde_json::to_vec_pretty(&document).unwrap_or_default();
        body.push(b'\n');
        body.into()
    }

    /// The response with the document, keeping the headers that are already set (such as `Allow`).
    pub fn to_response(&self, mut headers: HeaderMap, request_id: &HeaderValue) -> Response {
        let body = self.written.clone().unwrap_or_else(|| self.pretty_document(request_id));
        headers.remove(header::CONTENT_LENGTH);
        headers.insert(header::CONTENT_TYPE, HeaderValue::from_static("application/problem+json"));
        headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
        if self.kind == Kind::Unauthorized {
            headers.insert(header::WWW_AUTHENTICATE, HeaderValue::from_static("Bearer"));
        }
        if let Some(seconds) = self.retry_after_s {
            headers.insert(header::RETRY_AFTER, seconds.into());
        }
        (self.kind.status(), headers, body).into_response()
    }
}

impl From<Refused> for Problem {
    fn from(refused: Refused) -> Self {
        let count = refused.first.len() + refused.more;
        let mut room = MAX_DOCUMENT_BYTES - AROUND;
        let errors: Vec<LocatedError> = refused
            .first
            .into_iter()
            .take_while(|error| {
                let fits = room.checked_sub(error.bytes());
                room = fits.unwrap_or_default();
                fits.is_some()
            })
            .collect();
        let detail = match errors.as_slice() {
            [error] if count == 1 && error.pointer.is_empty() => error.detail.clone(),
            [error] if count == 1 => format!("{}: {}", error.pointer, error.detail),
            _ => format!("{count} faults"),
        };
        Self { more_errors: count - errors.len(), errors, ..Self::new(Kind::Invalid, detail) }
    }
}

impl IntoResponse for Problem {
    fn into_response(self) -> Response {
        let mut response = self.kind.status().into_response();
        response.extensions_mut().insert(self);
        response
    }
}

/// A problem document (RFC 9457).
#[derive(Serialize, ToSchema)]
#[schema(as = Problem)]
pub struct ProblemDocument<'p> {
    /// A path on this server that explains the problem. Stable.
    #[schema(examples("/problems/invalid-request"))]
    r#type: String,
    /// The kind of problem in words.
    title: &'p str,
    /// The HTTP status.
    #[schema(minimum = 400, maximum = 599)]
    status: u16,
    /// What is wrong with this request.
    detail: &'p str,
    /// The id of this request, also in the header `X-Request-Id`.
    request_id: &'p str,
    /// For 400 and 422: the faults in the request, in document order. At most 100 are listed, and fewer if the document would exceed 64 KiB; `more_errors` counts the others.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, value_type = Option<Vec<LocatedError>>, max_items = 100)]
    errors: Option<Cow<'p, [LocatedError]>>,
    /// The number of faults beyond those in `errors`. Absent if `errors` lists all of them.
    #[serde(skip_serializing_if = "is_none_more")]
    #[schema(nullable = false, value_type = Option<usize>, minimum = 1)]
    more_errors: usize,
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "the signature that serde requires")]
const fn is_none_more(more: &usize) -> bool {
    *more == 0
}

/// One fault of a request.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct LocatedError {
    /// Where the fault is: a JSON pointer into the request (RFC 6901); for a query, `/` and the parameter's name. A pointer that ends with `…` is shortened.
    #[schema(examples("/lights/1/distance"))]
    pointer: String,
    /// What is wrong there.
    detail: String,
    /// What is expected instead.
    expected: String,
}

impl LocatedError {
    /// An error with finished texts.
    pub fn new(pointer: &str, detail: &str, expected: &str) -> Self {
        Self {
            // Shortening may cut the escape `~0` or `~1` in two; the half is dropped.
            pointer: shortened(pointer, MAX_POINTER_BYTES).replace("~…", "…"),
            detail: shortened(detail, MAX_TEXT_BYTES).into_owned(),
            expected: shortened(expected, MAX_TEXT_BYTES).into_owned(),
        }
    }

    /// Where it is.
    pub fn pointer(&self) -> &str {
        &self.pointer
    }

    /// Bytes that this error takes in the document.
    fn bytes(&self) -> usize {
        let texts = [&self.pointer, &self.detail, &self.expected];
        AROUND_FAULT + texts.into_iter().flat_map(|text| text.chars()).map(json_bytes).sum::<usize>()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn body(problem: &Problem) -> Vec<u8> {
        let response = problem.to_response(HeaderMap::new(), &HeaderValue::from_static("id"));
        let body = axum::body::to_bytes(response.into_body(), usize::MAX);
        futures_util::FutureExt::now_or_never(body).expect("ready").expect("bytes").to_vec()
    }

    #[test]
    fn no_document_is_larger_than_64_kib() {
        for text in ["plain", "\u{1}", "\"", "\u{1f4a1}", "~", "/"] {
            for (long, count) in [(0, 5000), (20, 5000), (100_000, 99), (100_000, 1)] {
                let text = text.repeat(long);
                let pointer = format!("/{}", text.replace('~', "~0").replace('/', "~1"));
                let error = LocatedError::new(&pointer, &text, &text);
                let first: Vec<_> = std::iter::repeat_n(error, count.min(LISTED)).collect();
                let problem = Problem::from(Refused { more: count - first.len(), first });
                for document in [body(&problem), problem.document(&"x".repeat(64))] {
                    assert!(document.len() <= MAX_DOCUMENT_BYTES, "{} of {count}", document.len());
                    let parsed: serde_json::Value = serde_json::from_slice(&document).expect("JSON");
                    let listed = parsed["errors"].as_array().expect("a list").len();
                    let pointer = parsed["errors"][0]["pointer"].as_str().expect("text");
                    assert!(
                        pointer.split('~').skip(1).all(|after| after.starts_with(['0', '1'])),
                        "{pointer}"
                    );
                    assert!((count.min(33)..=100).contains(&listed), "{listed} of {count}");
                    let more = parsed.get("more_errors").map_or(0, |more| more.as_u64().expect("a number"));
                    assert_eq!(listed + more as usize, count);
                    assert_eq!(parsed.get("more_errors").is_some(), more > 0);
                }
            }
        }
    }
}
