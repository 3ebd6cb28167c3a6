//! The service's configuration, and the state that its handlers and layers share.

use std::{sync::Arc, time::Duration};

use tokio::sync::{Semaphore, watch};
use utoipa_axum::router::OpenApiRouter;

use crate::server::{
    auth::{self, CurrentKeys},
    caching::StaticDocument,
    client_ip::Proxies,
    cors::Origins,
    metrics::Metrics,
    problem::{Kind, ProblemPage},
    rate_limit::Rate,
    retirement::{RETIREMENTS, Retirement},
    worker_pool::WorkerPool,
};

/// Routes with their part of the OpenAPI document.
pub type Routes = OpenApiRouter<Arc<AppState>>;

/// The default for connections at once.
pub const CONNECTIONS: u32 = 512;
/// The default for each kind of connection beside those of clients.
const EXTRA_CONNECTIONS: usize = 64;

/// Limits on connections and times.
#[derive(Debug, Clone, Copy)]
pub struct Limits {
    /// Connections open at once.
    pub connections: usize,
    /// Connections beyond the limit that are answered with 503 at once. Connections beyond these are closed unanswered.
    pub refused: usize,
    /// Connections open at once on the listener for metrics and probes.
    pub metrics_connections: usize,
    /// How long the head of a request may take to arrive, and how long a connection may idle between requests.
    pub header_timeout: Duration,
    /// How long a request may take, from its head to the head of the response.
    pub time_limit: Duration,
    /// How long a streamed batch may send nothing while no answer is due.
    pub stream_idle_timeout: Duration,
    /// How long a client may read nothing of a response that waits to be written.
    pub write_timeout: Duration,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            connections: CONNECTIONS as usize,
            refused: EXTRA_CONNECTIONS,
            metrics_connections: EXTRA_CONNECTIONS,
            header_timeout: Duration::from_secs(30),
            time_limit: Duration::from_secs(10),
            stream_idle_timeout: Duration::from_secs(30),
            write_timeout: Duration::from_secs(30),
        }
    }
}

/// The configuration of a service. By default it needs no key, has no rate limit, and no page of another origin may
/// read its responses.
#[derive(Debug)]
pub struct Config {
    /// Limits on connections and times.
    pub limits: Limits,
    /// The API keys, which a reload may change.
    pub keys: CurrentKeys,
    /// The rate limit of each caller.
    pub rate: Option<Arc<Rate>>,
    /// Trusted proxies.
    pub proxies: Proxies,
    /// The origins whose pages may read responses.
    pub origins: Origins,
    /// What will be retired.
    pub retirements: &'static [Retirement],
}

impl Default for Config {
    fn default() -> Self {
        Self {
            limits: Limits::default(),
            keys: auth::open_to_all(),
            rate: None,
            proxies: Proxies::default(),
            origins: Origins::default(),
            retirements: RETIREMENTS,
        }
    }
}

/// Documents that are the same until the next version. The rooms above this one make them, once each.
#[derive(Debug, Clone, Copy)]
pub struct Site {
    /// The index as JSON.
    pub index: fn() -> &'static StaticDocument,
    /// The front page.
    pub front_page: fn() -> &'static StaticDocument,
    /// The OpenAPI document.
    pub openapi: fn() -> &'static StaticDocument,
    /// The page for a browser that gets a problem document.
    pub problem_page: ProblemPage,
    /// The page that explains a kind of problem.
    pub explanation_page: fn(Kind) -> String,
}

/// The state that handlers and layers share.
pub struct AppState {
    /// The configuration.
    pub config: Config,
    /// The documents that are made once.
    pub site: Site,
    /// The metrics.
    pub metrics: Arc<Metrics>,
    /// True once the service is shutting down; streams watch it and end.
    pub stopping: watch::Sender<bool>,
    /// The worker pool for slow calculations.
    pub workers: WorkerPool,
    /// Permits for streams, which may last long: half of the connections, so that other requests find one.
    pub streams: Arc<Semaphore>,
}

impl AppState {
    /// State for this configuration. `templates` are the path templates to count by.
    pub fn new(config: Config, site: Site, templates: Vec<String>) -> Self {
        let streams = Arc::new(Semaphore::new((config.limits.connections / 2).max(1)));
        let workers = WorkerPool::default();
        let metrics = Arc::new(Metrics::new(templates, config.limits.connections, workers.clone()));
        Self { streams, site, metrics, config, stopping: watch::Sender::new(false), workers }
    }
}
