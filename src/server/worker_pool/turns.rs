//! The queue of the worker pool: which job has the next turn. A job runs for a turn, then waits for its next one if
//! others wait.
//!
//! The caller who has used the workers least recently goes first; among one caller's jobs, the one whose connection
//! has used least, with those whose client may have disconnected last; then the one that has waited longest. Every
//! fourth turn goes to the job that has waited longest, so that nobody starves behind a stream of newcomers. Callers
//! pass in the time; nothing here reads a clock.

use std::{
    collections::HashMap,
    time::{Duration, Instant},
};

use crate::server::{
    rate_limit::Caller,
    worker_pool::caller_info::{CallerInfo, RecentUse},
};

/// Callers whose use is remembered; some 100 bytes each.
const MAX_CALLERS: usize = 4096;
/// Recent use below which a caller is forgotten first, in microseconds.
const NEGLIGIBLE_US: u64 = 1000;
/// Every so many turns, the job that has waited longest goes first.
const OLDEST_EVERY: u64 = 4;

/// A job's number.
pub type Number = u64;

/// How much is admitted at once.
#[derive(Debug, Clone, Copy)]
pub struct Bounds {
    /// Jobs that run at once.
    pub workers: usize,
    /// Jobs that have started: each has a thread, also while it waits for its next turn.
    pub threads: usize,
    /// Whole requests, running or waiting.
    pub requests: usize,
}

/// What a job computes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum JobKind {
    /// A whole request.
    Request,
    /// A slice of a batch. A batch has few of them at once, so they need no limit.
    Slice,
}

#[derive(Debug)]
struct Job {
    caller_info: CallerInfo,
    kind: JobKind,
    has_started: bool,
}

/// A job that waits for a turn.
#[derive(Debug)]
struct Waiting<W> {
    number: Number,
    since: Instant,
    wake: W,
}

/// What is known of a caller.
#[derive(Debug)]
struct Account {
    recent: RecentUse,
    /// The caller's jobs.
    jobs: usize,
    /// The jobs that are whole requests.
    requests: usize,
    /// The jobs that have started, and so have a thread.
    threads: usize,
}

/// A granted turn.
#[derive(Debug)]
pub struct Granted<W> {
    /// Who the job is for.
    pub caller_info: CallerInfo,
    /// What wakes it.
    pub wake: W,
}

/// The queue of one service. `W` is whatever wakes a job.
#[derive(Debug)]
pub struct Turns<W> {
    bounds: Bounds,
    running: usize,
    threads: usize,
    requests: usize,
    jobs: HashMap<Number, Job>,
    waiting: Vec<Waiting<W>>,
    callers: HashMap<Caller, Account>,
    /// Jobs admitted so far, which is the number of the last one.
    admitted: Number,
    /// Turns granted so far.
    granted: u64,
}

/// Whether a caller who has `own` of `taken` places may take one more of `limit`. Everybody may have half as many as
/// are free, so that a newcomer finds room however many the others have.
const fn may_take(own: usize, taken: usize, limit: usize) -> bool {
    own < limit.saturating_sub(taken).div_ceil(2)
}

impl JobKind {
    /// How many requests the job counts as.
    const fn requests(self) -> usize {
        match self {
            Self::Request => 1,
            Self::Slice => 0,
        }
    }
}

impl<W> Turns<W> {
    /// An empty queue.
    pub fn new(bounds: Bounds) -> Self {
        Self {
            bounds,
            running: 0,
            threads: 0,
            requests: 0,
            jobs: HashMap::new(),
            waiting: Vec::new(),
            callers: HashMap::new(),
            admitted: 0,
            granted: 0,
        }
    }

    /// Whether the caller may have another request.
    pub fn has_room(&self, caller: Caller) -> bool {
        let own = self.callers.get(&caller).map_or(0, |account| account.requests);
        may_take(own, self.requests, self.bounds.requests)
    }

    /// Admits a job, whether there is room or not.
    pub fn admit(&mut self, caller_info: CallerInfo, kind: JobKind, now: Instant) -> Number {
        if !self.callers.contains_key(&caller_info.caller) {
            self.make_room(now);
        }
        let requests = kind.requests();
        self.requests += requests;
        let new = Account { recent: RecentUse::none(now), jobs: 0, requests: 0, threads: 0 };
        let account = self.callers.entry(caller_info.caller).or_insert(new);
        account.jobs += 1;
        account.requests += requests;
        self.admitted += 1;
        self.jobs.insert(self.admitted, Job { caller_info, kind, has_started: false });
        self.admitted
    }

    /// Removes a job that has ended or was dropped.
    pub fn leave(&mut self, number: Number) {
        self.forget(number);
        let Some(job) = self.jobs.remove(&number) else { return };
        let (requests, threads) = (job.kind.requests(), usize::from(job.has_started));
        self.requests -= requests;
        self.threads -= threads;
        if let Some(account) = self.callers.get_mut(&job.caller_info.caller) {
            account.jobs -= 1;
            account.requests -= requests;
            account.threads -= threads;
        }
    }

    /// Queues a job for its next turn.
    pub fn wait(&mut self, number: Number, wake: W, now: Instant) {
        self.waiting.push(Waiting { number, since: now, wake });
    }

    /// Takes a job out of the queue, and drops what would have woken it.
    pub fn forget(&mut self, number: Number) {
        self.waiting.retain(|waiting| waiting.number != number);
    }

    /// Ends a turn that took this long.
    pub fn end_turn(&mut self, caller_info: &CallerInfo, took: Duration, now: Instant) {
        self.running -= 1;
        caller_info.connection.add(took, now);
        if let Some(account) = self.callers.get_mut(&caller_info.caller) {
            account.recent.add(took, now);
        }
    }

    /// Grants the next turn, if a worker is free and a job waits that may have a thread.
    pub fn next(&mut self, now: Instant) -> Option<Granted<W>> {
        if self.running >= self.bounds.workers {
            return None;
        }
        let Waiting { number, wake, .. } = self.waiting.swap_remove(self.first(now)?);
        let job = self.jobs.get_mut(&number)?;
        if !job.has_started {
            job.has_started = true;
            self.threads += 1;
            if let Some(account) = self.callers.get_mut(&job.caller_info.caller) {
                account.threads += 1;
            }
        }
        self.running += 1;
        self.granted += 1;
        Some(Granted { caller_info: job.caller_info.clone(), wake })
    }

    /// The numbers of running and of waiting jobs.
    pub fn counts(&self) -> [usize; 2] {
        [self.running, self.waiting.len()]
    }

    /// The index of the waiting job that has the next turn.
    fn first(&self, now: Instant) -> Option<usize> {
        let is_by_age = self.granted % OLDEST_EVERY == OLDEST_EVERY - 1;
        let ranked = self.waiting.iter().enumerate().filter_map(|(index, waiting)| {
            let job = self.jobs.get(&waiting.number)?;
            let CallerInfo { caller, connection } = &job.caller_info;
            let account = self.callers.get(caller)?;
            let may_run = job.has_started || may_take(account.threads, self.threads, self.bounds.threads);
            let by_use = if is_by_age {
                // Only the wait counts, so that a half-closed connection has a turn now and then as well.
                (0, false, 0)
            } else {
                (account.recent.micros(now), connection.may_have_left(), connection.micros(now))
            };
            let rank = (by_use, waiting.since, waiting.number);
            may_run.then_some((rank, index))
        });
        ranked.min().map(|(_, index)| index)
    }

    /// Makes room for another caller. Forgets callers without jobs who have used next to nothing; if there are none,
    /// the caller without jobs who has used least.
    fn make_room(&mut self, now: Instant) {
        if self.callers.len() < MAX_CALLERS {
            return;
        }
        let is_remembered =
            |account: &Account| account.jobs > 0 || account.recent.micros(now) >= NEGLIGIBLE_US;
        self.callers.retain(|_, account| is_remembered(account));
        if self.callers.len() < MAX_CALLERS {
            return;
        }
        let idle = self.callers.iter().filter(|(_, account)| account.jobs == 0);
        let least = idle.min_by_key(|(_, account)| account.recent.micros(now)).map(|(caller, _)| *caller);
        if let Some(caller) = least {
            self.callers.remove(&caller);
        }
    }
}

#[cfg(test)]
mod tests;
