//! Which pages of other origins may read answers (CORS, by the Fetch standard). A page of another origin can always
//! send; without this it cannot read.

use std::time::Duration;

use axum::{
    http::{HeaderName, HeaderValue, Method, StatusCode, header},
    response::Response,
};
use tower_http::cors::{AllowOrigin, CorsLayer};

use super::{rate_limit, request_id};

/// What a page may send beside what every page may.
const ALLOWED_HEADERS: [HeaderName; 5] = [
    header::AUTHORIZATION,
    header::CONTENT_TYPE,
    header::IF_NONE_MATCH,
    HeaderName::from_static("traceparent"),
    request_id::ID,
];
/// What a page may read beside what every page may.
const EXPOSED_HEADERS: [HeaderName; 5] =
    [header::ETAG, rate_limit::LIMIT, rate_limit::POLICY, header::RETRY_AFTER, request_id::ID];
/// Time for which a browser need not ask again.
const ASKED_FOR: Duration = Duration::from_secs(7200);

/// The origins whose pages may read answers.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub enum Origins {
    /// None but our own.
    #[default]
    None,
    /// All.
    Any,
    /// These.
    These(Vec<HeaderValue>),
}

impl Origins {
    /// Reads origins: `*`, or each as a browser sends it (`https://set.example`, no path).
    pub fn read(texts: &[String]) -> Result<Self, String> {
        if texts.iter().any(|text| text == "*") {
            return Ok(Self::Any);
        }
        let origin = |text: &String| {
            let text = text.trim();
            let (scheme, host) = text.split_once("://").unwrap_or_default();
            // Browsers leave a scheme's own port out, so with it an origin would never match.
            let own_port = if scheme == "https" { ":443" } else { ":80" };
            let is_origin = ["http", "https"].contains(&scheme)
                && !host.ends_with(own_port)
                && !host.is_empty()
                && host.bytes().all(|byte| byte.is_ascii_alphanumeric() || b".-:[]".contains(&byte))
                && text == text.to_ascii_lowercase();
            let value = is_origin.then(|| HeaderValue::from_str(text).ok()).flatten();
            value.ok_or_else(|| format!("{text}: an origin is expected as browsers send it: https://set.example, in lower case, no path; or *"))
        };
        let these: Vec<HeaderValue> = texts.iter().map(origin).collect::<Result<_, _>>()?;
        Ok(if these.is_empty() { Self::None } else { Self::These(these) })
    }

    /// The layer that lets these pages read, and answers browsers that ask beforehand.
    pub fn layer(&self) -> CorsLayer {
        let layer = CorsLayer::new()
            .allow_methods([Method::GET, Method::HEAD, Method::POST])
            .allow_headers(ALLOWED_HEADERS)
            .expose_headers(EXPOSED_HEADERS)
            .max_age(ASKED_FOR);
        match self {
            Self::None => layer.allow_origin(AllowOrigin::list([])).vary([]),
            // Whoever asks: a cache may give the answer to a page later (Fetch, "CORS protocol and HTTP caches").
            Self::Any => layer.allow_origin(AllowOrigin::any()).vary([]),
            // A cache must tell origins apart, whoever asks.
            Self::These(these) => {
                layer.allow_origin(AllowOrigin::list(these.iter().cloned())).vary([header::ORIGIN])
            }
        }
    }
}

/// The layer's answer to a browser that asks beforehand has nothing in it: 204, as most services say it.
pub fn preflight_status(mut response: Response) -> Response {
    if response.headers().contains_key(header::ACCESS_CONTROL_ALLOW_METHODS) {
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
            assert!(matches!(read(good), Ok(Origins::These(_))), "{good}");
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
