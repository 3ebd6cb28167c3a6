//! Validation errors: where in the request, what is wrong, and what was expected.
//!
//! Independent of HTTP: the server turns a list of errors into a problem document.

use std::{
    borrow::Cow,
    fmt::{self, Write as _},
};

/// A location in a request, as a JSON pointer (RFC 6901). The empty pointer is the whole request.
#[derive(Debug, Clone, Default, PartialEq, Eq, Hash)]
pub struct Pointer(String);

impl Pointer {
    /// The whole request.
    pub fn root() -> Self {
        Self::default()
    }

    /// The field `name` of the object at this location.
    #[must_use]
    pub fn field(&self, name: &str) -> Self {
        Self(format!("{}/{}", self.0, name.replace('~', "~0").replace('/', "~1")))
    }

    /// The element `index` of the array at this location.
    #[must_use]
    pub fn index(&self, index: usize) -> Self {
        let mut pointer = self.0.clone();
        // Writing to a String cannot fail.
        let _ = write!(pointer, "/{index}");
        Self(pointer)
    }

    /// The pointer as text.
    pub fn pointer(&self) -> &str {
        &self.0
    }
}

/// One validation error and its location.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct FieldError {
    /// The location of the wrong value.
    pub place: Pointer,
    /// What is wrong.
    pub detail: String,
    /// What was expected.
    pub expected: String,
}

/// A validation error without a location.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct InvalidValue {
    /// What is wrong.
    pub detail: String,
    /// What was expected.
    pub expected: String,
}

impl InvalidValue {
    /// An error with what is wrong and what was expected.
    pub fn new(detail: impl Into<String>, expected: impl Into<String>) -> Self {
        Self { detail: detail.into(), expected: expected.into() }
    }

    /// Adds the location.
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

/// The number of names shown of a longer list.
const NAMES_SHOWN: usize = 8;
/// The total length of these names in bytes, escaped as in JSON; long names are shortened.
const NAMES_BYTES: usize = 400;

/// Joins names for a sentence: `a, b`. After eight, only counts: `a, b, c, d, e, f, g, h and 24 more`.
pub fn names<N: AsRef<str>>(names: &[N]) -> String {
    let shown = &names[..names.len().min(NAMES_SHOWN)];
    let bytes = NAMES_BYTES / shown.len().max(1);
    let mut text = String::new();
    for (index, name) in shown.iter().enumerate() {
        text.push_str(if index > 0 { ", " } else { "" });
        text.push_str(&shortened(name.as_ref(), bytes));
    }
    if names.len() > shown.len() {
        // Writing to a String cannot fail.
        let _ = write!(text, " and {} more", names.len() - shown.len());
    }
    text
}

/// Shortens a text to at most `bytes` bytes, escaped as in JSON; a cut text ends in `…`.
pub fn shortened(text: &str, bytes: usize) -> Cow<'_, str> {
    const MARK: char = '…';
    let (mut size, mut end) = (0, 0);
    for (offset, character) in text.char_indices() {
        size += json_bytes(character);
        if size > bytes {
            return Cow::Owned(format!("{}{MARK}", &text[..end]));
        }
        if size + MARK.len_utf8() <= bytes {
            end = offset + character.len_utf8();
        }
    }
    Cow::Borrowed(text)
}

/// The length of a character in a JSON string (RFC 8259, 7) as this server writes it, in bytes: six for a control
/// character, two for one with a short escape.
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
        let text = names(&vec![long.as_str(); 32]);
        assert!(text.len() < 440 && text.matches('…').count() == 8, "{text}");
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
