//! Heavy calculations: on threads of their own, the machine's cores but one at a time, so that light calls
//! stay quick; ended when the request that asked goes away.

use std::sync::{
    Arc, LazyLock,
    atomic::{AtomicBool, Ordering},
};

use tokio::sync::Semaphore;

use super::problem::{Kind, Problem};

static HEAVY: LazyLock<Semaphore> = LazyLock::new(|| Semaphore::new(cores()));

/// Cores for heavy work: the machine's but one, at least one.
pub fn cores() -> usize {
    std::thread::available_parallelism().map_or(1, usize::from).saturating_sub(1).max(1)
}

/// Tells the work to end when the request goes away.
struct StopOnDrop(Arc<AtomicBool>);

impl Drop for StopOnDrop {
    fn drop(&mut self) {
        self.0.store(true, Ordering::Relaxed);
    }
}

/// Runs `work`, which is given a flag that tells it to end early.
pub async fn run<T: Send + 'static>(
    work: impl FnOnce(&AtomicBool) -> T + Send + 'static,
) -> Result<T, Problem> {
    let place =
        HEAVY.acquire().await.map_err(|_| Problem::new(Kind::Unavailable, "The service is stopping."))?;
    let stop = StopOnDrop(Arc::new(AtomicBool::new(false)));
    let seen = Arc::clone(&stop.0);
    let answer = tokio::task::spawn_blocking(move || work(&seen))
        .await
        .map_err(|_| Problem::new(Kind::Internal, "The calculation failed."))?;
    drop(place);
    Ok(answer)
}
