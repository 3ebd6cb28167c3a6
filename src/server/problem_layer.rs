//! Turns every error response into a problem document: our own problems, and the empty error responses of axum and
//! tower-http. A browser that navigates gets it as a page.

use axum::{extract::Request, http::HeaderMap, response::Response};

use super::{
    around::Around,
    negotiation,
    problem::{MEDIA, Problem, ProblemPage},
    request_id,
};

/// Replaces a 4xx or 5xx by its problem document; other responses pass. Needs the request id in the response headers.
#[derive(Debug, Clone)]
pub struct WriteProblems(pub ProblemPage);

impl Around for WriteProblems {
    type State = Option<ProblemPage>;

    fn before(&self, request: &mut Request) -> Result<Self::State, Response> {
        Ok(prefers_page(request.headers()).then_some(self.0))
    }

    fn after(page: Self::State, response: &mut Response) {
        let status = response.status();
        if !status.is_client_error() && !status.is_server_error() {
            return;
        }
        let problem =
            response.extensions_mut().remove::<Problem>().unwrap_or_else(|| Problem::from_status(status));
        let headers = std::mem::take(response.headers_mut());
        let id = request_id::of(&headers);
        *response = problem.to_response(headers, &id, page);
    }
}

/// Whether `Accept` prefers HTML, as that of a browser does that navigates. Programs take anything, or JSON.
fn prefers_page(headers: &HeaderMap) -> bool {
    let offered = [(MEDIA, false), (negotiation::JSON, false), (negotiation::HTML, true)];
    headers.contains_key(axum::http::header::ACCEPT)
        && negotiation::choose(headers, offered).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use axum::http::{HeaderValue, header};

    use super::*;

    #[test]
    fn browsers_that_navigate_prefer_a_page() {
        let prefers = |accept: &'static str| {
            prefers_page(&HeaderMap::from_iter([(header::ACCEPT, HeaderValue::from_static(accept))]))
        };
        for accept in ["text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8", "text/html"] {
            assert!(prefers(accept), "{accept}");
        }
        for accept in
            ["*/*", "application/json", "text/html;q=0.5, application/json", "text/plain, */*;q=0.1"]
        {
            assert!(!prefers(accept), "{accept}");
        }
        assert!(!prefers_page(&HeaderMap::new()));
    }
}
