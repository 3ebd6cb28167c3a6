//! What every request passes: an id, a time limit, and the one place where errors are written out.

use std::{
    hash::{BuildHasher, RandomState},
    sync::{
        Arc, LazyLock,
        atomic::{AtomicU32, Ordering},
    },
};

use axum::{
    extract::{Request, State},
    http::{HeaderMap, HeaderValue, header},
    middleware::Next,
    response::Response,
};

use super::{
    problem::{Kind, Problem},
    serve::Running,
};

const ID_HEADER: &str = "x-request-id";

/// The id of a request, for those that write problems themselves.
#[derive(Clone)]
pub struct RequestId(pub Arc<str>);

/// The layer, with what holds while the service runs.
pub async fn around(State(running): State<Running>, mut request: Request, next: Next) -> Response {
    let id: Arc<str> = request_id(&request).into();
    let limit = running.limits.time_limit;
    request.extensions_mut().insert(RequestId(Arc::clone(&id)));
    // Calculations only: health, documents and explanations are open.
    let is_open = !request.uri().path().starts_with("/v1/")
        || running.gate.borrow().as_ref().is_none_or(|keys| keys.admit(request.headers()));
    request.extensions_mut().insert(running);
    let refused = |kind, detail: String| Problem::new(kind, detail).written(HeaderMap::new(), &id);
    let mut response = if is_open {
        match tokio::time::timeout(limit, next.run(request)).await {
            Ok(response) => finish(response, &id),
            Err(_) => refused(Kind::Timeout, format!("No answer within {} s.", limit.as_secs_f64())),
        }
    } else {
        refused(Kind::Unauthorized, "Send a key that is taken: Authorization: Bearer KEY.".to_owned())
    };
    if let Ok(value) = HeaderValue::from_str(&id) {
        response.headers_mut().insert(ID_HEADER, value);
    }
    let nosniff = HeaderValue::from_static("nosniff");
    response.headers_mut().insert(header::X_CONTENT_TYPE_OPTIONS, nosniff);
    response
}

/// Writes out our own problems, and turns the framework's bare errors into problems.
fn finish(mut response: Response, id: &str) -> Response {
    let status = response.status();
    if !status.is_client_error() && !status.is_server_error() {
        return response;
    }
    let own = response.extensions_mut().remove::<Problem>();
    let problem = own.unwrap_or_else(|| Problem::of_bare(status));
    problem.written(std::mem::take(response.headers_mut()), id)
}

/// The caller's id if it is well-formed (1 to 64 of letters, digits, `.`, `_`, `-`), or a new one.
fn request_id(request: &Request) -> String {
    static PROCESS: LazyLock<u64> = LazyLock::new(|| RandomState::new().hash_one(std::process::id()));
    static COUNT: AtomicU32 = AtomicU32::new(1);
    let given = request.headers().get(ID_HEADER).and_then(|value| value.to_str().ok());
    let well_formed = |id: &&str| {
        (1..=64).contains(&id.len()) && id.bytes().all(|b| b.is_ascii_alphanumeric() || b"._-".contains(&b))
    };
    given.filter(well_formed).map_or_else(
        || format!("{:016x}-{:08x}", *PROCESS, COUNT.fetch_add(1, Ordering::Relaxed)),
        str::to_owned,
    )
}
