//! What marks and lines mean, in a row above what is drawn; in more rows where one is too short.

use crate::drawing::canvas::{
    sheet::{Pen, Picture, SMALL, SheetPoint, Type},
    text,
};

/// How wide the field of a mark is, px.
const MARK: f64 = 28.0;
/// From row to row, px.
const ROW: f64 = 20.0;
const GAP: f64 = 6.0;
/// Between two entries.
const APART: f64 = 20.0;
const STYLE: Type = Type::new(SMALL).uncleared();

/// A legend that is being written.
#[derive(Debug, Clone, Copy)]
pub struct Legend {
    left: f64,
    right: f64,
    next: SheetPoint,
}

impl Legend {
    /// An empty one from a spot, the middle of its first mark's left side, as far to the right as it may go.
    pub const fn new(from: SheetPoint, right: f64) -> Self {
        Self { left: from[0], right, next: from }
    }

    /// Adds what a mark means; the mark is drawn around the middle of its field.
    pub fn add(&mut self, picture: &mut Picture, said: &str, mark: impl FnOnce(&mut Picture, SheetPoint)) {
        let [x, y] = self.field(MARK + GAP + text::width(said, SMALL));
        mark(picture, [x + MARK / 2.0, y]);
        picture.text([x + MARK + GAP, y + 4.0], STYLE, said);
    }

    /// Adds what a line means.
    pub fn line(&mut self, picture: &mut Picture, said: &str, pen: Pen) {
        self.add(picture, said, |picture, [x, y]| {
            picture.line([x - MARK / 2.0, y], [x + MARK / 2.0, y], pen);
        });
    }

    /// Adds what a filled field means.
    pub fn swatch(&mut self, picture: &mut Picture, said: &str, half: f64, fill: &str, pen: Pen) {
        self.add(picture, said, |picture, at| swatch(picture, at, half, fill, pen));
    }

    /// Adds what a whisker means.
    pub fn whisker(&mut self, picture: &mut Picture, pen: Pen) {
        self.add(picture, "may be off by so much", |picture, [x, y]| {
            picture.whisker([(x - MARK / 2.0, true), (x + MARK / 2.0, true)], y, pen);
        });
    }

    /// Adds what needs no mark.
    pub fn say(&mut self, picture: &mut Picture, said: &str) {
        let [x, y] = self.field(text::width(said, SMALL));
        picture.text([x, y + 4.0], STYLE, said);
    }

    /// A field of so much width.
    fn field(&mut self, wide: f64) -> SheetPoint {
        let [x, y] = self.next;
        let at = if x > self.left && x + wide > self.right { [self.left, y + ROW] } else { [x, y] };
        self.next = [at[0] + wide + APART, at[1]];
        at
    }

    /// Where the next thing under it may begin, px.
    pub const fn bottom(&self) -> f64 {
        self.next[1] + ROW / 2.0
    }
}

/// A filled field around the middle of a mark's.
pub fn swatch(picture: &mut Picture, [x, y]: SheetPoint, half: f64, fill: &str, pen: Pen) {
    picture.rectangle([x - MARK / 2.0, y - half], [x + MARK / 2.0, y + half], fill, pen);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_does_not_fit_into_a_row_stands_in_the_next() {
        let mut picture = Picture::new(200.0, "", "");
        let mut legend = Legend::new([10.0, 20.0], 190.0);
        let mut spots = Vec::new();
        for said in ["frame", "curve", "a word that takes all of a row and more than that"] {
            legend.add(&mut picture, said, |_, at| spots.push(at));
        }
        let first = 10.0 + MARK / 2.0;
        let is_at = |spot: SheetPoint, x: f64, y: f64| (spot[0] - x).hypot(spot[1] - y) < 1e-9;
        assert!(is_at(spots[0], first, 20.0) && is_at(spots[2], first, 20.0 + ROW), "{spots:?}");
        assert!(spots[1][0] > first + MARK && (spots[1][1] - 20.0).abs() < 1e-9, "{spots:?}");
        assert!(legend.bottom() > 20.0 + ROW);
    }
}
