//! The words in the picture of a calibration: heading, results, legend, outliers, and the description.

use crate::{
    light::{
        measure::calibrate::{CalibrateQuestion, Calibration, Outlier},
        quantity::{Range, Stops},
    },
    wording::format::{digits, hundredths, listed, number, rounded_stops, signed, unit_name, with_stops},
};

/// The title.
pub const TITLE: &str = "The dial against the light";
/// The axis of deviations.
pub const DEVIATION_AXIS: &str = "light against a true scale, stops; + is brighter";
/// The axis of the readings in their order.
pub const ORDER_AXIS: &str = "readings in their order, the first is 1; crosses were left out";
/// The mark of a reading.
pub const READING: &str = "reading";
/// The mark of a setting.
pub const SETTING: &str = "mean of a setting";
/// The shaded band.
pub const BAND: &str = "within 1/6 stop";

/// What is said of the settings that are not drawn, which are off by no more than this.
pub fn more_settings(more: usize, within: f64) -> String {
    format!("And {more} more settings, all within {} of a true scale.", rounded_stops(within))
}

/// The side of the other readings on which an outlier lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Darker: a misfire.
    Below,
    /// Brighter.
    Above,
}

impl Side {
    /// The side of an outlier.
    pub fn of(outlier: Outlier) -> Self {
        if outlier.off_by_stops.get() > 0.0 { Self::Above } else { Self::Below }
    }

    /// The word for it.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Below => "below",
            Self::Above => "above",
        }
    }
}

/// What the light is compared with.
pub fn heading(question: &CalibrateQuestion, answer: &Calibration) -> String {
    let is_rated = answer.offset_stops.is_some();
    let against = if is_rated { "the rating" } else { "the line through the readings" };
    format!("Light against {against} of {}", unit_name(question.unit.name.as_deref()))
}

/// What the headline leaves out of the overall results, a sentence each.
pub fn results(answer: &Calibration) -> Vec<String> {
    let range = |range: Option<Range<Stops>>, format: fn(f64) -> String| {
        range.map_or_else(String::new, |range| {
            let [low, high] = range.ends().map(|end| format(end.get()));
            if low == high {
                return " (95 %: the same to the hundredth)".to_owned();
            }
            format!(" (95 %: {low} to {high})")
        })
    };
    let tracking = answer.tracking.map(|tracking| {
        let range = range(answer.tracking_range, hundredths);
        let measured = with_stops(&hundredths(tracking.get()));
        format!("Tracking: {measured} measured for a stop set{range}; 1 is true.")
    });
    let guide = answer.guide_number_m.map(|guide| {
        let feet = answer.guide_number_ft;
        let feet = feet.map_or_else(String::new, |feet| format!(" ({} ft)", digits(feet.get(), 3)));
        format!("Guide number as measured: {} m{feet} at ISO 100.", digits(guide.get(), 3))
    });
    let repeats = answer.repeatability_stops.map(|spread| match hundredths(spread.get()).as_str() {
        "0" => "Repeats at one setting: standard deviation less than 0.01 stop.".to_owned(),
        stops => format!("Repeats at one setting: standard deviation {stops} stop."),
    });
    [tracking, guide, repeats].into_iter().flatten().collect()
}

/// Lists of all outliers, a sentence for each side.
pub fn outlier_lists(outliers: &[Outlier]) -> Vec<String> {
    let list = |(what, side): (&str, Side)| {
        // No-break spaces keep both numbers on one line.
        let entries = outliers
            .iter()
            .filter(|outlier| Side::of(**outlier) == side)
            .map(|outlier| format!("{}\u{a0}by\u{a0}{}", reading_number(*outlier), off(*outlier)));
        let entries = entries.collect::<Vec<_>>().join("; ");
        let side = side.word();
        (!entries.is_empty()).then(|| {
            format!(
                "{what}, readings counted from 1, and by how many stops each is {side} the rest: {entries}."
            )
        })
    };
    [("Misfires", Side::Below), ("Too bright", Side::Above)].into_iter().filter_map(list).collect()
}

/// The description for screen readers, with at most this many settings, and outliers of each side.
pub fn description(summary: &str, question: &CalibrateQuestion, answer: &Calibration, most: usize) -> String {
    let settings = answer.settings.iter();
    let settings = settings.map(|setting| {
        format!("{} by {}", setting.setting, with_stops(&signed(setting.deviation_stops.get())))
    });
    format!(
        "{summary} {} readings of {} at {} settings. {} Settings stray from a true scale: {}. {}",
        question.samples.len(),
        unit_name(question.unit.name.as_deref()),
        answer.settings.len(),
        results(answer).join(" "),
        listed(settings, most),
        described_outliers(&answer.left_out(), most)
    )
}

/// The outliers in the description, each with its place in the request.
fn described_outliers(outliers: &[Outlier], most: usize) -> String {
    let sentence = |(what, side): (&str, Side)| {
        let all: Vec<Outlier> =
            outliers.iter().copied().filter(|outlier| Side::of(*outlier) == side).collect();
        let each = all.iter().map(|outlier| {
            let (place, off) = (outlier.index, with_stops(&off(*outlier)));
            let number = reading_number(*outlier);
            format!("reading {number} (/readings/{place}), {off} {} the rest", side.word())
        });
        (!all.is_empty())
            .then(|| format!("{what}, counted from 1, in the request from 0: {}.", listed(each, most)))
    };
    let sentences: Vec<String> = [("Misfires", Side::Below), ("Readings that are too bright", Side::Above)]
        .into_iter()
        .filter_map(sentence)
        .collect();
    if sentences.is_empty() { "No misfires.".to_owned() } else { sentences.join(" ") }
}

/// The number of its reading, counted from 1.
const fn reading_number(outlier: Outlier) -> u32 {
    outlier.index + 1
}

/// Its distance from the other readings.
fn off(outlier: Outlier) -> String {
    tenths(Stops::new_unchecked(outlier.off_by_stops.get().abs()))
}

/// Tenths of a stop, which is fine enough for an outlier.
fn tenths(stops: Stops) -> String {
    number((stops.get() * 10.0).round() / 10.0)
}
