//! Words in lines, on the sheet.

use super::{
    sheet::{Picture, Spot, Type},
    text,
};

/// Writes words in lines of a width, so far under each other; answers where the next line stands.
pub fn write(picture: &mut Picture, [x, top]: Spot, style: Type, room: f64, apart: f64, words: &str) -> f64 {
    text::lines(words, style.size, room).iter().fold(top, |y, line| {
        picture.text([x, y], style, line);
        y + apart
    })
}
