//! One plain sentence that answers the question: the headline of every answer.

mod kit;
mod measure;
mod set;
mod unit;

/// An answer that can be said in a sentence or two.
pub trait Summary {
    /// The answer in words.
    fn summary(&self) -> String;
}
