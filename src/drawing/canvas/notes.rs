//! Warnings, cautions and lists at the foot of a picture.

use crate::{
    drawing::canvas::{
        colour::Colour,
        paragraph,
        sheet::{Picture, SMALL, TextStyle},
    },
    wording::phrases,
};

const INDENT: f64 = 20.0;

/// Writes remarks below each other, and sets the height of the picture. They are also added to the description.
pub fn finish(picture: &mut Picture, top: f64, remarks: impl IntoIterator<Item = String>) {
    let mut y = top;
    for text in remarks {
        picture.describe(&text);
        y = note(picture, y, "!", &text, Colour::Grey);
    }
    picture.set_height(y + 4.0);
}

/// Writes texts under a heading, and how many more there are. They are also added to the description. Returns the
/// position of the next line.
pub fn list(picture: &mut Picture, top: f64, heading: &str, texts: &[String], more: usize) -> f64 {
    if texts.is_empty() {
        return top;
    }
    let style = TextStyle::new(SMALL).bold().without_halo();
    picture.text([picture.left(), top], style, heading);
    let more = (more > 0).then(|| phrases::picture::more_in_answer(more));
    picture.describe(&format!("{heading}:"));
    texts.iter().chain(&more).for_each(|text| picture.describe(text));
    texts.iter().chain(&more).fold(top + style.line(), |y, text| note(picture, y, "•", text, Colour::Ink))
        + 6.0
}

fn note(picture: &mut Picture, top: f64, mark: &str, words: &str, colour: Colour) -> f64 {
    let (left, style) = (picture.left(), TextStyle::new(SMALL).without_halo());
    picture.text([left, top], style.bold(), mark);
    let room = picture.room() - INDENT;
    paragraph::write(picture, [left + INDENT, top], style.in_colour(colour), room, words)
}
