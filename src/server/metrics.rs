//! What is counted, for Prometheus: requests by route and status, how long they take, what is refused, calls by key, and
//! how the searches end. Routes are templates and keys are names out of their file: nothing that a caller wrote is a
//! label.

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

/// The media type of the text, OpenMetrics 1.0.
pub const MEDIA: &str = "application/openmetrics-text; version=1.0.0; charset=utf-8";
/// Upper ends of the buckets: a light answer takes some tens of microseconds, a heavy one up to seconds.
const BUCKETS_S: [f64; 15] =
    [25e-6, 50e-6, 1e-4, 25e-5, 5e-4, 1e-3, 25e-4, 5e-3, 1e-2, 25e-3, 0.1, 0.25, 1.0, 5.0, 10.0];
/// Statuses that this service answers with; others, if any, are counted without a handle of their own.
const STATUSES: [u16; 17] =
    [200, 204, 304, 307, 400, 401, 404, 405, 406, 408, 413, 415, 422, 429, 499, 500, 503];
/// The label of paths that are no route.
const NOWHERE: &str = "none";

#[derive(Debug, Clone, PartialEq, Eq, Hash, EncodeLabelSet)]
struct Answered {
    route: String,
    status: u16,
}

#[derive(Debug, Clone, PartialEq, Eq, Hash, EncodeLabelSet)]
struct OfRoute {
    route: String,
}

#[derive(Debug, Clone, PartialEq, Eq, Hash, EncodeLabelSet)]
struct Reason {
    reason: &'static str,
}

#[derive(Debug, Clone, PartialEq, Eq, Hash, EncodeLabelSet)]
struct Search {
    proven: &'static str,
}

/// Searches for the best settings, of the whole process: the calculation does not know which service asks.
struct Searches {
    ended: Family<Search, Counter>,
    nodes: Counter,
}

static SEARCHES: LazyLock<Searches> =
    LazyLock::new(|| Searches { ended: Family::default(), nodes: Counter::default() });

/// Counts a search for the best settings.
pub fn searched(nodes: u64, is_proven: bool) {
    let proven = if is_proven { "true" } else { "false" };
    SEARCHES.ended.get_or_create(&Search { proven }).inc();
    SEARCHES.nodes.inc_by(nodes);
}

/// Lines of the log that were dropped, of the whole process.
static LINES_DROPPED: LazyLock<Counter> = LazyLock::new(Counter::default);

/// Counts lines of the log that were dropped.
pub fn lines_dropped(lines: u64) {
    LINES_DROPPED.inc_by(lines);
}

/// How many lines of the log were dropped so far.
pub fn lines_dropped_so_far() -> u64 {
    LINES_DROPPED.get()
}

/// Why a call was not taken.
#[derive(Debug, Clone, Copy)]
pub enum Refusal {
    /// Too many connections.
    Connections,
    /// Too much heavy work, or stopping.
    Busy,
    /// Too often by this caller.
    Rate,
    /// Without a key that is taken.
    Key,
}

impl Refusal {
    /// Every reason.
    pub const ALL: [Self; 4] = [Self::Connections, Self::Busy, Self::Rate, Self::Key];

    /// Its label.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Connections => "connections",
            Self::Busy => "busy",
            Self::Rate => "rate",
            Self::Key => "key",
        }
    }
}

/// A route, as it is counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Route(usize);

/// What is known of one route. Handles are kept, since finding them by label costs more than the counting.
struct OneRoute {
    template: String,
    seconds: Histogram,
    by_status: [OnceLock<Counter>; STATUSES.len()],
}

/// The counts of one service.
pub struct Metrics {
    registry: Registry,
    routes: Vec<OneRoute>,
    exact: HashMap<String, usize>,
    /// Routes with a variable end, by what stands before it.
    beginnings: Vec<(String, usize)>,
    requests: Family<Answered, Counter>,
    refusals: [Counter; Refusal::ALL.len()],
    in_flight: Gauge,
    connections: Gauge,
    keys: Gauge,
    keys_not_read: Counter,
    by_key: ByKey,
}

impl Metrics {
    /// Counts for a service with these routes (templates, as `/v1/marks/{kind}`) and these workers.
    pub fn new(
        templates: impl IntoIterator<Item = String>,
        connections_most: usize,
        workers: WorkerPool,
    ) -> Self {
        let mut registry = Registry::with_prefix("stopwright");
        let build = Info::new([("version", env!("CARGO_PKG_VERSION"))]);
        registry.register("build", "The version that runs", build);
        let requests = Family::<Answered, Counter>::default();
        registry.register("requests", "Requests answered, by route and status", requests.clone());
        let seconds =
            Family::<OfRoute, Histogram>::new_with_constructor(|| Histogram::new(BUCKETS_S.iter().copied()));
        registry.register(
            "request_seconds",
            "Time from a request's head to the head of its answer",
            seconds.clone(),
        );
        let refused = Family::<Reason, Counter>::default();
        registry.register("refused", "Calls and connections refused, by reason", refused.clone());
        let refusals = Refusal::ALL.map(|why| refused.get_or_create_owned(&Reason { reason: why.name() }));
        let (in_flight, connections) = (Gauge::default(), Gauge::default());
        registry.register("requests_in_flight", "Requests that wait for their answer", in_flight.clone());
        registry.register("connections", "Open connections", connections.clone());
        let (keys, keys_not_read) = (Gauge::default(), Counter::default());
        registry.register(
            "keys",
            "Keys that are taken; 0 where all may call, and where the file has none and nobody may",
            keys.clone(),
        );
        registry.register(
            "keys_not_read",
            "Times that the keys' file could not be read anew",
            keys_not_read.clone(),
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
        let most = Gauge::<i64>::default();
        most.set(i64::try_from(connections_most).unwrap_or(i64::MAX));
        registry.register("connections_most", "Connections that may be open at once", most);
        let Searches { ended, nodes } = &*SEARCHES;
        for proven in ["true", "false"] {
            // So that both are there from the start.
            drop(ended.get_or_create(&Search { proven }));
        }
        registry.register(
            "searches",
            "Searches for the best settings, by whether that was proven",
            ended.clone(),
        );
        registry.register("search_nodes", "Nodes of those searches", nodes.clone());
        registry.register_collector(Box::new(workers));

        let templates: Vec<String> = std::iter::once(NOWHERE.to_owned()).chain(templates).collect();
        let split = |template: &String| template.split_once('{').map(|(beginning, _)| beginning.to_owned());
        let numbered = || templates.iter().enumerate();
        Self {
            exact: numbered().map(|(index, template)| (template.clone(), index)).collect(),
            beginnings: numbered().filter_map(|(index, template)| Some((split(template)?, index))).collect(),
            routes: templates
                .iter()
                .map(|template| OneRoute {
                    template: template.clone(),
                    seconds: seconds.get_or_create_owned(&OfRoute { route: template.clone() }),
                    by_status: Default::default(),
                })
                .collect(),
            registry,
            requests,
            refusals,
            in_flight,
            connections,
            keys,
            keys_not_read,
            by_key,
        }
    }

    /// The route of a path.
    pub fn route(&self, path: &str) -> Route {
        let exact = self.exact.get(path).copied();
        let longer = || self.beginnings.iter().find(|(beginning, _)| path.starts_with(beginning.as_str()));
        Route(exact.or_else(|| longer().map(|(_, index)| *index)).unwrap_or_default())
    }

    /// The template of a route, for the log.
    pub fn template(&self, route: Route) -> &str {
        &self.routes[route.0].template
    }

    /// A request that waits for its answer, until this is dropped.
    pub fn request(&self) -> InFlightGuard {
        InFlightGuard::new(&self.in_flight)
    }

    /// A connection that is open, until this is dropped.
    pub fn connection(&self) -> InFlightGuard {
        InFlightGuard::new(&self.connections)
    }

    /// Counts an answer to a call with a key, by the key's name.
    pub fn called(&self, name: &Arc<str>, status: u16) {
        self.by_key.called(name, status);
    }

    /// Counts an answer.
    pub fn answered(&self, route: Route, status: u16, took: Duration) {
        let one = &self.routes[route.0];
        let counter = || {
            let labels = Answered { route: one.template.clone(), status };
            self.requests.get_or_create_owned(&labels)
        };
        match STATUSES.iter().position(|known| *known == status) {
            Some(index) => one.by_status[index].get_or_init(counter).inc(),
            None => counter().inc(),
        };
        one.seconds.observe(took.as_secs_f64());
    }

    /// Counts a call that was not taken.
    pub fn refused_one(&self, reason: Refusal) {
        self.refusals[reason as usize].inc();
    }

    /// How many calls were refused so far, by reason.
    pub fn refused(&self) -> [u64; Refusal::ALL.len()] {
        Refusal::ALL.map(|reason| self.refusals[reason as usize].get())
    }

    /// Tells which keys there are from now on.
    pub fn keys_are(&self, keys: &Keys) {
        self.keys.set(i64::try_from(keys.count()).unwrap_or(i64::MAX));
        self.by_key.names_are(&keys.names());
    }

    /// Counts a reading of the keys' file that failed.
    pub fn keys_not_read(&self) {
        self.keys_not_read.inc();
    }

    /// All of it, as Prometheus reads it.
    pub fn text(&self) -> String {
        let mut text = String::new();
        // Writing to a String cannot fail.
        let _ = encode(&mut text, &self.registry);
        text
    }
}

/// Counts one up, and down again when it is dropped.
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
