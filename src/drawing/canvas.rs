//! The parts that all pictures share: the sheet and its pens, axes, panels, labels, legends, hatches and text; colours by role, marks,
//! rulers, cells and lines of what to do.

pub(crate) mod axis;
#[allow(dead_code, reason = "until every picture is drawn with it")]
pub(crate) mod cells;
pub(crate) mod colour;
pub(crate) mod hatches;
pub(crate) mod labels;
pub(crate) mod legend;
#[allow(dead_code, reason = "until every picture is drawn with it")]
pub(crate) mod marks;
pub(crate) mod notes;
pub(crate) mod panel;
pub(crate) mod paragraph;
#[allow(dead_code, reason = "until every picture is drawn with it")]
pub(crate) mod ruler;
pub(crate) mod sheet;
pub(crate) mod text;
pub(crate) mod todo;
