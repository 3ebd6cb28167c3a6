//! Who a job is for (caller and connection), and how much worker time each has used recently.

use std::{
    net::{IpAddr, Ipv4Addr},
    sync::{
        Arc, Mutex, PoisonError,
        atomic::{AtomicBool, AtomicUsize, Ordering},
    },
    time::{Duration, Instant},
};

use crate::server::rate_limit::Caller;

/// The time after which past use counts half.
const HALF_LIFE: Duration = Duration::from_secs(10);

/// Worker time used recently: a sum that decays with a half-life of ten seconds.
#[derive(Debug, Clone, Copy)]
pub struct RecentUse {
    seconds: f64,
    at: Instant,
}

impl RecentUse {
    /// Nothing used.
    pub const fn none(now: Instant) -> Self {
        Self { seconds: 0.0, at: now }
    }

    /// The decayed sum now, in microseconds.
    pub fn micros(&self, now: Instant) -> u64 {
        (self.seconds_at(now) * 1e6) as u64
    }

    /// Adds worker time that has just been used.
    pub fn add(&mut self, used: Duration, now: Instant) {
        *self = Self { seconds: self.seconds_at(now) + used.as_secs_f64(), at: now };
    }

    fn seconds_at(&self, now: Instant) -> f64 {
        let halvings = now.saturating_duration_since(self.at).div_duration_f64(HALF_LIFE);
        self.seconds * (-halvings).exp2()
    }
}

/// A client's connection. It lives as long as the client stays connected.
#[derive(Debug)]
pub struct Connection {
    recent: Mutex<RecentUse>,
    jobs: AtomicUsize,
    may_have_left: AtomicBool,
}

impl Default for Connection {
    fn default() -> Self {
        Self {
            recent: Mutex::new(RecentUse::none(Instant::now())),
            jobs: AtomicUsize::new(0),
            may_have_left: AtomicBool::new(false),
        }
    }
}

impl Connection {
    /// Whether a job of this connection is in the worker pool.
    pub fn has_work(&self) -> bool {
        self.jobs.load(Ordering::Relaxed) > 0
    }

    /// Records that the client has closed its sending side. It may still read its response, or it may be gone: TCP cannot
    /// tell which. From now on its jobs wait behind all other jobs of its caller.
    pub fn note_half_close(&self) {
        self.may_have_left.store(true, Ordering::Relaxed);
    }

    /// Whether the client has closed its sending side.
    pub fn may_have_left(&self) -> bool {
        self.may_have_left.load(Ordering::Relaxed)
    }

    /// Worker time used recently, in microseconds.
    pub fn micros(&self, now: Instant) -> u64 {
        self.recent.lock().unwrap_or_else(PoisonError::into_inner).micros(now)
    }

    /// Adds worker time that has just been used.
    pub fn add(&self, used: Duration, now: Instant) {
        self.recent.lock().unwrap_or_else(PoisonError::into_inner).add(used, now);
    }
}

/// Who a job is for: a caller, and the connection that the request came on.
#[derive(Debug, Clone)]
pub struct CallerInfo {
    /// The holder of a key, else a network.
    pub caller: Caller,
    /// The connection.
    pub connection: Arc<Connection>,
}

/// The local host on a connection of its own, for requests made in this process.
impl Default for CallerInfo {
    fn default() -> Self {
        Self { caller: Caller::Address(IpAddr::V4(Ipv4Addr::LOCALHOST)), connection: Arc::default() }
    }
}

/// Counts a job of a connection until it is dropped.
#[derive(Debug)]
pub struct WorkGuard(Arc<Connection>);

impl WorkGuard {
    /// Counts one more job.
    pub fn new(connection: &Arc<Connection>) -> Self {
        connection.jobs.fetch_add(1, Ordering::Relaxed);
        Self(Arc::clone(connection))
    }
}

impl Drop for WorkGuard {
    fn drop(&mut self) {
        self.0.jobs.fetch_sub(1, Ordering::Relaxed);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn recent_use_halves_every_ten_seconds() {
        let start = Instant::now();
        let mut recent = RecentUse::none(start);
        recent.add(Duration::from_secs(4), start);
        assert_eq!(recent.micros(start), 4_000_000);
        assert_eq!(recent.micros(start + Duration::from_secs(10)), 2_000_000);
        recent.add(Duration::from_secs(1), start + Duration::from_secs(20));
        assert_eq!(recent.micros(start + Duration::from_secs(20)), 2_000_000);
        // Threads may report out of order: an earlier time does not decay the sum.
        assert_eq!(recent.micros(start), 2_000_000);
    }
}
