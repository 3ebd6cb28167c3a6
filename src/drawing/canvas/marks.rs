//! The shapes that mark values and lines of text. Each can be distinguished without colour.

use crate::drawing::canvas::{
    colour::Colour,
    sheet::{Anchor, Pen, Picture, SMALL, SheetPoint, TextStyle},
};

/// A mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mark {
    /// A filled circle: what is.
    Dot,
    /// An open circle: what was.
    Ring,
    /// A filled diamond: a mean or a setting.
    Diamond,
    /// A cross: what is missed or wrong.
    Cross,
    /// A triangle: what is only just enough.
    Tight,
    /// A question mark: what is in doubt.
    Doubt,
    /// A check mark: what is right, or needs nothing.
    Check,
    /// An arrow to the right: what to do.
    Go,
    /// The letter of a light, by its index; dashed if it is off.
    Light(usize, bool),
}

impl Mark {
    /// The colour of the mark.
    pub const fn colour(self) -> Colour {
        match self {
            Self::Dot | Self::Doubt | Self::Check | Self::Go | Self::Light(..) => Colour::Ink,
            Self::Ring => Colour::Grey,
            Self::Diamond => Colour::Data,
            Self::Cross => Colour::Wrong,
            Self::Tight => Colour::Tight,
        }
    }

    /// Draws the mark around a point. `radius` is half its size, px; 5 suits marks on an axis, 8 those of large lines.
    pub fn draw(self, picture: &mut Picture, [x, y]: SheetPoint, radius: f64) {
        let colour = self.colour();
        let at = |right: f64, down: f64| [x + right * radius, y + down * radius];
        let stroke = Pen::new(colour, radius / 2.0);
        let edge = Pen::new(Colour::Paper, 1.0);
        match self {
            Self::Dot => picture.circle([x, y], radius, colour, edge),
            Self::Ring => picture.circle([x, y], radius, Colour::Paper, Pen::new(colour, 1.5)),
            Self::Diamond => {
                picture.shape(&[at(0.0, -1.2), at(1.2, 0.0), at(0.0, 1.2), at(-1.2, 0.0)], colour, edge);
            }
            Self::Cross => picture.cross([x, y], radius, stroke),
            Self::Tight => picture.shape(&[at(0.0, -1.1), at(1.1, 0.9), at(-1.1, 0.9)], colour, edge),
            Self::Doubt => {
                let style = TextStyle::new((radius * 2.4).max(14.0)).bold().anchored(Anchor::Middle);
                picture.text([x, y + style.size * 0.35], style, "?");
            }
            Self::Check => picture.path(&[at(-0.9, 0.0), at(-0.2, 0.8), at(1.0, -0.8)], stroke),
            Self::Go => {
                picture.line(at(-1.0, 0.0), at(0.4, 0.0), stroke);
                picture.shape(&[at(1.1, 0.0), at(0.0, -0.9), at(0.0, 0.9)], colour, Pen::new(colour, 0.0));
            }
            Self::Light(index, is_off) => {
                lettered(picture, [x, y], index, &letter(index), if is_off { OFF } else { ON });
            }
        }
    }
}

/// The outline of the mark of a light.
pub const ON: Pen = Pen::new(Colour::Ink, 1.5);
/// The same of one that is off.
pub const OFF: Pen = Pen::new(Colour::Grey, 1.5).dashed("3 3");
/// Half the size of the mark of a light, px.
pub const HALF: f64 = 12.0;

/// The letter of a light: A to Z, then AA, AB and so on.
pub fn letter(index: usize) -> String {
    let nth = |index: usize| char::from(b'A' + (index % 26) as u8);
    match index / 26 {
        0 => nth(index).to_string(),
        round => format!("{}{}", nth(round - 1), nth(index)),
    }
}

/// Draws letters in a shape that differs from light to light: a circle, a square, a hexagon, a diamond.
pub fn lettered(picture: &mut Picture, [x, y]: SheetPoint, index: usize, letters: &str, pen: Pen) {
    let corners = |corners: &[SheetPoint]| -> Vec<SheetPoint> {
        corners.iter().map(|[right, down]| [x + right * HALF, y + down * HALF]).collect()
    };
    match index % 4 {
        0 => picture.circle([x, y], HALF, Colour::Paper, pen),
        1 => picture.rectangle([x - 11.0, y - 11.0], [x + 11.0, y + 11.0], Colour::Paper, pen),
        2 => picture.shape(
            &corners(&[[-1.1, 0.0], [-0.6, -1.0], [0.6, -1.0], [1.1, 0.0], [0.6, 1.0], [-0.6, 1.0]]),
            Colour::Paper,
            pen,
        ),
        _ => picture.shape(&corners(&[[0.0, -1.3], [1.3, 0.0], [0.0, 1.3], [-1.3, 0.0]]), Colour::Paper, pen),
    }
    let style = TextStyle::new(SMALL).without_halo().anchored(Anchor::Middle);
    let style = if letters.len() > 1 { style } else { style.bold() };
    picture.text([x, y + 5.0], style, letters);
}
