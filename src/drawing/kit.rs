//! The picture of a kit check: how each role of each shot comes out and what serves it, then what is short or tight.

mod bars;
mod compare;
mod detail;
mod grid;
mod lists;
mod outcome;

pub use self::compare::draw as compare;

use crate::{
    drawing::canvas::{
        notes, paragraph,
        sheet::{NORMAL, Picture, TextStyle},
    },
    light::kit::{KitCheck, KitQuestion},
    wording::{
        phrases::{self, kit_picture},
        summary::Summary,
    },
};

/// Draws an answer of `kit/check`.
pub fn draw(question: &KitQuestion, answer: &KitCheck, width: f64) -> Picture {
    let summary = answer.summary();
    let mut picture =
        Picture::new(width, kit_picture::TITLE, &lists::description(&summary, question, answer));
    let mut y = paragraph::headline(&mut picture, &summary);
    for line in lists::shot_lists(answer) {
        picture.describe(&line);
        y = paragraph::body(&mut picture, y, TextStyle::new(NORMAL), &line);
    }
    y = list(&mut picture, y + 6.0, lists::remedies(answer));
    y = grid::draw(&mut picture, y + 8.0, answer);
    y = detail::draw(&mut picture, y, question, answer);
    y = list(&mut picture, y + 14.0, vec![lists::missing(answer)]);
    // Warnings that the summary already contains are not repeated.
    let remarks = answer.warnings.iter().filter(|remark| !answer.summary.mind.contains(remark));
    notes::finish(
        &mut picture,
        y,
        remarks.map(phrases::remark).chain(answer.cautions.iter().map(phrases::remark)),
    );
    picture
}

/// Writes lists below each other. Returns the position of the next line.
fn list(picture: &mut Picture, top: f64, lists: Vec<lists::TextList>) -> f64 {
    lists.into_iter().fold(top, |y, lists::TextList { heading, lines, more }| {
        notes::list(picture, y, heading, &lines, more)
    })
}
