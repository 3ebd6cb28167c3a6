//! Requests and their answers as SVG: plain engineering drawings.
//!
//! This module computes the layout only. Numbers and curves come from the answer, or are handed over with it.
//! Shapes, dashes and hatches repeat what colours show, so that pictures can be read in greyscale. Each picture has a
//! title and a description for screen readers, no script and no embedded font.

mod ambient;
mod calibrate;
pub mod canvas;
mod correct;
mod equivalence;
mod estimate;
mod falloff;
mod kit;
mod motion;
mod readings;
mod response;
mod set;
mod supply;

pub use self::{
    ambient::draw as ambient,
    calibrate::draw as calibrate,
    canvas::sheet::Picture,
    correct::draw as correct,
    equivalence::draw as equivalence,
    estimate::{energy, guide_number, one_light},
    falloff::draw as falloff,
    kit::{compare as kits, draw as kit},
    motion::draw as motion,
    readings::draw as readings,
    response::draw as response,
    set::{balance, predict},
    supply::draw as supply,
};
