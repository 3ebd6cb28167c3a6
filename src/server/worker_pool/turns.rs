//! The queue of the worker pool: decides which job has the next turn.
//!
//! A turn is a time slice of a worker. A job that has used up its turn goes back into the queue if others wait.
//!
//! The next turn goes to the caller with the least worker time recently. Among the jobs of one caller, it goes to the
//! connection with the least worker time, but a half-closed connection comes last, since it looks as if its client had
//! left. Ties go to the longest wait. Every fourth turn goes to the job that has waited longest, whoever it is for, so that no job
//! starves behind a stream of newcomers.
//!
//! Nothing here reads a clock: the time is an argument.

use std::{
    collections::HashMap,
    time::{Duration, Instant},
};

use crate::server::{
    rate_limit::Caller,
    worker_pool::caller_info::{CallerInfo, RecentUse},
};

/// The most callers whose recent use is remembered; some 100 bytes each.
const MAX_CALLERS: usize = 4096;
/// A caller without jobs whose recent use is less than this many microseconds may be forgotten.
const NEGLIGIBLE_US: u64 = 1000;
/// Every fourth turn goes to the job that has waited longest.
const OLDEST_EVERY: u64 = 4;

/// Identifies a job; later jobs have higher ids.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct JobId(u64);

/// The size of the pool.
#[derive(Debug, Clone, Copy)]
pub struct Limits {
    /// Jobs that run at once.
    pub workers: usize,
    /// Threads: one for each job that has started, running or paused, until it ends.
    pub threads: usize,
    /// Whole requests, running or waiting.
    pub requests: usize,
}

/// How much of a request a job computes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum JobKind {
    /// A whole request.
    Request,
    /// A slice of a batch. A batch has few slices at once, so they need no limit.
    Slice,
}

#[derive(Debug)]
struct Job {
    caller_info: CallerInfo,
    kind: JobKind,
    has_started: bool,
}

/// A job in the queue.
#[derive(Debug)]
struct Waiting<W> {
    id: JobId,
    since: Instant,
    waker: W,
}

/// A caller's recent use, and what its jobs occupy now.
#[derive(Debug)]
struct Account {
    recent: RecentUse,
    /// All jobs.
    jobs: usize,
    /// Jobs that are whole requests.
    requests: usize,
    /// Jobs that have started, and so have a thread.
    threads: usize,
}

/// A granted turn.
#[derive(Debug)]
pub struct Granted<W> {
    /// Who the job is for.
    pub caller_info: CallerInfo,
    /// The waker that it was queued with.
    pub waker: W,
}

/// The queue of one service. `W` is the waker of a job: whatever its owner needs to start or resume it.
#[derive(Debug)]
pub struct Turns<W> {
    limits: Limits,
    running: usize,
    threads: usize,
    requests: usize,
    jobs: HashMap<JobId, Job>,
    waiting: Vec<Waiting<W>>,
    callers: HashMap<Caller, Account>,
    /// Jobs admitted so far; the id of the last one.
    admitted: u64,
    /// Turns granted so far.
    granted: u64,
}

/// Whether a caller that has `own` of the `taken` places may take one more of `limit`. It may have half as many as are
/// free, so that a newcomer finds room however many the others have.
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
    pub fn new(limits: Limits) -> Self {
        Self {
            limits,
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

    /// Whether the caller may send another request.
    pub fn may_send_request(&self, caller: Caller) -> bool {
        let own = self.callers.get(&caller).map_or(0, |account| account.requests);
        may_take(own, self.requests, self.limits.requests)
    }

    /// Admits a job without checking for room, and without queueing it.
    pub fn admit(&mut self, caller_info: CallerInfo, kind: JobKind, now: Instant) -> JobId {
        if !self.callers.contains_key(&caller_info.caller) {
            self.forget_idle_callers(now);
        }
        let requests = kind.requests();
        self.requests += requests;
        let new = Account { recent: RecentUse::none(now), jobs: 0, requests: 0, threads: 0 };
        let account = self.callers.entry(caller_info.caller).or_insert(new);
        account.jobs += 1;
        account.requests += requests;
        self.admitted += 1;
        let id = JobId(self.admitted);
        self.jobs.insert(id, Job { caller_info, kind, has_started: false });
        id
    }

    /// Removes a job that has ended or was dropped, and frees its places.
    pub fn remove(&mut self, id: JobId) {
        self.dequeue(id);
        let Some(job) = self.jobs.remove(&id) else { return };
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
    pub fn enqueue(&mut self, id: JobId, waker: W, now: Instant) {
        self.waiting.push(Waiting { id, since: now, waker });
    }

    /// Takes a job out of the queue and drops its waker.
    pub fn dequeue(&mut self, id: JobId) {
        self.waiting.retain(|waiting| waiting.id != id);
    }

    /// Ends a turn that took this long, and frees its worker.
    pub fn end_turn(&mut self, caller_info: &CallerInfo, took: Duration, now: Instant) {
        self.running -= 1;
        caller_info.connection.add(took, now);
        if let Some(account) = self.callers.get_mut(&caller_info.caller) {
            account.recent.add(took, now);
        }
    }

    /// Grants the next turn. `None` if all workers are busy, or no queued job has a thread or may get one.
    pub fn next(&mut self, now: Instant) -> Option<Granted<W>> {
        if self.running >= self.limits.workers {
            return None;
        }
        let Waiting { id, waker, .. } = self.waiting.swap_remove(self.next_index(now)?);
        let job = self.jobs.get_mut(&id)?;
        if !job.has_started {
            job.has_started = true;
            self.threads += 1;
            if let Some(account) = self.callers.get_mut(&job.caller_info.caller) {
                account.threads += 1;
            }
        }
        self.running += 1;
        self.granted += 1;
        Some(Granted { caller_info: job.caller_info.clone(), waker })
    }

    /// The numbers of running and of waiting jobs.
    pub fn counts(&self) -> [usize; 2] {
        [self.running, self.waiting.len()]
    }

    /// The index in the queue of the job that has the next turn.
    fn next_index(&self, now: Instant) -> Option<usize> {
        let oldest_first = self.granted % OLDEST_EVERY == OLDEST_EVERY - 1;
        let ranked = self.waiting.iter().enumerate().filter_map(|(index, waiting)| {
            let job = self.jobs.get(&waiting.id)?;
            let CallerInfo { caller, connection } = &job.caller_info;
            let account = self.callers.get(caller)?;
            let may_run = job.has_started || may_take(account.threads, self.threads, self.limits.threads);
            let priority = if oldest_first {
                // Only the wait counts, so that work of half-closed connections gets turns too.
                (0, false, 0)
            } else {
                (account.recent.micros(now), connection.may_have_left(), connection.micros(now))
            };
            let rank = (priority, waiting.since, waiting.id);
            may_run.then_some((rank, index))
        });
        ranked.min().map(|(_, index)| index)
    }

    /// Makes room for another caller: forgets the callers without jobs whose recent use is negligible; if there are
    /// none, the caller without jobs that has used least.
    fn forget_idle_callers(&mut self, now: Instant) {
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
