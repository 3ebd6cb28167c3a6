//! How long work is interrupted, by whoever runs it.

use std::{
    fmt::Debug,
    sync::atomic::{AtomicBool, Ordering},
};

/// Whoever runs a calculation, as the calculation sees them.
pub trait Interrupt: Debug + Sync {
    /// A safe point of a long calculation. It may wait here while other work has its turn. Returns true when the
    /// calculation is to end early; whatever it returns then, nobody reads.
    fn checkpoint(&self) -> bool;
}

/// A calculation that goes on to its end.
#[derive(Debug, Clone, Copy)]
pub struct NeverInterrupted;

impl Interrupt for NeverInterrupted {
    fn checkpoint(&self) -> bool {
        false
    }
}

/// A flag that another thread sets to end the calculation. It never waits.
impl Interrupt for AtomicBool {
    fn checkpoint(&self) -> bool {
        self.load(Ordering::Relaxed)
    }
}
