//! Labels that keep out of each other's way.

use super::sheet::{Anchor, Picture, Spot, Type};

/// What stands on the sheet already.
#[derive(Debug, Default)]
pub struct Labels {
    taken: Vec<[f64; 4]>,
}

impl Labels {
    /// Keeps a field free, by its centre and half its sides.
    pub fn keep_free(&mut self, [x, y]: Spot, half: Spot) {
        self.taken.push([x - half[0], y - half[1], x + half[0], y + half[1]]);
    }

    /// Keeps a straight line free.
    pub fn keep_line_free(&mut self, [from, to]: [Spot; 2]) {
        const APART: f64 = 4.0;
        let [right, down] = [to[0] - from[0], to[1] - from[1]];
        let steps = (right.hypot(down) / APART).ceil().max(1.0);
        for step in 0..=steps as usize {
            let part = step as f64 / steps;
            self.keep_free([from[0] + right * part, from[1] + down * part], [1.5, 1.5]);
        }
    }

    /// Writes a label beside a spot, on the first side that is free; nowhere if none is. Whether it was written.
    pub fn beside(
        &mut self,
        picture: &mut Picture,
        [x, y]: Spot,
        away: f64,
        style: Type,
        text: &str,
        within: [Spot; 2],
    ) -> bool {
        let (wide, high) = (style.width(text), style.size);
        let sides: [(Spot, Anchor); 8] = [
            ([x + away, y - away], Anchor::Start),
            ([x, y - away], Anchor::Middle),
            ([x + away, y + high * 0.35], Anchor::Start),
            ([x, y + away + high * 0.8], Anchor::Middle),
            ([x - away, y - away], Anchor::End),
            ([x - away, y + high * 0.35], Anchor::End),
            ([x + away, y + away + high * 0.8], Anchor::Start),
            ([x - away, y + away + high * 0.8], Anchor::End),
        ];
        for (at, anchor) in sides {
            let left = match anchor {
                Anchor::Start => at[0],
                Anchor::Middle => at[0] - wide / 2.0,
                Anchor::End => at[0] - wide,
            };
            let field = [left, at[1] - high * 0.95, left + wide, at[1] + high * 0.26];
            let inside = field[0] >= within[0][0]
                && field[1] >= within[0][1]
                && field[2] <= within[1][0]
                && field[3] <= within[1][1];
            let meets = |other: &[f64; 4]| {
                field[0] < other[2] && other[0] < field[2] && field[1] < other[3] && other[1] < field[3]
            };
            if inside && !self.taken.iter().any(meets) {
                self.taken.push(field);
                picture.text(at, style.at(anchor), text);
                return true;
            }
        }
        false
    }
}
