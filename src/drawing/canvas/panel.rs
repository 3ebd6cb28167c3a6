//! Panels with two axes, and curves on them.

use crate::drawing::canvas::{
    axis::Axis,
    colour::{Colour, Fill},
    sheet::{Anchor, NORMAL, Pen, Picture, SMALL, SheetPoint, TextStyle},
};

/// A rectangle with two axes: x to the right, y up.
#[derive(Debug, Clone)]
pub struct Panel {
    /// The upper left corner.
    pub from: SheetPoint,
    /// The lower right corner.
    pub to: SheetPoint,
    /// The horizontal axis.
    pub x: Axis,
    /// The vertical axis.
    pub y: Axis,
    /// The height of what is drawn directly above the panel, px.
    pub above: f64,
}

/// Room for ticks and title to the left of a panel, px.
const LEFT: f64 = 84.0;
/// The same on a narrow sheet, where the title of the upright axis is above the panel, px.
const LEFT_NARROW: f64 = 52.0;
/// Room for ticks and title below a panel, px.
pub const BELOW: f64 = 54.0;
/// Room for the title of the upright axis above a panel on a narrow sheet, px.
const ABOVE: f64 = 26.0;

/// The upper left and lower right corners of a panel across the sheet below `top`.
pub fn across(picture: &Picture, top: f64, height: f64) -> [SheetPoint; 2] {
    let [left, above] = if picture.is_narrow() { [LEFT_NARROW, ABOVE] } else { [LEFT, 0.0] };
    [[picture.left() + left, top + above], [picture.right() - 4.0, top + above + height]]
}

impl Panel {
    /// How many ticks the axis from left to right has room for, px apart.
    pub fn ticks([from, to]: [SheetPoint; 2], apart: f64) -> usize {
        ((to[0] - from[0]) / apart).max(2.0) as usize
    }

    /// The position of a pair of values on the sheet.
    pub fn to_sheet(&self, x: f64, y: f64) -> SheetPoint {
        let [left, top] = self.from;
        let [right, bottom] = self.to;
        [left + (right - left) * self.x.fraction(x), bottom - (bottom - top) * self.y.fraction(y)]
    }

    /// Draws the grid, ticks and titles.
    pub fn draw(&self, picture: &mut Picture) {
        let ([left, top], [right, bottom]) = (self.from, self.to);
        let grid = Pen::new(Colour::Faint, 1.0);
        let tick = TextStyle::new(SMALL).in_colour(Colour::Grey);
        for (value, _) in self.x.ticks() {
            let [x, _] = self.to_sheet(*value, 0.0);
            picture.line([x, top], [x, bottom], grid);
        }
        let write =
            |x: f64, label: &str| picture.text([x, bottom + 18.0], tick.anchored(Anchor::Middle), label);
        self.x.label_ticks(|value| self.to_sheet(value, 0.0)[0], SMALL, write);
        for (value, label) in self.y.ticks() {
            let [_, y] = self.to_sheet(0.0, *value);
            picture.line([left, y], [right, y], grid);
            picture.text([left - 7.0, y + 5.0], tick.anchored(Anchor::End), label);
        }
        picture.rectangle(self.from, self.to, Fill::None, Pen::new(Colour::Ink, 1.0));
        let title = TextStyle::new(NORMAL).anchored(Anchor::Middle);
        let below = f64::midpoint(left, right).max(picture.left() + title.width(&self.x.title) / 2.0);
        picture.text([below, bottom + 42.0], title, &self.x.title);
        if picture.is_narrow() {
            let start = title.anchored(Anchor::Start);
            picture.shortened(
                [picture.left(), top - 12.0 - self.above],
                start,
                &self.y.title,
                picture.room(),
            );
        } else {
            picture.vertical_text([left - LEFT + 16.0, f64::midpoint(top, bottom)], title, &self.y.title);
        }
    }

    /// Draws a polyline through those values that lie on the panel. Returns its points on the sheet.
    pub fn curve(&self, picture: &mut Picture, values: &[[f64; 2]], pen: Pen) -> Vec<SheetPoint> {
        let points: Vec<SheetPoint> = values
            .iter()
            .filter(|[x, y]| self.x.contains(*x) && self.y.contains(*y))
            .map(|[x, y]| self.to_sheet(*x, *y))
            .collect();
        picture.path(&points, pen);
        points
    }

    /// Draws a straight line on linear axes, clipped to the panel. Returns its ends on the sheet, or `None` if it lies
    /// outside.
    pub fn straight(
        &self,
        picture: &mut Picture,
        [from, to]: [[f64; 2]; 2],
        pen: Pen,
    ) -> Option<[SheetPoint; 2]> {
        let along = |axis: &Axis, from: f64, to: f64| {
            // The fractions of the line at which it enters and leaves the range of the axis.
            let (start, step) = (axis.fraction(from), axis.fraction(to) - axis.fraction(from));
            let [one, other] = [-start / step, (1.0 - start) / step];
            match step {
                0.0 if axis.contains(from) => [0.0, 1.0],
                0.0 => [1.0, 0.0],
                _ => [one.min(other), one.max(other)],
            }
        };
        let [right, up] = [along(&self.x, from[0], to[0]), along(&self.y, from[1], to[1])];
        let (begin, end) = (right[0].max(up[0]).max(0.0), right[1].min(up[1]).min(1.0));
        let at =
            |part: f64| self.to_sheet(from[0] + (to[0] - from[0]) * part, from[1] + (to[1] - from[1]) * part);
        let ends = (begin < end).then(|| [at(begin), at(end)])?;
        picture.line(ends[0], ends[1], pen);
        Some(ends)
    }

    /// Draws a vertical line from bottom to top. Returns its ends.
    pub fn vertical(&self, picture: &mut Picture, x: f64, pen: Pen) -> [SheetPoint; 2] {
        let [x, _] = self.to_sheet(x, 0.0);
        let ends = [[x, self.to[1]], [x, self.from[1]]];
        picture.line(ends[0], ends[1], pen);
        ends
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn straight_lines_are_clipped_to_the_panel() {
        let axis = || Axis::linear("", [0.0, 10.0].into_iter(), 5);
        let panel = Panel { from: [0.0, 0.0], to: [100.0, 100.0], x: axis(), y: axis(), above: 0.0 };
        let drawn = |line| panel.straight(&mut Picture::new(100.0, "", ""), line, Pen::new(Colour::Ink, 1.0));
        assert_eq!(drawn([[2.0, 3.0], [4.0, 5.0]]), Some([[20.0, 70.0], [40.0, 50.0]]));
        assert_eq!(drawn([[-10.0, 5.0], [1e6, 5.0]]), Some([[0.0, 50.0], [100.0, 50.0]]));
        assert_eq!(drawn([[5.0, 20.0], [5.0, -20.0]]), Some([[50.0, 0.0], [50.0, 100.0]]));
        assert_eq!(drawn([[-5.0, 0.0], [5.0, 10.0]]), Some([[0.0, 50.0], [50.0, 0.0]]));
        // Lines outside the panel, and a line of length 0.
        assert_eq!(drawn([[-5.0, 8.0], [2.0, 16.0]]), None);
        assert_eq!(drawn([[11.0, 0.0], [11.0, 9.0]]), None);
        assert_eq!(drawn([[4.0, 4.0], [4.0, 4.0]]), Some([[40.0, 60.0]; 2]));
    }
}
