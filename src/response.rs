//! A typed answer to bytes: JSON, or aligned text for people.
//!
//! Pictures are in `drawing`, problem documents in `server/problem.rs`, and which form a client gets in
//! `request/format.rs`.

pub mod json;
mod remedy;
pub mod text;
pub mod written;
