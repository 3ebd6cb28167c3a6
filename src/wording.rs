//! What every form of answer needs to write text for people: making a caller's text safe to show.
//!
//! What an answer says is written where the answer is made; how it is laid out is in `response` and `drawing`.

pub(crate) mod visible;
