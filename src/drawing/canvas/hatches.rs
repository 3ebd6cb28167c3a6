//! Hatched fills, which can be distinguished without colour.

use svg::node::element;

use crate::drawing::canvas::sheet::{GREY, WRONG};

/// A fill of slanting lines, for missing light.
pub const HATCHED: &str = "url(#hatched)";

/// Fills that can be distinguished without colour.
pub const HATCHES: [&str; 6] =
    ["url(#hatch0)", "url(#hatch1)", "url(#hatch2)", "url(#hatch3)", "url(#hatch4)", "url(#hatch5)"];
/// The background colour of each fill, and the path of the strokes on it.
const PATTERNS: [(&str, &str); HATCHES.len()] = [
    ("#e9eff6", ""),
    ("#cfdceb", "M0,8 L8,0 M-2,2 L2,-2 M6,10 L10,6"),
    ("#f6edd0", "M2,2 h2 v2 h-2 z M6,6 h2 v2 h-2 z"),
    ("#dedede", "M0,2 h8 M0,6 h8"),
    ("#d6e9dc", "M2,0 v8 M6,0 v8"),
    ("#f3dfd2", "M0,0 L8,8 M0,8 L8,0"),
];

/// The definitions of the patterns that the nodes use, or `None` if they use none.
pub(crate) fn definitions(nodes: &[element::Element]) -> Option<element::Definitions> {
    let is_used = |fill: &str| {
        let fills = nodes.iter().filter_map(|node| node.get_attributes().get("fill"));
        fills.into_iter().any(|used| **used == *fill)
    };
    let patterns = HATCHES.into_iter().zip(PATTERNS.into_iter().enumerate().map(pattern));
    let used: Vec<_> =
        patterns.chain([(HATCHED, hatched_pattern())]).filter(|(fill, _)| is_used(fill)).collect();
    let empty = element::Definitions::new;
    (!used.is_empty()).then(|| used.into_iter().fold(empty(), |all, (_, pattern)| all.add(pattern)))
}

/// The pattern of one of [`HATCHES`].
fn pattern((index, (background, strokes)): (usize, (&str, &str))) -> element::Pattern {
    element::Pattern::new()
        .set("id", format!("hatch{index}"))
        .set("width", 8)
        .set("height", 8)
        .set("patternUnits", "userSpaceOnUse")
        .add(element::Rectangle::new().set("width", 8).set("height", 8).set("fill", background))
        .add(
            element::Path::new()
                .set("d", strokes)
                .set("stroke", GREY)
                .set("stroke-width", 0.75)
                .set("fill", "none"),
        )
}

/// The pattern of [`HATCHED`].
fn hatched_pattern() -> element::Pattern {
    const SPACING: f64 = 6.0;
    let line = element::Line::new().set("y2", SPACING).set("stroke", WRONG).set("stroke-width", 4);
    element::Pattern::new()
        .set("id", "hatched")
        .set("width", SPACING)
        .set("height", SPACING)
        .set("patternUnits", "userSpaceOnUse")
        .set("patternTransform", "rotate(45)")
        .add(line)
}
