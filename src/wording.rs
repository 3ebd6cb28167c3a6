//! wording.

pub(crate) mod visible;
