//! The parts that all pictures share: the sheet and its pens, axes, panels, labels, legends, hatches and text.

pub(crate) mod axis;
pub(crate) mod hatches;
pub(crate) mod labels;
pub(crate) mod legend;
pub(crate) mod notes;
pub(crate) mod panel;
pub(crate) mod paragraph;
pub(crate) mod sheet;
pub(crate) mod text;
