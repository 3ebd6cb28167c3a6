//! Lines of at most 80 columns.

use std::fmt::Write as _;

/// The width of a line, in columns.
pub const WIDTH: usize = 80;
/// The space between two columns of a table, and after a label.
pub const GAP: usize = 2;

/// The columns that a text takes.
pub fn width(text: &str) -> usize {
    text.chars().count()
}

/// Wraps text. The first line begins at column `start`, the others are indented.
///
/// ```
/// use stopwright::response::text::lines::wrap;
/// let mut out = "  - ".to_owned();
/// wrap(&"light ".repeat(20), 4, 4, &mut out);
/// assert!(out.lines().all(|line| line.len() <= 80) && out.lines().nth(1).is_some_and(|line| line.starts_with("    l")));
/// ```
pub fn wrap(text: &str, start: usize, indent: usize, out: &mut String) {
    let mut column = start;
    let mut is_first = true;
    for word in text.split_whitespace() {
        if !is_first && column + 1 + width(word) > WIDTH {
            // Writing to a String cannot fail.
            let _ = write!(out, "\n{:indent$}", "");
            column = indent;
        } else if !is_first {
            out.push(' ');
            column += 1;
        }
        out.push_str(word);
        column += width(word);
        is_first = false;
    }
    out.push('\n');
}

/// Breaks a heading into lines of at most `most` columns, or of its longest word.
pub fn broken(text: &str, most: usize) -> Vec<String> {
    let most = text.split_whitespace().map(width).max().unwrap_or_default().max(most);
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if width(line) + 1 + width(word) <= most => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}
