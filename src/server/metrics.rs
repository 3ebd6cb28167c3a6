//! Metrics for Prometheus: requests by route and status, their durations, refusals, calls by key, and the outcomes of
//! searches. Routes are templates and keys are names from the keys file: nothing that a client wrote becomes a label.

mod by_key;

use std::{
    collections::HashMap,
    sync::{Arc, LazyLock, OnceLock},
    time::Duration,
};

use prometheus_client::{
    encoding::{EncodeLabelSet, text::encode},
    metrics::{counter::Counter, family::Family, gauge::Gauge, histogram::Histogram, info::Info},
    registry::Registry,
};

use self::by_key::ByKey;
use crate::server::{auth::Keys, worker_pool::WorkerPool};

/// The media type of the exposition, OpenMetrics 1.0.
pub const MEDIA: &str = "application/openmetrics-text; version=1.0.0; charset=utf-8";
/// Upper bounds of the buckets: a quick answer takes some tens of microseconds, a slow one up to seconds.
const BUCKETS_S: [f64; 15] =
    [25e-6, 50e-6, 1e-4, 25e-5, 5e-4, 1e-3, 25e-4, 5e-3, 1e-2, 25e-3, 0.1, 0.25, 1.0, 5.0, 10.0];
/// The statuses of this service. Any other status is counted without a cached handle.
const STATUSES: [u16; 17] =
    [200, 204, 304, 307, 400, 401, 404, 405, 406, 408, 413, 415, 422, 429, 499, 500, 503];
/// The label of paths without a route.
const NO_ROUTE: &str = "none";

#[derive(Debug, Clone, PartialEq, Eq, Hash, EncodeLabelSet)]
struct RequestLabels {
    route: String,
    status: u16,
}

#[derive(Debug, Clone, PartialEq, Eq, Hash, EncodeLabelSet)]
struct RouteLabels {
    route: String,
}

#[derive(Debug, Clone, PartialEq, Eq, Hash, EncodeLabelSet)]
struct ReasonLabels {
    reason: &'static str,
}

#[derive(Debug, Clone, PartialEq, Eq, Hash, EncodeLabelSet)]
struct SearchLabels {
    proven: &'static str,
}

/// Searches for the best settings, counted for the whole process: a calculation does not know its service.
struct Searches {
    ended: Family<SearchLabels, Counter>,
    nodes: Counter,
}

static SEARCHES: LazyLock<Searches> =
    LazyLock::new(|| Searches { ended: Family::default(), nodes: Counter::default() });

/// Counts a search for the best settings.
pub fn count_search(nodes: u64, is_proven: bool) {
    let proven = if is_proven { "true" } else { "false" };
    SEARCHES.ended.get_or_create(&SearchLabels { proven }).inc();
    SEARCHES.nodes.inc_by(nodes);
}

/// Log lines that were dropped, in the whole process.
static LINES_DROPPED: LazyLock<Counter> = LazyLock::new(Counter::default);

/// Counts log lines that were dropped.
pub fn count_dropped_lines(lines: u64) {
    LINES_DROPPED.inc_by(lines);
}

/// The log lines dropped so far.
pub fn dropped_lines() -> u64 {
    LINES_DROPPED.get()
}

/// Why a request or connection was refused.
#[derive(Debug, Clone, Copy)]
pub enum Refusal {
    /// Too many connections.
    Connections,
    /// Too many slow calculations, or shutting down.
    Busy,
    /// The caller exceeded the rate limit.
    Rate,
    /// The key is missing or unknown.
    Key,
}

impl Refusal {
    /// Every reason.
    pub const ALL: [Self; 4] = [Self::Connections, Self::Busy, Self::Rate, Self::Key];

    /// The value of its label.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Connections => "connections",
            Self::Busy => "busy",
            Self::Rate => "rate",
            Self::Key => "key",
        }
    }
}

/// A route by its index in the metrics.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Route(usize);

/// The metrics of one route, with cached handles: finding a counter by its labels costs more than counting.
struct RouteMetrics {
    template: String,
    seconds: Histogram,
    by_status: [OnceLock<Counter>; STATUSES.len()],
}

/// The metrics of one service.
pub struct Metrics {
    registry: Registry,
    routes: Vec<RouteMetrics>,
    exact: HashMap<String, usize>,
    /// Routes whose template ends in a parameter, by the prefix before it.
    prefixes: Vec<(String, usize)>,
    requests: Family<RequestLabels, Counter>,
    refusals: [Counter; Refusal::ALL.len()],
    in_flight: Gauge,
    connections: Gauge,
    keys: Gauge,
    failed_key_reloads: Counter,
    by_key: ByKey,
}

impl Metrics {
    /// Metrics for a service with these routes (templates such as `/v1/marks/{kind}`) and these workers.
    pub fn new(
        templates: impl IntoIterator<Item = String>,
        max_connections: usize,
        workers: WorkerPool,
    ) -> Self {
        let mut registry = Registry::with_prefix("stopwright");
        let build = Info::new([("version", env!("CARGO_PKG_VERSION"))]);
        registry.register("build", "The version that runs", build);
        let requests = Family::<RequestLabels, Counter>::default();
        registry.register("requests", "Requests answered, by route and status", requests.clone());
        let seconds = Family::<RouteLabels, Histogram>::new_with_constructor(|| {
            Histogram::new(BUCKETS_S.iter().copied())
        });
        registry.register(
            "request_seconds",
            "Time from a request's head to the head of its answer",
            seconds.clone(),
        );
        let refusals_by_reason = Family::<ReasonLabels, Counter>::default();
        registry.register("refused", "Calls and connections refused, by reason", refusals_by_reason.clone());
        let refusals = Refusal::ALL
            .map(|reason| refusals_by_reason.get_or_create_owned(&ReasonLabels { reason: reason.name() }));
        let (in_flight, connections) = (Gauge::default(), Gauge::default());
        registry.register("requests_in_flight", "Requests that wait for their answer", in_flight.clone());
        registry.register("connections", "Open connections", connections.clone());
        let (keys, failed_key_reloads) = (Gauge::default(), Counter::default());
        registry.register(
            "keys",
            "Keys that are taken; 0 where all may call, and where the file has none and nobody may",
            keys.clone(),
        );
        registry.register(
            "keys_not_read",
            "Times that the keys' file could not be read anew",
            failed_key_reloads.clone(),
        );
        let by_key = ByKey::default();
        registry.register(
            "calls_by_key",
            "Calls with a key that is taken, by its name in the keys' file and by status",
            by_key.calls(),
        );
        registry.register(
            "log_lines_dropped",
            "Lines of the log that were dropped since standard error took no more",
            LINES_DROPPED.clone(),
        );
        let limit = Gauge::<i64>::default();
        limit.set(i64::try_from(max_connections).unwrap_or(i64::MAX));
        registry.register("connections_most", "Connections that may be open at once", limit);
        let Searches { ended, nodes } = &*SEARCHES;
        for proven in ["true", "false"] {
            // Both series exist from the start.
            drop(ended.get_or_create(&SearchLabels { proven }));
        }
        registry.register(
            "searches",
            "Searches for the best settings, by whether that was proven",
            ended.clone(),
        );
        registry.register("search_nodes", "Nodes of those searches", nodes.clone());
        registry.register_collector(Box::new(workers));

        let templates: Vec<String> = std::iter::once(NO_ROUTE.to_owned()).chain(templates).collect();
        let prefix = |template: &String| template.split_once('{').map(|(prefix, _)| prefix.to_owned());
        let numbered = || templates.iter().enumerate();
        Self {
            exact: numbered().map(|(index, template)| (template.clone(), index)).collect(),
            prefixes: numbered().filter_map(|(index, template)| Some((prefix(template)?, index))).collect(),
            routes: templates
                .iter()
                .map(|template| RouteMetrics {
                    template: template.clone(),
                    seconds: seconds.get_or_create_owned(&RouteLabels { route: template.clone() }),
                    by_status: Default::default(),
                })
                .collect(),
            registry,
            requests,
            refusals,
            in_flight,
            connections,
            keys,
            failed_key_reloads,
            by_key,
        }
    }

    /// The route of a path, exact matches first.
    pub fn route(&self, path: &str) -> Route {
        let exact = self.exact.get(path).copied();
        let by_prefix = || self.prefixes.iter().find(|(prefix, _)| path.starts_with(prefix.as_str()));
        Route(exact.or_else(|| by_prefix().map(|(_, index)| *index)).unwrap_or_default())
    }

    /// The template of a route, for the log.
    pub fn template(&self, route: Route) -> &str {
        &self.routes[route.0].template
    }

    /// Counts a request as in flight until the guard is dropped.
    pub fn request_in_flight(&self) -> InFlightGuard {
        InFlightGuard::new(&self.in_flight)
    }

    /// Counts a connection as open until the guard is dropped.
    pub fn open_connection(&self) -> InFlightGuard {
        InFlightGuard::new(&self.connections)
    }

    /// Counts a response to a call with a key, by the key's name.
    pub fn count_key_call(&self, name: &Arc<str>, status: u16) {
        self.by_key.count(name, status);
    }

    /// Counts a response.
    pub fn count_response(&self, route: Route, status: u16, took: Duration) {
        let stats = &self.routes[route.0];
        let counter = || {
            let labels = RequestLabels { route: stats.template.clone(), status };
            self.requests.get_or_create_owned(&labels)
        };
        match STATUSES.iter().position(|known| *known == status) {
            Some(index) => stats.by_status[index].get_or_init(counter).inc(),
            None => counter().inc(),
        };
        stats.seconds.observe(took.as_secs_f64());
    }

    /// Counts a refusal.
    pub fn count_refusal(&self, reason: Refusal) {
        self.refusals[reason as usize].inc();
    }

    /// The refusals so far, in the order of [`Refusal::ALL`].
    pub fn refusals(&self) -> [u64; Refusal::ALL.len()] {
        Refusal::ALL.map(|reason| self.refusals[reason as usize].get())
    }

    /// Sets the keys that are valid from now on.
    pub fn set_keys(&self, keys: &Keys) {
        self.keys.set(i64::try_from(keys.count()).unwrap_or(i64::MAX));
        self.by_key.set_names(&keys.names());
    }

    /// Counts a reload of the keys file that failed.
    pub fn count_failed_key_reload(&self) {
        self.failed_key_reloads.inc();
    }

    /// All metrics as OpenMetrics text.
    pub fn text(&self) -> String {
        let mut text = String::new();
        // Writing to a String cannot fail.
        let _ = encode(&mut text, &self.registry);
        text
    }
}

/// Adds one to a gauge until it is dropped.
pub struct InFlightGuard(Gauge);

impl InFlightGuard {
    fn new(gauge: &Gauge) -> Self {
        gauge.inc();
        Self(gauge.clone())
    }
}

impl Drop for InFlightGuard {
    fn drop(&mut self) {
        self.0.dec();
    }
}
