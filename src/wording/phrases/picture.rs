//! The words that all pictures share.

/// The meaning of an error bar.
pub const ERROR_BAR: &str = "may be off by so much";

/// The end of a list that is cut.
pub fn more_in_answer(more: usize) -> String {
    format!("And {more} more, in the answer as JSON or text.")
}
