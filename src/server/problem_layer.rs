//! Every error as a problem document: those of our own, and the bare ones of the framework and of layers.

use std::time::Duration;

use axum::{
    http::{HeaderValue, StatusCode},
    response::Response,
};

use super::{
    problem::{Kind, Problem},
    request_id::ID,
};

/// Writes an error as its document; any other answer passes. The id of the request is in the answer's head by then.
pub fn document(time_limit: Duration) -> impl Fn(Response) -> Response + Clone + Send + Sync + 'static {
    move |mut response| {
        let status = response.status();
        if !status.is_client_error() && !status.is_server_error() {
            return response;
        }
        let problem = response.extensions_mut().remove::<Problem>().unwrap_or_else(|| {
            if status == StatusCode::REQUEST_TIMEOUT {
                Problem::new(Kind::Timeout, format!("No answer within {} s.", time_limit.as_secs_f64()))
            } else {
                Problem::of_bare(status)
            }
        });
        let headers = std::mem::take(response.headers_mut());
        let id = headers.get(ID).cloned().unwrap_or_else(|| HeaderValue::from_static("none"));
        problem.written(headers, &id)
    }
}
