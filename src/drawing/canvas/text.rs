//! Text widths, wrapping and number formats.
//!
//! The viewer's font is unknown, so widths are those of the widest common sans-serif fonts: text fits in all of them.

use crate::light::quantity::{Metres, units::Units};

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

/// A number rounded for reading: to two decimals, from 100 on to one, and to no more significant digits than the
/// answer has. Numbers below 0.1 keep their significant digits.
pub fn number(value: f64) -> String {
    let exact = crate::light::quantity::significant(value);
    let parts = if exact.abs() >= 100.0 { 10.0 } else { 100.0 };
    let rounded = (exact * parts).round() / parts;
    let shown = if exact.abs() >= 0.1 || (rounded - exact).abs() < 1e-9 { rounded } else { exact };
    minus(&(if shown == 0.0 { 0.0 } else { shown }).to_string())
}

/// A number rounded to as many significant digits as the measurement supports: with three `45.6`, `594`, `12300`.
pub fn digits(value: f64, digits: usize) -> String {
    let least = digits.saturating_sub(1);
    number(format!("{value:.least$e}").parse().unwrap_or(value))
}

/// A formatted number of stops with its unit: `1 stop`, `−0.5 stops`.
pub fn with_stops(text: &str) -> String {
    let one = text.trim_start_matches(['+', '−']) == "1";
    format!("{text} {}", if one { "stop" } else { "stops" })
}

/// Stops rounded to the hundredth: `1.33`, `0.5`, `0`.
pub fn hundredths(stops: f64) -> String {
    number((stops * 100.0).round() / 100.0)
}

/// Stops with their sign: `+1.33`, `−0.5`, `0`.
pub fn signed(stops: f64) -> String {
    with_sign(hundredths(stops))
}

/// Stops with exactly two decimals, so that columns align.
pub fn fixed(stops: f64) -> String {
    let rounded = (stops * 100.0).round() / 100.0;
    minus(&format!("{:.2}", if rounded == 0.0 { 0.0 } else { rounded }))
}

/// A formatted number, with a plus if it is positive.
pub fn with_sign(text: String) -> String {
    let is_zero = text.chars().all(|c| matches!(c, '0' | '.'));
    if is_zero || text.starts_with('−') { text } else { format!("+{text}") }
}

/// An exposure error: `0.33 under`, `1.20 over`.
pub fn off(stops: f64) -> String {
    side(stops, "")
}

/// An exposure error with its unit: `0.33 stops under`.
pub fn stops_off(stops: f64) -> String {
    side(stops, " stops")
}

fn side(stops: f64, word: &str) -> String {
    let text = fixed(stops.abs());
    match text.as_str() {
        "0.00" => text + word,
        _ if stops < 0.0 => format!("{text}{word} under"),
        _ => format!("{text}{word} over"),
    }
}

/// A length with a typographic minus sign.
pub fn length(units: Units, length: Metres) -> String {
    minus(&units.said(length))
}

/// Replaces hyphens by minus signs.
pub fn minus(number: &str) -> String {
    number.replace('-', "−")
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

    #[test]
    fn signs_and_decimals_are_formatted() {
        assert_eq!([1.333_333, -0.5, 0.0, -0.001].map(signed), ["+1.33", "−0.5", "0", "0"]);
        assert_eq!([2.0, 197.926, 0.012_345].map(number), ["2", "197.9", "0.012345"]);
        assert_eq!([166_103.21, 16_610.321, 2621.441].map(number), ["166103", "16610.3", "2621.4"]);
        assert_eq!([2.0, 0.012_345, -0.001].map(hundredths), ["2", "0.01", "0"]);
    }

    #[test]
    fn digits_are_significant_and_one_stop_is_singular() {
        assert_eq!(
            [45.64, 593.9, 12_345.6, 0.0, 9.996].map(|value| digits(value, 3)),
            ["45.6", "594", "12300", "0", "10"]
        );
        assert_eq!(
            ["1", "+1", "−1", "1.5", "0"].map(with_stops),
            ["1 stop", "+1 stop", "−1 stop", "1.5 stops", "0 stops"]
        );
    }

    #[test]
    fn errors_are_over_or_under() {
        assert_eq!(
            [1.333_333, -0.5, 0.004, -0.004, 0.0].map(off),
            ["1.33 over", "0.50 under", "0.00", "0.00", "0.00"]
        );
        assert_eq!([1.28, -0.35, 0.0].map(stops_off), ["1.28 stops over", "0.35 stops under", "0.00 stops"]);
    }
}
