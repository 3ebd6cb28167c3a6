//! The sheet to draw on, with its pens and text styles.

use svg::{
    Document, Node,
    node::{Text as Characters, element},
};

use crate::{
    drawing::canvas::{
        colour::{Colour, Fill, STYLE},
        hatches, paragraph, text,
    },
    wording::visible::visible,
};

/// The small font size, px.
pub const SMALL: f64 = 14.0;
/// The normal font size, px.
pub const NORMAL: f64 = 16.0;
/// The font size of the headline, px.
pub const LARGE: f64 = 18.0;
/// The font size of the title, px.
const TITLE: f64 = 20.0;
/// A sheet narrower than this has small margins, px.
const NARROW: f64 = 600.0;

/// A point on the sheet: pixels to the right and down.
pub type SheetPoint = [f64; 2];

/// The style of a line.
#[derive(Debug, Clone, Copy)]
pub struct Pen {
    pub colour: Colour,
    /// The width, px.
    pub width: f64,
    /// The SVG dash pattern; empty for a solid line.
    pub dashes: &'static str,
}

impl Pen {
    /// A solid line.
    pub const fn new(colour: Colour, width: f64) -> Self {
        Self { colour, width, dashes: "" }
    }

    /// Sets the dash pattern.
    pub const fn dashed(self, dashes: &'static str) -> Self {
        Self { dashes, ..self }
    }

    /// Draws around an element, which is filled with a colour.
    fn around<E: Node>(self, mut element: E, fill: Fill) -> E {
        let mut class = fill.set(&mut element).unwrap_or_default();
        // A width of 0 is no line at all.
        if self.width > 0.0 {
            element.assign("stroke", self.colour.light());
            element.assign("stroke-width", self.width);
            class = format!("{class} {}", self.colour.stroke_class());
        }
        if !class.is_empty() {
            element.assign("class", class.trim_start());
        }
        if !self.dashes.is_empty() {
            element.assign("stroke-dasharray", self.dashes);
        }
        element
    }
}

/// The part of a text that lies at its position.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    Start,
    Middle,
    End,
}

/// The style of a text.
#[derive(Debug, Clone, Copy)]
pub struct TextStyle {
    /// The font size, px.
    pub size: f64,
    pub colour: Colour,
    /// The part of the text that lies at its position.
    pub anchor: Anchor,
    pub bold: bool,
    /// Whether the letters have a halo in the background colour, so that lines do not cross them.
    pub halo: bool,
}

impl TextStyle {
    /// Normal weight, [`Colour::Ink`], anchored at its start, with a halo.
    pub const fn new(size: f64) -> Self {
        Self { size, colour: Colour::Ink, anchor: Anchor::Start, bold: false, halo: true }
    }

    /// Removes the halo, for text that no line comes near.
    pub const fn without_halo(self) -> Self {
        Self { halo: false, ..self }
    }

    /// Sets the anchor.
    pub const fn anchored(self, anchor: Anchor) -> Self {
        Self { anchor, ..self }
    }

    /// Sets the colour.
    pub const fn in_colour(self, colour: Colour) -> Self {
        Self { colour, ..self }
    }

    /// Makes the text bold.
    pub const fn bold(self) -> Self {
        Self { bold: true, ..self }
    }

    /// The height of a line, px.
    pub fn line(self) -> f64 {
        (self.size * 1.35).round()
    }

    /// The width of a text, px.
    pub fn width(self, text: &str) -> f64 {
        text::width(text, self.normal_size())
    }

    /// The text, shortened if it is too long.
    pub fn shortened(self, text: &str, room: f64) -> String {
        text::shortened(text, self.normal_size(), room)
    }

    /// The font size at which letters of normal weight would be as wide.
    pub const fn normal_size(self) -> f64 {
        /// The width of bold letters relative to normal ones.
        const BOLD: f64 = 1.12;
        if self.bold { self.size * BOLD } else { self.size }
    }
}

/// A drawing.
#[derive(Debug, Clone)]
pub struct Picture {
    width: f64,
    height: f64,
    /// The first baseline under the title, px.
    top: f64,
    title: String,
    description: String,
    nodes: Vec<element::Element>,
    /// The patterns in use.
    hatches: Vec<Fill>,
}

/// Rounds a coordinate to a hundredth of a pixel.
fn px(value: f64) -> f64 {
    let rounded = (value * 100.0).round() / 100.0;
    if rounded == 0.0 { 0.0 } else { rounded }
}

fn point_list(points: &[SheetPoint]) -> String {
    let pairs: Vec<String> = points.iter().map(|[x, y]| format!("{},{}", px(*x), px(*y))).collect();
    pairs.join(" ")
}

impl Picture {
    /// An empty sheet with a title, and a description for screen readers.
    pub fn new(width: f64, title: &str, description: &str) -> Self {
        let mut picture = Self {
            width,
            height: 0.0,
            top: 0.0,
            title: title.to_owned(),
            description: description.to_owned(),
            nodes: Vec::new(),
            hatches: Vec::new(),
        };
        let top = picture.left() + 14.0;
        picture.top = paragraph::body(&mut picture, top, TextStyle::new(TITLE).bold(), title);
        picture
    }

    /// Whether the sheet is that of a phone: one column, and rows of two lines.
    pub fn is_narrow(&self) -> bool {
        self.width < NARROW
    }

    /// The left edge of the content, px.
    pub fn left(&self) -> f64 {
        if self.is_narrow() { 12.0 } else { 20.0 }
    }

    /// The right edge of the content, px.
    pub fn right(&self) -> f64 {
        self.width - self.left()
    }

    /// The width of the content, px.
    pub fn room(&self) -> f64 {
        self.right() - self.left()
    }

    /// The first baseline under the title, px.
    pub const fn top(&self) -> f64 {
        self.top
    }

    /// Adds to the description for screen readers.
    pub fn describe(&mut self, text: &str) {
        self.description.push(' ');
        self.description.push_str(text);
    }

    /// The width, px.
    pub const fn width(&self) -> f64 {
        self.width
    }

    /// Sets the height, px.
    pub fn set_height(&mut self, height: f64) {
        self.height = height;
    }

    /// Adds an element that is filled and has an outline.
    fn area<E: Node + Into<element::Element>>(&mut self, element: E, fill: Fill, pen: Pen) {
        if matches!(fill, Fill::Hatch(_) | Fill::Missing) && !self.hatches.contains(&fill) {
            self.hatches.push(fill);
        }
        self.add(pen.around(element, fill));
    }

    fn add(&mut self, node: impl Into<element::Element>) {
        self.nodes.push(node.into());
    }

    /// Draws a straight line.
    pub fn line(&mut self, from: SheetPoint, to: SheetPoint, pen: Pen) {
        self.path(&[from, to], pen);
    }

    /// Draws a polyline.
    pub fn path(&mut self, points: &[SheetPoint], pen: Pen) {
        let line = element::Polyline::new().set("points", point_list(points)).set("stroke-linejoin", "round");
        self.area(line, Fill::None, pen);
    }

    /// Draws a polygon.
    pub fn shape(&mut self, points: &[SheetPoint], fill: impl Into<Fill>, pen: Pen) {
        self.area(element::Polygon::new().set("points", point_list(points)), fill.into(), pen);
    }

    /// Draws a rectangle given by two opposite corners.
    pub fn rectangle(&mut self, [x1, y1]: SheetPoint, [x2, y2]: SheetPoint, fill: impl Into<Fill>, pen: Pen) {
        let rectangle = element::Rectangle::new()
            .set("x", px(x1.min(x2)))
            .set("y", px(y1.min(y2)))
            .set("width", px((x2 - x1).abs()))
            .set("height", px((y2 - y1).abs()));
        self.area(rectangle, fill.into(), pen);
    }

    /// Draws a circle.
    pub fn circle(&mut self, [x, y]: SheetPoint, radius: f64, fill: impl Into<Fill>, pen: Pen) {
        let circle = element::Circle::new().set("cx", px(x)).set("cy", px(y)).set("r", px(radius));
        self.area(circle, fill.into(), pen);
    }

    /// Draws a diagonal cross.
    pub fn cross(&mut self, [x, y]: SheetPoint, radius: f64, pen: Pen) {
        let corner = |right: f64, down: f64| [x + right * radius, y + down * radius];
        // As one polyline through the centre.
        let points = [corner(-1.0, -1.0), corner(1.0, 1.0), [x, y], corner(-1.0, 1.0), corner(1.0, -1.0)];
        self.path(&points, pen);
    }

    /// Draws an error bar: a horizontal line with a cap at each end. An end that is not shown has no cap.
    pub fn error_bar(&mut self, ends: [(f64, bool); 2], y: f64, pen: Pen) {
        const HALF: f64 = 4.0;
        let [[a, b, c], [d, e, f]] = ends.map(|(x, is_shown)| {
            let half = if is_shown { HALF } else { 0.0 };
            [[x, y - half], [x, y + half], [x, y]]
        });
        self.path(&[a, b, c, f, d, e], pen);
    }

    /// Draws an arrow head, given its tip and a unit vector for its direction.
    pub fn arrow_head(&mut self, [x, y]: SheetPoint, [right, down]: SheetPoint, colour: Colour) {
        const LENGTH: f64 = 8.0;
        const HALF: f64 = 4.0;
        let back = [x - right * LENGTH, y - down * LENGTH];
        let ends = [1.0, -1.0].map(|side| [back[0] - side * down * HALF, back[1] + side * right * HALF]);
        self.shape(&[[x, y], ends[0], ends[1]], colour, Pen::new(colour, 1.0));
    }

    /// Writes a text on its baseline. Draws nothing if it is empty.
    pub fn text(&mut self, at: SheetPoint, style: TextStyle, text: &str) {
        if !text.is_empty() {
            self.add(text_node(at, style, text));
        }
    }

    /// Writes a text, shortened if it is too long; then a tooltip has the whole text.
    pub fn shortened(&mut self, at: SheetPoint, style: TextStyle, text: &str, room: f64) {
        self.text_lines(style, &[(at, style.shortened(text, room))], text);
    }

    /// Writes lines of text, with a tooltip that has the whole text unless the lines show all of it.
    pub fn text_lines(&mut self, style: TextStyle, lines: &[(SheetPoint, String)], whole: &str) {
        if let [(at, line)] = lines
            && line == whole
        {
            self.text(*at, style, line);
            return;
        }
        let mut group = element::Group::new().add(element::Title::new(visible(whole)));
        for (at, line) in lines {
            group = group.add(element::Element::from(text_node(*at, style, line)));
        }
        self.add(group);
    }

    /// Writes a text upwards, turned by 90°.
    pub fn vertical_text(&mut self, [x, y]: SheetPoint, style: TextStyle, text: &str) {
        if !text.is_empty() {
            self.add(
                text_node([x, y], style, text).set("transform", format!("rotate(-90 {} {})", px(x), px(y))),
            );
        }
    }

    /// The finished SVG document.
    pub fn into_svg(self) -> String {
        let Self { width, height, title, description, nodes, hatches, .. } = self;
        let mut document = Document::new()
            .set("viewBox", (0, 0, px(width), px(height)))
            .set("width", px(width))
            .set("height", px(height))
            .set("role", "img")
            .set("lang", "en")
            .set("font-family", "sans-serif")
            .add(element::Title::new(visible(&title)))
            .add(element::Description::new().add(Characters::new(visible(&description))))
            .add(element::Style::new(STYLE.as_str()));
        if let Some(hatches) = hatches::definitions(&hatches) {
            document = document.add(hatches);
        }
        let paper = element::Rectangle::new()
            .set("width", "100%")
            .set("height", "100%")
            .set("fill", Colour::Paper.light())
            .set("class", Colour::Paper.fill_class());
        let document = document.add(paper);
        let mut text = nodes.into_iter().fold(document, Document::add).to_string();
        text.push('\n');
        text
    }
}

fn text_node([x, y]: SheetPoint, style: TextStyle, text: &str) -> element::Text {
    let anchor = match style.anchor {
        Anchor::Start => None,
        Anchor::Middle => Some("middle"),
        Anchor::End => Some("end"),
    };
    let mut node = element::Text::new(visible(text))
        .set("x", px(x))
        .set("y", px(y))
        .set("font-size", style.size)
        .set("fill", style.colour.light());
    let mut class = style.colour.fill_class();
    if let Some(anchor) = anchor {
        node.assign("text-anchor", anchor);
    }
    if style.halo {
        node = node
            .set("stroke", Colour::Paper.light())
            .set("stroke-width", 3)
            .set("stroke-linejoin", "round")
            .set("paint-order", "stroke");
        class = format!("{class} {}", Colour::Paper.stroke_class());
    }
    node.assign("class", class);
    if style.bold {
        node.assign("font-weight", "bold");
    }
    node
}
