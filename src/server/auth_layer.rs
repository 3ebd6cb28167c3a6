//! Who calls: by key where keys are asked for, else by address.

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
    call::Call,
    client_ip::{self, Peer},
    problem::{Kind, Problem},
    rate_limit::Caller,
    state::AppState,
    worker_pool::asker::Asker,
};

/// Finds out who calls a calculation, and puts the [`Caller`] where the layers within find it. Health, documents and
/// explanations are open to all. No layer of tower-http finds a caller by a hashed key or by the address behind proxies.
#[derive(Clone)]
pub struct AuthLayer(Arc<AppState>);

impl AuthLayer {
    /// By the keys and the trusted proxies of a service.
    pub fn new(state: &Arc<AppState>) -> Self {
        Self(Arc::clone(state))
    }
}

impl<S> Layer<S> for AuthLayer {
    type Service = Auth<S>;

    fn layer(&self, inner: S) -> Auth<S> {
        Auth { inner, state: Arc::clone(&self.0) }
    }
}

/// The service of [`AuthLayer`].
#[derive(Clone)]
pub struct Auth<S> {
    inner: S,
    state: Arc<AppState>,
}

/// The request of a caller whose key is missing or unknown.
#[derive(Clone)]
struct WithoutKey;

impl<S> Service<Request> for Auth<S>
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
        let keys = self.state.config.gate.borrow().clone();
        let holder = keys.as_ref().and_then(|keys| keys.admit(request.headers()));
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
            // Only what is posted can be slow.
            request.extensions_mut().insert(Asker { caller, connection: peer.connection });
        }
        let Some(holder) = holder else {
            if keys.is_some() {
                request.extensions_mut().insert(WithoutKey);
            }
            return Either::Left(self.inner.call(request));
        };
        if let Some(call) = request.extensions().get::<Arc<Call>>() {
            let _ = call.key.set(Arc::clone(&holder.name));
        }
        let answer = self.inner.call(request);
        Either::Right(Box::pin(async move {
            let mut response = answer.await?;
            if let Some(control) = response.headers_mut().get_mut(header::CACHE_CONTROL)
                && control == caching::BY_ALL
            {
                // A cache for all would answer those who have no key.
                *control = HeaderValue::from_static(caching::BY_ONE);
            }
            Ok(response)
        }))
    }
}

/// Refuses a request without a known key, where keys are asked for.
#[expect(clippy::result_large_err, reason = "the shape that tower-http's ValidateRequest wants")]
pub fn require_key(request: &mut Request) -> Result<(), Response> {
    if request.extensions().get::<WithoutKey>().is_none() {
        return Ok(());
    }
    let detail = "Send a key that is taken: Authorization: Bearer KEY.";
    Err(Problem::new(Kind::Unauthorized, detail).into_response())
}
