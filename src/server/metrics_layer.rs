//! Counts and logs every request, also if the client disconnects before the response.

use std::{
    sync::{Arc, OnceLock},
    time::{Duration, Instant},
};

use axum::{
    extract::Request,
    http::{HeaderName, HeaderValue, Method},
    response::Response,
};

use super::{
    around::Around,
    metrics::{InFlightGuard, Metrics, Refusal, Route},
    request_id,
};

const TRACEPARENT: HeaderName = HeaderName::from_static("traceparent");

/// The status counted and logged if the client disconnects before the response. Not an HTTP status, so never sent.
const CLIENT_CLOSED: u16 = 499;

/// What is counted and logged about a request. Nothing that the client wrote, except ids of a fixed form.
pub struct RequestSpan {
    metrics: Arc<Metrics>,
    started: Instant,
    route: Route,
    method: &'static str,
    id: HeaderValue,
    traceparent: Option<HeaderValue>,
    /// The name of the caller's key, set by the auth layer.
    pub key: OnceLock<Arc<str>>,
}

impl RequestSpan {
    fn new(metrics: &Arc<Metrics>, request: &Request) -> Self {
        let headers = request.headers();
        Self {
            metrics: Arc::clone(metrics),
            started: Instant::now(),
            route: metrics.route(request.uri().path()),
            method: known_method(request.method()),
            id: request_id::of(headers),
            traceparent: headers.get(TRACEPARENT).filter(|value| is_traceparent(value.as_bytes())).cloned(),
            key: OnceLock::new(),
        }
    }

    fn count(&self, status: u16, took: Duration) {
        self.metrics.count_response(self.route, status, took);
        if let Some(name) = self.key.get() {
            self.metrics.count_key_call(name, status);
        }
        match status {
            503 => self.metrics.count_refusal(Refusal::Busy),
            429 => self.metrics.count_refusal(Refusal::Rate),
            401 => self.metrics.count_refusal(Refusal::Key),
            _ => {}
        }
    }

    /// Logs at debug, or at error if the status is 500.
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

/// A request in flight. It is counted and logged when this is dropped.
pub struct InFlight {
    span: Arc<RequestSpan>,
    /// `None` until the response; if there is none, the client has disconnected.
    status: Option<u16>,
    _gauge: InFlightGuard,
}

impl Drop for InFlight {
    fn drop(&mut self) {
        let (status, took) = (self.status.unwrap_or(CLIENT_CLOSED), self.span.started.elapsed());
        self.span.count(status, took);
        self.span.log(status, took);
    }
}

/// Counts and logs every request, and puts its [`RequestSpan`] into its extensions for the layers inside. tower-http has
/// no metrics, and its `TraceLayer` does not log a request whose client disconnects.
#[derive(Clone)]
pub struct CountRequests(pub Arc<Metrics>);

impl Around for CountRequests {
    type State = InFlight;

    fn before(&self, request: &mut Request) -> Result<InFlight, Response> {
        let span = Arc::new(RequestSpan::new(&self.0, request));
        request.extensions_mut().insert(Arc::clone(&span));
        Ok(InFlight { span, status: None, _gauge: self.0.request_in_flight() })
    }

    fn after(mut in_flight: InFlight, response: &mut Response) {
        in_flight.status = Some(response.status().as_u16());
    }
}

/// The name of a common method, else `other`: a client may send any word.
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

/// Whether this is a `traceparent` of W3C Trace Context, version 00: `00-`, 32 hexadecimal digits, `-`, 16, `-`, 2, and
/// neither id is all zeros.
fn is_traceparent(value: &[u8]) -> bool {
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
    fn only_a_well_formed_traceparent_is_logged() {
        // Published: W3C Trace Context, the examples of traceparent.
        assert!(is_traceparent(b"00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01"));
        assert!(is_traceparent(b"00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-00"));
        for wrong in [
            "",
            "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-0",
            "00-4BF92F3577B34DA6A3CE929D0E0E4736-00f067aa0ba902b7-01",
            "00-00000000000000000000000000000000-00f067aa0ba902b7-01",
            "00-4bf92f3577b34da6a3ce929d0e0e4736-0000000000000000-01",
            "ff-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01",
            "00-4bf92f3577b34da6a3ce929d0e0e4736+00f067aa0ba902b7-01",
        ] {
            assert!(!is_traceparent(wrong.as_bytes()), "{wrong}");
        }
    }
}
