//! Calls by the name of their key. The names are those now in the keys file, never what a client wrote, so there are at
//! most as many series for each status as names. A name that is removed from the file loses its counts; if it returns,
//! it starts at 0, as after a restart.

use std::{
    collections::{HashMap, HashSet},
    sync::{Arc, OnceLock, PoisonError, RwLock},
};

use prometheus_client::{
    encoding::EncodeLabelSet,
    metrics::{counter::Counter, family::Family},
};

use crate::server::metrics::STATUSES;

/// The labels of a series.
#[derive(Debug, Clone, PartialEq, Eq, Hash, EncodeLabelSet)]
pub struct KeyLabels {
    key: String,
    status: u16,
}

/// The cached counters of one name, by status.
type CountersByStatus = [OnceLock<Counter>; STATUSES.len()];

/// Calls by name and status.
#[derive(Debug, Default)]
pub struct ByKey {
    calls: Family<KeyLabels, Counter>,
    names: RwLock<HashMap<Arc<str>, CountersByStatus>>,
}

impl ByKey {
    /// The metric, for the registry.
    pub fn calls(&self) -> Family<KeyLabels, Counter> {
        self.calls.clone()
    }

    /// Replaces the names, and drops the series of those removed.
    pub fn set_names(&self, current: &HashSet<Arc<str>>) {
        let mut names = self.names.write().unwrap_or_else(PoisonError::into_inner);
        names.retain(|name, _| {
            let stays = current.contains(name);
            if !stays {
                let mut labels = KeyLabels { key: name.to_string(), status: 0 };
                for status in 100..600 {
                    labels.status = status;
                    self.calls.remove(&labels);
                }
            }
            stays
        });
        for name in current {
            names.entry(Arc::clone(name)).or_insert_with(|| {
                // Each name has a series from the start.
                drop(self.calls.get_or_create_owned(&KeyLabels { key: name.to_string(), status: 200 }));
                CountersByStatus::default()
            });
        }
    }

    /// Counts a response to a call with this key, unless the name has been removed meanwhile.
    pub fn count(&self, name: &Arc<str>, status: u16) {
        let names = self.names.read().unwrap_or_else(PoisonError::into_inner);
        let Some(counters) = names.get(name) else { return };
        let counter = || self.calls.get_or_create_owned(&KeyLabels { key: name.to_string(), status });
        match STATUSES.iter().position(|known| *known == status) {
            Some(index) => counters[index].get_or_init(counter).inc(),
            None => counter().inc(),
        };
    }
}
