//! Axes: scales from values to positions on the sheet, with ticks.

use crate::{drawing::canvas::text, wording::format};

/// An axis: a linear or logarithmic scale with a title and ticks.
#[derive(Debug, Clone)]
pub struct Axis {
    /// The quantity and its unit.
    pub title: String,
    /// The ends of the scale; their decimal logarithms if the axis is logarithmic.
    low: f64,
    high: f64,
    ticks: Vec<(f64, String)>,
    is_logarithmic: bool,
}

/// The shortest span of an axis, so that a single value has room around it.
const MIN_SPAN: f64 = 1e-6;

impl Axis {
    /// A linear axis, from the last tick at or below the least value to the first at or above the greatest.
    pub fn linear(title: impl Into<String>, values: impl Iterator<Item = f64>, max_ticks: usize) -> Self {
        let (low, high) = range_of(values);
        let step = decimal_step((high - low) / max_ticks.max(1) as f64);
        Self::with_step(title.into(), low, high, step, |value| format_decimal(value, step))
    }

    /// A linear axis in stops, with ticks at tenths, thirds, whole stops or multiples of them.
    pub fn stops(title: impl Into<String>, values: impl Iterator<Item = f64>, max_ticks: usize) -> Self {
        const STEPS: [f64; 8] = [0.1, 1.0 / 3.0, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0];
        let (low, high) = range_of(values);
        let least = (high - low) / max_ticks.max(1) as f64;
        let step = STEPS.into_iter().find(|step| *step >= least - 1e-9).unwrap_or(100.0);
        Self::with_step(title.into(), low, high, step, format_thirds)
    }

    fn with_step(title: String, low: f64, high: f64, step: f64, label: impl Fn(f64) -> String) -> Self {
        let (first, last) = ((low / step + 1e-9).floor(), (high / step - 1e-9).ceil());
        let count = (last - first).round().max(1.0) as usize;
        let ticks = (0..=count).map(|tick| {
            let value = (first + tick as f64) * step;
            (value, label(value))
        });
        let (low, high) = (first * step, (first + count as f64) * step);
        Self { title, low, high, ticks: ticks.collect(), is_logarithmic: false }
    }

    /// A logarithmic axis of positive numbers, with ticks at 1, 2 and 5 times each power of ten, or at the powers only
    /// if those would be too many. The title has to say that the axis is logarithmic.
    pub fn logarithmic(
        title: impl Into<String>,
        values: impl Iterator<Item = f64>,
        max_ticks: usize,
    ) -> Self {
        let (low, high) = range_of(values.filter(|value| *value > 0.0).map(f64::log10));
        let powers = low.floor() as i32..=high.ceil() as i32;
        let ticks = |factors: &'static [f64]| -> Vec<(f64, String)> {
            let all = powers.clone().flat_map(|power| {
                let step = 10_f64.powi(power);
                factors.iter().map(move |factor| (factor * step, format_decimal(factor * step, step)))
            });
            let all: Vec<_> = all.collect();
            // From the last tick at or below the least value to the first at or above the greatest.
            let begin = all.iter().rposition(|(value, _)| value.log10() <= low + 1e-9).unwrap_or_default();
            let end = all.iter().position(|(value, _)| value.log10() >= high - 1e-9).unwrap_or(all.len() - 1);
            all[begin..=end.max(begin)].to_vec()
        };
        let [fine, coarse] = [&[1.0, 2.0, 5.0][..], &[1.0]].map(ticks);
        let ticks = if fine.len() <= max_ticks { fine } else { coarse };
        let (low, high) = range_of(ticks.iter().map(|(value, _)| value.log10()));
        Self { title: title.into(), low, high, ticks, is_logarithmic: true }
    }

    /// A linear axis with the given ticks and labels, from the least to the greatest of them.
    pub fn with_ticks(title: impl Into<String>, names: Vec<(f64, String)>) -> Self {
        let (low, high) = range_of(names.iter().map(|(value, _)| *value));
        Self { title: title.into(), low, high, ticks: names, is_logarithmic: false }
    }

    /// Extends both ends by a fraction of the length.
    pub fn with_margin(self, fraction: f64) -> Self {
        let margin = fraction * (self.high - self.low);
        Self { low: self.low - margin, high: self.high + margin, ..self }
    }

    /// Extends the upper end so that at least this fraction of the axis lies beyond `value`.
    pub fn with_room_after(self, value: f64, fraction: f64) -> Self {
        let end = (self.scaled(value) - fraction * self.low) / (1.0 - fraction);
        Self { high: self.high.max(end), ..self }
    }

    /// The ticks: values and labels.
    pub fn ticks(&self) -> &[(f64, String)] {
        &self.ticks
    }

    /// Writes the tick labels, without overlaps: 0 first, then whole numbers, then the others if there is room for all
    /// of them. `position` gives the position of a value on the sheet.
    pub fn label_ticks(&self, position: impl Fn(f64) -> f64, size: f64, mut write: impl FnMut(f64, &str)) {
        let extent = |(value, label): &(f64, String)| {
            let (middle, half) = (position(*value), text::width(label, size) / 2.0 + 3.0);
            [middle - half, middle + half]
        };
        let overlaps = |one: &[f64; 2], other: &[f64; 2]| one[0] < other[1] && other[0] < one[1];
        let is_whole = |(value, _): &&(f64, String)| (value - value.round()).abs() < 1e-9;
        let (mut whole, parts): (Vec<_>, Vec<_>) = self.ticks.iter().partition(is_whole);
        whole.sort_by_key(|(value, _)| value.abs() > 1e-9);
        let mut taken: Vec<[f64; 2]> = Vec::new();
        let mut written = Vec::new();
        for tick in whole {
            let extent = extent(tick);
            if !taken.iter().any(|other| overlaps(&extent, other)) {
                taken.push(extent);
                written.push(tick);
            }
        }
        let extents: Vec<[f64; 2]> = parts.iter().copied().map(extent).collect();
        let all_fit = extents.iter().enumerate().all(|(index, extent)| {
            !taken.iter().chain(&extents[index + 1..]).any(|other| overlaps(extent, other))
        });
        // A single label does not show the scale: then the others are written as far as they fit.
        if all_fit || written.len() < 2 {
            for (tick, extent) in parts.into_iter().zip(extents) {
                if !taken.iter().any(|other| overlaps(&extent, other)) {
                    taken.push(extent);
                    written.push(tick);
                }
            }
        }
        for (value, label) in written {
            write(position(*value), label);
        }
    }

    /// The values at the ends.
    pub fn range(&self) -> [f64; 2] {
        [self.low, self.high].map(|end| if self.is_logarithmic { 10_f64.powf(end) } else { end })
    }

    fn scaled(&self, value: f64) -> f64 {
        if self.is_logarithmic { value.log10() } else { value }
    }

    /// The position of a value along the axis: 0 at the lower end, 1 at the upper.
    pub fn fraction(&self, value: f64) -> f64 {
        (self.scaled(value) - self.low) / (self.high - self.low)
    }

    /// Whether a value lies on the axis.
    pub fn contains(&self, value: f64) -> bool {
        (-1e-9..=1.0 + 1e-9).contains(&self.fraction(value))
    }
}

fn range_of(values: impl Iterator<Item = f64>) -> (f64, f64) {
    let mut range: Option<(f64, f64)> = None;
    for value in values.filter(|value| value.is_finite()) {
        range = Some(range.map_or((value, value), |(low, high)| (low.min(value), high.max(value))));
    }
    let (low, high) = range.unwrap_or((0.0, 1.0));
    if high - low > MIN_SPAN { (low, high) } else { (low - MIN_SPAN, high + MIN_SPAN) }
}

/// The smallest step of 1, 2 or 5 times a power of ten that is at least `least`.
fn decimal_step(least: f64) -> f64 {
    let power = 10_f64.powf(least.log10().floor());
    [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|step| step * power)
        .find(|step| *step >= least * (1.0 - 1e-9))
        .unwrap_or(least)
}

/// A tick label with as many decimals as the step needs.
fn format_decimal(value: f64, step: f64) -> String {
    let places = (-step.log10().floor()).max(0.0) as usize;
    let text = format!("{value:.places$}");
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    format::minus(if text == "-0" { "0" } else { text })
}

/// Stops in thirds as engraved on lenses, otherwise as a decimal: `−1 1/3`, `+2/3`, `0`, `+0.1`.
fn format_thirds(stops: f64) -> String {
    let thirds = (stops * 3.0).round();
    if (stops * 3.0 - thirds).abs() > 1e-6 {
        return format::signed(stops);
    }
    let sign = if thirds < 0.0 { "−" } else { "+" };
    let thirds = thirds.abs() as u64;
    match (thirds / 3, thirds % 3) {
        (0, 0) => "0".to_owned(),
        (whole, 0) => format!("{sign}{whole}"),
        (0, fraction) => format!("{sign}{fraction}/3"),
        (whole, fraction) => format!("{sign}{whole} {fraction}/3"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn labels(axis: &Axis) -> Vec<&str> {
        axis.ticks().iter().map(|(_, label)| label.as_str()).collect()
    }

    #[test]
    fn ticks_are_round_numbers() {
        let axis = Axis::linear("m", [0.7, 4.2].into_iter(), 8);
        assert_eq!(labels(&axis), ["0.5", "1", "1.5", "2", "2.5", "3", "3.5", "4", "4.5"]);
        assert!((axis.fraction(2.5) - 0.5).abs() < 1e-12);
    }

    #[test]
    fn close_ticks_have_enough_decimals() {
        let axis = Axis::linear("", [128.0, 128.2].into_iter(), 5);
        assert_eq!(labels(&axis), ["128", "128.05", "128.1", "128.15", "128.2"]);
        let axis = Axis::linear("", [-0.02, 0.02].into_iter(), 4);
        assert_eq!(labels(&axis), ["−0.02", "−0.01", "0", "0.01", "0.02"]);
    }

    #[test]
    fn stop_ticks_are_in_thirds() {
        let axis = Axis::stops("stops", [-1.4, 0.1].into_iter(), 8);
        assert_eq!(labels(&axis), ["−1 2/3", "−1 1/3", "−1", "−2/3", "−1/3", "0", "+1/3"]);
    }

    #[test]
    fn equal_ratios_are_equally_far_apart() {
        let axis = Axis::logarithmic("", [0.06, 90.0].into_iter(), 12);
        assert_eq!(labels(&axis), ["0.05", "0.1", "0.2", "0.5", "1", "2", "5", "10", "20", "50", "100"]);
        let distance = |from: f64, to: f64| axis.fraction(to) - axis.fraction(from);
        assert!((distance(0.1, 0.4) - distance(20.0, 80.0)).abs() < 1e-12);
        let axis = Axis::logarithmic("", [0.02, 3000.0].into_iter(), 12);
        assert_eq!(labels(&axis), ["0.01", "0.1", "1", "10", "100", "1000", "10000"]);
        for values in [vec![], vec![0.0, 3.0], vec![5.0, 5.0]] {
            let [low, high] = Axis::logarithmic("", values.into_iter(), 12).range();
            assert!(0.0 < low && low < high, "{low} {high}");
        }
    }

    #[test]
    fn with_room_after_extends_only_as_needed() {
        let axis = Axis::linear("", [0.0, 10.0].into_iter(), 5).with_room_after(10.0, 0.2);
        assert!((axis.fraction(10.0) - 0.8).abs() < 1e-12 && axis.fraction(0.0).abs() < 1e-12);
        // There is enough room already.
        let axis = axis.with_room_after(5.0, 0.2);
        assert!((axis.fraction(10.0) - 0.8).abs() < 1e-12);
    }

    #[test]
    fn one_or_no_value_still_has_an_axis() {
        for values in [vec![], vec![2.0], vec![1e9], vec![f64::NAN]] {
            let axis = Axis::linear("", values.into_iter(), 6);
            let [low, high] = axis.range();
            assert!(high > low && axis.ticks().len() < 20, "{axis:?}");
        }
    }
}
