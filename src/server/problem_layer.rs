//! Turns every error response into a problem document: our own problems, and the empty error responses of axum and
//! tower-http.

use std::time::Duration;

use axum::{http::StatusCode, response::Response};

use super::{
    problem::{Kind, Problem},
    request_id,
};

/// Replaces a 4xx or 5xx by its problem document; other responses pass. Needs the request id in the response headers.
pub fn to_problem(time_limit: Duration) -> impl Fn(Response) -> Response + Clone + Send + Sync + 'static {
    move |mut response| {
        let status = response.status();
        if !status.is_client_error() && !status.is_server_error() {
            return response;
        }
        let problem = response.extensions_mut().remove::<Problem>().unwrap_or_else(|| {
            if status == StatusCode::REQUEST_TIMEOUT {
                Problem::new(Kind::Timeout, format!("No answer within {} s.", time_limit.as_secs_f64()))
            } else {
                Problem::from_status(status)
            }
        });
        let headers = std::mem::take(response.headers_mut());
        let id = request_id::of(&headers);
        problem.to_response(headers, &id)
    }
}
