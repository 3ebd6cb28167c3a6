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
    /// A few characters; shortened, with a tooltip, if they are too many.
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
const GAP: f64 = 8.0;

/// Draws the grid from `top` down. Returns its lower edge.
pub fn draw(picture: &mut Picture, top: f64, columns: &[String], rows: &[Row]) -> f64 {
    let (left, room) = (picture.left(), picture.room());
    let heading = TextStyle::new(NORMAL).without_halo();
    let widest = rows.iter().map(|row| heading.width(&row.heading)).fold(0.0, f64::max);
    let names = widest.min(room * 0.34) + GAP;
    let at_once = (((room - names) / LEAST) as usize).clamp(1, columns.len().max(1));
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
            let middle = y + CELL / 2.0;
            paragraph::name(picture, [left, middle], heading, &row.heading, names - GAP);
            for (column, cell) in row.cells.iter().skip(block * at_once).take(columns.len()).enumerate() {
                let (from, to) = ([x(column), y], [x(column) + width, y + CELL]);
                picture.rectangle(from, to, cell.fill, Pen::new(Colour::Faint, 1.0));
                let style = TextStyle::new(SMALL).in_colour(cell.colour).anchored(Anchor::Middle);
                picture.shortened([from[0] + width / 2.0, middle + 5.0], style, &cell.text, width - 6.0);
            }
            y += CELL;
        }
        y += GAP;
    }
    y
}
