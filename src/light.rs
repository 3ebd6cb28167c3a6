//! The lighting maths. Knows nothing of HTTP.

pub mod bounds;
pub mod constants;
pub mod fault;
pub mod kind;
pub mod marks;
pub mod notation;
pub mod quantity;
pub mod stops;
