//! Evaluation of measurements: grey patches, meter readings, ambient light and motion.

pub mod ambient;
pub mod calibrate;
pub mod curve;
pub mod duration;
pub mod measured;
pub mod motion;
pub mod open_range;
pub mod patch_level;
pub mod patches;
pub mod readings;
pub mod response;
pub mod space;
pub mod train;
