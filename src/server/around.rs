//! A layer that acts on a request before the services inside it, and on the response after them.
//!
//! `axum::middleware::from_fn` does the same with a boxed future for each layer and request; this one boxes nothing.

use std::{
    convert::Infallible,
    future::Future,
    pin::Pin,
    task::{Context, Poll, ready},
};

use axum::{extract::Request, response::Response};
use pin_project_lite::pin_project;
use tower::{Layer, Service};

/// What a layer does before and after a request.
pub trait Around: Clone {
    /// What it remembers of the request. Dropped without [`Around::after`] if the client disconnects.
    type State;

    /// Acts on the request. An error is the response, and the services inside do not see the request.
    #[expect(clippy::result_large_err, reason = "a response, made once")]
    fn before(&self, request: &mut Request) -> Result<Self::State, Response>;

    /// Acts on the response.
    fn after(state: Self::State, response: &mut Response);
}

/// The layer.
#[derive(Debug, Clone)]
pub struct AroundLayer<A>(pub A);

impl<S, A: Around> Layer<S> for AroundLayer<A> {
    type Service = AroundService<S, A>;

    fn layer(&self, inner: S) -> AroundService<S, A> {
        AroundService { inner, around: self.0.clone() }
    }
}

/// The service of [`AroundLayer`].
#[derive(Debug, Clone)]
pub struct AroundService<S, A> {
    inner: S,
    around: A,
}

impl<S, A> Service<Request> for AroundService<S, A>
where
    S: Service<Request, Response = Response, Error = Infallible>,
    A: Around,
{
    type Response = Response;
    type Error = Infallible;
    type Future = AroundFuture<S::Future, A::State>;

    fn poll_ready(&mut self, context: &mut Context<'_>) -> Poll<Result<(), Infallible>> {
        self.inner.poll_ready(context)
    }

    fn call(&mut self, mut request: Request) -> Self::Future {
        match self.around.before(&mut request) {
            Ok(state) => {
                AroundFuture::Inner { future: self.inner.call(request), state: Some(state), after: A::after }
            }
            Err(response) => AroundFuture::Refused { response: Some(response) },
        }
    }
}

pin_project! {
    /// The future of [`AroundService`].
    #[project = Projected]
    pub enum AroundFuture<F, T> {
        /// The services inside answer.
        Inner { #[pin] future: F, state: Option<T>, after: fn(T, &mut Response) },
        /// The layer has answered.
        Refused { response: Option<Response> },
    }
}

impl<F, T> Future for AroundFuture<F, T>
where
    F: Future<Output = Result<Response, Infallible>>,
{
    type Output = Result<Response, Infallible>;

    fn poll(self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<Self::Output> {
        let response = match self.project() {
            Projected::Inner { future, state, after } => {
                let Ok(mut response) = ready!(future.poll(context));
                if let Some(state) = state.take() {
                    after(state, &mut response);
                }
                response
            }
            // A future is not polled again after it is ready.
            Projected::Refused { response } => response.take().unwrap_or_default(),
        };
        Poll::Ready(Ok(response))
    }
}
