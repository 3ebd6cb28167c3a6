//! Errors as RFC 9457 problem documents, one shape for all of them.

use std::borrow::Cow;

use axum::{
    http::{HeaderMap, HeaderValue, StatusCode, header},
    response::{IntoResponse, Response},
};
use serde::Serialize;
use std::collections::BTreeMap;
use utoipa::ToSchema;
use utoipa::{
    IntoResponses,
    openapi::{ContentBuilder, RefOr, Response as Documented, ResponseBuilder},
};

use crate::light::error::{FieldError, Pointer, json_bytes, shortened};

/// Bytes that a problem document may have.
pub const DOCUMENT_MOST: usize = 64 * 1024;
/// Bytes of it that are kept for what stands around the list of faults.
const AROUND: usize = 4 * 1024;
/// Bytes of a fault in the document beside its texts: names, indents, quotes.
const AROUND_FAULT: usize = 112;
/// Bytes that a pointer may have, and the other texts: what callers wrote has no end, so its beginning is told.
const POINTER_MOST: usize = 320;
const TEXT_MOST: usize = 640;

/// A kind of problem. The slug is stable; the texts may change.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Not JSON, or a query that cannot be decoded.
    Malformed,
    /// No key, or none that is taken.
    Unauthorized,
    /// No such path.
    NotFound,
    /// The path does not take this method.
    MethodNotAllowed,
    /// No offered media type is acceptable.
    NotAcceptable,
    /// The request took too long.
    Timeout,
    /// The body is too large.
    TooLarge,
    /// The body is not JSON by its content type.
    UnsupportedMediaType,
    /// Well-formed, but wrong.
    Invalid,
    /// More calls than this caller may make.
    TooMany,
    /// A fault of ours.
    Internal,
    /// The service cannot answer now.
    Unavailable,
}

impl Kind {
    /// Every kind, for `/problems/{slug}`.
    pub const ALL: [Self; 12] = [
        Self::Malformed,
        Self::Unauthorized,
        Self::NotFound,
        Self::MethodNotAllowed,
        Self::NotAcceptable,
        Self::Timeout,
        Self::TooLarge,
        Self::UnsupportedMediaType,
        Self::Invalid,
        Self::TooMany,
        Self::Internal,
        Self::Unavailable,
    ];

    /// The last part of its `type`.
    pub const fn slug(self) -> &'static str {
        match self {
            Self::Malformed => "malformed-request",
            Self::Unauthorized => "unauthorized",
            Self::NotFound => "not-found",
            Self::MethodNotAllowed => "method-not-allowed",
            Self::NotAcceptable => "not-acceptable",
            Self::Timeout => "timeout",
            Self::TooLarge => "body-too-large",
            Self::UnsupportedMediaType => "unsupported-media-type",
            Self::Invalid => "invalid-request",
            Self::TooMany => "too-many-requests",
            Self::Internal => "internal-error",
            Self::Unavailable => "unavailable",
        }
    }

    /// The title.
    pub const fn title(self) -> &'static str {
        match self {
            Self::Malformed => "The request cannot be read",
            Self::Unauthorized => "A key is needed",
            Self::NotFound => "Nothing is at this path",
            Self::MethodNotAllowed => "The path does not take this method",
            Self::NotAcceptable => "No acceptable media type",
            Self::Timeout => "The request took too long",
            Self::TooLarge => "The body is too large",
            Self::UnsupportedMediaType => "The body must be JSON",
            Self::Invalid => "The request has faults",
            Self::TooMany => "Too many calls",
            Self::Internal => "A fault of this service",
            Self::Unavailable => "The service cannot answer now",
        }
    }

    /// The HTTP status.
    pub const fn status(self) -> StatusCode {
        match self {
            Self::Malformed => StatusCode::BAD_REQUEST,
            Self::Unauthorized => StatusCode::UNAUTHORIZED,
            Self::NotFound => StatusCode::NOT_FOUND,
            Self::MethodNotAllowed => StatusCode::METHOD_NOT_ALLOWED,
            Self::NotAcceptable => StatusCode::NOT_ACCEPTABLE,
            Self::Timeout => StatusCode::REQUEST_TIMEOUT,
            Self::TooLarge => StatusCode::PAYLOAD_TOO_LARGE,
            Self::UnsupportedMediaType => StatusCode::UNSUPPORTED_MEDIA_TYPE,
            Self::Invalid => StatusCode::UNPROCESSABLE_ENTITY,
            Self::TooMany => StatusCode::TOO_MANY_REQUESTS,
            Self::Internal => StatusCode::INTERNAL_SERVER_ERROR,
            Self::Unavailable => StatusCode::SERVICE_UNAVAILABLE,
        }
    }

    /// What it means and what to do, for `/problems/{slug}`.
    pub const fn explanation(self) -> &'static str {
        match self {
            Self::Malformed => {
                "The body is not JSON, or the query string cannot be decoded. `errors` says where. In a query, a plus sign is written %2B and a percent sign %25."
            }
            Self::Unauthorized => {
                "This service takes calls with a key only: Authorization: Bearer KEY. Whoever runs it gives keys out."
            }
            Self::NotFound => "No endpoint is at this path. The index at / and /openapi.json list them all.",
            Self::MethodNotAllowed => {
                "The path exists, but not for this method. The Allow header names the methods that it takes."
            }
            Self::NotAcceptable => {
                "Answers are application/json or text/plain, those of a batch application/json or application/x-ndjson. Accept such a type, or send no Accept at all."
            }
            Self::Timeout => {
                "The request did not arrive whole, or was not answered, within the time limit. Send it again."
            }
            Self::TooLarge => {
                "The body, or a line of a stream, is larger than the limit. Ask in smaller parts."
            }
            Self::UnsupportedMediaType => {
                "Send the body as JSON with Content-Type: application/json; curl does so with --json. A batch may also be a stream of lines, application/x-ndjson."
            }
            Self::Invalid => {
                "The request is well-formed but wrong: a type, a range, a missing or unknown name, or a name that points nowhere. `errors` lists the faults, in the order of the document, each with a JSON pointer, what is wrong, and what is expected; `more_errors` counts those beyond the first 100, or beyond 64 KiB."
            }
            Self::TooMany => {
                "You call more often than this service lets one caller. Send it again after Retry-After seconds; RateLimit-Policy and RateLimit tell what you have. A batch is one call."
            }
            Self::Internal => {
                "The service failed. Nothing is lost, for it keeps nothing. Send it again; if it stays, report the request_id."
            }
            Self::Unavailable => {
                "The service is starting, stopping or too busy. Send it again after Retry-After seconds."
            }
        }
    }

    fn of_status(status: StatusCode) -> Self {
        Self::ALL.into_iter().find(|kind| kind.status() == status).unwrap_or(if status.is_client_error() {
            Self::Malformed
        } else {
            Self::Internal
        })
    }
}

/// Faults that are listed at the most.
pub const LISTED: usize = 100;

/// What is wrong with a request.
#[derive(Debug, Clone, Default)]
pub struct Refused {
    /// The first faults, in the order of the document.
    pub first: Vec<FieldError>,
    /// How many more there are.
    pub more: usize,
}

impl Refused {
    /// Of faults in the order of the document, the first; the others are counted.
    pub fn of(mut faults: Vec<FieldError>) -> Self {
        let more = faults.len().saturating_sub(LISTED);
        faults.truncate(LISTED);
        Self { first: faults, more }
    }
}

/// A problem on its way to the caller; the outermost layer writes it out with the request's id.
#[derive(Debug, Clone)]
pub struct Problem {
    kind: Kind,
    detail: String,
    errors: Vec<LocatedError>,
    /// How many errors there are beyond those.
    more_errors: usize,
    retry_after_s: Option<u64>,
}

impl Problem {
    /// A problem with no located faults.
    pub fn new(kind: Kind, detail: impl Into<String>) -> Self {
        let retry_after_s = (kind == Kind::Unavailable).then_some(1);
        let detail = shortened(&detail.into(), TEXT_MOST + POINTER_MOST).into_owned();
        Self { kind, detail, errors: Vec::new(), more_errors: 0, retry_after_s }
    }

    /// A problem with one located fault.
    pub fn located(kind: Kind, fault: FieldError) -> Self {
        Self { errors: vec![LocatedError::of(&fault)], ..Self::new(kind, fault.detail) }
    }

    /// The problem that a bare response of the framework stands for.
    pub fn of_bare(status: StatusCode) -> Self {
        let kind = Kind::of_status(status);
        let detail = match kind {
            Kind::MethodNotAllowed => "The Allow header names the methods that it takes.",
            _ => kind.title(),
        };
        Self::new(kind, detail)
    }

    /// The same, with the seconds after which to send the request again.
    #[must_use]
    pub const fn retry_after(mut self, seconds: u64) -> Self {
        self.retry_after_s = Some(seconds);
        self
    }

    /// The same, of one item out of many.
    #[must_use]
    pub fn of_item(mut self, what: &str, number: usize) -> Self {
        self.detail = format!("{what} {number}: {}", self.detail);
        self
    }

    /// Its HTTP status.
    pub const fn status(&self) -> StatusCode {
        self.kind.status()
    }

    /// Its document, on one line.
    pub fn document(&self, request_id: &str) -> Vec<u8> {
        serde_json::to_vec(&self.told(request_id)).unwrap_or_default()
    }

    fn told<'p>(&'p self, request_id: &'p str) -> ProblemDocument<'p> {
        let located = matches!(self.kind, Kind::Malformed | Kind::Invalid);
        ProblemDocument {
            r#type: format!("/problems/{}", self.kind.slug()),
            title: self.kind.title(),
            status: self.kind.status().as_u16(),
            detail: &self.detail,
            request_id,
            errors: located.then(|| {
                if self.errors.is_empty() {
                    let whole = "a whole request".to_owned();
                    let fault =
                        FieldError { place: Pointer::root(), detail: self.detail.clone(), expected: whole };
                    Cow::Owned(vec![LocatedError::of(&fault)])
                } else {
                    Cow::Borrowed(self.errors.as_slice())
                }
            }),
            more_errors: self.more_errors,
        }
    }

    /// The response, with the headers that the bare one had (as `Allow`).
    pub fn written(&self, mut headers: HeaderMap, request_id: &HeaderValue) -> Response {
        // A person with curl reads it as it comes.
        let document = self.told(request_id.to_str().unwrap_or_default());
        let mut body = serde_json::to_vec_pretty(&document).unwrap_or_default();
        body.push(b'\n');
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
        let mut room = DOCUMENT_MOST - AROUND;
        let errors: Vec<LocatedError> = refused
            .first
            .iter()
            .map(LocatedError::of)
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

/// Faults in the order of the document.
impl From<Vec<FieldError>> for Problem {
    fn from(faults: Vec<FieldError>) -> Self {
        Refused::of(faults).into()
    }
}

/// The responses that every operation may refuse with.
pub struct Refusals;

impl IntoResponses for Refusals {
    fn responses() -> BTreeMap<String, RefOr<Documented>> {
        Kind::ALL
            .into_iter()
            .map(|kind| {
                let content = ContentBuilder::new()
                    .schema(Some(utoipa::openapi::Ref::from_schema_name("Problem")))
                    .build();
                let response = ResponseBuilder::new()
                    .description(kind.title())
                    .content("application/problem+json", content)
                    .build();
                (kind.status().as_str().to_owned(), response.into())
            })
            .collect()
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
    /// A path of this server that explains the problem; stable.
    #[schema(examples("/problems/invalid-request"))]
    r#type: String,
    /// The kind of problem in words.
    title: &'p str,
    /// The HTTP status.
    #[schema(minimum = 400, maximum = 599)]
    status: u16,
    /// What is wrong this time.
    detail: &'p str,
    /// The id of this request, also in the header `X-Request-Id`.
    request_id: &'p str,
    /// For 400 and 422: the faults in the request, in the order of the document. At most 100 are listed, and fewer where they would take more than 64 KiB; `more_errors` counts the others.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, value_type = Option<Vec<LocatedError>>, max_items = 100)]
    errors: Option<Cow<'p, [LocatedError]>>,
    /// How many more faults there are than `errors` lists; left out where it lists all.
    #[serde(skip_serializing_if = "is_none_more")]
    #[schema(nullable = false, value_type = Option<usize>, minimum = 1)]
    more_errors: usize,
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "the shape that serde wants")]
const fn is_none_more(more: &usize) -> bool {
    *more == 0
}

/// One fault of a request.
#[derive(Debug, Clone, Serialize, ToSchema)]
struct LocatedError {
    /// Where: a JSON pointer into the request (RFC 6901); for a query, `/` and the parameter's name. One that ends with `…` is shortened.
    #[schema(examples("/lights/1/distance"))]
    pointer: String,
    /// What is wrong there.
    detail: String,
    /// What would be right.
    expected: String,
}

impl LocatedError {
    fn of(fault: &FieldError) -> Self {
        Self {
            // Where an escape was cut in two, none of it is left.
            pointer: shortened(fault.place.pointer(), POINTER_MOST).replace("~…", "…"),
            detail: shortened(&fault.detail, TEXT_MOST).into_owned(),
            expected: shortened(&fault.expected, TEXT_MOST).into_owned(),
        }
    }

    /// Bytes that it takes in the document.
    fn bytes(&self) -> usize {
        let texts = [&self.pointer, &self.detail, &self.expected];
        AROUND_FAULT + texts.into_iter().flat_map(|text| text.chars()).map(json_bytes).sum::<usize>()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(problem: &Problem) -> Vec<u8> {
        let response = problem.written(HeaderMap::new(), &HeaderValue::from_static("id"));
        let body = axum::body::to_bytes(response.into_body(), usize::MAX);
        futures_util::FutureExt::now_or_never(body).expect("ready").expect("bytes").to_vec()
    }

    #[test]
    fn no_document_is_larger_than_64_kib() {
        for text in ["plain", "\u{1}", "\"", "\u{1f4a1}", "~", "/"] {
            for (long, count) in [(0, 5000), (20, 5000), (100_000, 99), (100_000, 1)] {
                let text = text.repeat(long);
                let fault = || FieldError {
                    place: Pointer::root().field(&text),
                    detail: text.clone(),
                    expected: text.clone(),
                };
                let problem = Problem::from((0..count).map(|_| fault()).collect::<Vec<_>>());
                for document in [written(&problem), problem.document(&"x".repeat(64))] {
                    assert!(document.len() <= DOCUMENT_MOST, "{} of {count}", document.len());
                    let told: serde_json::Value = serde_json::from_slice(&document).expect("JSON");
                    let listed = told["errors"].as_array().expect("a list").len();
                    let pointer = told["errors"][0]["pointer"].as_str().expect("text");
                    assert!(
                        pointer.split('~').skip(1).all(|after| after.starts_with(['0', '1'])),
                        "{pointer}"
                    );
                    assert!((count.min(33)..=100).contains(&listed), "{listed} of {count}");
                    let more = told.get("more_errors").map_or(0, |more| more.as_u64().expect("a number"));
                    assert_eq!(listed + more as usize, count);
                    assert_eq!(told.get("more_errors").is_some(), more > 0);
                }
            }
        }
    }
}
