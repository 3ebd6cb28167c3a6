//! A field with two axes.

use crate::drawing::canvas::{
    axis::Axis,
    sheet::{Anchor, FAINT, GREY, INK, Pen, Picture, SMALL, SheetPoint, Type, USUAL},
};

/// A field with two axes: x to the right, y up.
#[derive(Debug, Clone)]
pub struct Panel {
    /// Its upper left corner.
    pub from: SheetPoint,
    /// Its lower right corner.
    pub to: SheetPoint,
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
    pub fn at(&self, x: f64, y: f64) -> SheetPoint {
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

    /// A line through values, where they are on the panel; its spots.
    pub fn curve(&self, picture: &mut Picture, values: &[[f64; 2]], pen: Pen) -> Vec<SheetPoint> {
        let spots: Vec<SheetPoint> = values
            .iter()
            .filter(|[x, y]| self.x.holds(*x) && self.y.holds(*y))
            .map(|[x, y]| self.at(*x, *y))
            .collect();
        picture.path(&spots, pen);
        spots
    }

    /// A straight line between values, on even axes, as far as it is on the panel; its ends, where any of it is.
    pub fn straight(
        &self,
        picture: &mut Picture,
        [from, to]: [[f64; 2]; 2],
        pen: Pen,
    ) -> Option<[SheetPoint; 2]> {
        let along = |axis: &Axis, from: f64, to: f64| {
            // How far along the line it comes onto the panel and leaves it.
            let (start, step) = (axis.part(from), axis.part(to) - axis.part(from));
            let [one, other] = [-start / step, (1.0 - start) / step];
            match step {
                0.0 if axis.holds(from) => [0.0, 1.0],
                0.0 => [1.0, 0.0],
                _ => [one.min(other), one.max(other)],
            }
        };
        let [right, up] = [along(&self.x, from[0], to[0]), along(&self.y, from[1], to[1])];
        let (begin, end) = (right[0].max(up[0]).max(0.0), right[1].min(up[1]).min(1.0));
        let at = |part: f64| self.at(from[0] + (to[0] - from[0]) * part, from[1] + (to[1] - from[1]) * part);
        let ends = (begin < end).then(|| [at(begin), at(end)])?;
        picture.line(ends[0], ends[1], pen);
        Some(ends)
    }

    /// A line from bottom to top; its ends.
    pub fn upright(&self, picture: &mut Picture, x: f64, pen: Pen) -> [SheetPoint; 2] {
        let [x, _] = self.at(x, 0.0);
        let ends = [[x, self.to[1]], [x, self.from[1]]];
        picture.line(ends[0], ends[1], pen);
        ends
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_straight_line_ends_where_the_panel_does() {
        let axis = || Axis::of_numbers("", [0.0, 10.0].into_iter(), 5);
        let panel = Panel { from: [0.0, 0.0], to: [100.0, 100.0], x: axis(), y: axis() };
        let drawn = |line| panel.straight(&mut Picture::new(100.0, "", ""), line, Pen::new(INK, 1.0));
        assert_eq!(drawn([[2.0, 3.0], [4.0, 5.0]]), Some([[20.0, 70.0], [40.0, 50.0]]));
        assert_eq!(drawn([[-10.0, 5.0], [1e6, 5.0]]), Some([[0.0, 50.0], [100.0, 50.0]]));
        assert_eq!(drawn([[5.0, 20.0], [5.0, -20.0]]), Some([[50.0, 0.0], [50.0, 100.0]]));
        assert_eq!(drawn([[-5.0, 0.0], [5.0, 10.0]]), Some([[0.0, 50.0], [50.0, 0.0]]));
        // Beside it, and no line at all.
        assert_eq!(drawn([[-5.0, 8.0], [2.0, 16.0]]), None);
        assert_eq!(drawn([[11.0, 0.0], [11.0, 9.0]]), None);
        assert_eq!(drawn([[4.0, 4.0], [4.0, 4.0]]), Some([[40.0, 60.0]; 2]));
    }
}
