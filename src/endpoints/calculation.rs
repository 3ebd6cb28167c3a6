//! A calculation: a checked request that can compute its answer. Bodies, queries and batch items all run it.

use serde::Serialize;

use crate::{
    drawing::Picture,
    light::{error::InvalidPart, interrupt::Interrupt},
    request::{self, faults, reader::Read, value::Value},
    response::json,
    server::problem::Problem,
};

/// A request that was read and checked, and can be answered.
pub trait Calculation: Read + Send + 'static {
    /// The answer.
    type Answer: Serialize + Send + 'static;
    /// Whether it may take long and must run on the worker pool; see [`crate::server::worker_pool`].
    const HEAVY: bool = false;
    /// Draws the request and its answer; `None` if there is no picture.
    const PICTURE: Option<fn(&Self, &Self::Answer) -> Picture> = None;

    /// Computes the answer, or the faults that only `light` can find. Long work calls `interrupt` at safe points.
    fn answer(&self, interrupt: &dyn Interrupt) -> Result<Self::Answer, Vec<InvalidPart>>;
}

/// A calculation in the registry.
pub struct Entry {
    /// Its path under `/v1`.
    pub path: &'static str,
    /// Whether its answer has a picture.
    pub is_drawn: bool,
    /// Reads a request, answers it, and appends the answer as JSON.
    pub run: fn(&Value<'_>, &dyn Interrupt, &mut Vec<u8>) -> Result<(), Problem>,
}

impl Entry {
    /// The entry of a calculation.
    pub const fn new<C: Calculation>(path: &'static str) -> Self {
        Self { path, is_drawn: C::PICTURE.is_some(), run: run::<C> }
    }
}

fn run<C: Calculation>(
    value: &Value<'_>,
    interrupt: &dyn Interrupt,
    out: &mut Vec<u8>,
) -> Result<(), Problem> {
    let (request, _) = request::read::<C>(value)?;
    let answer = request.answer(interrupt).map_err(|faults| faults::in_order(value, faults))?;
    json::write(&answer, out)
}
