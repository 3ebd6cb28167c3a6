//! Listening: connections within limits, slow ones dropped, and every answer given before the end.

mod socket;

use std::{convert::Infallible, future::Future, io, net::SocketAddr, sync::Arc, time::Duration};

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
    client_ip::Peer,
    metrics::{self, Metrics, Refusal},
    state::{AppState, Limits},
    worker_pool::asker::Connection,
};

/// Bytes that a request's head may have.
const HEAD_MOST: usize = 32 * 1024;
/// Lines that a request's head may have.
const HEADERS_MOST: usize = 64;
/// Time that a connection beyond the limit has to hear it.
const TOLD_WITHIN: Duration = Duration::from_secs(1);
/// What requests in flight get after the signal, beyond the time that they may take.
const GRACE: Duration = Duration::from_secs(2);
/// Time after the signal in which open connections may still send a request, and hear that it is their last.
const LINGER: Duration = Duration::from_millis(250);
/// Connections that may wait in the listener's queue.
const QUEUE: usize = 1024;

/// What answers the requests of a connection.
pub trait Answering:
    Service<Request<Body>, Response = Response, Error = Infallible, Future: Send> + Clone + Send + Sync + 'static
{
}

impl<S> Answering for S where
    S: Service<Request<Body>, Response = Response, Error = Infallible, Future: Send>
        + Clone
        + Send
        + Sync
        + 'static
{
}

/// Serves until `stop` is ready, then answers what has come; gives up on it after a grace period.
/// `service` answers requests, `busy` those of connections beyond the limit.
pub async fn serve<S: Answering>(
    listener: TcpListener,
    service: S,
    busy: S,
    state: Arc<AppState>,
    stop: impl Future<Output = ()> + Send + 'static,
) -> io::Result<()> {
    let limits = state.config.limits;
    let (places, told) = (Semaphore::new(limits.connections), Semaphore::new(limits.told));
    let (places, told) = (Arc::new(places), Arc::new(told));
    let graceful = GracefulShutdown::new();
    let take = |(stream, peer): (TcpStream, SocketAddr)| {
        if let Ok(place) = Arc::clone(&places).try_acquire_owned() {
            let counted = state.metrics.connection();
            let client = Arc::<Connection>::default();
            let peer = Peer { address: peer.ip(), connection: Arc::clone(&client) };
            let (socket, service) = (Socket::new(stream), service.clone());
            let connection = connection(socket.clone(), limits, move |mut request: Request<Body>| {
                request.extensions_mut().insert(peer.clone());
                service.clone().oneshot(request)
            });
            let connection = graceful.watch(connection);
            tokio::spawn(async move {
                tokio::select! {
                    biased;
                    // A connection that fails has nobody left to be told.
                    _ = connection => {}
                    // Nor has one that is reset: what is asked on it ends with it.
                    () = socket.reset(&client) => {}
                }
                drop((place, counted));
            });
        } else {
            state.metrics.refused_one(Refusal::Connections);
            if let Ok(place) = Arc::clone(&told).try_acquire_owned() {
                tokio::spawn(tell_busy(stream, busy.clone(), place));
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
            Ok(accepted) => take(accepted),
            // Out of descriptors, mostly: others will be given back.
            Err(_) => {
                state.metrics.refused_one(Refusal::Connections);
                sleep(Duration::from_millis(50)).await;
            }
        }
    }
    // Streams end when they hear it, connections after their next answer.
    state.stopping.send_replace(true);
    queued(listener).into_iter().for_each(take);
    let end = async {
        // A request that has come may not be read yet; a connection shut down now would be reset under it.
        if graceful.count() > 0 {
            sleep(LINGER).await;
        }
        graceful.shutdown().await;
    };
    let _ = timeout(limits.time_limit + GRACE, end).await;
    Ok(())
}

/// Those who have connected and wait in the listener's queue, which would be reset with it; then it is closed.
fn queued(listener: TcpListener) -> Vec<(TcpStream, SocketAddr)> {
    let mut queued = Vec::new();
    let Ok(listener) = listener.into_std() else { return queued };
    // It does not block: the first error is an empty queue, mostly.
    for _ in 0..QUEUE {
        let Ok((stream, peer)) = listener.accept() else { break };
        let stream = stream.set_nonblocking(true).and_then(|()| TcpStream::from_std(stream));
        queued.extend(stream.map(|stream| (stream, peer)));
    }
    queued
}

type Io = TokioIo<std::pin::Pin<Box<TimeoutStream<Socket>>>>;

fn http(head_time: Duration) -> http1::Builder {
    let mut http = http1::Builder::new();
    http.timer(TokioTimer::new())
        // Who has sent all they have to say may still read the answer.
        .half_close(true)
        .header_read_timeout(head_time)
        .max_headers(HEADERS_MOST)
        .max_header_size(HEAD_MOST);
    http
}

fn io(socket: Socket, stall: Duration) -> Io {
    let mut stream = TimeoutStream::new(socket);
    stream.set_write_timeout(Some(stall));
    TokioIo::new(Box::pin(stream))
}

fn connection<F: Future<Output = Result<Response, Infallible>> + Send>(
    socket: Socket,
    limits: Limits,
    answer: impl Fn(Request<Body>) -> F,
) -> http1::Connection<Io, impl HttpService<Incoming, ResBody = Body, Future: Send>> {
    let service = service_fn(move |request: Request<Incoming>| answer(request.map(Body::new)));
    http(limits.head_time).serve_connection(io(socket, limits.stall), service)
}

/// Answers the first request of a connection beyond the limit with 503, and closes it.
async fn tell_busy(stream: TcpStream, busy: impl Answering, place: OwnedSemaphorePermit) {
    let service = service_fn(|request: Request<Incoming>| busy.clone().oneshot(request.map(Body::new)));
    let connection = http(TOLD_WITHIN).serve_connection(io(Socket::new(stream), TOLD_WITHIN), service);
    let _ = timeout(TOLD_WITHIN, connection).await;
    drop(place);
}

/// Serves the counts at `/metrics`, and `/healthz` and `/readyz` for probes, which then hear from a service whose
/// connections are all taken; for as long as it is looked after.
pub async fn serve_counts(
    listener: TcpListener,
    scrapers: usize,
    metrics: Arc<Metrics>,
    stopping: watch::Receiver<bool>,
) {
    // Who asks nothing soon makes room for those who do.
    let limits = Limits { head_time: Duration::from_secs(2), ..Limits::default() };
    let places = Arc::new(Semaphore::new(scrapers));
    loop {
        let accepted = listener.accept().await;
        let (Ok((stream, _)), Ok(place)) = (accepted, Arc::clone(&places).try_acquire_owned()) else {
            sleep(Duration::from_millis(50)).await;
            continue;
        };
        let (metrics, stopping) = (Arc::clone(&metrics), stopping.clone());
        let connection = connection(Socket::new(stream), limits, move |request| {
            let answer = match (request.method(), request.uri().path()) {
                (&Method::GET, "/metrics") => {
                    ([(header::CONTENT_TYPE, metrics::MEDIA)], metrics.text()).into_response()
                }
                (&Method::GET | &Method::HEAD, "/readyz") if *stopping.borrow() => {
                    StatusCode::SERVICE_UNAVAILABLE.into_response()
                }
                (&Method::GET | &Method::HEAD, "/healthz" | "/readyz") => StatusCode::OK.into_response(),
                _ => StatusCode::NOT_FOUND.into_response(),
            };
            std::future::ready(Ok(answer))
        });
        tokio::spawn(async move {
            let _ = connection.await;
            drop(place);
        });
    }
}

/// SIGTERM and SIGINT, as they come.
pub struct Signals {
    #[cfg(unix)]
    heard: [Option<tokio::signal::unix::Signal>; 2],
}

impl Signals {
    /// Hears them from this call on.
    pub fn new() -> Self {
        #[cfg(unix)]
        {
            use tokio::signal::unix::{SignalKind, signal};
            Self { heard: [SignalKind::terminate(), SignalKind::interrupt()].map(|kind| signal(kind).ok()) }
        }
        #[cfg(not(unix))]
        Self {}
    }

    /// Waits for the next one; the customary status of a process that it ends (128 and the signal's number).
    pub async fn next(&mut self) -> i32 {
        #[cfg(unix)]
        if let [Some(terminate), Some(interrupt)] = &mut self.heard {
            return tokio::select! {
                _ = terminate.recv() => 143,
                _ = interrupt.recv() => 130,
            };
        }
        // Without a handler for either the process ends at once on a signal, which is right as well.
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
