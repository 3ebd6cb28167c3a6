//! Places in a request while it is read.

use crate::light::error::Pointer;

/// A place in a request, linked to its parents on the stack. The JSON pointer is built only when a fault needs it.
#[derive(Clone, Copy)]
pub enum At<'p> {
    /// The whole request.
    Root,
    /// A field of an object.
    Field(&'p At<'p>, &'p str),
    /// An element of a list.
    Index(&'p At<'p>, usize),
}

impl At<'_> {
    /// The place as a JSON pointer.
    pub fn place(&self) -> Pointer {
        match self {
            Self::Root => Pointer::root(),
            Self::Field(parent, name) => parent.place().field(name),
            Self::Index(parent, index) => parent.place().index(*index),
        }
    }
}
