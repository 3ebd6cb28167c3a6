//! Turns every error response into a problem document: our own problems, and the empty error responses of axum and
//! tower-http.

use axum::response::Response;

use super::{problem::Problem, request_id};

/// Replaces a 4xx or 5xx by its problem document; other responses pass. Needs the request id in the response headers.
pub fn to_problem(mut response: Response) -> Response {
    let status = response.status();
    if !status.is_client_error() && !status.is_server_error() {
        return response;
    }
    let problem =
        response.extensions_mut().remove::<Problem>().unwrap_or_else(|| Problem::from_status(status));
    let headers = std::mem::take(response.headers_mut());
    let id = request_id::of(&headers);
    problem.to_response(headers, &id)
}
