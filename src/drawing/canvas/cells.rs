//! A grid of cells: rows by columns with headings. Columns that do not fit beside each other go into blocks below.

use crate::drawing::canvas::{
    colour::{Colour, Fill},
    paragraph::{self, TWO_LINES},
    sheet::{Anchor, NORMAL, Pen, Picture, SMALL, TextStyle},
};

/// A cell.
#[derive(Debug, Clone)]
pub struct Cell {
    pub fill: Fill,
    /// A few characters, in one line or two; shortened, with a tooltip, if they are too many.
    pub text: String,
    /// The colour of the text.
    pub colour: Colour,
}

/// A row: its heading and a cell for each column.
#[derive(Debug, Clone)]
pub struct Row {
    pub heading: String,
    pub cells: Vec<Cell>,
}

/// The least width of a cell, px.
const LEAST: f64 = 64.0;
/// The greatest width of a cell, px.
const GREATEST: f64 = 130.0;
const CELL: f64 = 36.0;
/// The height of a cell of two lines, px.
const TALL: f64 = 46.0;
/// The room beside the text of a cell, px.
const PADDING: f64 = 6.0;
const GAP: f64 = 8.0;

/// Draws the grid from `top` down. Returns its lower edge.
pub fn draw(picture: &mut Picture, top: f64, columns: &[String], rows: &[Row]) -> f64 {
    let (left, room) = (picture.left(), picture.room());
    let heading = TextStyle::new(NORMAL).without_halo();
    let widest = rows.iter().map(|row| heading.width(&row.heading)).fold(0.0, f64::max);
    let names = widest.min(room * 0.34) + GAP;
    let texts = || rows.iter().flat_map(|row| &row.cells).flat_map(|cell| cell.text.lines());
    let text = TextStyle::new(SMALL);
    let least = texts().map(|line| text.width(line) + PADDING).fold(LEAST, f64::max).min(GREATEST);
    let is_tall = rows.iter().flat_map(|row| &row.cells).any(|cell| cell.text.contains('\n'));
    let height = if is_tall { TALL } else { CELL };
    let at_once = (((room - names) / least) as usize).clamp(1, columns.len().max(1));
    let width = ((room - names) / at_once as f64).min(GREATEST);
    let mut y = top;
    for (block, columns) in columns.chunks(at_once).enumerate() {
        let small = TextStyle::new(SMALL).in_colour(Colour::Grey).without_halo().anchored(Anchor::Middle);
        let x = |column: usize| left + names + width * column as f64;
        for (column, name) in columns.iter().enumerate() {
            let at = [x(column) + width / 2.0, y + TWO_LINES / 2.0];
            paragraph::name(picture, at, small, name, width - 4.0);
        }
        y += TWO_LINES;
        for row in rows {
            let middle = y + height / 2.0;
            paragraph::name(picture, [left, middle], heading, &row.heading, names - GAP);
            for (column, cell) in row.cells.iter().skip(block * at_once).take(columns.len()).enumerate() {
                let (from, to) = ([x(column), y], [x(column) + width, y + height]);
                picture.rectangle(from, to, cell.fill, Pen::new(Colour::Faint, 1.0));
                // On a colour a halo would be a blot.
                let is_plain = matches!(cell.fill, Fill::Colour(_));
                let style = TextStyle { halo: !is_plain, ..text };
                let style = style.in_colour(cell.colour).anchored(Anchor::Middle);
                let first = if cell.text.contains('\n') { -4.0 } else { 5.0 };
                for (line, down) in cell.text.lines().zip([first, first + 19.0]) {
                    let at = [from[0] + width / 2.0, middle + down];
                    picture.shortened(at, style, line, width - PADDING);
                }
            }
            y += height;
        }
        y += GAP;
    }
    y
}
