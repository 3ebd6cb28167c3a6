//! request.

pub mod faults;
pub(crate) mod fields;
pub(crate) mod options;
pub mod reader;
pub(crate) mod references;
pub(crate) mod schema;
pub mod value;
