//! Legends: the meaning of marks and lines, in as many rows as needed.

use crate::{
    drawing::canvas::{
        colour::Fill,
        paragraph,
        sheet::{Pen, Picture, SMALL, SheetPoint, TextStyle},
        text,
    },
    wording::phrases::picture::ERROR_BAR,
};

/// The width reserved for a mark, px.
const MARK: f64 = 28.0;
/// Row spacing, px.
const ROW: f64 = 24.0;
const GAP: f64 = 6.0;
/// The gap between two entries, px.
const SPACING: f64 = 20.0;
const STYLE: TextStyle = TextStyle::new(SMALL).without_halo();

/// A legend under construction.
#[derive(Debug, Clone, Copy)]
pub struct Legend {
    left: f64,
    right: f64,
    next: SheetPoint,
}

impl Legend {
    /// An empty legend. `from` is the middle of the left edge of its first mark, `right` its right limit.
    pub const fn new(from: SheetPoint, right: f64) -> Self {
        Self { left: from[0], right, next: from }
    }

    /// Adds an entry. `mark` draws the mark around the given point.
    pub fn add(&mut self, picture: &mut Picture, label: &str, mark: impl FnOnce(&mut Picture, SheetPoint)) {
        let [x, y] = self.next_entry(MARK + GAP + text::width(label, SMALL));
        mark(picture, [x + MARK / 2.0, y]);
        self.write(picture, [x + MARK + GAP, y], label);
    }

    /// Adds an entry for a line.
    pub fn line(&mut self, picture: &mut Picture, label: &str, pen: Pen) {
        self.add(picture, label, |picture, [x, y]| {
            picture.line([x - MARK / 2.0, y], [x + MARK / 2.0, y], pen);
        });
    }

    /// Adds an entry for a filled rectangle.
    pub fn swatch(&mut self, picture: &mut Picture, label: &str, half: f64, fill: impl Into<Fill>, pen: Pen) {
        self.add(picture, label, |picture, at| swatch(picture, at, half, fill, pen));
    }

    /// Adds an entry for an error bar.
    pub fn error_bar(&mut self, picture: &mut Picture, pen: Pen) {
        self.add(picture, ERROR_BAR, |picture, [x, y]| {
            picture.error_bar([(x - MARK / 2.0, true), (x + MARK / 2.0, true)], y, pen);
        });
    }

    /// Adds text without a mark.
    pub fn text(&mut self, picture: &mut Picture, label: &str) {
        let [x, y] = self.next_entry(text::width(label, SMALL));
        self.write(picture, [x, y], label);
    }

    /// Writes a label, in several lines if it is longer than the legend is wide.
    fn write(&mut self, picture: &mut Picture, [x, y]: SheetPoint, label: &str) {
        let next = paragraph::write(picture, [x, y + 5.0], STYLE, self.right - x, label);
        let more = next - STYLE.line() - (y + 5.0);
        if more > 0.0 {
            self.next = [self.right, y + more];
        }
    }

    /// The start of the next entry of this width, in a new row if it does not fit.
    fn next_entry(&mut self, width: f64) -> SheetPoint {
        let [x, y] = self.next;
        let at = if x > self.left && x + width > self.right { [self.left, y + ROW] } else { [x, y] };
        self.next = [at[0] + width + SPACING, at[1]];
        at
    }

    /// The lower edge of the legend, px.
    pub const fn bottom(&self) -> f64 {
        self.next[1] + ROW / 2.0
    }
}

/// A filled rectangle as wide as a mark.
pub fn swatch(picture: &mut Picture, [x, y]: SheetPoint, half: f64, fill: impl Into<Fill>, pen: Pen) {
    picture.rectangle([x - MARK / 2.0, y - half], [x + MARK / 2.0, y + half], fill, pen);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn entries_that_do_not_fit_start_a_new_row() {
        let mut picture = Picture::new(200.0, "", "");
        let mut legend = Legend::new([10.0, 20.0], 190.0);
        let mut marks = Vec::new();
        for label in ["frame", "curve", "a word for all of a row"] {
            legend.add(&mut picture, label, |_, at| marks.push(at));
        }
        let first = 10.0 + MARK / 2.0;
        let is_at = |mark: SheetPoint, x: f64, y: f64| (mark[0] - x).hypot(mark[1] - y) < 1e-9;
        assert!(is_at(marks[0], first, 20.0) && is_at(marks[2], first, 20.0 + ROW), "{marks:?}");
        assert!(marks[1][0] > first + MARK && (marks[1][1] - 20.0).abs() < 1e-9, "{marks:?}");
        assert!(legend.bottom() > 20.0 + ROW);
    }
}
