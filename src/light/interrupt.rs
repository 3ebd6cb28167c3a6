//! How a long calculation is paused or ended early by its runner.

use std::{
    fmt::Debug,
    sync::atomic::{AtomicBool, Ordering},
};

/// A calculation's link to its runner.
pub trait Interrupt: Debug + Sync {
    /// Called at safe points of a long calculation. It may block while other work runs. Returns true if the calculation
    /// should end early; its result is then discarded.
    fn checkpoint(&self) -> bool;
}

/// Never interrupts: the calculation runs to its end.
#[derive(Debug, Clone, Copy)]
pub struct NeverInterrupted;

impl Interrupt for NeverInterrupted {
    fn checkpoint(&self) -> bool {
        false
    }
}

/// A flag that another thread sets to end the calculation. It never blocks.
impl Interrupt for AtomicBool {
    fn checkpoint(&self) -> bool {
        self.load(Ordering::Relaxed)
    }
}
