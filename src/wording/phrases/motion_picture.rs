//! The words in the picture of motion: the flash over time, the blur, and a train of flashes.

use crate::{
    light::{
        measure::{
            motion::{Freeze, FreezeQuestion},
            train::Train,
        },
        quantity::{Seconds, kind::Kind, marks::Step, nominal::Nominal},
    },
    wording::format::{digits, rounded_stops},
};

/// The title.
pub const TITLE: &str = "Motion and the flash";
/// The axis of time.
pub const TIME_AXIS: &str = "time after the peak, ms";
/// The axis of light.
pub const LIGHT_AXIS: &str = "light, part of the peak";
/// Its ticks.
pub const PARTS: [(f64, &str); 4] = [(0.0, "0"), (0.1, "1/10"), (0.5, "1/2"), (1.0, "1")];
/// The axis of time of a train.
pub const TRAIN_AXIS: &str = "time after the first flash, s";
/// The curve of the flash, in the legend.
pub const CURVE: &str = "the flash, taken to decay exponentially";
/// What the shutter cuts off, in the legend.
pub const CUT: &str = "the shutter is closed";
/// A flash of a train, in the legend.
pub const FLASH: &str = "flash";
/// A flash that is not in the picture, in the legend.
pub const MISSED: &str = "flash after the shutter has closed";
/// The row of the duration that is asked about, above those by setting.
pub const THIS: &str = "this flash";
/// The line of the limit, in the legend.
pub const LIMIT: &str = "allowed";
/// The bar of too much blur, in the legend.
pub const NOT_SHARP: &str = "not sharp";
/// The bar of blur, in the legend.
pub const BLUR: &str = "blur";
/// The line of the blur.
pub const BLURRED: &str = "Blur";
/// The line of the exposure time.
pub const EXPOSURE_TIME: &str = "Exposure time";
/// That a longer time does too.
pub const AT_LEAST: &str = "or longer";
/// That a shorter time does too.
pub const AT_MOST: &str = "or shorter";
/// The line of the longest duration.
pub const LONGEST_T0_1: &str = "t0.1 needed";
/// The line of the fastest subject.
pub const FASTEST: &str = "Sharp up to";
/// The line of the part of the frame.
pub const LIT: &str = "Frame lit by flash";
/// The line of the distance between images.
pub const APART: &str = "Images apart";

/// The name of a mark at half or at a tenth of the peak.
pub fn duration(part: &str, time: Seconds) -> String {
    format!("{part} {}", short_time(time.get()))
}

/// An exposure time, in the legend.
pub fn open(time: Seconds) -> String {
    format!("shutter open, {}", exact_time(time))
}

/// An exposure time as it is set.
pub fn exact_time(time: Seconds) -> String {
    Nominal::new(Kind::ExposureTime, time.get(), Step::Third).exact_label()
}

/// A time in seconds, a short one as a fraction.
pub fn short_time(seconds: f64) -> String {
    if seconds > 0.3 {
        format!("{} s", digits(seconds, 2))
    } else {
        format!("1/{} s", digits(1.0 / seconds, 3))
    }
}

/// A blur in the unit of the picture.
pub fn blur(value: f64, in_pixels: bool) -> String {
    format!("{} {}", digits(value, 2), blur_unit(in_pixels))
}

const fn blur_unit(in_pixels: bool) -> &'static str {
    if in_pixels { "px" } else { "mm" }
}

/// The axis of blur.
pub fn blur_axis(in_pixels: bool, is_logarithmic: bool) -> String {
    let equal = if is_logarithmic { " (logarithmic)" } else { "" };
    format!("blur, {}{equal}", blur_unit(in_pixels))
}

/// What is allowed, and the blur at the subject.
pub fn blur_details(allowed: Option<String>, at_subject: Option<f64>) -> String {
    let allowed = allowed.map(|allowed| format!("{allowed} is allowed"));
    let subject = at_subject.map(|metres| format!("{} mm at the subject", digits(1000.0 * metres, 2)));
    allowed.into_iter().chain(subject).collect::<Vec<_>>().join("; ")
}

/// A speed.
pub fn speed(metres_a_second: f64) -> String {
    format!("{} m/s", digits(metres_a_second, 2))
}

/// What the shutter takes of the flash; `None` if that is nothing to speak of.
pub fn lost(answer: &Freeze) -> Option<String> {
    let lost = answer.lost_flash_stops.filter(|lost| lost.get() >= 0.05)?;
    Some(format!("The shutter takes {} of the flash.", rounded_stops(lost.get())))
}

/// A part of the frame.
pub fn percent(share: f64) -> String {
    format!("{} %", digits(100.0 * share, 2))
}

/// A length in metres.
pub fn metres(length: f64) -> String {
    format!("{} m", digits(length, 2))
}

/// Why there is no curve.
pub const FORM_UNKNOWN: &str =
    "The form of a flash that is cut off is not known: only its two durations are drawn.";

/// Settings that are not drawn.
pub fn more_settings(more: usize) -> String {
    format!("And {more} more settings, farther from the limit.")
}

/// What a train adds up to.
pub fn train(train: &Train) -> String {
    let still = rounded_stops(train.still_stops.get());
    format!(
        "{} flashes: {still} more light on what stands still; what moves shows {} times.",
        train.pops, train.images
    )
}

/// The description for screen readers.
pub fn description(summary: &str, question: &FreezeQuestion, answer: &Freeze) -> String {
    let times = [("t0.5", answer.t0_5_s), ("t0.1", answer.t0_1_s)];
    let times = times.into_iter().filter_map(|(name, time)| Some(duration(name, time?)));
    let open = question.exposure_time.map(open);
    let ghost = answer.ghost.as_ref().and_then(|ghost| ghost.share);
    let ghost = ghost.map(|share| format!("ambient share {}", percent(share.get())));
    let all: Vec<String> = times.chain(open).chain(ghost).collect();
    if all.is_empty() { summary.to_owned() } else { format!("{summary} {}.", all.join("; ")) }
}
