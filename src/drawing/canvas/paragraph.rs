//! The headline, wrapped paragraphs, and names.

use crate::drawing::canvas::{
    colour::Colour,
    sheet::{LARGE, NORMAL, Picture, SMALL, SheetPoint, TextStyle},
    text,
};

/// Writes the summary of the answer under the title. Returns the position of the next line.
pub fn headline(picture: &mut Picture, summary: &str) -> f64 {
    body(picture, picture.top() + 2.0, TextStyle::new(LARGE).bold(), summary)
}

/// Writes what the picture shows, under the headline. Returns the position of the next line.
pub fn details(picture: &mut Picture, top: f64, details: &str) -> f64 {
    body(picture, top, TextStyle::new(NORMAL).in_colour(Colour::Grey), details)
}

/// Writes text over the whole width of the sheet. Returns the position of the next line.
pub fn body(picture: &mut Picture, top: f64, style: TextStyle, content: &str) -> f64 {
    let (at, room) = ([picture.left(), top], picture.room());
    write(picture, at, style.without_halo(), room, content)
}

/// Writes text wrapped to a width. Returns the position of the next line.
pub fn write(picture: &mut Picture, [x, top]: SheetPoint, style: TextStyle, room: f64, content: &str) -> f64 {
    text::lines(content, style.normal_size(), room).iter().fold(top, |y, line| {
        picture.text([x, y], style, line);
        y + style.line()
    })
}

/// Writes a name, centred vertically: small and in two lines if it is too long for one, and shortened if it is too
/// long for two. Two lines take [`TWO_LINES`].
pub fn name(picture: &mut Picture, [x, middle]: SheetPoint, style: TextStyle, name: &str, room: f64) {
    if style.width(name) <= room {
        picture.text([x, middle + 5.0], style, name);
        return;
    }
    let small = TextStyle { size: SMALL, ..style };
    let lines = text::two_lines(name, small.normal_size(), room);
    let first = if lines.len() == 1 { 5.0 } else { -4.0 };
    let lines = lines.into_iter().zip([first, 13.0]).map(|(line, y)| ([x, middle + y], line));
    picture.text_lines(small, &lines.collect::<Vec<_>>(), name);
}

/// The height of a row in which a name may need two lines, px.
pub const TWO_LINES: f64 = 40.0;
