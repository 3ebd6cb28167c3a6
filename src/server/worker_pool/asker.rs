//! Who asks for slow work, and how much processor time they have used recently.

use std::{
    net::{IpAddr, Ipv4Addr},
    sync::{
        Arc, Mutex, PoisonError,
        atomic::{AtomicBool, AtomicUsize, Ordering},
    },
    time::{Duration, Instant},
};

use crate::server::rate_limit::Caller;

/// The time in which what was used counts half.
const HALF_LIFE: Duration = Duration::from_secs(10);

/// Processor time used recently. It halves every ten seconds.
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

    /// What is left of it now, in microseconds.
    pub fn micros(&self, now: Instant) -> u64 {
        (self.seconds_at(now) * 1e6) as u64
    }

    /// Adds what was used until now.
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
    /// Whether slow work is under way for it.
    pub fn has_work(&self) -> bool {
        self.jobs.load(Ordering::Relaxed) > 0
    }

    /// Notes that the client has closed its side. It may still read its answer, or be gone altogether: TCP does not
    /// tell. Its work then waits behind all other of its caller.
    pub fn note_half_close(&self) {
        self.may_have_left.store(true, Ordering::Relaxed);
    }

    /// Whether the client has closed its side.
    pub fn may_have_left(&self) -> bool {
        self.may_have_left.load(Ordering::Relaxed)
    }

    /// What it has used recently, in microseconds.
    pub fn micros(&self, now: Instant) -> u64 {
        self.recent.lock().unwrap_or_else(PoisonError::into_inner).micros(now)
    }

    /// Adds what was used until now.
    pub fn add(&self, used: Duration, now: Instant) {
        self.recent.lock().unwrap_or_else(PoisonError::into_inner).add(used, now);
    }
}

/// Who asks: a caller, on one of their connections.
#[derive(Debug, Clone)]
pub struct Asker {
    /// The holder of a key, else all at an address.
    pub caller: Caller,
    /// The connection.
    pub connection: Arc<Connection>,
}

/// Whoever asks in this process.
impl Default for Asker {
    fn default() -> Self {
        Self { caller: Caller::Address(IpAddr::V4(Ipv4Addr::LOCALHOST)), connection: Arc::default() }
    }
}

/// Slow work under way for a connection, until this is dropped.
#[derive(Debug)]
pub struct UnderWay(Arc<Connection>);

impl UnderWay {
    /// One piece of work more.
    pub fn on(connection: &Arc<Connection>) -> Self {
        connection.jobs.fetch_add(1, Ordering::Relaxed);
        Self(Arc::clone(connection))
    }
}

impl Drop for UnderWay {
    fn drop(&mut self) {
        self.0.jobs.fetch_sub(1, Ordering::Relaxed);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_used_halves_every_ten_seconds() {
        let begun = Instant::now();
        let mut recent = RecentUse::none(begun);
        recent.add(Duration::from_secs(4), begun);
        assert_eq!(recent.micros(begun), 4_000_000);
        assert_eq!(recent.micros(begun + Duration::from_secs(10)), 2_000_000);
        recent.add(Duration::from_secs(1), begun + Duration::from_secs(20));
        assert_eq!(recent.micros(begun + Duration::from_secs(20)), 2_000_000);
        // A thread may have taken its time before another did.
        assert_eq!(recent.micros(begun), 2_000_000);
    }
}
