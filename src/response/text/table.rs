//! Lists of objects as tables.

use std::fmt::Write as _;

use serde_json::{Map, Value};

use super::{
    fields::{is_idle, is_nothing},
    lines::{GAP, WIDTH, broken, width},
    name::heading,
};

/// How a value is written in a table. `None` if it does not fit a cell.
pub type Write = fn(&str, &Value) -> Option<String>;

/// A column: its heading in lines, and a cell for each row.
struct Column {
    heading: Vec<String>,
    cells: Vec<String>,
    width: usize,
}

impl Column {
    fn new(name: &str, rows: &[&Map<String, Value>], write: Write) -> Option<Self> {
        let text = |row: &&Map<String, Value>| match row.get(name) {
            None => Some(String::new()),
            Some(value) if is_nothing(value) => Some("-".to_owned()),
            Some(value) => write(name, value),
        };
        let cells: Vec<String> = rows.iter().map(text).collect::<Option<_>>()?;
        let widest = cells.iter().map(|cell| width(cell)).max().unwrap_or_default();
        let heading = broken(&heading(name), widest);
        let width = heading.iter().map(|line| width(line)).max().unwrap_or_default().max(widest);
        Some(Self { heading, cells, width })
    }

    /// Whether it is aligned to the right.
    fn is_numeric(&self) -> bool {
        let is_number = |cell: &String| cell.chars().all(|c| c.is_ascii_digit() || "+−±. %:-".contains(c));
        self.cells.iter().all(is_number)
    }
}

/// Objects as a table, one on each line. `None` if it is too wide or a value does not fit a cell.
pub fn table(rows: &[&Map<String, Value>], names: &[&str], indent: usize, write: Write) -> Option<String> {
    let columns: Vec<Column> =
        names.iter().map(|name| Column::new(name, rows, write)).collect::<Option<_>>()?;
    let gaps = GAP * columns.len().saturating_sub(1);
    if indent + columns.iter().map(|column| column.width).sum::<usize>() + gaps > WIDTH {
        return None;
    }
    let tallest = columns.iter().map(|column| column.heading.len()).max().unwrap_or_default();
    let mut out = String::new();
    for line in 0..tallest + rows.len() {
        let mut text = " ".repeat(indent);
        for column in &columns {
            // Headings stand on the row below.
            let cell = match line.checked_sub(tallest) {
                Some(row) => column.cells.get(row),
                None => {
                    (line + column.heading.len()).checked_sub(tallest).and_then(|at| column.heading.get(at))
                }
            };
            let cell = cell.map(String::as_str).unwrap_or_default();
            let pad = " ".repeat(column.width - width(cell));
            // Writing to a String cannot fail.
            let _ =
                if column.is_numeric() { write!(text, "{pad}{cell}") } else { write!(text, "{cell}{pad}") };
            text.push_str(&" ".repeat(GAP));
        }
        let _ = writeln!(out, "{}", text.trim_end());
    }
    Some(out)
}

/// The names of the fields that say something in any of the rows, in the order of the first row that has each.
pub fn columns<'r>(rows: &[&'r Map<String, Value>]) -> Vec<&'r str> {
    let mut names: Vec<&str> = Vec::new();
    for name in rows.iter().flat_map(|row| row.keys()) {
        if !names.contains(&name.as_str()) {
            names.push(name);
        }
    }
    let says = |name: &str| {
        rows.iter().any(|row| row.get(name).is_some_and(|value| !is_nothing(value) && !is_idle(name, value)))
    };
    names.retain(|name| says(name));
    names
}
