//! Text for people: the sentences of answers, and what makes a caller's text safe to show.
//!
//! `light` answers with structure, and each sentence is derived from it here. How text is laid out is in `response` and
//! `drawing`.

pub mod fault;
pub mod format;
pub mod phrase;
pub mod phrases;
pub mod summary;
pub(crate) mod visible;
