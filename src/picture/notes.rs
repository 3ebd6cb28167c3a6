//! What to doubt and to beware of, at the foot of a picture.

use super::{
    sheet::{GREY, INK, Picture, SMALL, Type},
    text,
};
use crate::light::remark::{Remark, Remedy};

const LINE: f64 = 16.0;
const LEFT: f64 = 20.0;
const INDENT: f64 = 20.0;

/// Writes remarks under each other, and ends the picture under them.
pub fn end<'r>(picture: &mut Picture, top: f64, remarks: impl IntoIterator<Item = &'r Remark>) {
    let mut y = top;
    for remark in remarks {
        y = note(picture, y, "!", &remark.text);
    }
    picture.ends_at(y + 4.0);
}

/// Writes what would do it; answers where that ends.
pub fn remedies(picture: &mut Picture, top: f64, remedies: &[Remedy]) -> f64 {
    let Some(first) = remedies.first() else { return top };
    picture.text([LEFT, top], Type::new(SMALL).bold(), "What would do it");
    let mark = if remedies.len() > 1 { "or" } else { "" };
    let top = note(picture, top + LINE, "", &first.detail);
    remedies[1..].iter().fold(top, |y, remedy| note(picture, y, mark, &remedy.detail)) + 6.0
}

fn note(picture: &mut Picture, top: f64, mark: &str, words: &str) -> f64 {
    picture.text([LEFT, top], Type::new(SMALL).in_colour(INK).bold(), mark);
    let lines = text::lines(words, SMALL, picture.width() - 2.0 * LEFT - INDENT);
    for (number, line) in lines.iter().enumerate() {
        picture.text([LEFT + INDENT, top + LINE * number as f64], Type::new(SMALL).in_colour(GREY), line);
    }
    top + LINE * lines.len() as f64
}
