//! What to doubt and to beware of, at the foot of a picture.

use super::{
    sheet::{GREY, INK, Picture, SMALL, Type},
    text,
};
use crate::light::remark::Remark;

const LINE: f64 = 16.0;
const LEFT: f64 = 20.0;

/// Writes remarks under each other, and ends the picture under them.
pub fn end<'r>(picture: &mut Picture, top: f64, remarks: impl IntoIterator<Item = &'r Remark>) {
    let mut y = top;
    for remark in remarks {
        picture.text([LEFT, y], Type::new(SMALL).in_colour(INK).bold(), "!");
        for line in text::lines(&remark.text, SMALL, picture.width() - 2.0 * LEFT - 12.0) {
            picture.text([LEFT + 12.0, y], Type::new(SMALL).in_colour(GREY), &line);
            y += LINE;
        }
    }
    picture.ends_at(y + 4.0);
}
