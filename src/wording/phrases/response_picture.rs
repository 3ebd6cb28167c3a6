//! The words in the picture of a response curve: heading, legend, labels, and the description.

use crate::{
    light::{
        measure::response::{Between, Fit, FrameFit, ResponseQuestion},
        quantity::Number,
    },
    wording::format::{digits, listed, number, signed, space_name, with_stops},
};

/// The title.
pub const TITLE: &str = "Level by exposure";
/// The title of the axis of exposure.
pub const EXPOSURE_AXIS: &str = "exposure against the first frame, stops";
/// The mark of a frame that is clipped.
pub const CLIPPED: &str = "clipped, left out";
/// The fitted curve.
pub const CURVE: &str = "fitted curve";
/// The curve where there are no frames.
pub const STRAIGHT: &str = "straight beyond the frames";
/// The mark of several frames whose mean was fitted.
pub const MEAN: &str = "mean of frames taken together";

/// What was photographed.
pub fn heading(question: &ResponseQuestion, answer: &Fit) -> String {
    let encoding = question.encoding;
    format!(
        "One patch in {} frames; levels of {} bits, {}; exposure against the first frame",
        answer.frames.len(),
        encoding.bits,
        space_name(encoding.space)
    )
}

/// The title of the axis of levels.
pub fn level_axis(greatest: f64) -> String {
    format!("level (of 0 to {})", number(greatest))
}

/// The mark of a frame.
pub const fn frame_mark(has_slopes: bool) -> &'static str {
    if has_slopes { "frame: its level, levels a stop there" } else { "frame: its level" }
}

/// The label of a frame.
pub fn frame(frame: &FrameFit, has_slopes: bool) -> String {
    let level = number(frame.level.get());
    match frame.slope_levels_per_stop.filter(|_| has_slopes) {
        Some(slope) => format!("{level}, {} a stop", slope_digits(slope)),
        None => level,
    }
}

/// The label of a pair of levels.
pub fn pair(between: &Between) -> String {
    let [from, to] = [between.from, between.to].map(|level| number(level.get()));
    let how = if between.extrapolated { ", extrapolated" } else { "" };
    format!("{from} to {to}: {}{how}", with_stops(&signed(between.stops.get())))
}

/// The heading of the pairs of levels.
pub const PAIRS: &str = "Between levels";

/// The number of a pair of levels, from its place in the answer.
pub fn number_of(index: usize) -> String {
    (index + 1).to_string()
}

/// A pair of levels with its number.
pub fn numbered(index: usize, between: &Between) -> String {
    format!("{}\u{a0}\u{a0}{}", number_of(index), pair(between))
}

/// The description for screen readers, with at most this many frames. The pairs of levels are added where they are listed.
pub fn description(summary: &str, question: &ResponseQuestion, answer: &Fit, most: usize) -> String {
    let frame = |frame: &FrameFit| {
        let (level, stops) = (number(frame.level.get()), with_stops(&signed(frame.stops.get())));
        let slope =
            frame.slope_levels_per_stop.map(|slope| format!(", {} levels a stop", slope_digits(slope)));
        let how = if frame.clipped { ", clipped".to_owned() } else { slope.unwrap_or_default() };
        format!("level {level} at {stops}{how}")
    };
    format!(
        "{summary} A rising curve through {} frames of one patch, levels of {} bits. Frames: {}.",
        answer.frames.len(),
        question.encoding.bits,
        listed(answer.frames.iter().map(frame), most)
    )
}

/// Levels per stop, rounded because it is calculated from whole levels.
fn slope_digits(slope: Number) -> String {
    digits(slope.get(), if slope.get() < 100.0 { 2 } else { 3 })
}
