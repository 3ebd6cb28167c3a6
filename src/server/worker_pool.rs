//! A worker pool for slow calculations.
//!
//! Balances and kit checks can take seconds. They run on blocking threads, on all cores but one, so that quick calls
//! keep a core to themselves.
//!
//! Workers are shared by time slices, called turns; `turns.rs` decides whose turn is next. If others wait when a job's
//! turn is over, the job pauses at its next checkpoint: it blocks its thread until its next turn. A job is cancelled
//! when its client disconnects.

pub mod caller_info;
mod counts;
mod turns;

use std::{
    cell::Cell,
    sync::{
        Arc, LazyLock, Mutex, MutexGuard, PoisonError,
        atomic::{AtomicBool, Ordering},
    },
    time::{Duration, Instant},
};

use tokio::{sync::oneshot, task::JoinHandle, time::timeout_at};

use self::{
    caller_info::{CallerInfo, WorkGuard},
    turns::{JobId, JobKind, Limits, Turns},
};
use crate::{
    light::interrupt::Interrupt,
    server::problem::{Kind, Problem},
};

/// The length of a turn: how long a job keeps a worker if others wait.
pub const TURN: Duration = Duration::from_millis(50);
/// Requests for each worker, running or waiting. A caller may have half as many as are free (`turns.rs`), so one caller
/// alone gets a third of them.
const REQUESTS_PER_WORKER: usize = 128;
/// Threads for jobs that have started and are paused between two turns. A paused job keeps its thread, because its
/// calculation is halfway down that thread's stack.
const MAX_PAUSED: usize = 64;

/// Worker threads, and so jobs that run at once: all cores but one, and at least one.
pub fn workers() -> usize {
    static WORKERS: LazyLock<usize> = LazyLock::new(|| {
        std::thread::available_parallelism().map_or(1, usize::from).saturating_sub(1).max(1)
    });
    *WORKERS
}

/// Blocking threads for jobs that have started, running or paused.
pub fn threads() -> usize {
    // One caller alone gets a third of the threads; three for each worker let it keep all workers busy.
    3 * workers() + MAX_PAUSED
}

/// The workers of one service, and the jobs that wait for them.
#[derive(Debug, Clone)]
pub struct WorkerPool(Arc<Shared>);

#[derive(Debug)]
struct Shared(Mutex<Turns<oneshot::Sender<Turn>>>);

/// A running time slice of a worker. Dropping it ends the turn and grants the worker's next one.
#[derive(Debug)]
struct Turn {
    pool: Arc<Shared>,
    caller_info: CallerInfo,
    began: Instant,
}

/// An admitted job. Dropping it removes the job and frees its places.
#[derive(Debug)]
struct Ticket {
    pool: Arc<Shared>,
    id: JobId,
}

/// Cancels a job when its request is dropped, even while the job is paused.
struct CancelOnDrop {
    pool: Arc<Shared>,
    id: JobId,
    cancelled: Arc<AtomicBool>,
}

/// A job on its thread, and the interrupt that its calculation checks.
#[derive(Debug)]
struct RunningJob {
    /// `None` if the job runs without a turn (past a batch's deadline) or has been cancelled.
    turn: Mutex<Option<Turn>>,
    cancelled: Arc<AtomicBool>,
    ticket: Ticket,
}

impl Default for WorkerPool {
    fn default() -> Self {
        let workers = workers();
        let limits = Limits { workers, threads: threads(), requests: REQUESTS_PER_WORKER * workers };
        Self(Arc::new(Shared(Mutex::new(Turns::new(limits)))))
    }
}

impl WorkerPool {
    /// Runs a job on a worker, taking turns with others.
    ///
    /// # Errors
    ///
    /// 503 if this caller, or all callers together, have too many requests in the pool; 500 if the job panics.
    pub async fn run<T: Send + 'static>(
        &self,
        caller_info: CallerInfo,
        job: impl FnOnce(&dyn Interrupt) -> T + Send + 'static,
    ) -> Result<T, Problem> {
        let _guard = WorkGuard::new(&caller_info.connection);
        let ticket = self.admit(caller_info, JobKind::Request)?;
        spawn_abortable(async move {
            let turn = ticket.first_turn().await.map_err(|_| failed())?;
            run_on_thread(ticket, Some(turn), job).await
        })
        .await
    }

    /// Runs a slice of a batch, taking turns with others. It is never refused, because a batch has few slices at once.
    /// If its first turn does not come before the deadline, it runs without one, so that the job can report the timeout.
    ///
    /// # Errors
    ///
    /// 500 if the job panics.
    pub async fn run_slice<T: Send + 'static>(
        &self,
        caller_info: CallerInfo,
        deadline: Option<Instant>,
        job: impl FnOnce(&dyn Interrupt) -> T + Send + 'static,
    ) -> Result<T, Problem> {
        let _guard = WorkGuard::new(&caller_info.connection);
        let ticket = self.admit(caller_info, JobKind::Slice)?;
        spawn_abortable(async move {
            let turn = ticket.first_turn();
            let turn = match deadline {
                Some(deadline) => timeout_at(deadline.into(), turn).await.ok().and_then(Result::ok),
                None => turn.await.ok(),
            };
            run_on_thread(ticket, turn, job).await
        })
        .await
    }

    /// The numbers of running and of waiting jobs.
    pub fn counts(&self) -> [usize; 2] {
        self.0.lock().counts()
    }

    fn admit(&self, caller_info: CallerInfo, kind: JobKind) -> Result<Ticket, Problem> {
        let mut turns = self.0.lock();
        if kind == JobKind::Request && !turns.may_send_request(caller_info.caller) {
            return Err(busy());
        }
        Ok(Ticket { pool: Arc::clone(&self.0), id: turns.admit(caller_info, kind, Instant::now()) })
    }
}

impl Shared {
    fn lock(&self) -> MutexGuard<'_, Turns<oneshot::Sender<Turn>>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Grants turns as long as a worker is free.
    fn grant_turns(self: &Arc<Self>, mut turns: MutexGuard<'_, Turns<oneshot::Sender<Turn>>>) {
        let now = Instant::now();
        let granted: Vec<_> = std::iter::from_fn(|| turns.next(now)).collect();
        drop(turns);
        for turn in granted {
            // If the job has gone meanwhile, its turn is dropped here, which frees the worker for the next job.
            let _ =
                turn.waker.send(Turn { pool: Arc::clone(self), caller_info: turn.caller_info, began: now });
        }
    }
}

impl Drop for Turn {
    fn drop(&mut self) {
        let mut turns = self.pool.lock();
        turns.end_turn(&self.caller_info, self.began.elapsed(), Instant::now());
        self.pool.grant_turns(turns);
    }
}

impl Ticket {
    /// The job's first turn. Until then the job has no thread.
    fn first_turn(&self) -> oneshot::Receiver<Turn> {
        let (waker, turn) = oneshot::channel();
        let mut turns = self.pool.lock();
        turns.enqueue(self.id, waker, Instant::now());
        self.pool.grant_turns(turns);
        turn
    }
}

impl Drop for Ticket {
    fn drop(&mut self) {
        let mut turns = self.pool.lock();
        turns.remove(self.id);
        // Its thread is free, so that another job may start.
        self.pool.grant_turns(turns);
    }
}

impl Drop for CancelOnDrop {
    fn drop(&mut self) {
        // In this order: a job that is queued before it sees the flag is woken by `dequeue`, which drops its sender.
        self.cancelled.store(true, Ordering::Relaxed);
        self.pool.lock().dequeue(self.id);
    }
}

impl RunningJob {
    /// Blocks this thread until the job's next turn. `None` if the job has been cancelled.
    fn next_turn(&self, finished: Turn) -> Option<Turn> {
        let (waker, turn) = oneshot::channel();
        let mut turns = self.ticket.pool.lock();
        if self.cancelled.load(Ordering::Relaxed) {
            return None;
        }
        turns.enqueue(self.ticket.id, waker, Instant::now());
        drop(turns);
        // Frees the worker for the next job in the queue, which may be this one again.
        drop(finished);
        turn.blocking_recv().ok()
    }
}

impl Interrupt for RunningJob {
    fn checkpoint(&self) -> bool {
        if self.cancelled.load(Ordering::Relaxed) {
            return true;
        }
        let mut turn = self.turn.lock().unwrap_or_else(PoisonError::into_inner);
        let Some(finished) = turn.take_if(|turn| turn.began.elapsed() >= TURN) else { return false };
        *turn = self.next_turn(finished);
        turn.is_none()
    }
}

/// Spawns `future` as its own task, so that a client that reads slowly does not hold a worker; aborts it when dropped.
async fn spawn_abortable<T: Send + 'static>(
    future: impl Future<Output = Result<T, Problem>> + Send + 'static,
) -> Result<T, Problem> {
    struct AbortOnDrop<T>(JoinHandle<T>);
    impl<T> Drop for AbortOnDrop<T> {
        fn drop(&mut self) {
            self.0.abort();
        }
    }
    let mut task = AbortOnDrop(tokio::spawn(future));
    (&mut task.0).await.map_err(|_| failed())?
}

/// Runs the job on a blocking thread, and cancels it if this future is dropped.
async fn run_on_thread<T: Send + 'static>(
    ticket: Ticket,
    turn: Option<Turn>,
    job: impl FnOnce(&dyn Interrupt) -> T + Send + 'static,
) -> Result<T, Problem> {
    let cancelled = Arc::new(AtomicBool::new(false));
    let running = RunningJob { cancelled: Arc::clone(&cancelled), turn: Mutex::new(turn), ticket };
    let Ticket { pool, id } = &running.ticket;
    let _cancel = CancelOnDrop { pool: Arc::clone(pool), id: *id, cancelled };
    let run = move || {
        lower_priority();
        // `running` moves in here, so that its turn and ticket are dropped when the job ends, even if its client has left.
        job(&running)
    };
    tokio::task::spawn_blocking(run).await.map_err(|_| failed())
}

thread_local! {
    /// Whether this thread runs slow calculations, and has a lower priority.
    static IS_WORKER: Cell<bool> = const { Cell::new(false) };
}

/// Offers a worker's CPU to other threads, at every 64th step of work that has no checkpoints. Otherwise a quick call
/// that wakes on this CPU may wait some milliseconds, until the scheduler preempts the worker. Does nothing on the async
/// threads, which answer the quick calls.
pub fn yield_at(step: usize) {
    const STEPS: usize = 64;
    if step.is_multiple_of(STEPS) && IS_WORKER.get() {
        std::thread::yield_now();
    }
}

/// Lowers this thread's scheduling priority, so that quick calls win when both want the CPU.
fn lower_priority() {
    /// On the scale of `nice`: a third of the share of a quick call's thread, if both want all of a core.
    #[cfg(target_os = "linux")]
    const NICENESS: i32 = 5;
    // Once for each thread: blocking threads do hardly anything but slow calculations.
    if !IS_WORKER.replace(true) {
        // On Linux this affects the calling thread only. If it is refused, the job runs at normal priority.
        #[cfg(target_os = "linux")]
        let _ = rustix::process::setpriority_process(None, NICENESS);
    }
}

fn failed() -> Problem {
    Problem::new(Kind::Internal, "The calculation failed.")
}

fn busy() -> Problem {
    Problem::new(Kind::Unavailable, "Too many heavy calculations at once; send it again.")
}
