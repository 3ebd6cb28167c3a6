//! Identifies the caller of a calculation: by key if one is sent, else by address.

use std::{
    convert::Infallible,
    sync::Arc,
    task::{Context, Poll},
};

use axum::{
    extract::Request,
    http::{HeaderValue, Method, header},
    response::{IntoResponse, Response},
};
use futures_util::future::{BoxFuture, Either};
use tower::{Layer, Service};

use crate::server::{
    caching,
    client_ip::{self, Peer},
    metrics_layer::RequestSpan,
    problem::{Kind, Problem},
    rate_limit::Caller,
    state::AppState,
    worker_pool::caller_info::CallerInfo,
};

/// Puts the [`Caller`] into the extensions of every request to a calculation, for the layers inside. Health checks,
/// documents and problem explanations need no key. tower-http has no layer that checks hashed keys or finds the client
/// behind proxies.
#[derive(Clone)]
pub struct AuthLayer(Arc<AppState>);

impl AuthLayer {
    /// Uses the keys and the trusted proxies of the configuration.
    pub fn new(state: &Arc<AppState>) -> Self {
        Self(Arc::clone(state))
    }
}

impl<S> Layer<S> for AuthLayer {
    type Service = AuthService<S>;

    fn layer(&self, inner: S) -> AuthService<S> {
        AuthService { inner, state: Arc::clone(&self.0) }
    }
}

/// The service of [`AuthLayer`].
#[derive(Clone)]
pub struct AuthService<S> {
    inner: S,
    state: Arc<AppState>,
}

/// Marks a request whose key is missing or unknown.
#[derive(Clone)]
struct MissingKey;

impl<S> Service<Request> for AuthService<S>
where
    S: Service<Request, Response = Response, Error = Infallible>,
    S::Future: Send + 'static,
{
    type Response = Response;
    type Error = Infallible;
    type Future = Either<S::Future, BoxFuture<'static, Result<Response, Infallible>>>;

    fn poll_ready(&mut self, context: &mut Context<'_>) -> Poll<Result<(), Infallible>> {
        self.inner.poll_ready(context)
    }

    fn call(&mut self, mut request: Request) -> Self::Future {
        if !request.uri().path().starts_with("/v1/") {
            return Either::Left(self.inner.call(request));
        }
        let keys = self.state.config.keys.borrow().clone();
        let holder = keys.as_ref().and_then(|keys| keys.authenticate(request.headers()));
        let peer = request.extensions().get::<Peer>().cloned().unwrap_or_default();
        let caller = match holder {
            Some(holder) => Caller::Key(holder.number),
            None => {
                let proxies = &self.state.config.proxies;
                Caller::Address(client_ip::network(proxies.client(peer.address, request.headers())))
            }
        };
        request.extensions_mut().insert(caller);
        if request.method() == Method::POST {
            // Only POST requests can be slow.
            request.extensions_mut().insert(CallerInfo { caller, connection: peer.connection });
        }
        let Some(holder) = holder else {
            if keys.is_some() {
                request.extensions_mut().insert(MissingKey);
            }
            return Either::Left(self.inner.call(request));
        };
        if let Some(span) = request.extensions().get::<Arc<RequestSpan>>() {
            let _ = span.key.set(Arc::clone(&holder.name));
        }
        let response = self.inner.call(request);
        Either::Right(Box::pin(async move {
            let mut response = response.await?;
            if let Some(control) = response.headers_mut().get_mut(header::CACHE_CONTROL)
                && control == caching::PUBLIC
            {
                // A shared cache would answer clients that have no key.
                *control = HeaderValue::from_static(caching::PRIVATE);
            }
            Ok(response)
        }))
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
