//! The budget of a search: a number of nodes, a deadline, and an interrupt.

use std::time::{Duration, Instant};

use crate::light::interrupt::{Interrupt, NeverInterrupted};

/// The limits of a search.
#[derive(Debug, Clone, Copy)]
pub struct Budget<'b> {
    /// Most nodes.
    pub nodes: u64,
    /// When to end at the latest.
    pub deadline: Option<Instant>,
    /// Called at each look at the time; may end the search.
    pub interrupt: &'b dyn Interrupt,
}

impl Budget<'_> {
    /// No limits.
    pub const NONE: Self = Self { nodes: u64::MAX, deadline: None, interrupt: &NeverInterrupted };
}

/// Counts nodes and watches the time.
#[derive(Debug, Clone, Copy)]
pub struct Clock<'b> {
    budget: Budget<'b>,
    nodes: u64,
    /// Calls of `is_out` since the last look at the time.
    calls: u32,
    /// Calls between two looks.
    every: u32,
    looked: Option<Instant>,
    timed_out: bool,
}

/// Most calls between two looks at the time. A look costs more than a small node and less than a large one.
const LOOK_EVERY: u32 = 8;
/// If two looks are further apart than this, the next call looks again.
const FAR_APART: Duration = Duration::from_micros(100);

impl<'b> Clock<'b> {
    /// A clock that starts now.
    pub fn new(budget: Budget<'b>) -> Self {
        Self { budget, nodes: 0, calls: 0, every: 1, looked: None, timed_out: false }
    }

    /// A clock that ends after this many more nodes, if the budget does not end first.
    #[must_use]
    pub fn part(&self, nodes: u64) -> Self {
        let nodes = self.budget.nodes.min(self.nodes.saturating_add(nodes));
        Self { budget: Budget { nodes, ..self.budget }, ..*self }
    }

    /// Takes over what a part has used.
    pub fn join(&mut self, part: &Self) {
        *self = Self { budget: self.budget, ..*part };
    }

    /// The budget.
    pub const fn budget(&self) -> Budget<'b> {
        self.budget
    }

    /// Counts a node.
    pub fn node(&mut self) {
        self.nodes += 1;
    }

    /// Nodes so far.
    pub fn nodes(&self) -> u64 {
        self.nodes
    }

    /// Whether the budget is used up.
    pub fn is_out(&mut self) -> bool {
        self.calls += 1;
        if self.calls >= self.every {
            self.look();
        }
        self.timed_out || self.nodes > self.budget.nodes
    }

    /// Looks at the time. The longer it is since the last look, the sooner the next: large nodes take long.
    fn look(&mut self) {
        self.timed_out |= self.budget.interrupt.checkpoint();
        if let Some(deadline) = self.budget.deadline {
            let now = Instant::now();
            self.timed_out |= now >= deadline;
            let is_far = self.looked.is_some_and(|looked| now.duration_since(looked) > FAR_APART);
            self.every = if is_far { 1 } else { (2 * self.every).min(LOOK_EVERY) };
            self.looked = Some(now);
        } else {
            self.every = LOOK_EVERY;
        }
        self.calls = 0;
    }
}
