//! Which pages of other origins may read responses (CORS, by the Fetch standard). Without CORS, such a page can send
//! some requests but cannot read the responses.

use std::time::Duration;

use axum::{
    body::HttpBody,
    http::{HeaderName, HeaderValue, Method, StatusCode, header},
    response::Response,
};
use tower_http::cors::{AllowOrigin, CorsLayer};

use super::{rate_limit, request_id};

/// Request headers that pages may send, beside those that are always allowed.
const ALLOWED_HEADERS: [HeaderName; 5] = [
    header::AUTHORIZATION,
    header::CONTENT_TYPE,
    header::IF_NONE_MATCH,
    HeaderName::from_static("traceparent"),
    request_id::ID,
];
/// Response headers that pages may read, beside those that are always readable.
const EXPOSED_HEADERS: [HeaderName; 5] =
    [header::ETAG, rate_limit::LIMIT, rate_limit::POLICY, header::RETRY_AFTER, request_id::ID];
/// How long a browser may reuse the result of a preflight.
const PREFLIGHT_MAX_AGE: Duration = Duration::from_secs(7200);

/// The origins whose pages may read responses.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub enum Origins {
    /// Our own only.
    #[default]
    None,
    /// All.
    Any,
    /// Those in the list.
    List(Vec<HeaderValue>),
}

impl Origins {
    /// Parses origins: `*`, or each as a browser sends it (`https://set.example`, no path).
    pub fn read(texts: &[String]) -> Result<Self, String> {
        if texts.iter().any(|text| text == "*") {
            return Ok(Self::Any);
        }
        let origin = |text: &String| {
            let text = text.trim();
            let (scheme, host) = text.split_once("://").unwrap_or_default();
            // Browsers omit a scheme's default port, so an origin with it would never match.
            let default_port = if scheme == "https" { ":443" } else { ":80" };
            let is_origin = ["http", "https"].contains(&scheme)
                && !host.ends_with(default_port)
                && !host.is_empty()
                && host.bytes().all(|byte| byte.is_ascii_alphanumeric() || b".-:[]".contains(&byte))
                && text == text.to_ascii_lowercase();
            let value = is_origin.then(|| HeaderValue::from_str(text).ok()).flatten();
            value.ok_or_else(|| format!("{text}: an origin is expected as browsers send it: https://set.example, in lower case, no path; or *"))
        };
        let origins: Vec<HeaderValue> = texts.iter().map(origin).collect::<Result<_, _>>()?;
        Ok(if origins.is_empty() { Self::None } else { Self::List(origins) })
    }

    /// The layer that sets the CORS headers and answers preflights.
    pub fn layer(&self) -> CorsLayer {
        let layer = CorsLayer::new()
            .allow_methods([Method::GET, Method::HEAD, Method::POST])
            .allow_headers(ALLOWED_HEADERS)
            .expose_headers(EXPOSED_HEADERS)
            .max_age(PREFLIGHT_MAX_AGE);
        match self {
            Self::None => layer.allow_origin(AllowOrigin::list([])).vary([]),
            // No Vary: the headers are the same for every origin, so a cache may give the response to any page (Fetch,
            // "CORS protocol and HTTP caches").
            Self::Any => layer.allow_origin(AllowOrigin::any()).vary([]),
            // The headers depend on the origin, so caches must keep responses by origin.
            Self::List(origins) => {
                layer.allow_origin(AllowOrigin::list(origins.iter().cloned())).vary([header::ORIGIN])
            }
        }
    }
}

/// Turns the CORS layer's empty 200 for a preflight into 204, as is common practice.
pub fn preflight_status(mut response: Response) -> Response {
    // Only a preflight's response is empty and says which methods are allowed; the first costs nothing to check.
    if response.body().is_end_stream()
        && response.headers().contains_key(header::ACCESS_CONTROL_ALLOW_METHODS)
    {
        *response.status_mut() = StatusCode::NO_CONTENT;
    }
    response
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn origins_are_read_as_browsers_send_them() {
        let read = |text: &str| Origins::read(&[text.to_owned()]);
        for good in ["https://set.example", "http://localhost:5173", "http://[::1]:8080"] {
            assert!(matches!(read(good), Ok(Origins::List(_))), "{good}");
        }
        assert_eq!(read("*"), Ok(Origins::Any));
        for bad in [
            "https://set.example:443",
            "http://set.example:80",
            "set.example",
            "https://set.example/",
            "https://Set.example",
            "ftp://set.example",
            "https://",
            "",
        ] {
            assert!(read(bad).is_err_and(|error| error.contains("an origin is expected")), "{bad}");
        }
    }
}
