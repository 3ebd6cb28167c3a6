//! Reads enumerated words.

use crate::{
    light::{
        error::beginning,
        quantity::{kind::Kind, marks::Step, rules::Reading, units::Units},
    },
    request::{nearest::nearest_first, place::At, reader::Reader, value::Value},
    wording::{
        fault::Fault,
        phrase::{Shown as _, Words},
    },
};

/// Reads one of a few words, and returns the value that belongs to it.
pub fn word<T: Copy>(
    value: &Value<'_>,
    words: &[(&'static str, T)],
    at: &At<'_>,
    reader: &mut Reader,
) -> Option<T> {
    let (Value::Text(text) | Value::Parameter(text)) = value else {
        return reader.push_wrong_type(at, value, &one_of(words));
    };
    match words.iter().find(|(word, _)| word == text) {
        Some((_, value)) => Some(*value),
        None => reader.push_fault_with(at, || unknown(text, known(words).0)),
    }
}

/// The fault of a word that is not among those that are known.
pub fn unknown(word: &str, known: Vec<&'static str>) -> Fault {
    Fault::UnknownWord { word: beginning(word), known: Words(nearest_first(word, known)) }
}

/// The text for an expected word: `one of "a", "b"`.
pub fn one_of<T>(words: &[(&'static str, T)]) -> String {
    format!("one of {}", known(words).shown())
}

fn known<T>(words: &[(&'static str, T)]) -> Words {
    Words(words.iter().map(|(word, _)| *word).collect())
}

/// Implements [`Read`] for a type that is one of a few words.
macro_rules! reads_word {
    ($type:ident: $words:expr) => {
        impl $crate::request::reader::Read for $type {
            fn read(
                value: &$crate::request::value::Value<'_>,
                at: &$crate::request::place::At<'_>,
                reader: &mut $crate::request::reader::Reader,
            ) -> Option<Self> {
                $crate::request::reader::words::word(value, &$words, at, reader)
            }

            fn expected() -> String {
                $crate::request::reader::words::one_of(&$words)
            }
        }

        $crate::request::field_schema::looks_like!($type as $type);
    };
}
pub(crate) use reads_word;

reads_word!(Reading: [Reading::Marked, Reading::Literal].map(|reading| (reading.text(), reading)));

reads_word!(Step: Step::ALL.map(|step| (step.text(), step)));

reads_word!(Units: Units::ALL.map(|units| (units.text(), units)));

reads_word!(Kind: Kind::ALL.map(|kind| (kind.name(), kind)));
