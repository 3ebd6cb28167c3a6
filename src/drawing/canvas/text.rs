//! Text widths and wrapping.
//!
//! Measured by a table of widths and not by a font library: the answer carries no font, and the viewer's is unknown.
//! A measured font would be exact for a font that the reader does not have. The table has the widths of the widest
//! common sans-serif fonts, so that text fits in all of them.

/// The width of a text at a font size.
pub fn width(text: &str, size: f64) -> f64 {
    text.chars().map(em).sum::<f64>() * size
}

/// The width of a character, em.
fn em(c: char) -> f64 {
    match c {
        'i' | 'j' | 'l' | '\'' | '|' => 0.3,
        ' ' | '.' | ',' | ':' | ';' | '/' | '(' | ')' | '[' | ']' | 'f' | 't' | 'r' | '!' | 'I' => 0.4,
        'm' | 'M' | 'W' | '@' => 1.0,
        'w' | '%' | '+' | '=' | '<' | '>' | '−' | '×' | '#' | '&' | '~' | '^' => 0.95,
        'A'..='Z' => 0.75,
        c if c.is_ascii() => 0.64,
        c if c.is_uppercase() => 1.1,
        // Greek, Cyrillic, Arabic and others.
        '\u{370}'..='\u{10ff}' => 0.95,
        // Ideographs, syllables and pictograms fill a square.
        '\u{1100}'.. => 1.1,
        _ => 0.7,
    }
}

/// Characters kept at the end of a shortened name, because they often distinguish similar names, such as `#2`.
const TAIL: usize = 4;

/// The text, shortened with an ellipsis before its last characters if it is too long.
pub fn shortened(text: &str, size: f64, room: f64) -> String {
    if width(text, size) <= room {
        return text.to_owned();
    }
    let start = text.char_indices().rev().nth(TAIL - 1).map_or(0, |(start, _)| start);
    let tail = text[start..].trim_start();
    // With little room, the beginning is the most useful.
    let tail = if width(tail, size) * 3.0 <= room { tail } else { "" };
    let mut kept = String::new();
    let mut used = width(tail, size) + em('…') * size;
    for c in text.chars() {
        used += em(c) * size;
        if used > room {
            break;
        }
        kept.push(c);
    }
    format!("{}…{tail}", kept.trim_end())
}

/// The text in at most two lines. If it is too long, its beginning above and its end below, so that names with the
/// same beginning stay distinct.
pub fn two_lines(text: &str, size: f64, room: f64) -> Vec<String> {
    let all = lines(text, size, room);
    if all.len() <= 2 {
        return all;
    }
    let mut kept = Vec::new();
    let mut used = em('…') * size;
    for c in text.chars().rev() {
        used += em(c) * size;
        if used > room {
            break;
        }
        kept.push(c);
    }
    let end: String = kept.into_iter().rev().collect();
    all.into_iter().take(1).chain([format!("…{}", end.trim_start())]).collect()
}

/// Wraps text to a width. Lines do not break at no-break spaces; a word that is wider than a line is broken.
pub fn lines(text: &str, size: f64, room: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let words = text.split([' ', '\n', '\t']).filter(|word| !word.is_empty());
    for word in words.flat_map(|word| break_word(word, size, room)) {
        match lines.last_mut() {
            Some(line) if width(line, size) + width(" ", size) + width(word, size) <= room => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

/// Breaks a word into as few pieces as possible that each fit.
fn break_word(word: &str, size: f64, room: f64) -> Vec<&str> {
    let mut pieces = Vec::new();
    let mut rest = word;
    while width(rest, size) > room {
        let mut used = 0.0;
        let end = rest.char_indices().find(|(_, c)| {
            used += em(*c) * size;
            used > room
        });
        // At least one character.
        let end = end.map_or(rest.len(), |(end, _)| end).max(rest.chars().next().map_or(0, char::len_utf8));
        let (piece, after) = rest.split_at(end);
        pieces.push(piece);
        rest = after;
    }
    if !rest.is_empty() {
        pieces.push(rest);
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_text_is_shortened_with_an_ellipsis() {
        assert_eq!(shortened("key", 13.0, 100.0), "key");
        let cut = shortened("the big octagon over the bow", 13.0, 100.0);
        assert!(cut.starts_with("the") && cut.ends_with("…bow") && width(&cut, 13.0) <= 100.0, "{cut}");
    }

    #[test]
    fn long_names_stay_distinct_in_two_lines() {
        assert_eq!(two_lines("key", 11.0, 100.0), ["key"]);
        assert_eq!(two_lines("backdrop upper left", 11.0, 100.0), ["backdrop upper", "left"]);
        let two = |side: &str| {
            two_lines(&format!("the light over the whole backdrop {side} of the jetty"), 11.0, 100.0)
        };
        assert_ne!(two("left"), two("right"));
        assert!(two("left").iter().all(|line| width(line, 11.0) <= 100.0), "{:?}", two("left"));
        assert_eq!(two("left").len(), 2);
    }

    #[test]
    fn text_wraps_and_long_words_break() {
        assert_eq!(lines("a set of  lights", 10.0, 60.0), ["a set of", "lights"]);
        assert_eq!(lines("光光光光光 b", 10.0, 35.0), ["光光光", "光光 b"]);
        assert_eq!(lines("光光", 10.0, 1.0), ["光", "光"]);
        assert!(lines("", 10.0, 50.0).is_empty());
    }
}
