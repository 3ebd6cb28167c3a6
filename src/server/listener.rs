//! The listener: accepts connections within limits, drops slow ones, and shuts down gracefully.

mod socket;

use std::{
    cell::RefCell, convert::Infallible, future::Future, io, net::SocketAddr, sync::Arc, time::Duration,
};

use axum::{
    body::Body,
    response::{IntoResponse, Response},
};
use hyper::{
    Method, Request, StatusCode,
    body::Incoming,
    header,
    server::conn::http1,
    service::{HttpService, service_fn},
};
use hyper_util::{
    rt::{TokioIo, TokioTimer},
    server::graceful::GracefulShutdown,
};
use tokio::{
    net::{TcpListener, TcpStream},
    sync::{OwnedSemaphorePermit, Semaphore, watch},
    time::{sleep, timeout},
};
use tokio_io_timeout::TimeoutStream;
use tower::{Service, ServiceExt};

use self::socket::Socket;
use crate::server::{
    metrics::{self, Metrics, Refusal},
    rate_limit::Caller,
    state::{AppState, Limits},
    worker_pool::caller_info::{CallerInfo, Connection},
};

/// The size limit of a request's head, in bytes.
const MAX_HEAD_SIZE: usize = 32 * 1024;
/// The limit of headers in a request.
const MAX_HEADERS: usize = 64;
/// How long refusing a connection beyond the limit may take.
const REFUSAL_TIMEOUT: Duration = Duration::from_secs(1);
/// How much longer than the time limit shutdown waits for requests in flight.
const GRACE: Duration = Duration::from_secs(2);
/// How long after the shutdown signal open connections may still send a request. Its response says `Connection: close`.
const LINGER: Duration = Duration::from_millis(250);
/// Connections accepted from the listener's queue at shutdown, at most.
const MAX_QUEUED: usize = 1024;

/// A service that answers requests. A trait alias for the bounds.
pub trait RequestService:
    Service<Request<Body>, Response = Response, Error = Infallible, Future: Send> + Clone + Send + Sync + 'static
{
}

impl<S> RequestService for S where
    S: Service<Request<Body>, Response = Response, Error = Infallible, Future: Send>
        + Clone
        + Send
        + Sync
        + 'static
{
}

/// Serves until `stop` is ready, then answers the requests in flight, up to a grace period. `service` answers requests,
/// `busy` those of connections beyond the limit.
pub async fn serve<S: RequestService>(
    listener: TcpListener,
    service: S,
    busy: S,
    state: Arc<AppState>,
    stop: impl Future<Output = ()> + Send + 'static,
) -> io::Result<()> {
    let limits = state.config.limits;
    let permits = Arc::new(Semaphore::new(limits.connections));
    let refusal_permits = Arc::new(Semaphore::new(limits.refused));
    let graceful = GracefulShutdown::new();
    let accept = |(stream, peer): (TcpStream, SocketAddr)| {
        if let Ok(permit) = Arc::clone(&permits).try_acquire_owned() {
            let gauge = state.metrics.open_connection();
            let client = Arc::<Connection>::default();
            // Until the auth layer knows more.
            let caller = CallerInfo { caller: Caller::Address(peer.ip()), connection: Arc::clone(&client) };
            // One service for each connection: cloning the whole stack for each request would cost more. HTTP/1 has one
            // request at a time, and every layer is always ready.
            let (socket, service) = (Socket::new(stream), RefCell::new(service.clone()));
            let connection = connection(socket.clone(), limits, move |mut request: Request<Body>| {
                request.extensions_mut().insert(caller.clone());
                service.borrow_mut().call(request)
            });
            let connection = graceful.watch(connection);
            tokio::spawn(async move {
                tokio::select! {
                    biased;
                    // An error means that the client is gone, so there is nobody to report it to.
                    _ = connection => {}
                    // A reset drops the connection, which cancels its requests.
                    () = socket.reset(&client) => {}
                }
                drop((permit, gauge));
            });
        } else {
            state.metrics.count_refusal(Refusal::Connections);
            if let Ok(permit) = Arc::clone(&refusal_permits).try_acquire_owned() {
                tokio::spawn(refuse_connection(stream, busy.clone(), permit));
            }
        }
    };
    let mut stop = std::pin::pin!(stop);
    loop {
        let accepted = tokio::select! {
            accepted = listener.accept() => accepted,
            () = &mut stop => break,
        };
        match accepted {
            Ok(accepted) => accept(accepted),
            // Usually out of descriptors; some will be freed soon.
            Err(_) => {
                state.metrics.count_refusal(Refusal::Connections);
                sleep(Duration::from_millis(50)).await;
            }
        }
    }
    // Streams end as soon as they see this, connections after their next response.
    state.stopping.send_replace(true);
    drain_queue(listener).into_iter().for_each(accept);
    let shutdown = async {
        // A request may have arrived and not be read yet; shutting down now would reset its connection.
        if graceful.count() > 0 {
            sleep(LINGER).await;
        }
        graceful.shutdown().await;
    };
    let _ = timeout(limits.time_limit + GRACE, shutdown).await;
    Ok(())
}

/// Accepts the connections that wait in the listener's queue, which closing it would reset, and closes it.
fn drain_queue(listener: TcpListener) -> Vec<(TcpStream, SocketAddr)> {
    let mut queued = Vec::new();
    let Ok(listener) = listener.into_std() else { return queued };
    // The listener does not block, so the first error usually means an empty queue.
    for _ in 0..MAX_QUEUED {
        let Ok((stream, peer)) = listener.accept() else { break };
        let stream = stream.set_nonblocking(true).and_then(|()| TcpStream::from_std(stream));
        queued.extend(stream.map(|stream| (stream, peer)));
    }
    queued
}

type Io = TokioIo<std::pin::Pin<Box<TimeoutStream<Socket>>>>;

fn http(header_timeout: Duration) -> http1::Builder {
    let mut http = http1::Builder::new();
    http.timer(TokioTimer::new())
        // A client that has closed its sending side may still read the response.
        .half_close(true)
        .header_read_timeout(header_timeout)
        .max_headers(MAX_HEADERS)
        .max_header_size(MAX_HEAD_SIZE);
    http
}

fn io(socket: Socket, write_timeout: Duration) -> Io {
    let mut stream = TimeoutStream::new(socket);
    stream.set_write_timeout(Some(write_timeout));
    TokioIo::new(Box::pin(stream))
}

fn connection<F: Future<Output = Result<Response, Infallible>> + Send>(
    socket: Socket,
    limits: Limits,
    answer: impl Fn(Request<Body>) -> F,
) -> http1::Connection<Io, impl HttpService<Incoming, ResBody = Body, Future: Send>> {
    let service = service_fn(move |request: Request<Incoming>| answer(request.map(Body::new)));
    http(limits.header_timeout).serve_connection(io(socket, limits.write_timeout), service)
}

/// Answers the first request of a connection beyond the limit with 503, and closes it.
async fn refuse_connection(stream: TcpStream, busy: impl RequestService, permit: OwnedSemaphorePermit) {
    let service = service_fn(|request: Request<Incoming>| busy.clone().oneshot(request.map(Body::new)));
    let connection =
        http(REFUSAL_TIMEOUT).serve_connection(io(Socket::new(stream), REFUSAL_TIMEOUT), service);
    let _ = timeout(REFUSAL_TIMEOUT, connection).await;
    drop(permit);
}

/// Serves `/metrics`, and `/healthz` and `/readyz` for probes, which so get an answer even when the service has no
/// connection free. Never returns; dropping the future stops it.
pub async fn serve_metrics(
    listener: TcpListener,
    metrics_connections: usize,
    metrics: Arc<Metrics>,
    stopping: watch::Receiver<bool>,
) {
    // A short timeout, so that idle clients make room for others.
    let limits = Limits { header_timeout: Duration::from_secs(2), ..Limits::default() };
    let permits = Arc::new(Semaphore::new(metrics_connections));
    loop {
        let accepted = listener.accept().await;
        let (Ok((stream, _)), Ok(permit)) = (accepted, Arc::clone(&permits).try_acquire_owned()) else {
            sleep(Duration::from_millis(50)).await;
            continue;
        };
        let (metrics, stopping) = (Arc::clone(&metrics), stopping.clone());
        let connection = connection(Socket::new(stream), limits, move |request| {
            let response = match (request.method(), request.uri().path()) {
                (&Method::GET, "/metrics") => {
                    ([(header::CONTENT_TYPE, metrics::MEDIA)], metrics.text()).into_response()
                }
                (&Method::GET | &Method::HEAD, "/readyz") if *stopping.borrow() => {
                    StatusCode::SERVICE_UNAVAILABLE.into_response()
                }
                (&Method::GET | &Method::HEAD, "/healthz" | "/readyz") => StatusCode::OK.into_response(),
                _ => StatusCode::NOT_FOUND.into_response(),
            };
            std::future::ready(Ok(response))
        });
        tokio::spawn(async move {
            let _ = connection.await;
            drop(permit);
        });
    }
}

/// Receives SIGTERM and SIGINT.
pub struct Signals {
    #[cfg(unix)]
    signals: [Option<tokio::signal::unix::Signal>; 2],
}

impl Signals {
    /// Receives signals from this call on.
    pub fn new() -> Self {
        #[cfg(unix)]
        {
            use tokio::signal::unix::{SignalKind, signal};
            Self { signals: [SignalKind::terminate(), SignalKind::interrupt()].map(|kind| signal(kind).ok()) }
        }
        #[cfg(not(unix))]
        Self {}
    }

    /// Waits for the next signal. Returns the customary exit status for it: 128 plus the signal's number.
    pub async fn next(&mut self) -> i32 {
        #[cfg(unix)]
        if let [Some(terminate), Some(interrupt)] = &mut self.signals {
            return tokio::select! {
                _ = terminate.recv() => 143,
                _ = interrupt.recv() => 130,
            };
        }
        // Without these handlers, a signal ends the process at once, which is acceptable too.
        if tokio::signal::ctrl_c().await.is_err() {
            std::future::pending::<()>().await;
        }
        130
    }
}

impl Default for Signals {
    fn default() -> Self {
        Self::new()
    }
}
