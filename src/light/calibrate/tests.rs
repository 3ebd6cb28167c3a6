//! A study with noise: units of known offset, tracking and spread, with misfires, are recovered.

mod coverage;

use super::*;
use crate::light::{
    scale::{Grid, Scale, Style},
    unit::Feeding,
};

/// Uniform and normal numbers from a seed.
struct Noise(u64);

impl Noise {
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// By the sum of twelve uniform numbers, whose variance is one.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }
}

fn unit() -> Unit {
    let scale = Scale::new(Style::Dial { full: 9.0, least: 2.0 }, Grid::Click(0.1));
    Unit {
        name: None,
        energy: None,
        guide_number: Some(GuideMetres::computed(50.0)),
        coverage: None,
        scale: scale.expect("a scale"),
        offset: Stops::ZERO,
        corrections: Vec::new(),
        durations: Vec::new(),
        feeding: Feeding::default(),
    }
}

/// That unit, metered from so many metres.
fn metered(samples: Vec<Sample>, distance_m: Option<f64>) -> Question {
    Question {
        unit: unit(),
        samples,
        metered: true,
        distance: distance_m.map(Metres::computed),
        iso: Iso::BASE,
        extrapolated: false,
    }
}

#[test]
fn a_thousand_noisy_units_are_recovered() {
    let (mut offsets, mut slopes, mut spreads) = (Vec::new(), Vec::new(), Vec::new());
    let (mut fired, mut missed, mut false_alarms) = (0, 0, 0);
    let (mut covered_offsets, mut covered_slopes) = (0, 0);
    for seed in 0..1000 {
        let mut noise = Noise(seed * 7919 + 1);
        let offset = noise.uniform() * 1.2 - 0.6;
        let slope = 0.93 + 0.14 * noise.uniform();
        let spread = 0.02 + 0.06 * noise.uniform();
        let mut samples = Vec::new();
        let mut lost = Vec::new();
        for below in 0..7 {
            for _ in 0..5 {
                // GN 50 at 2.5 m is N = 20.
                let true_stops = 2.0 * 20_f64.log2() + offset - slope * f64::from(below);
                let misfire = noise.uniform() < 0.05;
                let off = if misfire { -1.0 - 3.0 * noise.uniform() } else { spread * noise.normal() };
                lost.push(misfire);
                samples.push(Sample { below: Stops::computed(f64::from(below)), stops: true_stops + off });
            }
        }
        let answer = calibrate(&metered(samples, Some(2.5))).expect("a calibration");
        let found_offset = answer.offset_stops.expect("an offset");
        let found_slope = answer.tracking.expect("a slope");
        offsets.push((found_offset.get() - offset).abs());
        slopes.push((found_slope.get() - slope).abs());
        spreads.push((answer.repeatability_stops.expect("repeats").get() / spread - 1.0).abs());
        let holds = |range: Option<[Stops; 2]>, value: f64| {
            let [low, high] = range.expect("a range").map(Stops::get);
            usize::from((low..=high).contains(&value))
        };
        covered_offsets += holds(answer.offset_stops_range, offset);
        covered_slopes += holds(answer.tracking_range, slope);
        for (index, lost) in lost.iter().enumerate() {
            let found = answer.misfires.iter().any(|misfire| misfire.index as usize == index);
            fired += usize::from(*lost && found);
            missed += usize::from(*lost && !found);
            false_alarms += usize::from(!*lost && found);
        }
    }
    let worst = |values: &[f64]| values.iter().copied().fold(0.0, f64::max);
    let half = |values: &[f64]| median(values).expect("values");
    // Stated bounds, in stops: half of all units within 0.02, all within 0.1; slopes within 0.02 per stop.
    assert!(half(&offsets) < 0.02 && worst(&offsets) < 0.1, "{} {}", half(&offsets), worst(&offsets));
    assert!(half(&slopes) < 0.005 && worst(&slopes) < 0.025, "{} {}", half(&slopes), worst(&slopes));
    // The spread of some 28 free repeats is known to about 13 %.
    assert!(half(&spreads) < 0.13 && worst(&spreads) < 0.6, "{} {}", half(&spreads), worst(&spreads));
    assert_eq!(missed, 0, "of {}", fired + missed);
    assert!(false_alarms <= 20, "{false_alarms} of 33000");
    // Intervals of 95 %.
    assert!(covered_offsets >= 940 && covered_slopes >= 940, "{covered_offsets}, {covered_slopes} of 1000");
}

#[test]
fn lines_agree_with_a_reference_library() {
    // The library and its version stand in the file.
    let data: serde_json::Value =
        serde_json::from_str(include_str!("../../../tests/data/scipy.json")).expect("JSON");
    let numbers = |value: &serde_json::Value| -> Vec<f64> {
        value.as_array().expect("a list").iter().map(|value| value.as_f64().expect("a number")).collect()
    };
    for told in data["lines"].as_array().expect("lines") {
        let points: Vec<[f64; 2]> =
            numbers(&told["x"]).into_iter().zip(numbers(&told["y"])).map(|(x, y)| [x, y]).collect();
        let line = theil_sen(&points).expect("a line");
        assert!((line.slope - told["slope"].as_f64().expect("a number")).abs() < 1e-12);
        assert!((line.intercept - told["intercept"].as_f64().expect("a number")).abs() < 1e-12);
    }
    for told in data["curves"].as_array().expect("curves") {
        let points = numbers(&told["x"]).into_iter().zip(numbers(&told["y"])).map(|(x, y)| [x, y]);
        let curve = crate::light::curve::Curve::through(points.collect()).expect("a curve");
        for ((at, value), slope) in
            numbers(&told["at"]).into_iter().zip(numbers(&told["value"])).zip(numbers(&told["slope"]))
        {
            assert!((curve.at(at) - value).abs() < 1e-9, "{at}: {} {value}", curve.at(at));
            assert!((curve.slope(at) - slope).abs() < 1e-9, "{at}: {} {slope}", curve.slope(at));
        }
    }
}

#[test]
fn readings_one_by_one_agree_with_what_is_told_of_settings() {
    let sample = |below: f64, stops: f64| Sample { below: Stops::computed(below), stops };
    // The fifth was lost.
    let samples = [(0.0, 9.1), (0.0, 9.14), (1.0, 8.2), (1.0, 8.16), (2.0, 3.0), (2.0, 7.1), (2.0, 7.2)]
        .map(|(below, stops)| sample(below, stops));
    for distance in [None, Some(2.0)] {
        let question = metered(samples.to_vec(), distance);
        let answer = calibrate(&question).expect("a calibration");
        let readings = Readings::of(&question, &answer);
        let lost: Vec<bool> = readings.each.iter().map(|reading| reading.is_misfire).collect();
        assert_eq!(lost, [false, false, false, false, true, false, false]);
        assert_eq!(readings.kept().count(), 6);
        for told in &answer.settings {
            let below = told.stops_below_full.get();
            let of_it = readings.kept().filter(|reading| (reading.set.get() + below).abs() < 1e-9);
            let deviations: Vec<f64> = of_it.map(|reading| reading.deviation.get()).collect();
            let middle = median(&deviations).expect("readings");
            assert!((middle - told.deviation_stops.get()).abs() < 1e-9, "{below}: {middle}");
        }
        for reading in &readings.each {
            let off = reading.measured.get() - reading.set.get() - reading.deviation.get();
            assert!(off.abs() < 1e-9, "{reading:?}");
        }
        // The line meets full power at the offset, and rises with the tracking.
        let at = |set: f64| readings.by_the_line(Stops::computed(set)).expect("a line").get();
        let offset = answer.offset_stops.map_or(0.0, Stops::get);
        assert!((at(0.0) - offset).abs() < 1e-9, "{} {offset}", at(0.0));
        assert!((at(0.0) - at(-1.0) - answer.tracking.expect("tracking").get()).abs() < 1e-9);
    }
}
