//! Which pages of other origins may read answers (CORS, by the Fetch standard). A page of another origin can always
//! send; without this it cannot read.

use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, StatusCode, header};
use axum::response::{IntoResponse, Response};

/// What a page may send beside what every page may.
const ALLOWED_HEADERS: &str = "authorization, content-type, if-none-match, traceparent, x-request-id";
/// What a page may read beside what every page may.
const EXPOSED_HEADERS: &str = "etag, ratelimit, ratelimit-policy, retry-after, x-request-id";
/// Seconds for which a browser need not ask again.
const ASKED_FOR_S: &str = "7200";

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

    /// What to say to the page that asks; none where it may not read, or where no page asks.
    pub fn allowed(&self, headers: &HeaderMap) -> Option<HeaderValue> {
        match self {
            Self::None => None,
            // Whoever asks: a cache may give the answer to a page later (Fetch, "CORS protocol and HTTP caches").
            Self::Any => Some(HeaderValue::from_static("*")),
            Self::These(these) => {
                let asking = headers.get(header::ORIGIN)?;
                these.iter().find(|origin| *origin == asking).cloned()
            }
        }
    }

    /// Tells it in an answer's head. Where origins are told apart, a cache must do so as well, whoever asks.
    pub fn tell(&self, allowed: Option<HeaderValue>, headers: &mut HeaderMap) {
        if matches!(self, Self::These(_)) {
            headers.append(header::VARY, HeaderValue::from_static("origin"));
        }
        if let Some(origin) = allowed {
            headers.insert(header::ACCESS_CONTROL_ALLOW_ORIGIN, origin);
            headers.insert(header::ACCESS_CONTROL_EXPOSE_HEADERS, HeaderValue::from_static(EXPOSED_HEADERS));
        }
    }
}

/// Whether a browser asks beforehand what a page may do.
pub fn is_preflight(method: &Method, headers: &HeaderMap) -> bool {
    *method == Method::OPTIONS && headers.contains_key(header::ACCESS_CONTROL_REQUEST_METHOD)
}

/// The answer to a browser that asks beforehand.
pub fn preflight() -> Response {
    let fields: [(HeaderName, &str); 3] = [
        (header::ACCESS_CONTROL_ALLOW_METHODS, "GET, HEAD, POST"),
        (header::ACCESS_CONTROL_ALLOW_HEADERS, ALLOWED_HEADERS),
        (header::ACCESS_CONTROL_MAX_AGE, ASKED_FOR_S),
    ];
    (StatusCode::NO_CONTENT, fields).into_response()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::app::ID_HEADER;

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
        assert!(EXPOSED_HEADERS.contains(ID_HEADER) && ALLOWED_HEADERS.contains(ID_HEADER));
    }
}
