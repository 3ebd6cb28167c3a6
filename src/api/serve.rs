//! Listening: connections within limits, slow ones dropped, and every answer given before the end.

use std::{convert::Infallible, future::Future, io, sync::Arc, time::Duration};

use axum::{Router, body::Body, response::IntoResponse};
use hyper::{Request, body::Incoming, header, server::conn::http1, service::service_fn};
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
use tower::ServiceExt;

use super::{
    heavy::Pool,
    keys::{self, Gate},
    problem::{Kind, Problem},
};

/// What the service takes on at once, and how long it waits.
#[derive(Debug, Clone, Copy)]
pub struct Limits {
    /// Connections at once.
    pub connections: usize,
    /// Time that a request's head may take, and that a connection may idle between requests.
    pub head_time: Duration,
    /// Time that a request may take, from its head to its answer.
    pub time_limit: Duration,
    /// Time that a stream of questions may stay silent.
    pub silence: Duration,
    /// Time that a client may take nothing of an answer that waits for it.
    pub stall: Duration,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            connections: 512,
            head_time: Duration::from_secs(30),
            time_limit: Duration::from_secs(10),
            silence: Duration::from_secs(30),
            stall: Duration::from_secs(30),
        }
    }
}

/// What holds while the service runs.
#[derive(Debug, Clone)]
pub struct Running {
    /// Its limits.
    pub limits: Limits,
    /// Whether it stops, for what would go on.
    pub stopping: watch::Receiver<bool>,
    /// Its places for heavy work.
    pub heavy: Pool,
    /// Who may call.
    pub gate: Gate,
}

impl Running {
    /// A service with these limits, open to all, until it stops.
    pub fn new(limits: Limits, stopping: watch::Receiver<bool>) -> Self {
        Self { limits, stopping, heavy: Pool::default(), gate: keys::open() }
    }
}

/// Bytes that a request's head may have.
const HEAD_MOST: usize = 32 * 1024;
/// Lines that a request's head may have.
const HEADERS_MOST: usize = 64;
/// Connections beyond the limit that are told so at once; those beyond these are closed without a word.
const TOLD_AT_ONCE: usize = 64;
/// Time that a connection beyond the limit has to hear it.
const TOLD_WITHIN: Duration = Duration::from_secs(1);
/// What requests in flight get after the signal, beyond the time that they may take.
const GRACE: Duration = Duration::from_secs(2);
/// Time after the signal in which open connections may still send a request, and hear that it is their last.
const LINGER: Duration = Duration::from_millis(250);
/// Connections that may wait in the listener's queue.
const QUEUE: usize = 1024;

/// Serves until `stop` is ready, then answers what has come; gives up on it after a grace period.
pub async fn serve(
    listener: TcpListener,
    limits: Limits,
    gate: Gate,
    stop: impl Future<Output = ()> + Send + 'static,
) -> io::Result<()> {
    let (stopped, stopping) = watch::channel(false);
    let router = super::router(Running { gate, ..Running::new(limits, stopping.clone()) });
    let (places, told) = (Semaphore::new(limits.connections), Semaphore::new(TOLD_AT_ONCE));
    let (places, told) = (Arc::new(places), Arc::new(told));
    let graceful = GracefulShutdown::new();
    let take = |stream: TcpStream| {
        if let Ok(place) = Arc::clone(&places).try_acquire_owned() {
            let connection = connection(stream, limits, router.clone(), stopping.clone());
            let connection = graceful.watch(connection);
            tokio::spawn(async move {
                // A connection that fails has nobody left to be told.
                let _ = connection.await;
                drop(place);
            });
        } else if let Ok(place) = Arc::clone(&told).try_acquire_owned() {
            tokio::spawn(tell_busy(stream, place));
        }
    };
    let mut stop = std::pin::pin!(stop);
    loop {
        let accepted = tokio::select! {
            accepted = listener.accept() => accepted,
            () = &mut stop => break,
        };
        match accepted {
            Ok((stream, _)) => take(stream),
            // Out of descriptors, mostly: others will be given back.
            Err(_) => sleep(Duration::from_millis(50)).await,
        }
    }
    // Streams end when they hear it, connections after their next answer.
    let _ = stopped.send(true);
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
fn queued(listener: TcpListener) -> Vec<TcpStream> {
    let mut queued = Vec::new();
    let Ok(listener) = listener.into_std() else { return queued };
    // It does not block: the first error is an empty queue, mostly.
    for _ in 0..QUEUE {
        let Ok((stream, _)) = listener.accept() else { break };
        let stream = stream.set_nonblocking(true).and_then(|()| TcpStream::from_std(stream));
        queued.extend(stream);
    }
    queued
}

type Io = TokioIo<std::pin::Pin<Box<TimeoutStream<TcpStream>>>>;

fn http(head_time: Duration) -> http1::Builder {
    let mut http = http1::Builder::new();
    http.timer(TokioTimer::new())
        .header_read_timeout(head_time)
        .max_headers(HEADERS_MOST)
        .max_header_size(HEAD_MOST);
    http
}

fn io(stream: TcpStream, stall: Duration) -> Io {
    // Answers are written whole; waiting for more would only hold them back.
    let _ = stream.set_nodelay(true);
    let mut stream = TimeoutStream::new(stream);
    stream.set_write_timeout(Some(stall));
    TokioIo::new(Box::pin(stream))
}

fn connection(
    stream: TcpStream,
    limits: Limits,
    router: Router,
    stopping: watch::Receiver<bool>,
) -> http1::Connection<Io, impl hyper::service::HttpService<Incoming, ResBody = Body, Future: Send>> {
    let service = service_fn(move |request: Request<Incoming>| {
        let (answer, stopping) = (router.clone().oneshot(request.map(Body::new)), stopping.clone());
        async move {
            let mut response = answer.await?;
            if *stopping.borrow() {
                response.headers_mut().insert(header::CONNECTION, header::HeaderValue::from_static("close"));
            }
            Ok::<_, Infallible>(response)
        }
    });
    http(limits.head_time).serve_connection(io(stream, limits.stall), service)
}

/// Answers the first request of a connection beyond the limit with 503, and closes it.
async fn tell_busy(stream: TcpStream, place: OwnedSemaphorePermit) {
    let service = service_fn(|_: Request<Incoming>| async {
        let problem = Problem::new(Kind::Unavailable, "Too many connections; send it again.");
        let mut response = problem.written(axum::http::HeaderMap::new(), "none").into_response();
        response.headers_mut().insert(header::CONNECTION, header::HeaderValue::from_static("close"));
        Ok::<_, Infallible>(response)
    });
    let connection = http(TOLD_WITHIN).serve_connection(io(stream, TOLD_WITHIN), service);
    let _ = timeout(TOLD_WITHIN, connection).await;
    drop(place);
}

/// Ready on SIGTERM or SIGINT.
pub async fn signal() {
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        if let Ok(mut terminate) = signal(SignalKind::terminate()) {
            tokio::select! {
                _ = terminate.recv() => {}
                _ = tokio::signal::ctrl_c() => {}
            }
            return;
        }
    }
    // Without a handler for either the process ends at once on a signal, which is right as well.
    if tokio::signal::ctrl_c().await.is_err() {
        std::future::pending::<()>().await;
    }
}
