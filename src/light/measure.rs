//! measure.

pub mod ambient;
pub mod calibrate;
pub mod curve;
pub mod measured;
pub mod motion;
pub mod patches;
pub mod response;
pub mod space;
