//! A field with two axes.

use super::{
    axis::Axis,
    sheet::{Anchor, FAINT, GREY, INK, Pen, Picture, SMALL, Spot, Type, USUAL},
};

/// A field with two axes: x to the right, y up.
#[derive(Debug, Clone)]
pub struct Panel {
    /// Its upper left corner.
    pub from: Spot,
    /// Its lower right corner.
    pub to: Spot,
    /// To the right.
    pub x: Axis,
    /// Up.
    pub y: Axis,
}

/// Room that ticks and title want left of a panel, px.
pub const LEFT: f64 = 74.0;
/// And below.
pub const BELOW: f64 = 46.0;

impl Panel {
    /// Where values stand on the sheet.
    pub fn at(&self, x: f64, y: f64) -> Spot {
        let [left, top] = self.from;
        let [right, bottom] = self.to;
        [left + (right - left) * self.x.part(x), bottom - (bottom - top) * self.y.part(y)]
    }

    /// Draws its grid, ticks and titles.
    pub fn draw(&self, picture: &mut Picture) {
        let ([left, top], [right, bottom]) = (self.from, self.to);
        let grid = Pen::new(FAINT, 1.0);
        let tick = Type::new(SMALL).in_colour(GREY);
        for (value, _) in self.x.ticks() {
            let [x, _] = self.at(*value, 0.0);
            picture.line([x, top], [x, bottom], grid);
        }
        let write = |x: f64, said: &str| picture.text([x, bottom + 16.0], tick.at(Anchor::Middle), said);
        self.x.along(|value| self.at(value, 0.0)[0], SMALL, write);
        for (value, said) in self.y.ticks() {
            let [_, y] = self.at(0.0, *value);
            picture.line([left, y], [right, y], grid);
            picture.text([left - 7.0, y + 4.0], tick.at(Anchor::End), said);
        }
        picture.rectangle(self.from, self.to, "none", Pen::new(INK, 1.0));
        let title = Type::new(USUAL).at(Anchor::Middle);
        picture.text([f64::midpoint(left, right), bottom + 36.0], title, &self.x.title);
        picture.text_upwards([left - LEFT + 20.0, f64::midpoint(top, bottom)], title, &self.y.title);
    }

    /// A line through values, where they are on the panel.
    pub fn curve(&self, picture: &mut Picture, values: &[[f64; 2]], pen: Pen) {
        let spots: Vec<Spot> = values
            .iter()
            .filter(|[x, y]| self.x.holds(*x) && self.y.holds(*y))
            .map(|[x, y]| self.at(*x, *y))
            .collect();
        picture.path(&spots, pen);
    }

    /// A line from bottom to top.
    pub fn upright(&self, picture: &mut Picture, x: f64, pen: Pen) {
        let [x, _] = self.at(x, 0.0);
        picture.line([x, self.from[1]], [x, self.to[1]], pen);
    }
}
