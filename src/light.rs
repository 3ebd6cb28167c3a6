//! The lighting maths. Knows nothing of HTTP.

pub mod balance;
pub mod bounds;
pub mod camera;
pub mod constants;
pub mod coverage;
pub mod dialled;
pub mod equivalence;
pub mod fault;
pub mod guide;
pub mod kind;
pub mod limits;
pub mod marks;
pub mod measured;
pub mod notation;
pub mod placement;
pub mod quantity;
pub mod remark;
pub mod scale;
pub mod stops;
pub mod unit;
