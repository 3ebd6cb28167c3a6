//! Heavy calculations: on threads of their own, the machine's cores but one at a time, so that light calls
//! stay quick; ended when the request that asked goes away. Few may wait for a place, and not for long: more are
//! refused at once.

use std::{
    sync::{
        Arc, LazyLock,
        atomic::{AtomicBool, Ordering},
    },
    time::{Duration, Instant},
};

use tokio::{
    sync::{OwnedSemaphorePermit, Semaphore},
    task::JoinHandle,
    time::{timeout, timeout_at},
};

use super::problem::{Kind, Problem};
use crate::light::interrupt::Interrupt;

/// Calculations that may wait for each place: a burst of usual ones, which take some milliseconds.
const WAITING: usize = 16;
/// Time that one waits at the most.
const PATIENCE: Duration = Duration::from_secs(2);

/// Cores for heavy work: the machine's but one, at least one.
pub fn cores() -> usize {
    static CORES: LazyLock<usize> = LazyLock::new(|| {
        std::thread::available_parallelism().map_or(1, usize::from).saturating_sub(1).max(1)
    });
    *CORES
}

/// Tells the work to end when the request goes away.
struct StopOnDrop(Arc<AtomicBool>);

impl Drop for StopOnDrop {
    fn drop(&mut self) {
        self.0.store(true, Ordering::Relaxed);
    }
}

/// The places for heavy work of one service.
#[derive(Debug, Clone)]
pub struct Pool(Arc<Queues>);

#[derive(Debug)]
struct Queues {
    places: Arc<Semaphore>,
    /// Those that have a place or wait for one.
    come: Semaphore,
    /// Batches wait here among themselves, so that a single call waits for few of their slices.
    turns: Semaphore,
}

impl Default for Pool {
    fn default() -> Self {
        Self(Arc::new(Queues {
            places: Arc::new(Semaphore::new(cores())),
            come: Semaphore::new(cores() * (1 + WAITING)),
            turns: Semaphore::new(cores()),
        }))
    }
}

impl Pool {
    /// Runs `work`, which is given a flag that tells it to end early. Refused where too many wait, or too long.
    pub async fn run<T: Send + 'static>(
        &self,
        work: impl FnOnce(&dyn Interrupt) -> T + Send + 'static,
    ) -> Result<T, Problem> {
        let queues = Arc::clone(&self.0);
        apart(async move {
            let _come = queues.come.try_acquire().map_err(|_| busy())?;
            let place = Arc::clone(&queues.places).acquire_owned();
            let place = timeout(PATIENCE, place).await.map_err(|_| busy())?.map_err(|_| busy())?;
            at(Some(place), work).await
        })
        .await
    }

    /// Runs a slice of a batch in its turn. Where that does not come before the deadline, it runs all the same, to
    /// say so.
    pub async fn run_in_turn<T: Send + 'static>(
        &self,
        deadline: Option<Instant>,
        work: impl FnOnce(&dyn Interrupt) -> T + Send + 'static,
    ) -> Result<T, Problem> {
        let queues = Arc::clone(&self.0);
        apart(async move {
            let turn = async {
                let turn = queues.turns.acquire().await.ok()?;
                Some((Arc::clone(&queues.places).acquire_owned().await.ok()?, turn))
            };
            let turn = match deadline {
                Some(deadline) => timeout_at(deadline.into(), turn).await.ok().flatten(),
                None => turn.await,
            };
            let (place, turn) = turn.unzip();
            let done = at(place, work).await;
            drop(turn);
            done
        })
        .await
    }
}

/// In a task of its own, which goes on where the one who asked is not looked after for a while (its client takes
/// nothing), so that no place is held meanwhile; ended when it goes away.
async fn apart<T: Send + 'static>(
    work: impl Future<Output = Result<T, Problem>> + Send + 'static,
) -> Result<T, Problem> {
    struct AbortOnDrop<T>(JoinHandle<T>);
    impl<T> Drop for AbortOnDrop<T> {
        fn drop(&mut self) {
            self.0.abort();
        }
    }
    let mut task = AbortOnDrop(tokio::spawn(work));
    (&mut task.0).await.map_err(|_| failed())?
}

async fn at<T: Send + 'static>(
    place: Option<OwnedSemaphorePermit>,
    work: impl FnOnce(&dyn Interrupt) -> T + Send + 'static,
) -> Result<T, Problem> {
    let stop = StopOnDrop(Arc::new(AtomicBool::new(false)));
    let seen = Arc::clone(&stop.0);
    tokio::task::spawn_blocking(move || {
        step_back();
        // The place is free when the work ends, even where nobody waits for it any more.
        let _place = place;
        work(&*seen)
    })
    .await
    .map_err(|_| failed())
}

/// Lets the threads of light calls go first, wherever the system has more to do than cores.
fn step_back() {
    /// On the scale of `nice`: a third of the share of a light call's thread, where both want all.
    #[cfg(target_os = "linux")]
    const BACK: i32 = 5;
    thread_local! {
        // These threads do heavy work, and pack large answers; once is enough.
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
