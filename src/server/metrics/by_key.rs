//! Calls by the name of their key. The names are those that the file of keys has now: nothing that a caller wrote, and
//! no more series than the file has names, for each status. A name that is taken out of the file takes its counts with
//! it; should it come back, it begins at 0, as after a restart.

use std::{
    collections::{HashMap, HashSet},
    sync::{Arc, OnceLock, PoisonError, RwLock},
};

use prometheus_client::{
    encoding::EncodeLabelSet,
    metrics::{counter::Counter, family::Family},
};

use crate::server::metrics::STATUSES;

/// What a series is of.
#[derive(Debug, Clone, PartialEq, Eq, Hash, EncodeLabelSet)]
pub struct Called {
    key: String,
    status: u16,
}

/// Handles of a name's counters, each by its status.
type OfName = [OnceLock<Counter>; STATUSES.len()];

/// Calls by name and status.
#[derive(Debug, Default)]
pub struct ByKey {
    calls: Family<Called, Counter>,
    names: RwLock<HashMap<Arc<str>, OfName>>,
}

impl ByKey {
    /// What is registered.
    pub fn calls(&self) -> Family<Called, Counter> {
        self.calls.clone()
    }

    /// The names as they are now.
    pub fn names_are(&self, now: &HashSet<Arc<str>>) {
        let mut names = self.names.write().unwrap_or_else(PoisonError::into_inner);
        names.retain(|name, _| {
            let stays = now.contains(name);
            if !stays {
                let mut called = Called { key: name.to_string(), status: 0 };
                for status in 100..600 {
                    called.status = status;
                    self.calls.remove(&called);
                }
            }
            stays
        });
        for name in now {
            names.entry(Arc::clone(name)).or_insert_with(|| {
                // So that a name is there from the start.
                drop(self.calls.get_or_create_owned(&Called { key: name.to_string(), status: 200 }));
                OfName::default()
            });
        }
    }

    /// Counts an answer to a call with a key. A name that is gone meanwhile is not counted any more.
    pub fn called(&self, name: &Arc<str>, status: u16) {
        let names = self.names.read().unwrap_or_else(PoisonError::into_inner);
        let Some(handles) = names.get(name) else { return };
        let counter = || self.calls.get_or_create_owned(&Called { key: name.to_string(), status });
        match STATUSES.iter().position(|known| *known == status) {
            Some(index) => handles[index].get_or_init(counter).inc(),
            None => counter().inc(),
        };
    }
}
