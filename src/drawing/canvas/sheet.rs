//! A sheet to draw on, and its pens.

use svg::{
    Document, Node,
    node::{Text as Characters, element},
};

use crate::{
    drawing::canvas::{hatches, text},
    wording::visible::visible,
};

/// What is drawn first.
pub const INK: &str = "#1a1a1a";
/// What stands beside it.
pub const GREY: &str = "#5c5c5c";
/// Lines to read by.
pub const FAINT: &str = "#d4d4d4";
/// The paper.
pub const PAPER: &str = "#ffffff";
/// Ranges that are right.
pub const RIGHT: &str = "#dbe9f6";
/// What is told first.
pub const BLUE: &str = "#1f5a99";
/// What is wrong: told by its shape as well.
pub const WRONG: &str = "#b23a00";
/// Font sizes, px.
pub const SMALL: f64 = 11.0;
/// The usual one.
pub const USUAL: f64 = 13.0;
/// Of the title.
const LARGE: f64 = 18.0;

/// A place on the sheet: to the right, and down, px.
pub type SheetPoint = [f64; 2];

/// How a line is drawn.
#[derive(Debug, Clone, Copy)]
pub struct Pen {
    /// Its colour.
    pub colour: &'static str,
    /// Its width, px.
    pub width: f64,
    /// Its dashes; none where empty.
    pub dashes: &'static str,
}

impl Pen {
    /// A line without dashes.
    pub const fn new(colour: &'static str, width: f64) -> Self {
        Self { colour, width, dashes: "" }
    }

    /// The same with dashes.
    pub const fn dashed(self, dashes: &'static str) -> Self {
        Self { dashes, ..self }
    }
}

/// Which part of a text stands at its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    /// Its beginning.
    Start,
    /// Its middle.
    Middle,
    /// Its end.
    End,
}

/// How a text is written.
#[derive(Debug, Clone, Copy)]
pub struct Type {
    /// Its size, px.
    pub size: f64,
    /// Its colour.
    pub colour: &'static str,
    /// What stands at its place.
    pub anchor: Anchor,
    /// Whether it is bold.
    pub bold: bool,
    /// Whether paper is left around its letters, so that lines do not cross them.
    pub cleared: bool,
}

impl Type {
    /// Of a size, black, from its beginning.
    pub const fn new(size: f64) -> Self {
        Self { size, colour: INK, anchor: Anchor::Start, bold: false, cleared: true }
    }

    /// The same where no line comes near.
    pub const fn uncleared(self) -> Self {
        Self { cleared: false, ..self }
    }

    /// The same, anchored elsewhere.
    pub const fn at(self, anchor: Anchor) -> Self {
        Self { anchor, ..self }
    }

    /// The same in a colour.
    pub const fn in_colour(self, colour: &'static str) -> Self {
        Self { colour, ..self }
    }

    /// The same, bold.
    pub const fn bold(self) -> Self {
        Self { bold: true, ..self }
    }

    /// How wide a text is.
    pub fn width(self, text: &str) -> f64 {
        text::width(text, self.letters())
    }

    /// As much of a text's beginning as there is room for.
    pub fn fitted(self, text: &str, room: f64) -> String {
        text::fitted(text, self.letters(), room)
    }

    /// The size of usual letters that are as wide.
    pub const fn letters(self) -> f64 {
        /// Bold letters are wider by so much.
        const BOLD: f64 = 1.12;
        if self.bold { self.size * BOLD } else { self.size }
    }
}

/// A drawing.
#[derive(Debug, Clone)]
pub struct Picture {
    width: f64,
    height: f64,
    title: String,
    description: String,
    nodes: Vec<element::Element>,
}

/// Coordinates to a hundredth of a pixel.
fn px(value: f64) -> f64 {
    let rounded = (value * 100.0).round() / 100.0;
    if rounded == 0.0 { 0.0 } else { rounded }
}

fn points(spots: &[SheetPoint]) -> String {
    let written: Vec<String> = spots.iter().map(|[x, y]| format!("{},{}", px(*x), px(*y))).collect();
    written.join(" ")
}

impl Picture {
    /// A sheet with its title and nothing else on it, and what a screen reader says of it.
    pub fn new(width: f64, title: &str, description: &str) -> Self {
        let mut picture = Self {
            width,
            height: 0.0,
            title: title.to_owned(),
            description: description.to_owned(),
            nodes: Vec::new(),
        };
        picture.text([20.0, 32.0], Type::new(LARGE).bold(), title);
        picture
    }

    /// Adds to what a screen reader says.
    pub fn describe(&mut self, said: &str) {
        self.description.push(' ');
        self.description.push_str(said);
    }

    /// How wide it is, px.
    pub const fn width(&self) -> f64 {
        self.width
    }

    /// Says how far down it reaches.
    pub fn ends_at(&mut self, height: f64) {
        self.height = height;
    }

    fn add(&mut self, node: impl Into<element::Element>) {
        self.nodes.push(node.into());
    }

    /// A straight line.
    pub fn line(&mut self, from: SheetPoint, to: SheetPoint, pen: Pen) {
        self.path(&[from, to], pen);
    }

    /// A line through spots.
    pub fn path(&mut self, spots: &[SheetPoint], pen: Pen) {
        let mut line = element::Polyline::new()
            .set("points", points(spots))
            .set("fill", "none")
            .set("stroke", pen.colour)
            .set("stroke-width", pen.width)
            .set("stroke-linejoin", "round");
        if !pen.dashes.is_empty() {
            line.assign("stroke-dasharray", pen.dashes);
        }
        self.add(line);
    }

    /// A closed shape.
    pub fn shape(&mut self, spots: &[SheetPoint], fill: &str, pen: Pen) {
        let shape = element::Polygon::new()
            .set("points", points(spots))
            .set("fill", fill)
            .set("stroke", pen.colour)
            .set("stroke-width", pen.width);
        self.add(shape);
    }

    /// A rectangle by two corners.
    pub fn rectangle(&mut self, [x1, y1]: SheetPoint, [x2, y2]: SheetPoint, fill: &str, pen: Pen) {
        let rectangle = element::Rectangle::new()
            .set("x", px(x1.min(x2)))
            .set("y", px(y1.min(y2)))
            .set("width", px((x2 - x1).abs()))
            .set("height", px((y2 - y1).abs()))
            .set("fill", fill)
            .set("stroke", pen.colour)
            .set("stroke-width", pen.width);
        self.add(rectangle);
    }

    /// A circle.
    pub fn circle(&mut self, [x, y]: SheetPoint, radius: f64, fill: &str, pen: Pen) {
        let mut circle = element::Circle::new()
            .set("cx", px(x))
            .set("cy", px(y))
            .set("r", px(radius))
            .set("fill", fill)
            .set("stroke", pen.colour)
            .set("stroke-width", pen.width);
        if !pen.dashes.is_empty() {
            circle.assign("stroke-dasharray", pen.dashes);
        }
        self.add(circle);
    }

    /// A cross of two strokes.
    pub fn cross(&mut self, [x, y]: SheetPoint, radius: f64, pen: Pen) {
        let corner = |right: f64, down: f64| [x + right * radius, y + down * radius];
        // In one line, through its middle.
        let spots = [corner(-1.0, -1.0), corner(1.0, 1.0), [x, y], corner(-1.0, 1.0), corner(1.0, -1.0)];
        self.path(&spots, pen);
    }

    /// From where to where something may be: a line with a stroke at each end that is on the sheet.
    pub fn whisker(&mut self, ends: [(f64, bool); 2], y: f64, pen: Pen) {
        const HALF: f64 = 4.0;
        let [[a, b, c], [d, e, f]] = ends.map(|(x, is_shown)| {
            let half = if is_shown { HALF } else { 0.0 };
            [[x, y - half], [x, y + half], [x, y]]
        });
        self.path(&[a, b, c, f, d, e], pen);
    }

    /// The head of an arrow, by its tip, that points along a direction of length 1.
    pub fn arrow_head(&mut self, [x, y]: SheetPoint, [right, down]: SheetPoint, colour: &'static str) {
        const LENGTH: f64 = 8.0;
        const HALF: f64 = 4.0;
        let back = [x - right * LENGTH, y - down * LENGTH];
        let ends = [1.0, -1.0].map(|side| [back[0] - side * down * HALF, back[1] + side * right * HALF]);
        self.shape(&[[x, y], ends[0], ends[1]], colour, Pen::new(colour, 1.0));
    }

    /// A text on its base line; nothing where it is empty.
    pub fn text(&mut self, at: SheetPoint, style: Type, text: &str) {
        if !text.is_empty() {
            self.add(written(at, style, text));
        }
    }

    /// The same, as much of it as fits; all of it is told where a pointer rests.
    pub fn fitted(&mut self, at: SheetPoint, style: Type, text: &str, room: f64) {
        self.shown(style, &[(at, style.fitted(text, room))], text);
    }

    /// Lines of a text; all of it is told where a pointer rests, if that is more.
    pub fn shown(&mut self, style: Type, lines: &[(SheetPoint, String)], whole: &str) {
        if let [(at, line)] = lines
            && line == whole
        {
            self.text(*at, style, line);
            return;
        }
        let mut group = element::Group::new().add(element::Title::new(visible(whole)));
        for (at, line) in lines {
            group = group.add(element::Element::from(written(*at, style, line)));
        }
        self.add(group);
    }

    /// The same, turned to be read from the right.
    pub fn text_upwards(&mut self, [x, y]: SheetPoint, style: Type, text: &str) {
        if !text.is_empty() {
            self.add(
                written([x, y], style, text).set("transform", format!("rotate(-90 {} {})", px(x), px(y))),
            );
        }
    }

    /// The document.
    pub fn into_svg(self) -> String {
        let Self { width, height, title, description, nodes } = self;
        let mut document = Document::new()
            .set("viewBox", (0, 0, px(width), px(height)))
            .set("width", px(width))
            .set("height", px(height))
            .set("role", "img")
            .set("lang", "en")
            .set("font-family", "sans-serif")
            .add(element::Title::new(visible(&title)))
            .add(element::Description::new().add(Characters::new(visible(&description))));
        if let Some(hatches) = hatches::used(&nodes) {
            document = document.add(hatches);
        }
        let paper = element::Rectangle::new().set("width", "100%").set("height", "100%").set("fill", PAPER);
        let document = document.add(paper);
        let mut text = nodes.into_iter().fold(document, Document::add).to_string();
        text.push('\n');
        text
    }
}

fn written([x, y]: SheetPoint, style: Type, text: &str) -> element::Text {
    let anchor = match style.anchor {
        Anchor::Start => None,
        Anchor::Middle => Some("middle"),
        Anchor::End => Some("end"),
    };
    let mut node = element::Text::new(visible(text))
        .set("x", px(x))
        .set("y", px(y))
        .set("font-size", style.size)
        .set("fill", style.colour);
    if let Some(anchor) = anchor {
        node.assign("text-anchor", anchor);
    }
    if style.cleared {
        node = node
            .set("stroke", PAPER)
            .set("stroke-width", 3)
            .set("stroke-linejoin", "round")
            .set("paint-order", "stroke");
    }
    if style.bold {
        node.assign("font-weight", "bold");
    }
    node
}
