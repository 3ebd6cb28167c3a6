//! A client's own id for an entry.

use serde::Serialize;
use utoipa::ToSchema;

/// The client's own id for an entry, as it was sent.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
#[serde(untagged)]
pub enum Id {
    /// A text.
    Text(String),
    /// A whole number.
    Number(i64),
}

/// A name, with the id that stands beside it in the request.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct NamedEntry {
    /// The name.
    pub name: String,
    /// The id.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub id: Option<Id>,
}

impl Id {
    /// The id as a name, for an entry without one.
    pub fn name(&self) -> String {
        match self {
            Self::Text(text) => text.clone(),
            Self::Number(number) => number.to_string(),
        }
    }
}
