//! Identifies the caller of a calculation: by key if one is sent, else by address.

use std::sync::Arc;

use axum::{
    extract::Request,
    http::{HeaderValue, header},
    response::{IntoResponse, Response},
};

use crate::server::{
    around::Around,
    caching, client_ip,
    metrics_layer::RequestSpan,
    problem::{Kind, Problem},
    rate_limit::Caller,
    state::AppState,
    worker_pool::caller_info::CallerInfo,
};

/// Replaces the peer by the caller in the [`CallerInfo`] of every request to a calculation, for the layers inside, and
/// removes it from all others: health checks, documents and problem explanations need no key and are not counted.
/// tower-http has no layer that checks hashed keys or finds the client behind proxies.
#[derive(Clone)]
pub struct IdentifyCaller(pub Arc<AppState>);

/// Marks a request whose key is missing or unknown.
#[derive(Clone)]
struct MissingKey;

impl Around for IdentifyCaller {
    /// Whether the request has a valid key.
    type State = bool;

    fn before(&self, request: &mut Request) -> Result<bool, Response> {
        if !request.uri().path().starts_with("/v1/") {
            request.extensions_mut().remove::<CallerInfo>();
            return Ok(false);
        }
        let peer = request.extensions_mut().get_or_insert_default::<CallerInfo>().caller;
        let config = &self.0.config;
        let keys = config.keys.borrow();
        let holder = keys.as_ref().and_then(|keys| keys.authenticate(request.headers()));
        let caller = match (holder, peer) {
            (Some(holder), _) => Caller::Key(holder.number),
            (None, Caller::Address(peer)) => {
                Caller::Address(client_ip::network(config.proxies.client(peer, request.headers())))
            }
            (None, peer) => peer,
        };
        request.extensions_mut().get_or_insert_default::<CallerInfo>().caller = caller;
        if holder.is_none() && keys.is_some() {
            request.extensions_mut().insert(MissingKey);
        }
        if let (Some(holder), Some(span)) = (holder, request.extensions().get::<Arc<RequestSpan>>()) {
            let _ = span.key.set(Arc::clone(&holder.name));
        }
        Ok(holder.is_some())
    }

    fn after(has_key: bool, response: &mut Response) {
        if has_key
            && let Some(control) = response.headers_mut().get_mut(header::CACHE_CONTROL)
            && control == caching::PUBLIC
        {
            // A shared cache would answer clients that have no key.
            *control = HeaderValue::from_static(caching::PRIVATE);
        }
    }
}

/// Answers 401 if the service has keys and the request sent none of them.
#[expect(clippy::result_large_err, reason = "the signature that tower-http's ValidateRequest requires")]
pub fn require_key(request: &mut Request) -> Result<(), Response> {
    if request.extensions().get::<MissingKey>().is_none() {
        return Ok(());
    }
    let detail = "Send a key that is taken: Authorization: Bearer KEY.";
    Err(Problem::new(Kind::Unauthorized, detail).into_response())
}
