//! A calculation: a request that knows its answer. Every way in runs it: a body, a query, an item of a batch.

use serde::Serialize;

use crate::{
    drawing::Picture,
    light::{error::FieldError, interrupt::Interrupt},
    request::{self, faults, reader::Read, value::Value},
    response::json,
    server::problem::Problem,
};

/// A request, read and checked, that can be answered.
pub trait Calculation: Read + Send + 'static {
    /// The answer.
    type Answer: Serialize + Send + 'static;
    /// Whether it may take long, so that it must run apart from the light ones; see [`crate::server::worker_pool`].
    const HEAVY: bool = false;
    /// How a question and its answer are drawn; none where they are not.
    const PICTURE: Option<fn(&Self, &Self::Answer) -> Picture> = None;

    /// Answers, or tells what only the maths can find. Long work calls `interrupt` at its safe points.
    fn answer(&self, interrupt: &dyn Interrupt) -> Result<Self::Answer, Vec<FieldError>>;
}

/// A calculation by its path.
pub struct Entry {
    /// Its path under `/v1`.
    pub path: &'static str,
    /// Whether its answer is drawn.
    pub is_drawn: bool,
    /// Reads a request, answers it, and writes the JSON of the answer to the end of the bytes.
    pub run: fn(&Value<'_>, &dyn Interrupt, &mut Vec<u8>) -> Result<(), Problem>,
}

impl Entry {
    /// The entry of a calculation.
    pub const fn of<C: Calculation>(path: &'static str) -> Self {
        Self { path, is_drawn: C::PICTURE.is_some(), run: run::<C> }
    }
}

fn run<C: Calculation>(
    tree: &Value<'_>,
    interrupt: &dyn Interrupt,
    out: &mut Vec<u8>,
) -> Result<(), Problem> {
    let (request, _) = request::read::<C>(tree)?;
    let answer = request.answer(interrupt).map_err(|faults| faults::in_order(tree, faults))?;
    json::write(&answer, out)
}
