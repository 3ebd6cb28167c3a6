//! The assumptions behind an estimate.

use serde::Serialize;
use utoipa::ToSchema;

/// One assumption behind an estimate.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Assumption {
    /// The name of the assumption.
    pub name: &'static str,
    /// The assumed value.
    pub value: String,
    /// The source of the value, with its grade: published, derived, common practice, from memory, stated by the caller.
    pub source: String,
}
