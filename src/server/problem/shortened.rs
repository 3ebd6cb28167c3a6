//! Texts of bounded size, as JSON writes them.

use std::borrow::Cow;

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
