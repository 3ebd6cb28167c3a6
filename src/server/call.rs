//! One call, from its head to its answer: counted and logged, also where its client leaves before it is answered.

use std::{
    convert::Infallible,
    sync::{Arc, OnceLock},
    task::{Context, Poll},
    time::{Duration, Instant},
};

use axum::{
    extract::Request,
    http::{HeaderName, HeaderValue, Method},
    response::Response,
};
use futures_util::future::BoxFuture;
use tower::{Layer, Service};
use tower_http::trace::OnResponse;
use tracing::Span;

use super::{
    metrics::{InFlightGuard, Metrics, Refusal, Route},
    request_id::ID,
};

const TRACEPARENT: HeaderName = HeaderName::from_static("traceparent");

/// The status counted and logged when the client left before the answer. Not a status of HTTP, so never sent.
const CLIENT_CLOSED: u16 = 499;

/// What is known of a call. Nothing that its caller wrote, except ids of a fixed form.
pub struct Call {
    metrics: Arc<Metrics>,
    begun: Instant,
    route: Route,
    method: &'static str,
    id: HeaderValue,
    traceparent: Option<HeaderValue>,
    /// The name of the caller's key; set by the layer that checks keys.
    pub key: OnceLock<Arc<str>>,
}

impl Call {
    fn new(metrics: &Arc<Metrics>, request: &Request) -> Self {
        let headers = request.headers();
        Self {
            metrics: Arc::clone(metrics),
            begun: Instant::now(),
            route: metrics.route(request.uri().path()),
            method: known_method(request.method()),
            id: headers.get(ID).cloned().unwrap_or_else(|| HeaderValue::from_static("none")),
            traceparent: headers.get(TRACEPARENT).filter(|value| is_trace(value.as_bytes())).cloned(),
            key: OnceLock::new(),
        }
    }

    fn count(&self, status: u16) {
        self.metrics.answered(self.route, status, self.begun.elapsed());
        if let Some(name) = self.key.get() {
            self.metrics.called(name, status);
        }
        match status {
            503 => self.metrics.refused_one(Refusal::Busy),
            429 => self.metrics.refused_one(Refusal::Rate),
            401 => self.metrics.refused_one(Refusal::Key),
            _ => {}
        }
    }

    fn log(&self, status: u16, took: Duration) {
        macro_rules! log {
            ($level:ident) => {
                tracing::$level!(
                    request_id = text(&self.id),
                    method = self.method,
                    route = self.metrics.template(self.route),
                    status,
                    ms = (took.as_secs_f64() * 1e6).round() / 1e3,
                    key = self.key.get().map(AsRef::as_ref),
                    traceparent = self.traceparent.as_ref().map(text),
                    "answered"
                )
            };
        }
        if status == 500 { log!(error) } else { log!(debug) }
    }
}

/// A call in flight. Dropped before it has ended, its client has left.
struct InFlight {
    call: Arc<Call>,
    has_ended: bool,
    _counted: InFlightGuard,
}

impl Drop for InFlight {
    fn drop(&mut self) {
        if !self.has_ended {
            self.call.count(CLIENT_CLOSED);
            self.call.log(CLIENT_CLOSED, self.call.begun.elapsed());
        }
    }
}

/// Counts every call, and puts its [`Call`] where the layers within find it. tower-http has no counts, and its trace
/// says nothing of a request that is dropped.
#[derive(Clone)]
pub struct CallLayer(pub Arc<Metrics>);

impl<S> Layer<S> for CallLayer {
    type Service = Calls<S>;

    fn layer(&self, inner: S) -> Calls<S> {
        Calls { inner, metrics: Arc::clone(&self.0) }
    }
}

/// The service of [`CallLayer`].
#[derive(Clone)]
pub struct Calls<S> {
    inner: S,
    metrics: Arc<Metrics>,
}

impl<S> Service<Request> for Calls<S>
where
    S: Service<Request, Response = Response, Error = Infallible>,
    S::Future: Send + 'static,
{
    type Response = Response;
    type Error = Infallible;
    type Future = BoxFuture<'static, Result<Response, Infallible>>;

    fn poll_ready(&mut self, context: &mut Context<'_>) -> Poll<Result<(), Infallible>> {
        self.inner.poll_ready(context)
    }

    fn call(&mut self, mut request: Request) -> Self::Future {
        let call = Arc::new(Call::new(&self.metrics, &request));
        let mut in_flight =
            InFlight { call: Arc::clone(&call), has_ended: false, _counted: self.metrics.request() };
        request.extensions_mut().insert(call);
        let answer = self.inner.call(request);
        Box::pin(async move {
            let mut response = answer.await?;
            in_flight.has_ended = true;
            in_flight.call.count(response.status().as_u16());
            response.extensions_mut().insert(Arc::clone(&in_flight.call));
            Ok(response)
        })
    }
}

/// Logs every answer: at debug, and at error where the service failed.
#[derive(Debug, Clone, Copy)]
pub struct LogAnswer;

impl<B> OnResponse<B> for LogAnswer {
    fn on_response(self, response: &axum::http::Response<B>, took: Duration, _: &Span) {
        if let Some(call) = response.extensions().get::<Arc<Call>>() {
            call.log(response.status().as_u16(), took);
        }
    }
}

/// A method by its name, where it is one of HTTP's; a caller may send any word.
fn known_method(method: &Method) -> &'static str {
    const KNOWN: [(Method, &str); 5] = [
        (Method::GET, "GET"),
        (Method::POST, "POST"),
        (Method::HEAD, "HEAD"),
        (Method::OPTIONS, "OPTIONS"),
        (Method::PUT, "PUT"),
    ];
    KNOWN.iter().find(|(known, _)| known == method).map_or("other", |(_, name)| name)
}

fn text(value: &HeaderValue) -> &str {
    value.to_str().unwrap_or_default()
}

/// Whether this is the `traceparent` of W3C Trace Context, version 00: `00-`, 32 digits, `-`, 16, `-`, 2; neither id
/// all zeros.
fn is_trace(value: &[u8]) -> bool {
    let is_hex = |part: &[u8]| part.iter().all(|byte| matches!(byte, b'0'..=b'9' | b'a'..=b'f'));
    let is_id = |part: &[u8]| is_hex(part) && part.iter().any(|byte| *byte != b'0');
    match value {
        [b'0', b'0', b'-', rest @ ..] if rest.len() == 52 => {
            let (trace, span, flags) = (&rest[..32], &rest[33..49], &rest[50..]);
            is_id(trace) && rest[32] == b'-' && is_id(span) && rest[49] == b'-' && is_hex(flags)
        }
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_well_formed_trace_is_passed_on() {
        // Published: W3C Trace Context, the examples of traceparent.
        assert!(is_trace(b"00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01"));
        assert!(is_trace(b"00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-00"));
        for wrong in [
            "",
            "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-0",
            "00-4BF92F3577B34DA6A3CE929D0E0E4736-00f067aa0ba902b7-01",
            "00-00000000000000000000000000000000-00f067aa0ba902b7-01",
            "00-4bf92f3577b34da6a3ce929d0e0e4736-0000000000000000-01",
            "ff-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01",
            "00-4bf92f3577b34da6a3ce929d0e0e4736+00f067aa0ba902b7-01",
        ] {
            assert!(!is_trace(wrong.as_bytes()), "{wrong}");
        }
    }
}
