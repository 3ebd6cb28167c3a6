//! The place of a value while a request is read.

use crate::light::error::Pointer;

/// A place on the way down, written out only when a fault needs it.
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
