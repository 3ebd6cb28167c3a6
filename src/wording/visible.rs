//! Makes a caller's text safe to show. Names may contain control characters, which a terminal obeys (an escape sequence
//! retitles it, a line break forges a section of the answer), and direction controls, which make text read differently
//! from how it is written. XML 1.0 cannot contain most of them at all.

use std::{borrow::Cow, fmt::Write as _};

use serde_json::Value;

/// Shown in place of a control character.
const REPLACEMENT: char = '\u{fffd}';

/// Whether a character controls the display rather than being shown: control characters (Cc: C0, DEL, C1), line and
/// paragraph separators, direction controls (Bidi_Control of the Unicode Character Database), and the two
/// noncharacters that XML 1.0 forbids.
pub fn controls_display(c: char) -> bool {
    c.is_control()
        || matches!(
            c,
            '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{fffe}' | '\u{ffff}'
        )
}

/// The text with each control character replaced by U+FFFD, so that its width in characters stays the same.
pub fn visible(text: &str) -> Cow<'_, str> {
    if !text.contains(controls_display) {
        return text.into();
    }
    text.chars().map(|c| if controls_display(c) { REPLACEMENT } else { c }).collect::<String>().into()
}

/// A value with every text and every field name made visible.
pub fn visible_value(value: &Value) -> Cow<'_, Value> {
    if is_visible(value) { Cow::Borrowed(value) } else { Cow::Owned(make_visible(value)) }
}

fn is_visible(value: &Value) -> bool {
    match value {
        Value::String(text) => !text.contains(controls_display),
        Value::Array(items) => items.iter().all(is_visible),
        Value::Object(fields) => {
            fields.iter().all(|(name, value)| !name.contains(controls_display) && is_visible(value))
        }
        _ => true,
    }
}

fn make_visible(value: &Value) -> Value {
    match value {
        Value::String(text) => visible(text).into(),
        Value::Array(items) => items.iter().map(make_visible).collect(),
        Value::Object(fields) => {
            let shown = fields.iter().map(|(name, value)| (visible(name).into_owned(), make_visible(value)));
            Value::Object(shown.collect())
        }
        other => other.clone(),
    }
}

/// Pretty-printed JSON for a terminal: the same document with control characters escaped. JSON itself only has to
/// escape those below U+0020. Line breaks stay, since they occur only between values.
pub fn escaped_json(json: &str) -> Cow<'_, str> {
    let needs_escape = |c: char| controls_display(c) && c != '\n';
    if !json.contains(needs_escape) {
        return json.into();
    }
    let mut escaped = String::with_capacity(json.len());
    for c in json.chars() {
        if needs_escape(c) {
            // All of them have four hexadecimal digits; writing to a String cannot fail.
            let _ = write!(escaped, "\\u{:04x}", u32::from(c));
        } else {
            escaped.push(c);
        }
    }
    escaped.into()
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    /// One or two of each kind.
    const CONTROLS: [char; 20] = [
        '\0', '\n', '\r', '\t', '\u{1b}', '\u{7f}', '\u{80}', '\u{9b}', '\u{9f}', '\u{61c}', '\u{200e}',
        '\u{200f}', '\u{2028}', '\u{2029}', '\u{202a}', '\u{202e}', '\u{2066}', '\u{2069}', '\u{fffe}',
        '\u{ffff}',
    ];

    #[test]
    fn control_characters_are_replaced_and_nothing_else() {
        for c in CONTROLS {
            assert_eq!(visible(&format!("a{c}b")), "a\u{fffd}b", "{c:?}");
        }
        // Letters of all scripts, joiners in emoji and combining marks stay.
        for text in ["Ключ", "光 «key»", "مفتاح", "👩\u{200d}🎤", "e\u{301}", "a\u{a0}b", "<&>"]
        {
            assert!(matches!(visible(text), Cow::Borrowed(same) if same == text));
        }
    }

    #[test]
    fn names_and_texts_of_a_value_are_made_visible() {
        let value = json!({"a\u{1b}": ["b\u{202e}", 1, {"c": "d\ne"}], "f": null});
        assert_eq!(
            *visible_value(&value),
            json!({"a\u{fffd}": ["b\u{fffd}", 1, {"c": "d\u{fffd}e"}], "f": null})
        );
        assert!(matches!(visible_value(&json!({"a": "b"})), Cow::Borrowed(_)));
    }

    #[test]
    fn escaped_json_is_the_same_document_without_control_characters() {
        let text: String = CONTROLS.iter().collect();
        let value = json!({"name": text, text.as_str(): "b"});
        let pretty = format!("{value:#}");
        let escaped = escaped_json(&pretty);
        assert!(!escaped.contains(|c| controls_display(c) && c != '\n'), "{escaped:?}");
        assert_eq!(serde_json::from_str::<Value>(&escaped).expect("JSON"), value);
    }
}
