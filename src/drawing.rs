//! Questions and their answers, drawn as SVG: plain engineering drawings, for those who would rather look.
//!
//! Nothing is computed here but where things stand on the sheet; numbers are those of the answer, and curves are
//! asked of [`crate::light`]. Shapes, dashes and hatches say what colours say, so that pictures can be read in grey.
//! Each has a title, a description for screen readers, no script and no font of its own.

mod calibrate;
pub mod canvas;
mod falloff;
mod kit;
mod response;
mod set;

pub use self::{
    calibrate::draw as calibrate,
    canvas::sheet::Picture,
    falloff::draw as falloff,
    kit::draw as kit,
    response::draw as response,
    set::{balance, predict},
};
