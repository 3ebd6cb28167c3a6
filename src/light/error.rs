//! What can be wrong with an input: a place, what is wrong there, and what would be right.
//!
//! Knows nothing of HTTP; the API turns a list of faults into a problem document.

use std::{
    borrow::Cow,
    fmt::{self, Write as _},
};

/// A place in a request, as a JSON pointer (RFC 6901). The whole request is the empty pointer.
#[derive(Debug, Clone, Default, PartialEq, Eq, Hash)]
pub struct Pointer(String);

impl Pointer {
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
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct FieldError {
    /// Where it is.
    pub place: Pointer,
    /// What is wrong.
    pub detail: String,
    /// What would be right.
    pub expected: String,
}

/// What is wrong with one value, before it is known where the value stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct InvalidValue {
    /// What is wrong.
    pub detail: String,
    /// What would be right.
    pub expected: String,
}

impl InvalidValue {
    /// A wrong value, and what would be right.
    pub fn new(detail: impl Into<String>, expected: impl Into<String>) -> Self {
        Self { detail: detail.into(), expected: expected.into() }
    }

    /// The same, at a place.
    pub fn at(self, place: &Pointer) -> FieldError {
        FieldError { place: place.clone(), detail: self.detail, expected: self.expected }
    }
}

impl fmt::Display for InvalidValue {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} (expected {})", self.detail, self.expected)
    }
}

impl std::error::Error for InvalidValue {}

/// Names of a list that are told one by one.
const NAMES_TOLD: usize = 8;
/// Bytes that they may take together, as JSON writes them; long names are shortened.
const NAMES_BYTES: usize = 400;

/// Names for a sentence: `a, b`, and of many the first eight: `a, b, c, d, e, f, g, h and 24 more`.
pub fn names<N: AsRef<str>>(names: &[N]) -> String {
    let told = &names[..names.len().min(NAMES_TOLD)];
    let bytes = NAMES_BYTES / told.len().max(1);
    let mut text = String::new();
    for (index, name) in told.iter().enumerate() {
        text.push_str(if index > 0 { ", " } else { "" });
        text.push_str(&shortened(name.as_ref(), bytes));
    }
    if names.len() > told.len() {
        // Writing to a String cannot fail.
        let _ = write!(text, " and {} more", names.len() - told.len());
    }
    text
}

/// A text that JSON writes in so many bytes at the most: the whole of it, or its beginning and `…`.
pub fn shortened(text: &str, bytes: usize) -> Cow<'_, str> {
    const MARK: char = '…';
    let (mut size, mut end) = (0, 0);
    for (at, character) in text.char_indices() {
        size += json_bytes(character);
        if size > bytes {
            return Cow::Owned(format!("{}{MARK}", &text[..end]));
        }
        if size + MARK.len_utf8() <= bytes {
            end = at + character.len_utf8();
        }
    }
    Cow::Borrowed(text)
}

/// Bytes of a character in a string of JSON (RFC 8259, 7), as they are written here: control characters with six, those
/// that have a short escape with two.
pub const fn json_bytes(character: char) -> usize {
    match character {
        '"' | '\\' | '\n' | '\r' | '\t' | '\u{8}' | '\u{c}' => 2,
        '\0'..='\u{1f}' => 6,
        other => other.len_utf8(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_list_of_names_is_cut_after_eight() {
        let all: Vec<String> = (1..=32).map(|k| format!("n{k}")).collect();
        assert_eq!(names(&all[..1]), "n1");
        assert_eq!(names(&all[..8]), "n1, n2, n3, n4, n5, n6, n7, n8");
        assert_eq!(names(&all[..9]), "n1, n2, n3, n4, n5, n6, n7, n8 and 1 more");
        assert_eq!(names(&all), "n1, n2, n3, n4, n5, n6, n7, n8 and 24 more");
        assert_eq!(names::<&str>(&[]), "");
    }

    #[test]
    fn long_names_do_not_make_long_lists() {
        let long = "\u{1f4a1}".repeat(64);
        let told = names(&vec![long.as_str(); 32]);
        assert!(told.len() < 440 && told.matches('…').count() == 8, "{told}");
        assert_eq!(names(&[long.as_str()]), long, "one alone has room");
    }

    #[test]
    fn a_shortened_text_keeps_to_its_bytes_as_json_writes_them() {
        for text in ["", "plain", "\"\\\n\t", "\u{1}\u{1f}\u{0}", "\u{1f4a1}é€", "\u{7f}\u{2028}/"] {
            let text = text.repeat(9);
            let whole = serde_json::to_string(&text).expect("JSON").len() - 2;
            assert_eq!(text.chars().map(json_bytes).sum::<usize>(), whole, "{text:?}");
            assert_eq!(shortened(&text, whole), text);
            for bytes in 3..whole {
                let short = shortened(&text, bytes);
                let written = serde_json::to_string(&short).expect("JSON").len() - 2;
                assert!(written <= bytes && short.ends_with('…'), "{bytes}: {short:?}");
            }
        }
    }
}
