//! A horizontal scale that rows share: bars, ranges and marks of one row each, over a common grid.

use crate::drawing::canvas::{
    axis::Axis,
    colour::{Colour, Fill},
    marks::Mark,
    sheet::{Anchor, Pen, Picture, SMALL, TextStyle},
};

/// A horizontal axis between two edges of the sheet: of stops, of time, or logarithmic.
#[derive(Debug, Clone)]
pub struct Ruler {
    pub axis: Axis,
    /// The left and right edges, px.
    pub ends: [f64; 2],
}

impl Ruler {
    /// The room that the arrow of a value beyond an end takes outside of the ruler, px.
    pub const ARROW: f64 = 11.0;
    const UNCERTAIN: Pen = Pen::new(Colour::Ink, 1.5);

    /// The position of a value, px; that of the nearer end if it lies beyond.
    pub fn x(&self, value: f64) -> f64 {
        let [left, right] = self.ends;
        left + (right - left) * self.axis.fraction(value).clamp(0.0, 1.0)
    }

    /// Writes the labels of the ticks on this baseline.
    pub fn labels(&self, picture: &mut Picture, y: f64) {
        let style = TextStyle::new(SMALL).in_colour(Colour::Grey).anchored(Anchor::Middle);
        self.axis.label_ticks(|value| self.x(value), SMALL, |x, label| picture.text([x, y], style, label));
    }

    /// Draws a line for each tick, darker at 0. Draw it first: the rows lie over it.
    pub fn grid(&self, picture: &mut Picture, [top, bottom]: [f64; 2]) {
        for (value, _) in self.axis.ticks() {
            let colour = if value.abs() < 1e-9 { Colour::Grey } else { Colour::Faint };
            picture.line([self.x(*value), top], [self.x(*value), bottom], Pen::new(colour, 1.0));
        }
    }

    /// Draws a range around a row: what is wanted, or a part of a strip over time. `half` is half its height, px.
    pub fn range(
        &self,
        picture: &mut Picture,
        y: f64,
        half: f64,
        range: [f64; 2],
        fill: impl Into<Fill>,
        pen: Pen,
    ) {
        let [from, to] = range.map(|value| self.x(value));
        picture.rectangle([from, y - half], [to, y + half], fill, pen);
    }

    /// Draws a bar from one value to another, with an arrow if it goes on beyond an end of the axis.
    pub fn bar(
        &self,
        picture: &mut Picture,
        y: f64,
        half: f64,
        range: [f64; 2],
        fill: impl Into<Fill>,
        pen: Pen,
    ) {
        self.range(picture, y, half, range, fill, pen);
        for value in range {
            self.beyond(picture, y, value, pen.colour);
        }
    }

    /// Draws the least and the greatest likely value, with a mark at the typical one. An end that is off the axis has
    /// no cap.
    pub fn likely(&self, picture: &mut Picture, y: f64, [low, typical, high]: [f64; 3], mark: Mark) {
        if high > low {
            let ends = [low, high].map(|value| (self.x(value), self.axis.contains(value)));
            picture.error_bar(ends, y, Pen::new(Colour::Paper, 4.5));
            picture.error_bar(ends, y, Self::UNCERTAIN);
        }
        self.mark(picture, y, typical, mark);
    }

    /// Draws a mark at a value, with an arrow if the value lies beyond an end of the axis.
    pub fn mark(&self, picture: &mut Picture, y: f64, value: f64, mark: Mark) {
        mark.draw(picture, [self.x(value), y], 5.0);
        self.beyond(picture, y, value, mark.colour());
    }

    /// Draws an arrow outside of the ruler if a value lies beyond its end.
    pub fn beyond(&self, picture: &mut Picture, y: f64, value: f64, colour: Colour) {
        if !self.axis.contains(value) {
            let way = if self.axis.fraction(value) < 0.5 { -1.0 } else { 1.0 };
            picture.arrow_head([self.x(value) + way * Self::ARROW, y], [way, 0.0], colour);
        }
    }
}
