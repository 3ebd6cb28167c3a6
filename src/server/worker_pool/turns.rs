//! Whose turn it is. A job runs for a turn, then waits for its next one if others wait.
//!
//! The caller who has used least processor time recently goes first; of one caller's jobs, the one whose connection has
//! used least, but last those whose client may have left; then the one that has waited longest. Every fourth turn goes
//! to the job that has waited longest, so that nobody waits for ever behind those who come and go. All times are given,
//! none is looked up.

use std::{
    collections::HashMap,
    time::{Duration, Instant},
};

use crate::server::{
    rate_limit::Caller,
    worker_pool::asker::{Asker, RecentUse},
};

/// Callers that are remembered; some 100 bytes each.
const CALLERS_MOST: usize = 4096;
/// Recent use that is not worth remembering, in microseconds.
const NEGLIGIBLE_US: u64 = 1000;
/// One turn in so many goes to the job that has waited longest.
const OLDEST_EVERY: u64 = 4;

/// A job by its number.
pub type Number = u64;

/// How much is taken on at once.
#[derive(Debug, Clone, Copy)]
pub struct Bounds {
    /// Jobs that run.
    pub workers: usize,
    /// Jobs that have begun: each has a thread, also while it waits for its next turn.
    pub threads: usize,
    /// Whole requests that have begun or wait to begin.
    pub requests: usize,
}

/// What a job is part of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// It is all of a request.
    Whole,
    /// It is a slice of a batch, which has few of them at once, so that there need not be a bound for them.
    Slice,
}

#[derive(Debug)]
struct Job {
    asker: Asker,
    part: Part,
    has_begun: bool,
}

/// A job that waits for a turn.
#[derive(Debug)]
struct Waiting<W> {
    number: Number,
    since: Instant,
    wake: W,
}

/// What is remembered of a caller.
#[derive(Debug)]
struct Account {
    recent: RecentUse,
    /// Their jobs.
    jobs: usize,
    /// Those of them that are whole requests.
    requests: usize,
    /// Those of them that have begun.
    threads: usize,
}

/// A turn that is given: who asked for the job, and what wakes it.
#[derive(Debug)]
pub struct Given<W> {
    /// Who asked.
    pub asker: Asker,
    /// What wakes it.
    pub wake: W,
}

/// The turns of one service; `W` is whatever wakes a job.
#[derive(Debug)]
pub struct Turns<W> {
    bounds: Bounds,
    running: usize,
    threads: usize,
    requests: usize,
    jobs: HashMap<Number, Job>,
    waiting: Vec<Waiting<W>>,
    callers: HashMap<Caller, Account>,
    /// Jobs so far, and turns so far.
    numbers: Number,
    given: u64,
}

/// Whether someone who has `own` of `all` that are taken may take one more. Everybody may take half of what is left,
/// so that whoever comes with few finds room, however many the others have.
const fn may_take(own: usize, all: usize, most: usize) -> bool {
    own < most.saturating_sub(all).div_ceil(2)
}

impl Part {
    /// How many requests it counts for.
    const fn requests(self) -> usize {
        match self {
            Self::Whole => 1,
            Self::Slice => 0,
        }
    }
}

impl<W> Turns<W> {
    /// No job yet.
    pub fn new(bounds: Bounds) -> Self {
        Self {
            bounds,
            running: 0,
            threads: 0,
            requests: 0,
            jobs: HashMap::new(),
            waiting: Vec::new(),
            callers: HashMap::new(),
            numbers: 0,
            given: 0,
        }
    }

    /// Whether this caller may have another request.
    pub fn has_room(&self, caller: Caller) -> bool {
        let own = self.callers.get(&caller).map_or(0, |account| account.requests);
        may_take(own, self.requests, self.bounds.requests)
    }

    /// Takes on a job, whether there is room or not.
    pub fn admit(&mut self, asker: Asker, part: Part, now: Instant) -> Number {
        if !self.callers.contains_key(&asker.caller) {
            self.make_room(now);
        }
        let requests = part.requests();
        self.requests += requests;
        let new = Account { recent: RecentUse::none(now), jobs: 0, requests: 0, threads: 0 };
        let account = self.callers.entry(asker.caller).or_insert(new);
        account.jobs += 1;
        account.requests += requests;
        self.numbers += 1;
        self.jobs.insert(self.numbers, Job { asker, part, has_begun: false });
        self.numbers
    }

    /// A job has ended, or nobody wants it any more.
    pub fn leave(&mut self, number: Number) {
        self.forget(number);
        let Some(job) = self.jobs.remove(&number) else { return };
        let (requests, threads) = (job.part.requests(), usize::from(job.has_begun));
        self.requests -= requests;
        self.threads -= threads;
        if let Some(account) = self.callers.get_mut(&job.asker.caller) {
            account.jobs -= 1;
            account.requests -= requests;
            account.threads -= threads;
        }
    }

    /// A job waits for its next turn.
    pub fn wait(&mut self, number: Number, wake: W, now: Instant) {
        self.waiting.push(Waiting { number, since: now, wake });
    }

    /// A job waits no longer. What would have woken it is dropped.
    pub fn forget(&mut self, number: Number) {
        self.waiting.retain(|waiting| waiting.number != number);
    }

    /// A turn has ended, which took so long.
    pub fn end_turn(&mut self, asker: &Asker, took: Duration, now: Instant) {
        self.running -= 1;
        asker.connection.add(took, now);
        if let Some(account) = self.callers.get_mut(&asker.caller) {
            account.recent.add(took, now);
        }
    }

    /// Gives the next turn, if a worker is free and someone waits.
    pub fn next(&mut self, now: Instant) -> Option<Given<W>> {
        if self.running >= self.bounds.workers {
            return None;
        }
        let Waiting { number, wake, .. } = self.waiting.swap_remove(self.first(now)?);
        let job = self.jobs.get_mut(&number)?;
        if !job.has_begun {
            job.has_begun = true;
            self.threads += 1;
            if let Some(account) = self.callers.get_mut(&job.asker.caller) {
                account.threads += 1;
            }
        }
        self.running += 1;
        self.given += 1;
        Some(Given { asker: job.asker.clone(), wake })
    }

    /// Jobs that run, and jobs that wait for a turn.
    pub fn counts(&self) -> [usize; 2] {
        [self.running, self.waiting.len()]
    }

    /// Which of those who wait has the next turn.
    fn first(&self, now: Instant) -> Option<usize> {
        let is_by_age = self.given % OLDEST_EVERY == OLDEST_EVERY - 1;
        let ranked = self.waiting.iter().enumerate().filter_map(|(index, waiting)| {
            let job = self.jobs.get(&waiting.number)?;
            let Asker { caller, connection } = &job.asker;
            let account = self.callers.get(caller)?;
            let may_run = job.has_begun || may_take(account.threads, self.threads, self.bounds.threads);
            let [by_caller, by_connection] =
                if is_by_age { [0, 0] } else { [account.recent.micros(now), connection.micros(now)] };
            let rank = (by_caller, connection.may_have_left(), by_connection, waiting.since, waiting.number);
            may_run.then_some((rank, index))
        });
        ranked.min().map(|(_, index)| index)
    }

    /// Makes room for another caller: those are forgotten who have no job and have used next to nothing, else the one
    /// who has used least.
    fn make_room(&mut self, now: Instant) {
        if self.callers.len() < CALLERS_MOST {
            return;
        }
        let is_worth_it = |account: &Account| account.jobs > 0 || account.recent.micros(now) >= NEGLIGIBLE_US;
        self.callers.retain(|_, account| is_worth_it(account));
        if self.callers.len() < CALLERS_MOST {
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
