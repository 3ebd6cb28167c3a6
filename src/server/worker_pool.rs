//! A worker pool for slow calculations.
//!
//! Balances and kit checks can take seconds. They run on blocking threads, on all cores but one, so that quick calls
//! keep a core to themselves. Callers take turns (`turns.rs`): where others wait, a job that has run for a turn waits
//! at its next checkpoint, on its own thread, for its next turn. A job is told to end when its client disconnects.

pub mod asker;
mod counts;
mod turns;

use std::{
    sync::{
        Arc, LazyLock, Mutex, MutexGuard, PoisonError,
        atomic::{AtomicBool, Ordering},
    },
    time::{Duration, Instant},
};

use tokio::{sync::oneshot, task::JoinHandle, time::timeout_at};

use self::{
    asker::{Asker, UnderWay},
    turns::{Bounds, Number, Part, Turns},
};
use crate::{
    light::interrupt::Interrupt,
    server::problem::{Kind, Problem},
};

/// Time after which a job gives up its worker, if others wait.
pub const TURN: Duration = Duration::from_millis(50);
/// Requests for each worker that may have begun or wait to begin. A caller who is alone may have a third of them.
const REQUESTS_PER_WORKER: usize = 128;
/// Threads of jobs that wait for their next turn. A caller who is alone may have a third of them.
const PAUSED_MOST: usize = 64;

/// Worker threads that run at once: all cores but one, and at least one.
pub fn workers() -> usize {
    static WORKERS: LazyLock<usize> = LazyLock::new(|| {
        std::thread::available_parallelism().map_or(1, usize::from).saturating_sub(1).max(1)
    });
    *WORKERS
}

/// Threads of jobs that have begun, whether they run or wait for their next turn.
pub fn threads() -> usize {
    // So many for each worker that a caller who is alone can keep all workers busy.
    3 * workers() + PAUSED_MOST
}

/// The workers of one service, and who waits for them.
#[derive(Debug, Clone)]
pub struct WorkerPool(Arc<Shared>);

#[derive(Debug)]
struct Shared(Mutex<Turns<oneshot::Sender<Turn>>>);

/// A turn at a worker. Dropping it ends the turn.
#[derive(Debug)]
struct Turn {
    pool: Arc<Shared>,
    asker: Asker,
    began: Instant,
}

/// A job that was taken on, until it has ended.
#[derive(Debug)]
struct Pointer {
    pool: Arc<Shared>,
    number: Number,
}

/// Tells a job to end when its request is dropped, also where it waits for its next turn.
struct CancelOnDrop {
    pool: Arc<Shared>,
    number: Number,
    cancelled: Arc<AtomicBool>,
}

/// A job that runs, as its calculation sees it.
#[derive(Debug)]
struct AppState {
    /// None where it runs without one, or is to end.
    turn: Mutex<Option<Turn>>,
    cancelled: Arc<AtomicBool>,
    place: Pointer,
}

impl Default for WorkerPool {
    fn default() -> Self {
        let workers = workers();
        let bounds = Bounds { workers, threads: threads(), requests: REQUESTS_PER_WORKER * workers };
        Self(Arc::new(Shared(Mutex::new(Turns::new(bounds)))))
    }
}

impl WorkerPool {
    /// Runs a job on a worker, in turns with others.
    ///
    /// # Errors
    ///
    /// 503 if too many jobs wait already, of this caller or altogether; 500 if the job panics.
    pub async fn run<T: Send + 'static>(
        &self,
        asker: Asker,
        job: impl FnOnce(&dyn Interrupt) -> T + Send + 'static,
    ) -> Result<T, Problem> {
        let _under_way = UnderWay::on(&asker.connection);
        let place = self.admit(asker, Part::Whole)?;
        spawn_abortable(async move {
            let turn = place.first_turn().await.map_err(|_| failed())?;
            on_thread(place, Some(turn), job).await
        })
        .await
    }

    /// Runs a slice of a batch in its turn. It is never refused; a batch has few of them at once. If its first turn
    /// does not come before the deadline, it runs all the same, to say so.
    pub async fn run_slice<T: Send + 'static>(
        &self,
        asker: Asker,
        deadline: Option<Instant>,
        job: impl FnOnce(&dyn Interrupt) -> T + Send + 'static,
    ) -> Result<T, Problem> {
        let _under_way = UnderWay::on(&asker.connection);
        let place = self.admit(asker, Part::Slice)?;
        spawn_abortable(async move {
            let turn = place.first_turn();
            let turn = match deadline {
                Some(deadline) => timeout_at(deadline.into(), turn).await.ok().and_then(Result::ok),
                None => turn.await.ok(),
            };
            on_thread(place, turn, job).await
        })
        .await
    }

    /// Jobs that run, and jobs that wait for a turn.
    pub fn counts(&self) -> [usize; 2] {
        self.0.lock().counts()
    }

    fn admit(&self, asker: Asker, part: Part) -> Result<Pointer, Problem> {
        let mut turns = self.0.lock();
        if part == Part::Whole && !turns.has_room(asker.caller) {
            return Err(busy());
        }
        Ok(Pointer { pool: Arc::clone(&self.0), number: turns.admit(asker, part, Instant::now()) })
    }
}

impl Shared {
    fn lock(&self) -> MutexGuard<'_, Turns<oneshot::Sender<Turn>>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Gives out turns as long as a worker is free.
    fn hand_out(self: &Arc<Self>, mut turns: MutexGuard<'_, Turns<oneshot::Sender<Turn>>>) {
        let now = Instant::now();
        let given: Vec<_> = std::iter::from_fn(|| turns.next(now)).collect();
        drop(turns);
        for given in given {
            // Where the job has gone meanwhile, its turn is dropped here, and so given to the next.
            let _ = given.wake.send(Turn { pool: Arc::clone(self), asker: given.asker, began: now });
        }
    }
}

impl Drop for Turn {
    fn drop(&mut self) {
        let mut turns = self.pool.lock();
        turns.end_turn(&self.asker, self.began.elapsed(), Instant::now());
        self.pool.hand_out(turns);
    }
}

impl Pointer {
    /// The job's first turn, for which it waits without a thread.
    fn first_turn(&self) -> oneshot::Receiver<Turn> {
        let (wake, turn) = oneshot::channel();
        let mut turns = self.pool.lock();
        turns.wait(self.number, wake, Instant::now());
        self.pool.hand_out(turns);
        turn
    }
}

impl Drop for Pointer {
    fn drop(&mut self) {
        let mut turns = self.pool.lock();
        turns.leave(self.number);
        // Another may have its thread.
        self.pool.hand_out(turns);
    }
}

impl Drop for CancelOnDrop {
    fn drop(&mut self) {
        // In this order: a job that has not seen the flag when it begins to wait is woken by what follows.
        self.cancelled.store(true, Ordering::Relaxed);
        self.pool.lock().forget(self.number);
    }
}

impl AppState {
    /// Waits on this thread for the job's next turn. None where it is to end.
    fn next_turn(&self, over: Turn) -> Option<Turn> {
        let (wake, turn) = oneshot::channel();
        let mut turns = self.place.pool.lock();
        if self.cancelled.load(Ordering::Relaxed) {
            return None;
        }
        turns.wait(self.place.number, wake, Instant::now());
        drop(turns);
        // The worker is free for whoever is first now, which may be this job again.
        drop(over);
        turn.blocking_recv().ok()
    }
}

impl Interrupt for AppState {
    fn checkpoint(&self) -> bool {
        if self.cancelled.load(Ordering::Relaxed) {
            return true;
        }
        let mut turn = self.turn.lock().unwrap_or_else(PoisonError::into_inner);
        let Some(over) = turn.take_if(|turn| turn.began.elapsed() >= TURN) else { return false };
        *turn = self.next_turn(over);
        turn.is_none()
    }
}

/// Spawns `future` as a task of its own, so that a client that takes nothing holds no worker; aborts it when dropped.
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

async fn on_thread<T: Send + 'static>(
    place: Pointer,
    turn: Option<Turn>,
    job: impl FnOnce(&dyn Interrupt) -> T + Send + 'static,
) -> Result<T, Problem> {
    let cancelled = Arc::new(AtomicBool::new(false));
    let running = AppState { cancelled: Arc::clone(&cancelled), turn: Mutex::new(turn), place };
    let Pointer { pool, number } = &running.place;
    let _cancel = CancelOnDrop { pool: Arc::clone(pool), number: *number, cancelled };
    let run = move || {
        lower_priority();
        // Its turn and its place end with the job, even where nobody waits for it any more.
        job(&running)
    };
    tokio::task::spawn_blocking(run).await.map_err(|_| failed())
}

/// Lowers this thread's scheduling priority, so that quick calls win when both want the processor.
fn lower_priority() {
    /// On the scale of `nice`: a third of the share of a quick call's thread, where both want all.
    #[cfg(target_os = "linux")]
    const BACK: i32 = 5;
    thread_local! {
        // These threads do slow work, and pack large answers; once is enough.
        static DONE: () = {
            // On Linux this is about the calling thread alone. Where it is refused, the work goes on as it is.
            #[cfg(target_os = "linux")]
            let _ = rustix::process::setpriority_process(None, BACK);
        };
    }
    DONE.with(|()| ());
}

fn failed() -> Problem {
    Problem::new(Kind::Internal, "The calculation failed.")
}

fn busy() -> Problem {
    Problem::new(Kind::Unavailable, "Too many heavy calculations at once; send it again.")
}
