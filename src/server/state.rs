//! On what config the service runs, and what holds while it does.

use std::{sync::Arc, time::Duration};

use tokio::sync::{Semaphore, watch};
use utoipa_axum::router::OpenApiRouter;

use crate::server::{
    auth::{self, Gate},
    caching::Fixed,
    client_ip::Proxies,
    cors::Origins,
    metrics::Metrics,
    rate_limit::Rate,
    worker_pool::WorkerPool,
};

/// Routes, with their part of the OpenAPI document.
pub type Routes = OpenApiRouter<Arc<AppState>>;

/// Connections at once, if nothing else is said.
pub const CONNECTIONS: u32 = 512;
/// Connections of a kind beside those for callers, if nothing else is said.
const BESIDE: usize = 64;

/// What the service takes on at once, and how long it waits.
#[derive(Debug, Clone, Copy)]
pub struct Limits {
    /// Connections at once.
    pub connections: usize,
    /// Connections beyond those that are told so at once; those beyond these are closed without a word.
    pub told: usize,
    /// Connections at once to the listener for counts and probes.
    pub scrapers: usize,
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
            connections: CONNECTIONS as usize,
            told: BESIDE,
            scrapers: BESIDE,
            head_time: Duration::from_secs(30),
            time_limit: Duration::from_secs(10),
            silence: Duration::from_secs(30),
            stall: Duration::from_secs(30),
        }
    }
}

/// The config of a service. By default it is open to all, without a limit of calls, to no page of another origin.
#[derive(Debug)]
pub struct Config {
    /// Its limits.
    pub limits: Limits,
    /// Who may call.
    pub gate: Gate,
    /// How often each may.
    pub rate: Option<Arc<Rate>>,
    /// Whose word is taken for where a request comes from.
    pub proxies: Proxies,
    /// Whose pages may read answers.
    pub origins: Origins,
}

impl Default for Config {
    fn default() -> Self {
        Self {
            limits: Limits::default(),
            gate: auth::open(),
            rate: None,
            proxies: Proxies::default(),
            origins: Origins::default(),
        }
    }
}

/// Pages and documents that only a new version changes. The rooms above this one make them, once each.
#[derive(Debug, Clone, Copy)]
pub struct Site {
    /// The index, as JSON.
    pub index: fn() -> &'static Fixed,
    /// The front page.
    pub front_page: fn() -> &'static Fixed,
    /// The OpenAPI document.
    pub openapi: fn() -> &'static Fixed,
}

/// What holds while the service runs.
pub struct AppState {
    /// Its config.
    pub config: Config,
    /// Its pages.
    pub site: Site,
    /// What it counts.
    pub metrics: Arc<Metrics>,
    /// Whether it stops, for what would go on.
    pub stopping: watch::Sender<bool>,
    /// Its workers, for slow calculations.
    pub workers: WorkerPool,
    /// Places for streams, which may stay long: half of its connections, so that others find one.
    pub streams: Arc<Semaphore>,
}

impl AppState {
    /// A service on these config, until it stops, with routes of these templates.
    pub fn new(config: Config, site: Site, templates: Vec<String>) -> Self {
        let streams = Arc::new(Semaphore::new((config.limits.connections / 2).max(1)));
        let workers = WorkerPool::default();
        let metrics = Arc::new(Metrics::new(templates, config.limits.connections, workers.clone()));
        Self { streams, site, metrics, config, stopping: watch::Sender::new(false), workers }
    }
}
