//! Fills of strokes, which are told apart without colour.

use svg::node::element;

use crate::drawing::canvas::sheet::{GREY, WRONG};

/// A fill of slanting lines, for what is lacking.
pub const HATCHED: &str = "url(#hatched)";

/// Fills that are told apart without colour.
pub const HATCHES: [&str; 6] =
    ["url(#hatch0)", "url(#hatch1)", "url(#hatch2)", "url(#hatch3)", "url(#hatch4)", "url(#hatch5)"];
/// Their grounds, and the strokes on them.
const GROUNDS: [(&str, &str); HATCHES.len()] = [
    ("#e9eff6", ""),
    ("#cfdceb", "M0,8 L8,0 M-2,2 L2,-2 M6,10 L10,6"),
    ("#f6edd0", "M2,2 h2 v2 h-2 z M6,6 h2 v2 h-2 z"),
    ("#dedede", "M0,2 h8 M0,6 h8"),
    ("#d6e9dc", "M2,0 v8 M6,0 v8"),
    ("#f3dfd2", "M0,0 L8,8 M0,8 L8,0"),
];

/// What is filled with strokes, as far as any of it is used.
pub(crate) fn used(nodes: &[element::Element]) -> Option<element::Definitions> {
    let is_used = |fill: &str| {
        let fills = nodes.iter().filter_map(|node| node.get_attributes().get("fill"));
        fills.into_iter().any(|used| **used == *fill)
    };
    let grounds = HATCHES.into_iter().zip(GROUNDS.into_iter().enumerate().map(ground));
    let used: Vec<_> = grounds.chain([(HATCHED, lacking())]).filter(|(fill, _)| is_used(fill)).collect();
    let first = element::Definitions::new;
    (!used.is_empty()).then(|| used.into_iter().fold(first(), |all, (_, pattern)| all.add(pattern)))
}

/// One of [`HATCHES`].
fn ground((index, (ground, strokes)): (usize, (&str, &str))) -> element::Pattern {
    element::Pattern::new()
        .set("id", format!("hatch{index}"))
        .set("width", 8)
        .set("height", 8)
        .set("patternUnits", "userSpaceOnUse")
        .add(element::Rectangle::new().set("width", 8).set("height", 8).set("fill", ground))
        .add(
            element::Path::new()
                .set("d", strokes)
                .set("stroke", GREY)
                .set("stroke-width", 0.75)
                .set("fill", "none"),
        )
}

/// What [`HATCHED`] fills with.
fn lacking() -> element::Pattern {
    const APART: f64 = 6.0;
    let line = element::Line::new().set("y2", APART).set("stroke", WRONG).set("stroke-width", 4);
    element::Pattern::new()
        .set("id", "hatched")
        .set("width", APART)
        .set("height", APART)
        .set("patternUnits", "userSpaceOnUse")
        .set("patternTransform", "rotate(45)")
        .add(line)
}
