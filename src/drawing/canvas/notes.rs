//! Warnings, cautions and lists at the foot of a picture.

use crate::{
    drawing::canvas::{
        paragraph,
        sheet::{GREY, INK, Picture, SMALL, TextStyle},
    },
    wording::phrases,
};

const LINE: f64 = 16.0;
const LEFT: f64 = 20.0;
const INDENT: f64 = 20.0;

/// Writes remarks below each other, and sets the height of the picture. They are also added to the description.
pub fn finish(picture: &mut Picture, top: f64, remarks: impl IntoIterator<Item = String>) {
    let mut y = top;
    for text in remarks {
        picture.describe(&text);
        y = note(picture, y, "!", &text, GREY);
    }
    picture.set_height(y + 4.0);
}

/// Writes texts under a heading, and how many more there are. They are also added to the description. Returns the
/// position of the next line.
pub fn list(picture: &mut Picture, top: f64, heading: &str, texts: &[String], more: usize) -> f64 {
    if texts.is_empty() {
        return top;
    }
    picture.text([LEFT, top], TextStyle::new(SMALL).bold().without_halo(), heading);
    let more = (more > 0).then(|| phrases::picture::more_in_answer(more));
    picture.describe(&format!("{heading}:"));
    texts.iter().chain(&more).for_each(|text| picture.describe(text));
    texts.iter().chain(&more).fold(top + LINE, |y, text| note(picture, y, "", text, INK)) + 6.0
}

fn note(picture: &mut Picture, top: f64, mark: &str, words: &str, colour: &'static str) -> f64 {
    picture.text([LEFT, top], TextStyle::new(SMALL).in_colour(INK).bold(), mark);
    let room = picture.width() - 2.0 * LEFT - INDENT;
    paragraph::write(
        picture,
        [LEFT + INDENT, top],
        TextStyle::new(SMALL).in_colour(colour),
        room,
        LINE,
        words,
    )
}
