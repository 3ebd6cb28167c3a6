//! How wide a text is, before a viewer's font is known: as in the widest of the usual ones, so that it fits in all.

use crate::light::quantity::{Metres, units::Units};

/// Width at a font size.
pub fn width(text: &str, size: f64) -> f64 {
    text.chars().map(em).sum::<f64>() * size
}

/// A character's width, em.
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

/// Characters of a name's end that tell it from others like it, as `#2`.
const TAIL: usize = 4;

/// The text, or as much of its beginning as fits, and its end.
pub fn fitted(text: &str, size: f64, room: f64) -> String {
    if width(text, size) <= room {
        return text.to_owned();
    }
    let start = text.char_indices().rev().nth(TAIL - 1).map_or(0, |(start, _)| start);
    let tail = text[start..].trim_start();
    // Where there is room for little, the beginning tells most.
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

/// The text in two lines of a width at the most: as it stands, or its beginning above and its end below, so that
/// what many names begin with alike does not make them one.
pub fn in_two(text: &str, size: f64, room: f64) -> Vec<String> {
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

/// Words in lines of a width; a no-break space parts no words, and a word that is wider than a line is broken.
pub fn lines(text: &str, size: f64, room: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let words = text.split([' ', '\n', '\t']).filter(|word| !word.is_empty());
    for word in words.flat_map(|word| broken(word, size, room)) {
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

/// A word in pieces, as few as fit.
fn broken(word: &str, size: f64, room: f64) -> Vec<&str> {
    let mut pieces = Vec::new();
    let mut rest = word;
    while width(rest, size) > room {
        let mut used = 0.0;
        let end = rest.char_indices().find(|(_, c)| {
            used += em(*c) * size;
            used > room
        });
        // One character at the least.
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

/// A number as people say it: two decimals are more than anyone sets, of large ones one; and no more digits than an
/// answer has.
pub fn number(value: f64) -> String {
    let exact = crate::light::quantity::significant(value);
    let parts = if exact.abs() >= 100.0 { 10.0 } else { 100.0 };
    let rounded = (exact * parts).round() / parts;
    let told = if exact.abs() >= 0.1 || (rounded - exact).abs() < 1e-9 { rounded } else { exact };
    minus(&(if told == 0.0 { 0.0 } else { told }).to_string())
}

/// A number with so many digits, as many as what was measured can be trusted to: of three `45.6`, `594`, `12300`.
pub fn digits(value: f64, digits: usize) -> String {
    let least = digits.saturating_sub(1);
    number(format!("{value:.least$e}").parse().unwrap_or(value))
}

/// Stops that are told as a number, with their word: `1 stop`, `−0.5 stops`.
pub fn with_stops(told: &str) -> String {
    let one = told.trim_start_matches(['+', '−']) == "1";
    format!("{told} {}", if one { "stop" } else { "stops" })
}

/// Stops to the hundredth: `1.33`, `0.5`, `0`.
pub fn hundredths(stops: f64) -> String {
    number((stops * 100.0).round() / 100.0)
}

/// Stops with their sign: `+1.33`, `−0.5`, `0`.
pub fn signed(stops: f64) -> String {
    with_sign(hundredths(stops))
}

/// Stops with two decimals, so that a column of them is of one form.
pub fn fixed(stops: f64) -> String {
    let rounded = (stops * 100.0).round() / 100.0;
    minus(&format!("{:.2}", if rounded == 0.0 { 0.0 } else { rounded }))
}

/// A number as pictures write it, with a plus where it is over 0.
pub fn with_sign(told: String) -> String {
    let is_zero = told.chars().all(|c| matches!(c, '0' | '.'));
    if is_zero || told.starts_with('−') { told } else { format!("+{told}") }
}

/// How far off an exposure is: `0.33 under`, `1.20 over`.
pub fn off(stops: f64) -> String {
    side(stops, "")
}

/// The same in a sentence: `0.33 stops under`.
pub fn stops_off(stops: f64) -> String {
    side(stops, " stops")
}

fn side(stops: f64, word: &str) -> String {
    let told = fixed(stops.abs());
    match told.as_str() {
        "0.00" => told + word,
        _ if stops < 0.0 => format!("{told}{word} under"),
        _ => format!("{told}{word} over"),
    }
}

/// A length, as pictures write a minus.
pub fn length(units: Units, length: Metres) -> String {
    minus(&units.said(length))
}

pub fn minus(number: &str) -> String {
    number.replace('-', "−")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_too_long_is_cut_and_says_so() {
        assert_eq!(fitted("key", 13.0, 100.0), "key");
        let cut = fitted("the big octagon over the bow", 13.0, 100.0);
        assert!(cut.starts_with("the") && cut.ends_with("…bow") && width(&cut, 13.0) <= 100.0, "{cut}");
    }

    #[test]
    fn long_names_keep_what_tells_them_apart() {
        assert_eq!(in_two("key", 11.0, 100.0), ["key"]);
        assert_eq!(in_two("backdrop upper left", 11.0, 100.0), ["backdrop upper", "left"]);
        let two = |side: &str| {
            in_two(&format!("the light over the whole backdrop {side} of the jetty"), 11.0, 100.0)
        };
        assert_ne!(two("left"), two("right"));
        assert!(two("left").iter().all(|line| width(line, 11.0) <= 100.0), "{:?}", two("left"));
        assert_eq!(two("left").len(), 2);
    }

    #[test]
    fn words_stand_in_lines_and_the_longest_are_broken() {
        assert_eq!(lines("a set of  lights", 10.0, 60.0), ["a set of", "lights"]);
        assert_eq!(lines("光光光光光 b", 10.0, 35.0), ["光光光", "光光 b"]);
        assert_eq!(lines("光光", 10.0, 1.0), ["光", "光"]);
        assert!(lines("", 10.0, 50.0).is_empty());
    }

    #[test]
    fn numbers_are_said_with_a_sign_that_can_be_seen() {
        assert_eq!([1.333_333, -0.5, 0.0, -0.001].map(signed), ["+1.33", "−0.5", "0", "0"]);
        assert_eq!([2.0, 197.926, 0.012_345].map(number), ["2", "197.9", "0.012345"]);
        assert_eq!([166_103.21, 16_610.321, 2621.441].map(number), ["166103", "16610.3", "2621.4"]);
        assert_eq!([2.0, 0.012_345, -0.001].map(hundredths), ["2", "0.01", "0"]);
    }

    #[test]
    fn no_more_digits_are_said_than_are_known() {
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
    fn what_is_off_says_to_which_side() {
        assert_eq!(
            [1.333_333, -0.5, 0.004, -0.004, 0.0].map(off),
            ["1.33 over", "0.50 under", "0.00", "0.00", "0.00"]
        );
        assert_eq!([1.28, -0.35, 0.0].map(stops_off), ["1.28 stops over", "0.35 stops under", "0.00 stops"]);
    }
}
