//! The kinds of problem: slug, title, status and explanation of each.

use axum::http::StatusCode;

/// A kind of problem. Slugs are stable, texts may change.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// The body is not JSON, or the query cannot be decoded.
    Malformed,
    /// The key is missing or unknown.
    Unauthorized,
    /// Nothing is at this path.
    NotFound,
    /// The path does not support this method.
    MethodNotAllowed,
    /// `Accept` allows none of the media types on offer.
    NotAcceptable,
    /// The request took too long.
    Timeout,
    /// The body is too large.
    TooLarge,
    /// The body is not JSON by its content type.
    UnsupportedMediaType,
    /// Well-formed JSON or query with invalid fields.
    Invalid,
    /// The caller exceeds the rate limit.
    TooMany,
    /// The service failed.
    Internal,
    /// The service is overloaded or stopping.
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

    /// The last part of the problem's `type`.
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

    /// The short title, the same for every problem of this kind.
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

    /// What the problem means and what to do about it, for `/problems/{slug}`.
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

    /// The kind with this status. Any other 4xx counts as malformed, anything else as internal.
    pub(super) fn from_status(status: StatusCode) -> Self {
        Self::ALL.into_iter().find(|kind| kind.status() == status).unwrap_or(if status.is_client_error() {
            Self::Malformed
        } else {
            Self::Internal
        })
    }
}
