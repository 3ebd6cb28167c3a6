//! Placement of labels without overlaps.

use crate::drawing::canvas::{
    colour::Colour,
    sheet::{Anchor, Pen, Picture, SheetPoint, TextStyle},
};

/// The areas of the sheet that are already taken.
#[derive(Debug, Default)]
pub struct Labels {
    taken: Vec<[f64; 4]>,
    /// Marks that could be confused: each label is placed nearest to its own mark.
    marks: Vec<SheetPoint>,
}

impl Labels {
    /// Reserves a rectangle, given by its centre and half its width and height.
    pub fn reserve(&mut self, [x, y]: SheetPoint, half: SheetPoint) {
        self.taken.push([x - half[0], y - half[1], x + half[0], y + half[1]]);
    }

    /// Reserves the area of a mark. Labels of other marks stay nearer to their own mark than to this one.
    pub fn mark(&mut self, at: SheetPoint, half: f64) {
        self.reserve(at, [half, half]);
        self.marks.push(at);
    }

    /// Whether a rectangle is nearer to its own mark than to any other.
    fn is_nearest_to_mark(&self, area: &[f64; 4], own: SheetPoint) -> bool {
        let distance = |[x, y]: SheetPoint| {
            let beyond = |low: f64, at: f64, high: f64| (low - at).max(at - high).max(0.0);
            beyond(area[0], x, area[2]).hypot(beyond(area[1], y, area[3]))
        };
        let is_own = |mark: &SheetPoint| (mark[0] - own[0]).hypot(mark[1] - own[1]) < 0.5;
        self.marks.iter().all(|mark| is_own(mark) || distance(*mark) > distance(own) + 1.0)
    }

    /// Reserves the area along a straight line.
    pub fn reserve_line(&mut self, [from, to]: [SheetPoint; 2]) {
        const SPACING: f64 = 4.0;
        let [right, down] = [to[0] - from[0], to[1] - from[1]];
        let steps = (right.hypot(down) / SPACING).ceil().max(1.0);
        for step in 0..=steps as usize {
            let part = step as f64 / steps;
            self.reserve([from[0] + right * part, from[1] + down * part], [1.5, 1.5]);
        }
    }

    /// Writes a label beside a point, on the first side that is free. Returns false if none is.
    pub fn beside(
        &mut self,
        picture: &mut Picture,
        [x, y]: SheetPoint,
        away: f64,
        style: TextStyle,
        text: &str,
        within: [SheetPoint; 2],
    ) -> bool {
        let (width, height) = (style.width(text), style.size);
        let sides: [(SheetPoint, Anchor); 8] = [
            ([x + away, y - away], Anchor::Start),
            ([x, y - away], Anchor::Middle),
            ([x + away, y + height * 0.35], Anchor::Start),
            ([x, y + away + height * 0.8], Anchor::Middle),
            ([x - away, y - away], Anchor::End),
            ([x - away, y + height * 0.35], Anchor::End),
            ([x + away, y + away + height * 0.8], Anchor::Start),
            ([x - away, y + away + height * 0.8], Anchor::End),
        ];
        for (at, anchor) in sides {
            let left = match anchor {
                Anchor::Start => at[0],
                Anchor::Middle => at[0] - width / 2.0,
                Anchor::End => at[0] - width,
            };
            let area = [left, at[1] - height * 0.95, left + width, at[1] + height * 0.26];
            if self.is_free(&area, within) && self.is_nearest_to_mark(&area, [x, y]) {
                self.taken.push(area);
                picture.text(at, style.anchored(anchor), text);
                return true;
            }
        }
        false
    }

    /// Reserves the area along a polyline.
    pub fn reserve_path(&mut self, points: &[SheetPoint]) {
        for pair in points.windows(2) {
            self.reserve_line([pair[0], pair[1]]);
        }
    }

    /// Writes a label farther away, with a leader line to its point. Returns false if there is no room.
    pub fn with_leader(
        &mut self,
        picture: &mut Picture,
        point: SheetPoint,
        style: TextStyle,
        text: &str,
        within: [SheetPoint; 2],
    ) -> bool {
        const STEP: f64 = 9.0;
        const TURNS: u32 = 16;
        let half = [style.width(text) / 2.0, style.size * 0.6];
        for ring in 2..14_u32 {
            for turn in 0..TURNS {
                let angle = f64::from(turn) / f64::from(TURNS) * std::f64::consts::TAU;
                let distance = STEP * f64::from(ring);
                let [x, y] = [point[0] + distance * angle.cos(), point[1] + distance * angle.sin()];
                let area = [x - half[0], y - half[1], x + half[0], y + half[1]];
                if self.is_free(&area, within) {
                    self.taken.push(area);
                    picture.line(point, [x, y], Pen::new(Colour::Grey, 0.5));
                    picture.text([x, y + style.size * 0.35], style.anchored(Anchor::Middle), text);
                    return true;
                }
            }
        }
        false
    }

    fn is_free(&self, area: &[f64; 4], within: [SheetPoint; 2]) -> bool {
        let inside = area[0] >= within[0][0]
            && area[1] >= within[0][1]
            && area[2] <= within[1][0]
            && area[3] <= within[1][1];
        let overlaps = |other: &[f64; 4]| {
            area[0] < other[2] && other[0] < area[2] && area[1] < other[3] && other[1] < area[3]
        };
        inside && !self.taken.iter().any(overlaps)
    }
}
