//! response.

pub mod text;
