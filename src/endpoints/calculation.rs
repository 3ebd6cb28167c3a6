//! A calculation: a checked request that can compute its answer. Bodies, queries and batch items all run it.

use serde::Serialize;

use crate::{
    drawing::Picture,
    light::{
        error::InvalidPart,
        interrupt::Interrupt,
        remedy::{Patch, Remedy},
    },
    request::{self, faults, options::Options, patch::PatchWriter, reader::Read, value::Value},
    response::json,
    server::problem::Problem,
    wording::summary::Summary,
};

/// Draws a question and its answer on a sheet of a width, px.
pub type Draw<Question, Answer> = fn(&Question, &Answer, f64) -> Picture;

/// A request that was read and checked, and can be answered.
pub trait Calculation: Read + Send + 'static {
    /// The answer.
    type Answer: Serialize + Summary + Send + 'static;
    /// Whether it may take long and must run on the worker pool; see [`crate::server::worker_pool`].
    const HEAVY: bool = false;
    /// The options that it has a use for; a test compares them with what its request and its answer contain.
    const OPTIONS: Options = Options::MARKS;
    /// Draws the request and its answer on a sheet of this width, px; `None` if there is no picture.
    const PICTURE: Option<Draw<Self, Self::Answer>> = None;

    /// The patches of an answer, for which the request is needed as it was sent.
    fn patches(_: &mut Self::Answer) -> Vec<&mut Patch> {
        Vec::new()
    }

    /// Whether this request may take long, where the calculation mostly does not.
    fn is_heavy(&self) -> bool {
        Self::HEAVY
    }

    /// Computes the answer, or the faults that only `light` can find. Long work calls `interrupt` at safe points.
    fn answer(&self, interrupt: &dyn Interrupt) -> Result<Self::Answer, Vec<InvalidPart>>;
}

/// A calculation in the registry.
pub struct Entry {
    /// Its path under `/v1`.
    pub path: &'static str,
    /// Whether its answer has a picture.
    pub is_drawn: bool,
    /// The options of its requests.
    pub options: Options,
    /// Reads a request, answers it, and appends the answer as JSON.
    pub run: fn(&Value<'_>, &dyn Interrupt, &mut Vec<u8>) -> Result<(), Problem>,
}

impl Entry {
    /// The entry of a calculation.
    pub const fn new<C: Calculation>(path: &'static str) -> Self {
        Self { path, is_drawn: C::PICTURE.is_some(), options: C::OPTIONS, run: run::<C> }
    }
}

fn run<C: Calculation>(
    value: &Value<'_>,
    interrupt: &dyn Interrupt,
    out: &mut Vec<u8>,
) -> Result<(), Problem> {
    let (request, _) = request::read::<C>(value, C::OPTIONS)?;
    let mut answer = request.answer(interrupt).map_err(|faults| faults::in_order(value, faults))?;
    write_patches::<C>(&mut answer, false, || Some(value.clone()));
    json::write(&Answered::new(&answer), out)
}

/// The patches of remedies.
pub fn patches_of(remedies: &mut [Remedy]) -> impl Iterator<Item = &mut Patch> {
    remedies.iter_mut().map(|remedy| &mut remedy.patch)
}

/// Writes the patches of an answer against the request, which is called for only if there are any.
pub fn write_patches<'v, C: Calculation>(
    answer: &mut C::Answer,
    is_query: bool,
    request: impl FnOnce() -> Option<Value<'v>>,
) {
    let patches = C::patches(answer);
    if patches.iter().any(|patch| !patch.edits.is_empty())
        && let Some(request) = request()
    {
        let writer = PatchWriter::new(&request, is_query);
        for patch in patches {
            writer.write(patch);
        }
    }
}

/// An answer with its summary before it.
#[derive(Serialize)]
pub struct Answered<'a, A> {
    summary: String,
    #[serde(flatten)]
    answer: &'a A,
}

impl<'a, A: Summary> Answered<'a, A> {
    /// Adds the summary to an answer.
    pub fn new(answer: &'a A) -> Self {
        Self { summary: answer.summary(), answer }
    }
}
