//! An answer as JSON.

use serde::Serialize;

use crate::server::problem::{Kind, Problem};

/// Appends an answer as JSON to `out`.
pub fn write<T: Serialize>(answer: &T, out: &mut Vec<u8>) -> Result<(), Problem> {
    serde_json::to_writer(out, answer).map_err(serialization_failed)
}

/// The problem for an answer that cannot be serialised.
#[expect(clippy::needless_pass_by_value, reason = "the signature that map_err requires")]
pub fn serialization_failed(error: serde_json::Error) -> Problem {
    Problem::new(Kind::Internal, format!("The answer cannot be written: {error}."))
}
