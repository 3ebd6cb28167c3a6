//! One plain sentence that answers the question: the headline of every answer.

mod common;
mod correct;
mod kit;
mod measure;
mod set;
mod unit;

use crate::{
    light::remark::{Warning, WarningKind},
    wording::phrases,
};

/// An answer that can be said in a sentence or two.
pub trait Summary {
    /// The answer in words.
    fn summary(&self) -> String;
}

/// The sentences, and what they tell that is out of range.
fn with_range(mut sentences: String, warnings: &[Warning]) -> String {
    let beyond = warnings.iter().filter(|warning| matches!(warning.kind, WarningKind::BeyondRange { .. }));
    for warning in beyond {
        sentences = format!("{sentences} {}", phrases::remark(warning));
    }
    sentences
}
