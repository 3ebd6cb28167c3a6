//! Rows over one ruler of stops, for points and for lights: what a meter reads, how far off that is and may be, and whose
//! light it is.

use crate::drawing::canvas::{
    axis::Axis,
    colour::{Colour, Fill},
    marks::Mark,
    paragraph,
    ruler::Ruler,
    sheet::{Anchor, NORMAL, Pen, Picture, SMALL, SheetPoint, TextStyle},
};

/// A row.
#[derive(Debug, Clone, Default)]
pub struct Row {
    pub name: String,
    /// What is said under the name; empty if there is nothing.
    pub detail: String,
    /// What a meter reads.
    pub reads: String,
    /// How far that may be off.
    pub spread: String,
    /// The range that was known before, stops off.
    pub known: Option<[f64; 2]>,
    /// The range that is wanted, stops off; infinite on a side that is free.
    pub wanted: Option<[f64; 2]>,
    /// How far off it was, stops.
    pub before: Option<f64>,
    /// How far off it is, stops: the least, the typical and the greatest that is likely.
    pub off: Option<[f64; 3]>,
    /// How far off it is, in words.
    pub value: String,
    /// Whose light it is.
    pub shares: Vec<Piece>,
}

/// A part of a strip of shares.
#[derive(Debug, Clone)]
pub struct Piece {
    pub percent: f64,
    pub fill: Fill,
    /// What is written into it, the longest first: the first that fits.
    pub labels: Vec<String>,
}

/// The headings of the columns: the names, the readings, the ruler, the shares.
#[derive(Debug, Clone, Copy)]
pub struct Headings<'a> {
    pub name: &'a str,
    pub reads: &'a str,
    pub off: &'a str,
    pub shares: &'a str,
}

/// Values farther off than this, in stops, are drawn at the edge.
const MAX_STOPS: f64 = 8.0;
/// Sheets with less room than this have each row in several lines, px.
pub const BESIDE: f64 = 760.0;
/// The room for the words of how far off a row is, px.
const VALUE: f64 = 116.0;
const HALF: f64 = 10.0;
const GAP: f64 = 10.0;
/// The outline of a range that is wanted.
pub const WANTED: Pen = Pen::new(Colour::Data, 0.75);
/// The outline of a range that was known before.
pub const KNOWN: Pen = Pen::new(Colour::Grey, 0.75);
const RULE: Pen = Pen::new(Colour::Faint, 1.0);

impl Row {
    /// The gap from the nearest value that is wanted, stops, or `None` if it is within.
    pub fn miss(&self) -> Option<[f64; 2]> {
        let ([least, most], [_, off, _]) = (self.wanted?, self.off?);
        let right = off.clamp(least, most);
        ((off - right).abs() > 1e-9).then_some([right, off])
    }

    /// Whether more, or less, is wanted too.
    pub fn is_one_sided(&self) -> bool {
        self.wanted.is_some_and(|ends| ends.iter().any(|end| end.is_infinite()))
    }

    fn values(&self) -> impl Iterator<Item = f64> {
        let of = |range: Option<[f64; 2]>| range.into_iter().flatten();
        let off = self.off.into_iter().flatten();
        of(self.known).chain(of(self.wanted)).chain(self.before).chain(off).filter(|value| value.is_finite())
    }
}

/// The left edges of the columns, and the lower edge of a row's parts below its upper edge.
struct Layout {
    is_stacked: bool,
    /// The room of a name, px.
    name: f64,
    reads: f64,
    ruler: [f64; 2],
    /// The right edge of the words of how far off it is, px.
    value: f64,
    shares: [f64; 2],
}

impl Layout {
    fn new(picture: &Picture, has_readings: bool, has_shares: bool) -> Self {
        let (left, right, room) = (picture.left(), picture.right(), picture.room());
        let arrow = Ruler::ARROW + 3.0;
        if room < BESIDE {
            let ruler = [left + arrow, right - VALUE - arrow];
            return Self {
                is_stacked: true,
                name: room,
                reads: right,
                ruler,
                value: right,
                shares: [left, right],
            };
        }
        let name = 0.23 * room;
        let reads = if has_readings { 0.16 * room } else { 0.0 };
        let rest = room - name - reads - VALUE - 2.0 * GAP;
        let ruler = if has_shares { 0.58 * rest } else { rest };
        let from = left + name + reads;
        Self {
            is_stacked: false,
            name: name - GAP,
            reads: left + name,
            ruler: [from + arrow, from + ruler - arrow],
            value: from + ruler + VALUE,
            shares: [from + ruler + VALUE + 2.0 * GAP, right],
        }
    }
}

/// Draws the rows from `top` down. Returns their lower edge.
pub fn draw(picture: &mut Picture, top: f64, headings: Headings<'_>, rows: &[Row]) -> f64 {
    let has_readings = rows.iter().any(|row| !row.reads.is_empty());
    let layout = Layout::new(picture, has_readings, rows.iter().any(|row| !row.shares.is_empty()));
    // At least half a stop to each side, so that small errors look small.
    let shown = rows.iter().flat_map(Row::values).map(|stops| stops.clamp(-MAX_STOPS, MAX_STOPS));
    let ticks = ((layout.ruler[1] - layout.ruler[0]) / 36.0) as usize;
    let axis = Axis::stops("", shown.chain([-0.5, 0.5]), ticks);
    let ruler = Ruler { axis, ends: layout.ruler };
    let first = write_headings(picture, top, headings, &layout, &ruler);
    let mut y = first;
    for row in rows {
        picture.line([picture.left(), y], [picture.right(), y], RULE);
        y = if layout.is_stacked {
            stacked(picture, y, row, &layout, &ruler)
        } else {
            beside(picture, y, row, &layout, &ruler)
        };
    }
    picture.line([picture.left(), y], [picture.right(), y], RULE);
    y
}

fn write_headings(
    picture: &mut Picture,
    top: f64,
    headings: Headings<'_>,
    layout: &Layout,
    ruler: &Ruler,
) -> f64 {
    let style = TextStyle::new(SMALL).in_colour(Colour::Grey).without_halo();
    let (left, middle) = (picture.left(), top + 20.0);
    let y = if layout.is_stacked {
        let room = picture.room() - style.width(headings.reads) - GAP;
        picture.shortened([left, top + 14.0], style, headings.name, room);
        picture.text([picture.right(), top + 14.0], style.anchored(Anchor::End), headings.reads);
        paragraph::write(picture, [left, top + 34.0], style, picture.room(), headings.off)
    } else {
        paragraph::name(picture, [left, middle], style, headings.name, layout.name);
        let [from, to] = layout.ruler;
        paragraph::name(picture, [layout.reads, middle], style, headings.reads, from - layout.reads - GAP);
        let room = to - from + VALUE;
        paragraph::name(picture, [from, middle], style, headings.off, room);
        let [from, to] = layout.shares;
        paragraph::name(picture, [from, middle], style, headings.shares, to - from);
        top + 54.0
    };
    ruler.labels(picture, y);
    y + 8.0
}

/// A row in one line.
fn beside(picture: &mut Picture, top: f64, row: &Row, layout: &Layout, ruler: &Ruler) -> f64 {
    let middle = top + 22.0;
    let bottom = if row.detail.is_empty() { top + 44.0 } else { top + 62.0 };
    ruler.grid(picture, [top, bottom]);
    let (normal, small) = (TextStyle::new(NORMAL), TextStyle::new(SMALL).in_colour(Colour::Grey));
    let left = picture.left();
    paragraph::name(picture, [left, middle], normal, &row.name, layout.name);
    picture.shortened([left, top + 54.0], small, &row.detail, layout.ruler[0] - left - GAP);
    let room = layout.ruler[0] - layout.reads - Ruler::ARROW - GAP;
    let is_alone = row.spread.is_empty();
    let base = if is_alone { middle + 5.0 } else { middle - 3.0 };
    if !row.reads.is_empty() {
        picture.shortened([layout.reads, base], normal, &row.reads, room);
        picture.shortened([layout.reads, middle + 15.0], small, &row.spread, room);
    }
    on_ruler(picture, middle, row, ruler);
    write_value(picture, [layout.value, middle + 5.0], row);
    strip(picture, middle, &row.shares, layout.shares);
    bottom
}

/// A row in several lines.
fn stacked(picture: &mut Picture, top: f64, row: &Row, layout: &Layout, ruler: &Ruler) -> f64 {
    let (left, right) = (picture.left(), picture.right());
    let normal = TextStyle::new(NORMAL).without_halo();
    let reads = [row.reads.as_str(), &row.spread].join(" ");
    let reads = reads.trim();
    picture.text([right, top + 22.0], normal.bold().anchored(Anchor::End), reads);
    let room = layout.name - if reads.is_empty() { 0.0 } else { normal.bold().width(reads) + GAP };
    let mut y = if normal.width(&row.name) <= room {
        picture.text([left, top + 22.0], normal, &row.name);
        top + 28.0
    } else {
        paragraph::name(picture, [left, top + 22.0], normal, &row.name, room);
        top + 42.0
    };
    let small = TextStyle::new(SMALL).in_colour(Colour::Grey).without_halo();
    if !row.detail.is_empty() {
        y = paragraph::write(picture, [left, y + 13.0], small, picture.room(), &row.detail) - 13.0;
    }
    ruler.grid(picture, [y, y + 28.0]);
    on_ruler(picture, y + 14.0, row, ruler);
    write_value(picture, [layout.value, y + 19.0], row);
    y += 30.0;
    if !row.shares.is_empty() {
        strip(picture, y + HALF + 2.0, &row.shares, layout.shares);
        y += 2.0 * HALF + 6.0;
    }
    y + 4.0
}

fn write_value(picture: &mut Picture, at: SheetPoint, row: &Row) {
    let style = TextStyle::new(NORMAL).without_halo().anchored(Anchor::End);
    let style = if row.miss().is_some() { style.bold().in_colour(Colour::Wrong) } else { style };
    picture.shortened(at, style, &row.value, VALUE - 4.0);
}

fn on_ruler(picture: &mut Picture, middle: f64, row: &Row, ruler: &Ruler) {
    if let Some(known) = row.known {
        ruler.range(picture, middle, HALF, known, Colour::Faint, KNOWN);
    }
    if let Some(wanted) = row.wanted {
        ruler.range(picture, middle, HALF, wanted, Colour::Tolerance, WANTED);
        // The arrow at the end of the ruler says that all further on is wanted too.
        for end in wanted.into_iter().filter(|end| end.is_infinite()) {
            ruler.beyond(picture, middle, end, Colour::Data);
        }
    }
    let miss = row.miss();
    if let Some(gap) = miss {
        ruler.range(picture, middle, HALF / 2.0, gap, Fill::Missing, Pen::new(Colour::Wrong, 1.0));
    }
    if let Some(before) = row.before {
        // A little larger, so that it shows around what has not changed.
        Mark::Ring.draw(picture, [ruler.x(before), middle], 7.0);
        ruler.beyond(picture, middle, before, Mark::Ring.colour());
    }
    if let Some(off) = row.off {
        ruler.likely(picture, middle, off, if miss.is_some() { Mark::Cross } else { Mark::Dot });
    }
}

/// Draws the shares of a row from left to right.
fn strip(picture: &mut Picture, middle: f64, pieces: &[Piece], [left, right]: [f64; 2]) {
    let mut x = left;
    for piece in pieces {
        let wide = (right - left) * piece.percent / 100.0;
        picture.rectangle(
            [x, middle - HALF],
            [x + wide, middle + HALF],
            piece.fill,
            Pen::new(Colour::Ink, 0.75),
        );
        let style = TextStyle::new(SMALL).without_halo().anchored(Anchor::Middle);
        if let Some(label) = piece.labels.iter().find(|label| style.width(label) + 4.0 < wide) {
            picture.text([x + wide / 2.0, middle + 5.0], style, label);
        }
        x += wide;
    }
}
