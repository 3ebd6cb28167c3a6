//! The words in the picture of a calibration: heading, results, legend, outliers, and the description.

use crate::{
    light::{
        measure::calibrate::{CalibrateQuestion, Calibration, Outlier},
        quantity::{Range, Stops},
    },
    wording::format::{digits, hundredths, listed, number, signed, unit_name, with_stops},
};

/// The title.
pub const TITLE: &str = "Set against measured";
/// The title of the axis of settings in stops.
pub const SET_AXIS: &str = "set, stops against full power";
/// The title of the axis of measured light.
pub const MEASURED_AXIS: &str = "measured, stops";
/// The title of the axis of deviations.
pub const DEVIATION_AXIS: &str = "deviation, stops";
/// The title of the axis of settings as labels of the unit's scale.
pub const SETTING_AXIS: &str = "setting of the unit";
/// The mark of a reading.
pub const READING: &str = "reading";
/// The mark of a setting.
pub const SETTING: &str = "setting";
/// The line of a perfect scale.
pub const TRUE_SCALE: &str = "a true scale";
/// The line that was fitted.
pub const FITTED_LINE: &str = "line of the readings";
/// The shaded band.
pub const BAND: &str = "within 1/6 stop";
/// The label of a strip for outliers, before its side.
pub const FAR: &str = "far";

/// The side of the other readings on which an outlier lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Darker: a misfire.
    Below,
    /// Brighter.
    Above,
}

impl Side {
    /// Both sides, in the order of lists.
    const BOTH: [Self; 2] = [Self::Below, Self::Above];

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

/// The mark of outliers; `None` if there are none.
pub fn outlier_mark(outliers: &[Outlier]) -> Option<&'static str> {
    let [below, above] = Side::BOTH.map(|side| outliers.iter().any(|outlier| Side::of(*outlier) == side));
    match (below, above) {
        (false, false) => None,
        (true, false) => Some("misfire, left out; stops below the rest, readings counted from 1"),
        (false, true) => Some("too bright, left out; stops above the rest, readings counted from 1"),
        (true, true) => {
            Some("misfire or too bright, left out; stops below or above the rest, readings counted from 1")
        }
    }
}

/// The label of an outlier, with its light if it is drawn off the panel.
pub fn outlier(outlier: Outlier, off_panel: Option<Stops>) -> String {
    let at = off_panel.map_or_else(String::new, |measured| format!(", at {}", tenths(measured)));
    format!("reading {}: {} {} the rest{at}", reading_number(outlier), off(outlier), Side::of(outlier).word())
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
