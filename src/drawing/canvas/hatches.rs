//! Hatched fills, which can be distinguished without colour.

use svg::node::element;

use crate::drawing::canvas::colour::{Colour, Fill};

/// The number of patterns of [`Fill::Hatch`].
pub const HATCHES: usize = 6;

/// The background of each pattern, on light and on dark paper.
pub(super) const BACKGROUNDS: [(&str, &str); HATCHES] = [
    ("#e9eff6", "#2a3038"),
    ("#cfdceb", "#33475d"),
    ("#f6edd0", "#4a4120"),
    ("#dedede", "#3a3a3a"),
    ("#d6e9dc", "#2a4534"),
    ("#f3dfd2", "#533828"),
];
/// The strokes on each background.
const STROKES: [&str; HATCHES] = [
    "",
    "M0,8 L8,0 M-2,2 L2,-2 M6,10 L10,6",
    "M2,2 h2 v2 h-2 z M6,6 h2 v2 h-2 z",
    "M0,2 h8 M0,6 h8",
    "M2,0 v8 M6,0 v8",
    "M0,0 L8,8 M0,8 L8,0",
];

/// The definitions of the patterns in use, or `None` if there are none.
pub(super) fn definitions(used: &[Fill]) -> Option<element::Definitions> {
    let hatches = (0..HATCHES).filter(|index| used.contains(&Fill::Hatch(*index))).map(pattern);
    let missing = used.contains(&Fill::Missing).then(missing_pattern);
    let patterns: Vec<_> = hatches.chain(missing).collect();
    let empty = element::Definitions::new;
    (!patterns.is_empty()).then(|| patterns.into_iter().fold(empty(), element::Definitions::add))
}

/// The pattern of [`Fill::Hatch`].
fn pattern(index: usize) -> element::Pattern {
    let background = element::Rectangle::new()
        .set("width", 8)
        .set("height", 8)
        .set("fill", BACKGROUNDS[index].0)
        .set("class", format!("h-{index}"));
    let strokes = element::Path::new()
        .set("d", STROKES[index])
        .set("stroke", Colour::Grey.light())
        .set("class", Colour::Grey.stroke_class())
        .set("stroke-width", 0.75)
        .set("fill", "none");
    element::Pattern::new()
        .set("id", format!("hatch{index}"))
        .set("width", 8)
        .set("height", 8)
        .set("patternUnits", "userSpaceOnUse")
        .add(background)
        .add(strokes)
}

/// The pattern of [`Fill::Missing`].
fn missing_pattern() -> element::Pattern {
    const SPACING: f64 = 6.0;
    let line = element::Line::new()
        .set("y2", SPACING)
        .set("stroke", Colour::Wrong.light())
        .set("class", Colour::Wrong.stroke_class())
        .set("stroke-width", 4);
    element::Pattern::new()
        .set("id", "hatched")
        .set("width", SPACING)
        .set("height", SPACING)
        .set("patternUnits", "userSpaceOnUse")
        .set("patternTransform", "rotate(45)")
        .add(line)
}
