//! Bars of one kind below each other, each against a limit of its own.

use crate::{
    drawing::canvas::{
        axis::Axis,
        colour::{Colour, Fill},
        legend::Legend,
        paragraph,
        ruler::Ruler,
        sheet::{LARGE, NORMAL, Pen, Picture, SMALL, TextStyle},
    },
    wording::phrases::supply_picture as words,
};

/// The most rows, on a narrow and on a wide sheet.
const MAX_ROWS: [usize; 2] = [5, 8];
const HALF: f64 = 8.0;
/// Half the height of the line of a limit, px.
const ACROSS: f64 = 13.0;
/// The room of names and of words on a wide sheet, px.
const NAMES: f64 = 190.0;
const WORDS: f64 = 290.0;

const BAR: Pen = Pen::new(Colour::Data, 1.5);
const OVER: Pen = Pen::new(Colour::Wrong, 1.5);
const LIMIT: Pen = Pen::new(Colour::Ink, 2.5);
const DOUBT: Pen = Pen::new(Colour::Ink, 1.0).dashed("3 3");

/// A bar from zero.
pub struct Bar {
    pub name: String,
    /// What stands beside it.
    pub text: String,
    pub value: f64,
    /// How far it goes on with what is kept in reserve.
    pub doubt: Option<f64>,
    /// What it is compared with.
    pub limit: f64,
    /// Whether it is beyond that.
    pub is_over: bool,
}

/// Bars that share an axis.
pub struct Bars {
    pub heading: &'static str,
    /// What the axis shows.
    pub axis: &'static str,
    /// The meaning of a limit.
    pub limit: &'static str,
    /// What is said of the others if none is over its limit.
    pub fine: &'static str,
    /// The worst first.
    pub rows: Vec<Bar>,
}

impl Bars {
    /// Draws the first of them, and says what the others are. Returns the position of the next line.
    pub fn draw(&self, picture: &mut Picture, top: f64) -> f64 {
        if self.rows.is_empty() {
            return top;
        }
        let narrow = picture.is_narrow();
        let shown = &self.rows[..self.rows.len().min(MAX_ROWS[usize::from(!narrow)])];
        let y = paragraph::body(picture, top, TextStyle::new(LARGE).bold(), self.heading);
        let mut legend = Legend::new([picture.left(), y], picture.right());
        legend.swatch(picture, self.axis, HALF, Colour::Tolerance, BAR);
        legend.line(picture, self.limit, LIMIT);
        if shown.iter().any(|bar| bar.is_over) {
            legend.swatch(picture, words::BEYOND, HALF, Fill::Missing, OVER);
        }
        if shown.iter().any(|bar| bar.doubt.is_some()) {
            legend.swatch(picture, words::RESERVE, HALF, Colour::Beam, DOUBT);
        }
        let [before, after] = if narrow { [0.0, 0.0] } else { [NAMES, WORDS] };
        let ends = [picture.left() + before + 10.0, picture.right() - after - 22.0];
        let values = shown.iter().flat_map(|bar| [bar.value, bar.limit, bar.doubt.unwrap_or_default()]);
        let ticks = ((ends[1] - ends[0]) / 60.0).max(2.0) as usize;
        let ruler = Ruler { axis: Axis::linear("", values.chain([0.0]), ticks), ends };
        let first = legend.bottom() + 20.0;
        ruler.labels(picture, first);
        let height = if narrow { 76.0 } else { 42.0 };
        let bottom = first + 6.0 + height * shown.len() as f64;
        if !narrow {
            ruler.grid(picture, [first + 6.0, bottom]);
        }
        for (index, bar) in shown.iter().enumerate() {
            picture.describe(&words::row(&bar.name, &bar.text));
            bar.draw(picture, &ruler, first + 6.0 + height * index as f64);
        }
        let more = &self.rows[shown.len()..];
        let over = more.iter().filter(|bar| bar.is_over).count();
        let Some(text) = words::more_rows(more.len(), over, self.fine) else { return bottom + 30.0 };
        picture.describe(&text);
        paragraph::details(picture, bottom + 20.0, &text) + 14.0
    }
}

impl Bar {
    /// Draws the row from `top` down.
    fn draw(&self, picture: &mut Picture, ruler: &Ruler, top: f64) {
        let narrow = picture.is_narrow();
        let middle = top + if narrow { 58.0 } else { 21.0 };
        let name = TextStyle::new(NORMAL).bold().without_halo();
        let colour = if self.is_over { Colour::Wrong } else { Colour::Ink };
        let text = TextStyle::new(SMALL).in_colour(colour).without_halo();
        let (left, right) = (picture.left(), picture.right());
        if narrow {
            ruler.grid(picture, [middle - ACROSS, middle + ACROSS]);
            picture.shortened([left, top + 18.0], name, &self.name, right - left);
            picture.shortened([left, top + 37.0], text, &self.text, right - left);
        } else {
            paragraph::name(picture, [left, middle], name, &self.name, NAMES - 12.0);
            paragraph::name(picture, [right - WORDS, middle], text, &self.text, WORDS);
        }
        let beyond = self.is_over.then_some([self.limit.min(self.value), self.value]);
        let within = beyond.map_or(self.value, |[from, _]| from);
        ruler.bar(picture, middle, HALF, [0.0, within], Colour::Tolerance, BAR);
        if let Some(range) = beyond {
            ruler.bar(picture, middle, HALF, range, Fill::Missing, OVER);
        }
        if let Some(end) = self.doubt {
            ruler.range(picture, middle, HALF, [self.value, end], Colour::Beam, DOUBT);
        }
        let x = ruler.x(self.limit);
        picture.line([x, middle - ACROSS], [x, middle + ACROSS], LIMIT);
    }
}
