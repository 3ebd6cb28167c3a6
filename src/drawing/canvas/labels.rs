//! Labels that keep out of each other's way.

use crate::drawing::canvas::sheet::{Anchor, GREY, Pen, Picture, SheetPoint, Type};

/// What stands on the sheet already.
#[derive(Debug, Default)]
pub struct Labels {
    taken: Vec<[f64; 4]>,
    /// Marks that may be taken for each other: a label is nearest to its own.
    marks: Vec<SheetPoint>,
}

impl Labels {
    /// Keeps a field free, by its centre and half its sides.
    pub fn keep_free(&mut self, [x, y]: SheetPoint, half: SheetPoint) {
        self.taken.push([x - half[0], y - half[1], x + half[0], y + half[1]]);
    }

    /// Keeps a mark free, which labels of others keep farther from than from their own.
    pub fn mark(&mut self, at: SheetPoint, half: f64) {
        self.keep_free(at, [half, half]);
        self.marks.push(at);
    }

    /// Whether a field is nearer to its own mark than to others.
    fn is_told_apart(&self, field: &[f64; 4], own: SheetPoint) -> bool {
        let far = |[x, y]: SheetPoint| {
            let beyond = |low: f64, at: f64, high: f64| (low - at).max(at - high).max(0.0);
            beyond(field[0], x, field[2]).hypot(beyond(field[1], y, field[3]))
        };
        let is_own = |mark: &SheetPoint| (mark[0] - own[0]).hypot(mark[1] - own[1]) < 0.5;
        self.marks.iter().all(|mark| is_own(mark) || far(*mark) > far(own) + 1.0)
    }

    /// Keeps a straight line free.
    pub fn keep_line_free(&mut self, [from, to]: [SheetPoint; 2]) {
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
        [x, y]: SheetPoint,
        away: f64,
        style: Type,
        text: &str,
        within: [SheetPoint; 2],
    ) -> bool {
        let (wide, high) = (style.width(text), style.size);
        let sides: [(SheetPoint, Anchor); 8] = [
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
            if self.is_free(&field, within) && self.is_told_apart(&field, [x, y]) {
                self.taken.push(field);
                picture.text(at, style.at(anchor), text);
                return true;
            }
        }
        false
    }

    /// Keeps a line through spots free.
    pub fn keep_path_free(&mut self, spots: &[SheetPoint]) {
        for pair in spots.windows(2) {
            self.keep_line_free([pair[0], pair[1]]);
        }
    }

    /// Writes a label farther off, with a line to its spot; nowhere if all around is taken. Whether it was written.
    pub fn led(
        &mut self,
        picture: &mut Picture,
        spot: SheetPoint,
        style: Type,
        text: &str,
        within: [SheetPoint; 2],
    ) -> bool {
        const STEP: f64 = 9.0;
        const TURNS: u32 = 16;
        let half = [style.width(text) / 2.0, style.size * 0.6];
        for ring in 2..14_u32 {
            for turn in 0..TURNS {
                let angle = f64::from(turn) / f64::from(TURNS) * std::f64::consts::TAU;
                let far = STEP * f64::from(ring);
                let [x, y] = [spot[0] + far * angle.cos(), spot[1] + far * angle.sin()];
                let field = [x - half[0], y - half[1], x + half[0], y + half[1]];
                if self.is_free(&field, within) {
                    self.taken.push(field);
                    picture.line(spot, [x, y], Pen::new(GREY, 0.5));
                    picture.text([x, y + style.size * 0.35], style.at(Anchor::Middle), text);
                    return true;
                }
            }
        }
        false
    }

    fn is_free(&self, field: &[f64; 4], within: [SheetPoint; 2]) -> bool {
        let inside = field[0] >= within[0][0]
            && field[1] >= within[0][1]
            && field[2] <= within[1][0]
            && field[3] <= within[1][1];
        let meets = |other: &[f64; 4]| {
            field[0] < other[2] && other[0] < field[2] && field[1] < other[3] && other[1] < field[3]
        };
        inside && !self.taken.iter().any(meets)
    }
}
