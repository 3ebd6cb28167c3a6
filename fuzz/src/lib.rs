//! What the fuzz targets share with `tests/fuzz.rs`.

pub mod dice;
pub mod holds;
pub mod json;
pub mod mutate;
pub mod odd;
pub mod schema;
pub mod spelling;
