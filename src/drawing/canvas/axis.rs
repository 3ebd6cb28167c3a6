//! From values to places on the sheet, with ticks.

use crate::drawing::canvas::text;

/// An axis: values from its beginning to its end, and what is written beside it.
#[derive(Debug, Clone)]
pub struct Axis {
    /// What it tells, with the unit.
    pub title: String,
    /// Its ends, as it is laid out: of ratios the logarithms.
    low: f64,
    high: f64,
    ticks: Vec<(f64, String)>,
    of_ratios: bool,
}

/// The least span of an axis, so that one value alone has room around it.
const LEAST_SPAN: f64 = 1e-6;

impl Axis {
    /// Of numbers, from the tick at or under the least to that at or over the greatest.
    pub fn of_numbers(
        title: impl Into<String>,
        values: impl Iterator<Item = f64>,
        most_ticks: usize,
    ) -> Self {
        let (low, high) = ends(values);
        let step = decimal_step((high - low) / most_ticks.max(1) as f64);
        Self::stepped(title.into(), low, high, step, |value| decimals(value, step))
    }

    /// Of stops, whose ticks are thirds, wholes or more.
    pub fn of_stops(title: impl Into<String>, values: impl Iterator<Item = f64>, most_ticks: usize) -> Self {
        const STEPS: [f64; 8] = [0.1, 1.0 / 3.0, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0];
        let (low, high) = ends(values);
        let least = (high - low) / most_ticks.max(1) as f64;
        let step = STEPS.into_iter().find(|step| *step >= least - 1e-9).unwrap_or(100.0);
        Self::stepped(title.into(), low, high, step, engraved)
    }

    fn stepped(title: String, low: f64, high: f64, step: f64, said: impl Fn(f64) -> String) -> Self {
        let (first, last) = ((low / step + 1e-9).floor(), (high / step - 1e-9).ceil());
        let count = (last - first).round().max(1.0) as usize;
        let ticks = (0..=count).map(|tick| {
            let value = (first + tick as f64) * step;
            (value, said(value))
        });
        let (low, high) = (first * step, (first + count as f64) * step);
        Self { title, low, high, ticks: ticks.collect(), of_ratios: false }
    }

    /// Of numbers over 0, on which equal ratios are as far apart everywhere: ticks at 1, 2 and 5 of each power of ten,
    /// or at the powers alone where those would be too many. The title has to say so.
    pub fn of_ratios(title: impl Into<String>, values: impl Iterator<Item = f64>, most_ticks: usize) -> Self {
        let (low, high) = ends(values.filter(|value| *value > 0.0).map(f64::log10));
        let powers = low.floor() as i32..=high.ceil() as i32;
        let ticks = |firsts: &'static [f64]| -> Vec<(f64, String)> {
            let all = powers.clone().flat_map(|power| {
                let step = 10_f64.powi(power);
                firsts.iter().map(move |first| (first * step, decimals(first * step, step)))
            });
            let all: Vec<_> = all.collect();
            // From the last at or under the least to the first at or over the greatest.
            let begin = all.iter().rposition(|(value, _)| value.log10() <= low + 1e-9).unwrap_or_default();
            let end = all.iter().position(|(value, _)| value.log10() >= high - 1e-9).unwrap_or(all.len() - 1);
            all[begin..=end.max(begin)].to_vec()
        };
        let [fine, coarse] = [&[1.0, 2.0, 5.0][..], &[1.0]].map(ticks);
        let ticks = if fine.len() <= most_ticks { fine } else { coarse };
        let (low, high) = ends(ticks.iter().map(|(value, _)| value.log10()));
        Self { title: title.into(), low, high, ticks, of_ratios: true }
    }

    /// Of places that have names, from the first to the last.
    pub fn of_names(title: impl Into<String>, names: Vec<(f64, String)>) -> Self {
        let (low, high) = ends(names.iter().map(|(value, _)| *value));
        Self { title: title.into(), low, high, ticks: names, of_ratios: false }
    }

    /// The same, longer at both ends by a part of its length.
    pub fn with_margin(self, part: f64) -> Self {
        let margin = part * (self.high - self.low);
        Self { low: self.low - margin, high: self.high + margin, ..self }
    }

    /// The same, so much longer at its end that a part of it remains beyond a value.
    pub fn with_room_after(self, value: f64, part: f64) -> Self {
        let end = (self.place(value) - part * self.low) / (1.0 - part);
        Self { high: self.high.max(end), ..self }
    }

    /// The same with nothing written beside it.
    pub fn unsaid(&self) -> Self {
        let ticks = self.ticks.iter().map(|(value, _)| (*value, String::new())).collect();
        Self { title: String::new(), ticks, ..*self }
    }

    /// The ticks, and what is written at them.
    pub fn ticks(&self) -> &[(f64, String)] {
        &self.ticks
    }

    /// Writes beside its ticks, which stand where `at` says, as far as they leave room for each other: 0 first, then
    /// whole numbers, then the others if there is room for all of them.
    pub fn along(&self, at: impl Fn(f64) -> f64, size: f64, mut write: impl FnMut(f64, &str)) {
        let room = |(value, said): &(f64, String)| {
            let (middle, half) = (at(*value), text::width(said, size) / 2.0 + 3.0);
            [middle - half, middle + half]
        };
        let meets = |one: &[f64; 2], other: &[f64; 2]| one[0] < other[1] && other[0] < one[1];
        let is_whole = |(value, _): &&(f64, String)| (value - value.round()).abs() < 1e-9;
        let (mut whole, parts): (Vec<_>, Vec<_>) = self.ticks.iter().partition(is_whole);
        whole.sort_by_key(|(value, _)| value.abs() > 1e-9);
        let mut taken: Vec<[f64; 2]> = Vec::new();
        let mut written = Vec::new();
        for tick in whole {
            let room = room(tick);
            if !taken.iter().any(|other| meets(&room, other)) {
                taken.push(room);
                written.push(tick);
            }
        }
        let rooms: Vec<[f64; 2]> = parts.iter().copied().map(room).collect();
        let have_room = rooms
            .iter()
            .enumerate()
            .all(|(index, room)| !taken.iter().chain(&rooms[index + 1..]).any(|other| meets(room, other)));
        // One number alone tells no scale.
        if have_room || written.len() < 2 {
            for (tick, room) in parts.into_iter().zip(rooms) {
                if !taken.iter().any(|other| meets(&room, other)) {
                    taken.push(room);
                    written.push(tick);
                }
            }
        }
        for (value, said) in written {
            write(at(*value), said);
        }
    }

    /// The values at its ends.
    pub fn range(&self) -> [f64; 2] {
        [self.low, self.high].map(|end| if self.of_ratios { 10_f64.powf(end) } else { end })
    }

    fn place(&self, value: f64) -> f64 {
        if self.of_ratios { value.log10() } else { value }
    }

    /// How far along it a value is: 0 at its beginning, 1 at its end.
    pub fn part(&self, value: f64) -> f64 {
        (self.place(value) - self.low) / (self.high - self.low)
    }

    /// Whether a value is on it.
    pub fn holds(&self, value: f64) -> bool {
        (-1e-9..=1.0 + 1e-9).contains(&self.part(value))
    }
}

fn ends(values: impl Iterator<Item = f64>) -> (f64, f64) {
    let mut range: Option<(f64, f64)> = None;
    for value in values.filter(|value| value.is_finite()) {
        range = Some(range.map_or((value, value), |(low, high)| (low.min(value), high.max(value))));
    }
    let (low, high) = range.unwrap_or((0.0, 1.0));
    if high - low > LEAST_SPAN { (low, high) } else { (low - LEAST_SPAN, high + LEAST_SPAN) }
}

/// 1, 2 or 5 times a power of ten, at least so much.
fn decimal_step(least: f64) -> f64 {
    let power = 10_f64.powf(least.log10().floor());
    [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|step| step * power)
        .find(|step| *step >= least * (1.0 - 1e-9))
        .unwrap_or(least)
}

/// A tick with as many decimals as its step has.
fn decimals(value: f64, step: f64) -> String {
    let places = (-step.log10().floor()).max(0.0) as usize;
    let told = format!("{value:.places$}");
    let told = if told.contains('.') { told.trim_end_matches('0').trim_end_matches('.') } else { &told };
    text::minus(if told == "-0" { "0" } else { told })
}

/// Stops as they are engraved: `−1 1/3`, `+2/3`, `0`, `+0.1`.
fn engraved(stops: f64) -> String {
    let thirds = (stops * 3.0).round();
    if (stops * 3.0 - thirds).abs() > 1e-6 {
        return text::signed(stops);
    }
    let sign = if thirds < 0.0 { "−" } else { "+" };
    let thirds = thirds.abs() as u64;
    match (thirds / 3, thirds % 3) {
        (0, 0) => "0".to_owned(),
        (whole, 0) => format!("{sign}{whole}"),
        (0, part) => format!("{sign}{part}/3"),
        (whole, part) => format!("{sign}{whole} {part}/3"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(axis: &Axis) -> Vec<&str> {
        axis.ticks().iter().map(|(_, said)| said.as_str()).collect()
    }

    #[test]
    fn ticks_are_round() {
        let axis = Axis::of_numbers("m", [0.7, 4.2].into_iter(), 8);
        assert_eq!(said(&axis), ["0.5", "1", "1.5", "2", "2.5", "3", "3.5", "4", "4.5"]);
        assert!((axis.part(2.5) - 0.5).abs() < 1e-12);
    }

    #[test]
    fn ticks_near_each_other_are_told_apart() {
        let axis = Axis::of_numbers("", [128.0, 128.2].into_iter(), 5);
        assert_eq!(said(&axis), ["128", "128.05", "128.1", "128.15", "128.2"]);
        let axis = Axis::of_numbers("", [-0.02, 0.02].into_iter(), 4);
        assert_eq!(said(&axis), ["−0.02", "−0.01", "0", "0.01", "0.02"]);
    }

    #[test]
    fn stops_are_told_in_thirds() {
        let axis = Axis::of_stops("stops", [-1.4, 0.1].into_iter(), 8);
        assert_eq!(said(&axis), ["−1 2/3", "−1 1/3", "−1", "−2/3", "−1/3", "0", "+1/3"]);
    }

    #[test]
    fn equal_ratios_are_as_far_apart() {
        let axis = Axis::of_ratios("", [0.06, 90.0].into_iter(), 12);
        assert_eq!(said(&axis), ["0.05", "0.1", "0.2", "0.5", "1", "2", "5", "10", "20", "50", "100"]);
        let apart = |from: f64, to: f64| axis.part(to) - axis.part(from);
        assert!((apart(0.1, 0.4) - apart(20.0, 80.0)).abs() < 1e-12);
        let axis = Axis::of_ratios("", [0.02, 3000.0].into_iter(), 12);
        assert_eq!(said(&axis), ["0.01", "0.1", "1", "10", "100", "1000", "10000"]);
        for values in [vec![], vec![0.0, 3.0], vec![5.0, 5.0]] {
            let [low, high] = Axis::of_ratios("", values.into_iter(), 12).range();
            assert!(0.0 < low && low < high, "{low} {high}");
        }
    }

    #[test]
    fn there_is_room_after_a_value() {
        let axis = Axis::of_numbers("", [0.0, 10.0].into_iter(), 5).with_room_after(10.0, 0.2);
        assert!((axis.part(10.0) - 0.8).abs() < 1e-12 && axis.part(0.0).abs() < 1e-12);
        // What has room has it already.
        let axis = axis.with_room_after(5.0, 0.2);
        assert!((axis.part(10.0) - 0.8).abs() < 1e-12);
    }

    #[test]
    fn one_value_has_an_axis() {
        for values in [vec![], vec![2.0], vec![1e9], vec![f64::NAN]] {
            let axis = Axis::of_numbers("", values.into_iter(), 6);
            let [low, high] = axis.range();
            assert!(high > low && axis.ticks().len() < 20, "{axis:?}");
        }
    }
}
