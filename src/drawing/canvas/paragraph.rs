//! The headline, wrapped paragraphs, and names.

use crate::drawing::canvas::{
    sheet::{NORMAL, Picture, SMALL, SheetPoint, TextStyle},
    text,
};

const LEFT: f64 = 20.0;

/// Writes the summary of the answer under the title. Returns the position of the next line.
pub fn headline(picture: &mut Picture, summary: &str) -> f64 {
    let room = picture.width() - 2.0 * LEFT;
    write(picture, [LEFT, 54.0], TextStyle::new(NORMAL).bold(), room, 18.0, summary)
}

/// Writes text wrapped to a width. Returns the position of the next line.
pub fn write(
    picture: &mut Picture,
    [x, top]: SheetPoint,
    style: TextStyle,
    room: f64,
    line_height: f64,
    content: &str,
) -> f64 {
    text::lines(content, style.normal_size(), room).iter().fold(top, |y, line| {
        picture.text([x, y], style, line);
        y + line_height
    })
}

/// Writes a name, centred vertically: small and in two lines if it is too long for one, and shortened if it is too
/// long for two.
pub fn name(picture: &mut Picture, [x, middle]: SheetPoint, style: TextStyle, name: &str, room: f64) {
    if style.width(name) <= room {
        picture.text([x, middle + 4.0], style, name);
        return;
    }
    let small = TextStyle { size: SMALL, ..style };
    let lines = text::two_lines(name, small.normal_size(), room);
    let first = if lines.len() == 1 { 4.0 } else { -2.0 };
    let lines = lines.into_iter().zip([first, 10.0]).map(|(line, y)| ([x, middle + y], line));
    picture.text_lines(small, &lines.collect::<Vec<_>>(), name);
}
