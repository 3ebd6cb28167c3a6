//! An answer as JSON.

use serde::Serialize;

use crate::server::problem::{Kind, Problem};

/// Writes an answer as JSON to the end of `out`.
pub fn write<T: Serialize>(answer: &T, out: &mut Vec<u8>) -> Result<(), Problem> {
    serde_json::to_writer(out, answer).map_err(unwritten)
}

/// The problem of an answer that cannot be written.
#[expect(clippy::needless_pass_by_value, reason = "the shape that map_err wants")]
pub fn unwritten(error: serde_json::Error) -> Problem {
    Problem::new(Kind::Internal, format!("The answer cannot be written: {error}."))
}
