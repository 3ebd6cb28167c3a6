//! Words in lines, on the sheet, and names.

use crate::drawing::canvas::{
    sheet::{Picture, SMALL, SheetPoint, Type},
    text,
};

/// Writes words in lines of a width, so far under each other; answers where the next line stands.
pub fn write(
    picture: &mut Picture,
    [x, top]: SheetPoint,
    style: Type,
    room: f64,
    apart: f64,
    words: &str,
) -> f64 {
    text::lines(words, style.size, room).iter().fold(top, |y, line| {
        picture.text([x, y], style, line);
        y + apart
    })
}

/// Writes a name around a middle line: small and in two lines where it is too long for one, and cut where it is too
/// long for two.
pub fn name(picture: &mut Picture, [x, middle]: SheetPoint, style: Type, name: &str, room: f64) {
    if style.width(name) <= room {
        picture.text([x, middle + 4.0], style, name);
        return;
    }
    let small = Type { size: SMALL, ..style };
    let lines = text::in_two(name, small.letters(), room);
    let first = if lines.len() == 1 { 4.0 } else { -2.0 };
    let lines = lines.into_iter().zip([first, 10.0]).map(|(line, y)| ([x, middle + y], line));
    picture.shown(small, &lines.collect::<Vec<_>>(), name);
}
