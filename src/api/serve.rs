//! Listening, and shutting down with every answer given.

use std::{
    future::{Future, IntoFuture},
    io,
    time::Duration,
};

use tokio::{net::TcpListener, sync::watch};

use super::layer::TIME_LIMIT;

/// Time that requests in flight get after the signal: what a request may take, and a little.
const GRACE: Duration = TIME_LIMIT.saturating_add(Duration::from_secs(2));

/// What holds while the service runs.
#[derive(Clone)]
pub struct Running {
    /// Time that a request may take.
    pub time_limit: Duration,
    /// Time that a stream may stay silent.
    pub silence: Duration,
    /// Whether the service stops, for what would go on.
    pub stopping: watch::Receiver<bool>,
}

impl Running {
    /// The usual limits.
    pub fn usual(stopping: watch::Receiver<bool>) -> Self {
        Self { time_limit: TIME_LIMIT, silence: Duration::from_secs(30), stopping }
    }
}

/// Serves until `stop` is ready, then answers what is in flight; gives up on it after a grace period.
pub async fn serve(listener: TcpListener, stop: impl Future<Output = ()> + Send + 'static) -> io::Result<()> {
    let (stopped, mut stopping) = watch::channel(false);
    let running = Running::usual(stopping.clone());
    let server = axum::serve(listener, super::router(running)).with_graceful_shutdown(async move {
        stop.await;
        // The receiver lives as long as this function.
        let _ = stopped.send(true);
    });
    tokio::select! {
        result = server.into_future() => result,
        () = async {
            let _ = stopping.wait_for(|stop| *stop).await;
            tokio::time::sleep(GRACE).await;
        } => Ok(()),
    }
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
