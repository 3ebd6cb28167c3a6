//! Announces what will be retired: `Deprecation` (RFC 9745) and `Sunset` (RFC 8594), with a `Link` to what to do instead.

use axum::{
    extract::Request,
    http::{HeaderName, HeaderValue, header},
    response::Response,
};

use super::around::Around;

/// A path that will be retired.
#[derive(Debug, Clone, Copy)]
pub struct Retirement {
    /// The path; those below it are meant too.
    pub path: &'static str,
    /// Since when it is deprecated: `@` and seconds since 1970.
    pub deprecation: &'static str,
    /// When it may stop answering, as HTTP writes dates.
    pub sunset: &'static str,
    /// The page that says what to do instead.
    pub link: &'static str,
}

/// All that will be retired: nothing.
pub const RETIREMENTS: &[Retirement] = &[];

/// Announces the retirement of a path in each of its responses.
#[derive(Clone)]
pub struct AnnounceRetirement(pub &'static [Retirement]);

impl Around for AnnounceRetirement {
    type State = Option<&'static Retirement>;

    fn before(&self, request: &mut Request) -> Result<Self::State, Response> {
        let path = request.uri().path();
        let is_meant = |retirement: &&Retirement| {
            path.strip_prefix(retirement.path).is_some_and(|rest| rest.is_empty() || rest.starts_with('/'))
        };
        Ok(self.0.iter().find(is_meant))
    }

    fn after(retirement: Self::State, response: &mut Response) {
        let Some(Retirement { deprecation, sunset, link, .. }) = retirement else { return };
        let headers = response.headers_mut();
        headers.insert(HeaderName::from_static("deprecation"), HeaderValue::from_static(deprecation));
        headers.insert(HeaderName::from_static("sunset"), HeaderValue::from_static(sunset));
        for relation in ["deprecation", "sunset"] {
            if let Ok(value) = HeaderValue::try_from(format!("<{link}>; rel=\"{relation}\"")) {
                headers.append(header::LINK, value);
            }
        }
    }
}
