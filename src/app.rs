//! What every request passes, in one place: an id, who may call and how often, a time limit, panics caught, errors
//! written out as problems, and what is counted and logged. One function, since a stack of layers costs as much as
//! the calculation (`benches/load`).

use std::{
    hash::{BuildHasher, RandomState},
    net::IpAddr,
    panic::AssertUnwindSafe,
    pin::pin,
    sync::{
        Arc, LazyLock,
        atomic::{AtomicU32, Ordering},
    },
    time::Instant,
};

use axum::{
    Router,
    extract::Request,
    http::{HeaderMap, HeaderName, HeaderValue, Method, StatusCode, header},
    response::Response,
};
use futures_util::FutureExt;
use tower::ServiceExt;

use crate::{
    endpoints::batch,
    server::{
        caching, client_ip, compression,
        cors::{self, Origins},
        metrics::{Refusal, Route, Traffic, While},
        negotiation,
        problem::{Kind, Problem},
        rate_limit::{self, Caller, Standing},
        request_checks,
        state::{Running, Terms},
        worker_pool::asker::{Asker, Connection},
    },
};

/// The header of a request's id.
pub const ID_HEADER: &str = "x-request-id";
const ID: HeaderName = HeaderName::from_static(ID_HEADER);
const TRACE: HeaderName = HeaderName::from_static("traceparent");

/// What is counted and logged where the client went away before its answer; no status of HTTP, so it is never sent.
const GONE: u16 = 499;

/// The whole service.
pub struct Front {
    router: Router,
    running: Arc<Running>,
    traffic: Arc<Traffic>,
}

impl Front {
    /// A service on these terms.
    pub fn new(terms: Terms) -> Self {
        let connections = terms.limits.connections;
        let running = Arc::new(Running::new(terms));
        let (router, templates) = router(Arc::clone(&running));
        let traffic = Arc::new(Traffic::new(templates, connections, running.workers.clone()));
        Self { router, running, traffic }
    }

    /// What holds while it runs.
    pub fn running(&self) -> &Running {
        &self.running
    }

    /// What it counts.
    pub fn traffic(&self) -> &Arc<Traffic> {
        &self.traffic
    }

    /// Answers a request that came from `peer`, as if it had a connection of its own.
    pub async fn answer(&self, request: Request, peer: IpAddr) -> Response {
        self.answer_on(request, peer, &Arc::default()).await
    }

    /// Answers a request that came from `peer` on a connection.
    pub async fn answer_on(
        &self,
        mut request: Request,
        peer: IpAddr,
        connection: &Arc<Connection>,
    ) -> Response {
        let id = taken_id(request.headers()).unwrap_or_else(made_id);
        if request.uri().path() == batch::PATH {
            // Its items' problems have the id as well.
            request.headers_mut().insert(ID, id.clone());
        }
        let path = request.uri().path();
        let mut call = Call {
            front: self,
            begun: Instant::now(),
            route: self.traffic.route(path),
            _waits: self.traffic.request(),
            method: known_method(request.method()),
            id,
            trace: request.headers().get(TRACE).filter(|value| is_trace(value.as_bytes())).cloned(),
            caller: Known::default(),
            is_answered: false,
        };
        let origins = self.origins(path);
        let origin = origins.allowed(request.headers());
        let packs = compression::is_taken(request.headers());

        let mut response = if let Err(problem) = request_checks::check(&request) {
            let mut response = problem.written(HeaderMap::new(), &call.id);
            response.headers_mut().insert(header::CONNECTION, HeaderValue::from_static("close"));
            response
        } else if cors::is_preflight(request.method(), request.headers()) {
            // Where the page may not read, the answer lacks what would let it.
            cors::preflight()
        } else {
            match self.admit(&request, peer, &mut call.caller) {
                Ok(caller) => {
                    if let Some(caller) = caller.filter(|_| *request.method() == Method::POST) {
                        // Only what is posted can be slow.
                        let connection = Arc::clone(connection);
                        request.extensions_mut().insert(Asker { caller, connection });
                    }
                    if *request.method() == Method::HEAD {
                        // As a GET to the last byte of its head; the connection leaves the body out.
                        *request.method_mut() = Method::GET;
                    }
                    compression::pack(self.ask(request, &call.id).await, packs).await
                }
                Err(problem) => problem.written(HeaderMap::new(), &call.id),
            }
        };
        self.tell(&call.caller, response.headers_mut());
        origins.tell(origin, response.headers_mut());
        call.end(response)
    }

    /// A problem for a request that is not asked of any route.
    pub fn refuse<B>(&self, request: &hyper::Request<B>, problem: &Problem) -> Response {
        let id = taken_id(request.headers()).unwrap_or_else(made_id);
        let mut response = problem.written(HeaderMap::new(), &id);
        let origins = self.origins(request.uri().path());
        self.tell(&Known::default(), response.headers_mut());
        origins.tell(origins.allowed(request.headers()), response.headers_mut());
        response.headers_mut().insert(ID, id);
        response
    }

    /// Puts into an answer's head what is not the route's to say.
    fn tell(&self, caller: &Known, headers: &mut HeaderMap) {
        headers.insert(header::X_CONTENT_TYPE_OPTIONS, HeaderValue::from_static("nosniff"));
        if let (Some(rate), Some(standing)) = (&self.running.terms.rate, caller.standing) {
            rate.tell(standing, headers);
        }
        if caller.key.is_some()
            && let Some(control) = headers.get_mut(header::CACHE_CONTROL)
            && control == caching::BY_ALL
        {
            // A cache for all would answer those who have no key.
            *control = HeaderValue::from_static(caching::BY_ONE);
        }
        if *self.running.stopping.borrow() {
            // A busy client then goes elsewhere of its own accord.
            headers.insert(header::CONNECTION, HeaderValue::from_static("close"));
        }
        let is_page =
            |kind: &HeaderValue| kind == negotiation::SVG || kind.as_bytes().starts_with(b"text/html");
        if headers.get(header::CONTENT_TYPE).is_some_and(is_page) {
            guard_page(headers);
        }
    }

    /// Whose pages may read what is at this path. The document is for all: tools on other pages read it.
    fn origins(&self, path: &str) -> &Origins {
        if path == "/openapi.json" { &Origins::Any } else { &self.running.terms.origins }
    }

    /// Who asks for a calculation; a refusal where they may not. Notes what is known of the caller. Only calculations ask for keys and are counted:
    /// health, documents and explanations are open. Who has no key is counted by address, so that guessing is not
    /// free.
    fn admit(&self, request: &Request, peer: IpAddr, known: &mut Known) -> Result<Option<Caller>, Problem> {
        if !request.uri().path().starts_with("/v1/") {
            return Ok(None);
        }
        let terms = &self.running.terms;
        let keys = terms.gate.borrow().clone();
        let holder = keys.as_ref().and_then(|keys| keys.admit(request.headers()));
        known.key = holder.map(|holder| Arc::clone(&holder.name));
        let caller = match holder {
            Some(holder) => Caller::Key(holder.number),
            None => Caller::Address(client_ip::network(terms.proxies.client(peer, request.headers()))),
        };
        if let Some(rate) = &terms.rate {
            let counted = rate.count(caller);
            known.standing = Some(*counted.as_ref().unwrap_or(&Standing::NONE));
            counted.map_err(|wait| {
                let seconds = rate_limit::whole_seconds(wait).max(1);
                let detail = format!("Too many calls; the next is taken in {seconds} s.");
                Problem::new(Kind::TooMany, detail).retry_after(seconds)
            })?;
        }
        if keys.is_some() && holder.is_none() {
            let detail = "Send a key that is taken: Authorization: Bearer KEY.";
            return Err(Problem::new(Kind::Unauthorized, detail));
        }
        Ok(Some(caller))
    }

    /// The route's answer, in time, whole, and with every error a problem.
    async fn ask(&self, request: Request, id: &HeaderValue) -> Response {
        let limit = self.running.terms.limits.time_limit;
        let mut answer = pin!(AssertUnwindSafe(self.router.clone().oneshot(request)).catch_unwind());
        // Light calls are ready at once, and need no timer.
        let answered = match answer.as_mut().now_or_never() {
            Some(answered) => Ok(answered),
            None => tokio::time::timeout(limit, answer).await,
        };
        let problem = match answered {
            Ok(Ok(Ok(response))) => return finish(response, id),
            // The hook of the process has logged it.
            Ok(Err(_)) => Problem::of_bare(StatusCode::INTERNAL_SERVER_ERROR),
            Err(_) => Problem::new(Kind::Timeout, format!("No answer within {} s.", limit.as_secs_f64())),
        };
        problem.written(HeaderMap::new(), id)
    }
}

/// What is known of the caller of a calculation.
#[derive(Default)]
struct Known {
    /// What they have left, where calls are counted.
    standing: Option<Standing>,
    /// The name of their key, where keys are asked for.
    key: Option<Arc<str>>,
}

/// A call until it is answered, or its client goes away: it is counted and logged either way. Nothing that its caller
/// wrote is told but ids of a fixed form.
struct Call<'f> {
    front: &'f Front,
    begun: Instant,
    route: Route,
    _waits: While,
    method: &'static str,
    id: HeaderValue,
    trace: Option<HeaderValue>,
    caller: Known,
    is_answered: bool,
}

impl Call<'_> {
    fn end(mut self, mut response: Response) -> Response {
        self.is_answered = true;
        self.note(response.status().as_u16());
        response.headers_mut().insert(ID, self.id.clone());
        response
    }

    fn note(&self, status: u16) {
        let took = self.begun.elapsed();
        let traffic = &self.front.traffic;
        traffic.answered(self.route, status, took);
        if let Some(name) = &self.caller.key {
            traffic.called(name, status);
        }
        match status {
            503 => traffic.refused_one(Refusal::Busy),
            429 => traffic.refused_one(Refusal::Rate),
            401 => traffic.refused_one(Refusal::Key),
            _ => {}
        }
        macro_rules! log {
            ($level:ident) => {
                tracing::$level!(
                    request_id = text(&self.id),
                    method = self.method,
                    route = traffic.template(self.route),
                    status,
                    ms = (took.as_secs_f64() * 1e6).round() / 1e3,
                    key = self.caller.key.as_deref(),
                    traceparent = self.trace.as_ref().map(text),
                    "answered"
                )
            };
        }
        if status == 500 { log!(error) } else { log!(debug) }
    }
}

impl Drop for Call<'_> {
    fn drop(&mut self) {
        if !self.is_answered {
            self.note(GONE);
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

/// Writes out our own problems, and turns the framework's bare errors into problems.
fn finish(mut response: Response, id: &HeaderValue) -> Response {
    let status = response.status();
    if !status.is_client_error() && !status.is_server_error() {
        return response;
    }
    let own = response.extensions_mut().remove::<Problem>();
    let problem = own.unwrap_or_else(|| Problem::of_bare(status));
    problem.written(std::mem::take(response.headers_mut()), id)
}

/// A page loads nothing from elsewhere, sends nothing elsewhere, and stands in no frame. Scripts and styles come out of
/// files; Swagger UI has pictures in its styles.
fn guard_page(headers: &mut HeaderMap) {
    const FIELDS: [(HeaderName, &str); 4] = [
        (
            header::CONTENT_SECURITY_POLICY,
            "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; \
             base-uri 'none'; form-action 'self'; frame-ancestors 'none'",
        ),
        (header::X_FRAME_OPTIONS, "DENY"),
        (header::REFERRER_POLICY, "no-referrer"),
        (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
    ];
    for (name, value) in FIELDS {
        headers.insert(name, HeaderValue::from_static(value));
    }
}

/// The caller's id, if it is well-formed: 1 to 64 of letters, digits, `.`, `_`, `-`.
fn taken_id(headers: &HeaderMap) -> Option<HeaderValue> {
    let well_formed = |id: &&HeaderValue| {
        (1..=64).contains(&id.len())
            && id.as_bytes().iter().all(|byte| byte.is_ascii_alphanumeric() || b"._-".contains(byte))
    };
    headers.get(ID).filter(well_formed).cloned()
}

/// A new id.
pub fn made_id() -> HeaderValue {
    static PROCESS: LazyLock<u64> = LazyLock::new(|| RandomState::new().hash_one(std::process::id()));
    static COUNT: AtomicU32 = AtomicU32::new(1);
    let mut id = [b'-'; 25];
    write_hex(*PROCESS, &mut id[..16]);
    write_hex(COUNT.fetch_add(1, Ordering::Relaxed).into(), &mut id[17..]);
    // Hexadecimal digits are always a value of a header.
    HeaderValue::from_bytes(&id).unwrap_or_else(|_| HeaderValue::from_static("none"))
}

/// The last digits of a number, as many as there is room for.
fn write_hex(mut number: u64, out: &mut [u8]) {
    for digit in out.iter_mut().rev() {
        *digit = b"0123456789abcdef"[(number & 15) as usize];
        number >>= 4;
    }
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

/// The routes, and their templates. What stands before them all is in `front.rs`.
fn router(running: Arc<Running>) -> (Router, Vec<String>) {
    let mut router = crate::web::pages::routes();
    let mut templates: Vec<String> = crate::web::pages::TEMPLATES.map(str::to_owned).into();
    for topic in crate::endpoints::TOPICS {
        // Each topic's part of the document is dropped at once: together they would stay some megabytes of the heap.
        let (routes, document) = topic().split_for_parts();
        templates.extend(document.paths.paths.into_keys());
        router = router.merge(routes);
    }
    (router.with_state(running), templates)
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
