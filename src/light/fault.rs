//! What can be wrong with an input: a place, what is wrong there, and what would be right.
//!
//! Knows nothing of HTTP; the API turns a list of faults into a problem document.

use std::fmt::{self, Write as _};

/// A place in a request, as a JSON pointer (RFC 6901). The whole request is the empty pointer.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Place(String);

impl Place {
    /// The request as a whole.
    pub fn root() -> Self {
        Self::default()
    }

    /// The field `name` of the object at this place.
    #[must_use]
    pub fn field(&self, name: &str) -> Self {
        Self(format!("{}/{}", self.0, name.replace('~', "~0").replace('/', "~1")))
    }

    /// The element `index` of the list at this place.
    #[must_use]
    pub fn index(&self, index: usize) -> Self {
        let mut pointer = self.0.clone();
        // Writing to a String cannot fail.
        let _ = write!(pointer, "/{index}");
        Self(pointer)
    }

    /// The JSON pointer.
    pub fn pointer(&self) -> &str {
        &self.0
    }
}

/// One thing wrong with an input.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// Where it is.
    pub place: Place,
    /// What is wrong.
    pub detail: String,
    /// What would be right.
    pub expected: String,
}

/// What is wrong with one value, before it is known where the value stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Wrong {
    /// What is wrong.
    pub detail: String,
    /// What would be right.
    pub expected: String,
}

impl Wrong {
    /// A wrong value, and what would be right.
    pub fn new(detail: impl Into<String>, expected: impl Into<String>) -> Self {
        Self { detail: detail.into(), expected: expected.into() }
    }

    /// The same, at a place.
    pub fn at(self, place: &Place) -> Fault {
        Fault { place: place.clone(), detail: self.detail, expected: self.expected }
    }
}

impl fmt::Display for Wrong {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} (expected {})", self.detail, self.expected)
    }
}

impl std::error::Error for Wrong {}
