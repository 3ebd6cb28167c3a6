//! Which pages of other origins may read responses (CORS, by the Fetch standard). Without CORS, such a page can send
//! some requests but cannot read the responses.

use std::sync::Arc;

use axum::{
    extract::Request,
    http::{HeaderMap, HeaderName, HeaderValue, Method, StatusCode, header},
    response::{IntoResponse, Response},
};

use super::around::{Around, AroundLayer};

/// Response headers that pages may read, beside those that are always readable.
const EXPOSED_HEADERS: HeaderValue = HeaderValue::from_static(
    "deprecation,etag,link,ratelimit,ratelimit-policy,retry-after,sunset,x-request-id",
);
/// What pages may send, beside the headers that are always allowed, and for how many seconds a browser may reuse the
/// answer.
const PREFLIGHT: [(HeaderName, &str); 3] = [
    (header::ACCESS_CONTROL_ALLOW_METHODS, "GET,HEAD,POST"),
    (
        header::ACCESS_CONTROL_ALLOW_HEADERS,
        "authorization,content-type,if-none-match,traceparent,x-request-id",
    ),
    (header::ACCESS_CONTROL_MAX_AGE, "7200"),
];

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

    /// The layer that answers preflights and sets the CORS headers of other responses.
    pub fn layer(&self) -> AroundLayer<Cors> {
        AroundLayer(Cors(self.clone().into()))
    }

    /// The value of `Access-Control-Allow-Origin`, if the page may read the response.
    fn allowed(&self, headers: &HeaderMap) -> Option<HeaderValue> {
        match self {
            Self::None => None,
            // The same for every origin and without Vary, so a cache may give the response to any page (Fetch, "CORS
            // protocol and HTTP caches").
            Self::Any => Some(HeaderValue::from_static("*")),
            Self::List(origins) => {
                let origin = headers.get(header::ORIGIN)?;
                origins.iter().find(|known| *known == origin).cloned()
            }
        }
    }
}

/// Sets the CORS headers. tower-http's `CorsLayer` builds a map of them for each request, which costs a twelfth of a
/// light call.
#[derive(Debug, Clone)]
pub struct Cors(Arc<Origins>);

/// Which pages may read the response to a request.
pub struct Access {
    origin: Option<HeaderValue>,
    /// Whether it depends on the origin, so that caches must keep responses by origin.
    varies: bool,
}

impl Access {
    fn write(self, headers: &mut HeaderMap) {
        if self.varies {
            headers.append(header::VARY, HeaderValue::from_static("origin"));
        }
        if let Some(origin) = self.origin {
            headers.insert(header::ACCESS_CONTROL_ALLOW_ORIGIN, origin);
        }
    }
}

impl Around for Cors {
    type State = Access;

    /// Answers every `OPTIONS`, also one that is not a preflight.
    fn before(&self, request: &mut Request) -> Result<Access, Response> {
        let origins = &*self.0;
        let access = Access {
            origin: origins.allowed(request.headers()),
            varies: matches!(origins, Origins::List(_)),
        };
        if *request.method() != Method::OPTIONS {
            return Ok(access);
        }
        let mut response = (StatusCode::NO_CONTENT, PREFLIGHT).into_response();
        access.write(response.headers_mut());
        Err(response)
    }

    fn after(access: Access, response: &mut Response) {
        access.write(response.headers_mut());
        response.headers_mut().insert(header::ACCESS_CONTROL_EXPOSE_HEADERS, EXPOSED_HEADERS);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::server::{rate_limit, request_id};

    #[test]
    fn headers_of_our_own_are_listed_by_their_names() {
        let lists = |list: &str, name: &HeaderName| list.split(',').any(|listed| listed == name);
        for name in [rate_limit::LIMIT, rate_limit::POLICY, request_id::ID] {
            assert!(EXPOSED_HEADERS.to_str().is_ok_and(|list| lists(list, &name)), "{name}");
        }
        assert!(lists(PREFLIGHT[1].1, &request_id::ID));
    }

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
