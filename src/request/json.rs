//! JSON text to a [`Value`].

use super::value::Value;
use crate::{
    request::{faults::FieldError, place::Pointer},
    server::problem::{Kind, Problem},
    wording::fault::Fault,
};

/// The most values that a body may have: three times as many as the largest request that gives each field once.
pub const MAX_VALUES: usize = 64 * 1024;

/// Parses JSON. A syntax error names its line and column.
pub fn parse(bytes: &[u8]) -> Result<Value<'_>, Problem> {
    if has_too_many_values(bytes) {
        return Err(malformed(Fault::TooManyValues { most: MAX_VALUES }));
    }
    serde_json::from_slice(strip_bom(bytes))
        .map_err(|error| malformed(Fault::NotJson { error: error.to_string() }))
}

/// The problem of a request that cannot be read at all.
pub fn malformed(fault: Fault) -> Problem {
    Problem::located(Kind::Malformed, FieldError { pointer: Pointer::root(), fault }.written())
}

/// Strips the byte order mark that some editors add (RFC 8259, 8.1: it may be ignored).
pub fn strip_bom(bytes: &[u8]) -> &[u8] {
    bytes.strip_prefix("\u{feff}".as_bytes()).unwrap_or(bytes)
}

/// Whether the text has more values than any request needs. Each takes some dozens of bytes of memory once parsed, and
/// as few as two in the text.
fn has_too_many_values(bytes: &[u8]) -> bool {
    // The shortest value has one byte, and another separates it from the next.
    if bytes.len() / 2 < MAX_VALUES {
        return false;
    }
    let (mut count, mut in_string, mut is_escaped) = (1, false, false);
    for byte in bytes {
        match byte {
            _ if is_escaped => is_escaped = false,
            b'\\' => is_escaped = in_string,
            b'"' => in_string = !in_string,
            b'[' | b'{' | b',' if !in_string => count += 1,
            _ => {}
        }
    }
    count > MAX_VALUES
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_values_outside_strings_are_counted() {
        let list = |one: &str, count: usize| format!("[{}]", vec![one; count].join(","));
        assert!(!has_too_many_values(list("0", MAX_VALUES - 1).as_bytes()));
        assert!(has_too_many_values(list("0", MAX_VALUES + 1).as_bytes()));
        assert!(has_too_many_values(list("[0]", MAX_VALUES / 2 + 1).as_bytes()));
        let text = format!("\"{}\"", "[,{\\\",".repeat(MAX_VALUES / 2));
        assert!(!has_too_many_values(text.as_bytes()) && parse(text.as_bytes()).is_ok());
    }
}
