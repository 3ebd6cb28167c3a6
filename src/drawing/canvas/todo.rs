//! What to do, under the headline: a large line for each thing, with a mark, a name and a bold value to the right.

use crate::drawing::canvas::{
    colour::Colour,
    marks::Mark,
    paragraph,
    sheet::{Anchor, LARGE, NORMAL, Pen, Picture, TextStyle},
};

/// A thing to do.
#[derive(Debug, Clone)]
pub struct Line {
    pub mark: Mark,
    /// What is to be set.
    pub name: String,
    /// What to set it to.
    pub value: String,
    /// The rest that there is to say; empty if there is none.
    pub details: String,
}

/// The room for a mark, px.
const INDENT: f64 = 28.0;
const GAP: f64 = 12.0;
const NAME: TextStyle = TextStyle::new(LARGE).without_halo();

/// Draws the lines from `top` down. Returns their lower edge.
///
/// On a wide sheet the values stand in a column near the names, so that the eye need not travel.
pub fn draw(picture: &mut Picture, top: f64, lines: &[Line]) -> f64 {
    const WIDEST: f64 = 640.0;
    let left = picture.left() + INDENT;
    let right = picture.right().min(picture.left() + WIDEST);
    let value = NAME.bold().anchored(Anchor::End);
    let rule = Pen::new(Colour::Faint, 1.0);
    let mut y = top;
    for line in lines {
        picture.line([picture.left(), y], [right, y], rule);
        y += NAME.line() + 4.0;
        line.mark.draw(picture, [picture.left() + 10.0, y - 6.0], 8.0);
        let colour = line.mark.colour();
        let room = right - left;
        // The value is what is set, so it is written in full, under the name if it does not fit beside it.
        let beside = NAME.width(&line.name) + GAP + value.width(&line.value) <= room;
        if beside {
            picture.text([left, y], NAME, &line.name);
            picture.text([right, y], value.in_colour(colour), &line.value);
            y += NAME.line();
        } else {
            y = paragraph::write(picture, [left, y], NAME, room, &line.name);
            let style = value.in_colour(colour).anchored(Anchor::Start);
            y = paragraph::write(picture, [left, y], style, room, &line.value);
        }
        let small = TextStyle::new(NORMAL).in_colour(Colour::Grey).without_halo();
        y = paragraph::write(picture, [left, y], small, room, &line.details) - 12.0;
    }
    if !lines.is_empty() {
        picture.line([picture.left(), y], [right, y], rule);
    }
    y
}
