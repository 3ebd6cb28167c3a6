//! The lighting maths, independent of HTTP.

pub mod assumption;
pub mod balance;
pub mod correct;
pub mod equivalence;
pub mod error;
pub mod exposure;
pub mod id;
pub mod interrupt;
pub mod kit;
pub mod measure;
pub mod one_light;
pub mod quantity;
pub mod remark;
pub mod remedy;
pub mod set;
pub mod stops;
pub mod supply;
pub mod uncertainty;
pub mod unit;
