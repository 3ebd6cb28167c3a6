//! Simulations with noise: the offset, tracking and spread of known units are recovered in spite of misfires.

mod coverage;
mod half_widths;

use crate::light::{
    assumption::AssumptionKind,
    measure::calibrate::{
        robust::{median, theil_sen},
        *,
    },
    quantity::{Iso, Metres},
    remark::WarningKind,
    set::Meter,
    unit::{
        Unit,
        scale::{Grid, Scale, Style},
    },
};

/// A generator of uniform and normal random numbers.
struct Noise(u64);

impl Noise {
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// A standard normal number, approximated by the sum of twelve uniform numbers, whose variance is one.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }
}

fn unit() -> Unit {
    let scale = Scale::new(Style::Dial { full: 9.0, least: 2.0 }, Grid::Click(0.1));
    Unit {
        guide_number: Some(GuideMetres::new_unchecked(50.0)),
        scale: scale.expect("a scale"),
        ..Unit::unknown()
    }
}

/// A question about [`unit`], metered at `distance_m`.
fn metered(samples: Vec<Sample>, distance_m: Option<f64>) -> CalibrateQuestion {
    CalibrateQuestion {
        unit: unit(),
        samples,
        metered: true,
        distance: distance_m.map(Metres::new_unchecked),
        distance_within: None,
        iso: Iso::BASE,
        meter_offset: Stops::ZERO,
        meter: Meter::default(),
        extrapolated: false,
        at_full_power: false,
    }
}

#[test]
fn a_thousand_noisy_units_are_recovered() {
    let (mut offsets, mut slopes, mut spreads) = (Vec::new(), Vec::new(), Vec::new());
    let (mut detected, mut missed, mut false_alarms) = (0, 0, 0);
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
                samples.push(Sample {
                    id: None,
                    below: Stops::new_unchecked(f64::from(below)),
                    stops: true_stops + off,
                });
            }
        }
        let answer = calibrate(&metered(samples, Some(2.5))).expect("a calibration");
        let found_offset = answer.offset_stops.expect("an offset");
        let found_slope = answer.tracking.expect("a slope");
        offsets.push((found_offset.get() - offset).abs());
        slopes.push((found_slope.get() - slope).abs());
        spreads.push((answer.repeatability_stops.expect("repeats").get() / spread - 1.0).abs());
        let holds = |range: Option<Range<Stops>>, value: f64| {
            let [low, high] = range.expect("a range").ends().map(Stops::get);
            usize::from((low..=high).contains(&value))
        };
        covered_offsets += holds(answer.offset_stops_range, offset);
        covered_slopes += holds(answer.tracking_range, slope);
        for (index, lost) in lost.iter().enumerate() {
            let found = answer.left_out().iter().any(|outlier| outlier.index as usize == index);
            detected += usize::from(*lost && found);
            missed += usize::from(*lost && !found);
            false_alarms += usize::from(!*lost && found);
        }
    }
    let worst = |values: &[f64]| values.iter().copied().fold(0.0, f64::max);
    let half = |values: &[f64]| median(values).expect("values");
    // Bounds in stops: half of all offsets within 0.02, all within 0.1; half of all slopes within 0.005 per stop, all
    // within 0.025.
    assert!(half(&offsets) < 0.02 && worst(&offsets) < 0.1, "{} {}", half(&offsets), worst(&offsets));
    assert!(half(&slopes) < 0.005 && worst(&slopes) < 0.025, "{} {}", half(&slopes), worst(&slopes));
    // Some 28 degrees of freedom determine the spread to about 13 %.
    assert!(half(&spreads) < 0.13 && worst(&spreads) < 0.6, "{} {}", half(&spreads), worst(&spreads));
    assert_eq!(missed, 0, "of {}", detected + missed);
    assert!(false_alarms <= 20, "{false_alarms} of 33000");
    // The intervals are 95 % intervals.
    assert!(covered_offsets >= 940 && covered_slopes >= 940, "{covered_offsets}, {covered_slopes} of 1000");
}

#[test]
fn lines_agree_with_a_reference_library() {
    // The file names the library and its version.
    let data: serde_json::Value =
        serde_json::from_str(include_str!("../../../../tests/data/scipy.json")).expect("JSON");
    let numbers = |value: &serde_json::Value| -> Vec<f64> {
        value.as_array().expect("a list").iter().map(|value| value.as_f64().expect("a number")).collect()
    };
    for expected in data["lines"].as_array().expect("lines") {
        let points: Vec<[f64; 2]> =
            numbers(&expected["x"]).into_iter().zip(numbers(&expected["y"])).map(|(x, y)| [x, y]).collect();
        let line = theil_sen(&points).expect("a line");
        assert!((line.slope - expected["slope"].as_f64().expect("a number")).abs() < 1e-12);
        assert!((line.intercept - expected["intercept"].as_f64().expect("a number")).abs() < 1e-12);
    }
    for expected in data["curves"].as_array().expect("curves") {
        let points = numbers(&expected["x"]).into_iter().zip(numbers(&expected["y"])).map(|(x, y)| [x, y]);
        let curve = crate::light::measure::curve::Curve::through(points.collect()).expect("a curve");
        for ((at, value), slope) in numbers(&expected["at"])
            .into_iter()
            .zip(numbers(&expected["value"]))
            .zip(numbers(&expected["slope"]))
        {
            assert!((curve.at(at) - value).abs() < 1e-9, "{at}: {} {value}", curve.at(at));
            assert!((curve.slope(at) - slope).abs() < 1e-9, "{at}: {} {slope}", curve.slope(at));
        }
    }
}

#[test]
fn individual_readings_agree_with_the_settings() {
    let sample = |below: f64, stops: f64| Sample { id: None, below: Stops::new_unchecked(below), stops };
    // The fifth reading is a misfire.
    let samples = [(0.0, 9.1), (0.0, 9.14), (1.0, 8.2), (1.0, 8.16), (2.0, 3.0), (2.0, 7.1), (2.0, 7.2)]
        .map(|(below, stops)| sample(below, stops));
    for distance in [None, Some(2.0)] {
        let question = metered(samples.to_vec(), distance);
        let answer = calibrate(&question).expect("a calibration");
        let readings = Readings::of(&question, &answer);
        let lost: Vec<bool> = readings.each.iter().map(|reading| reading.is_left_out).collect();
        assert_eq!(lost, [false, false, false, false, true, false, false]);
        assert_eq!(readings.kept().count(), 6);
        for setting in &answer.settings {
            let below = setting.stops_below_full.get();
            let at_setting = readings.kept().filter(|reading| (reading.set.get() + below).abs() < 1e-9);
            let deviations: Vec<f64> = at_setting.map(|reading| reading.deviation.get()).collect();
            let middle = deviations.iter().sum::<f64>() / deviations.len() as f64;
            assert!((middle - setting.deviation_stops.get()).abs() < 1e-9, "{below}: {middle}");
        }
        for reading in &readings.each {
            let off = reading.measured.get() - reading.set.get() - reading.deviation.get();
            assert!(off.abs() < 1e-9, "{reading:?}");
        }
        // At full power the line equals the offset, and its slope is the tracking.
        let at = |set: f64| readings.by_the_line(Stops::new_unchecked(set)).expect("a line").get();
        let offset = answer.offset_stops.map_or(0.0, Stops::get);
        assert!((at(0.0) - offset).abs() < 1e-9, "{} {offset}", at(0.0));
        assert!((at(0.0) - at(-1.0) - answer.tracking.expect("tracking").get()).abs() < 1e-9);
    }
}

/// Simulates units read `repeats` times at each setting by a meter in tenths, with one reading of each unit wrong by an
/// amount in the range `off`. Returns how many of the wrong readings were found, and how many others were left out.
fn simulate_one_outlier(below: &[f64], repeats: usize, off: [f64; 2], seed: u64) -> (u32, u32) {
    let mut noise = Noise(seed);
    let (mut found, mut false_alarms) = (0, 0);
    for _ in 0..400 {
        let offset = noise.uniform() - 0.5;
        let slope = 0.95 + 0.1 * noise.uniform();
        let light = |below: f64, noise: &mut Noise| 8.0 + offset - slope * below + 0.04 * noise.normal();
        let mut lights: Vec<[f64; 2]> = Vec::new();
        for &below in below {
            lights.extend((0..repeats).map(|_| [below, light(below, &mut noise)]));
        }
        let wrong = (noise.uniform() * lights.len() as f64) as usize;
        lights[wrong][1] += off[0] + (off[1] - off[0]) * noise.uniform();
        let samples = lights.iter().map(|[below, light]| Sample {
            id: None,
            below: Stops::new_unchecked(*below),
            stops: (light * 10.0).round() / 10.0,
        });
        let answer = calibrate(&metered(samples.collect(), Some(3.125))).expect("a calibration");
        let is_bright = off[0] > 0.0;
        let hits = |index: u32| index as usize == wrong;
        found += u32::from(if is_bright {
            answer.too_bright.iter().any(|outlier| hits(outlier.index) && outlier.off_by_stops.get() > 0.0)
        } else {
            answer.misfires.iter().any(|outlier| hits(outlier.index) && outlier.off_by_stops.get() < 0.0)
        });
        false_alarms += answer.left_out().iter().filter(|outlier| !hits(outlier.index)).count() as u32;
        let warns = |of: &WarningKind| answer.warnings.iter().any(|warning| warning.kind == *of);
        assert_eq!(warns(&WarningKind::TooBright), !answer.too_bright.is_empty());
        assert_eq!(warns(&WarningKind::Misfires), !answer.misfires.is_empty());
    }
    (found, false_alarms)
}

#[test]
fn bright_outliers_are_found_as_dark_ones_are() {
    const SEVEN: [f64; 7] = [0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0];
    // A former version found none of the bright outliers, and reported good readings as misfires instead.
    for (below, repeats, least) in [
        (&SEVEN[..], 5, 0.5),
        (&SEVEN[..], 3, 0.5),
        (&[0.0][..], 5, 0.5),
        (&[0.0, 3.0, 6.0][..], 3, 0.5),
        (&SEVEN[..], 2, 1.0),
        (&SEVEN[..], 1, 1.0),
    ] {
        for (side, seed) in [(1.0, 11), (-1.0, 12)] {
            let (found, false_alarms) =
                simulate_one_outlier(below, repeats, [least * side, 1.5 * side], seed);
            let counts = || format!("{below:?} times {repeats}, {side}: {found} found, {false_alarms} false");
            // Nine of ten outliers of half a stop or more are found, and all but a few of a stop or more.
            assert!(found >= if least < 1.0 { 360 } else { 388 }, "{}", counts());
            assert!(false_alarms <= 2, "{}", counts());
        }
    }
}

#[test]
fn a_bright_outlier_does_not_widen_the_interval() {
    let sample = |below: f64, stops: f64| Sample { id: None, below: Stops::new_unchecked(below), stops };
    let good = [
        (0.0, 9.1),
        (0.0, 9.2),
        (0.0, 9.1),
        (2.0, 7.1),
        (2.0, 7.2),
        (2.0, 7.2),
        (4.0, 5.2),
        (4.0, 5.1),
        (4.0, 5.2),
    ];
    let half = |samples: &[(f64, f64)]| {
        let samples = samples.iter().map(|(below, stops)| sample(*below, *stops)).collect();
        let range = calibrate(&metered(samples, Some(2.5))).expect("a calibration").offset_stops_range;
        let [low, high] = range.expect("a range").ends().map(Stops::get);
        (high - low) / 2.0
    };
    let alone = half(&good);
    for off in [0.5, 0.8, 1.5, 6.0] {
        let mut samples = good.to_vec();
        samples.push((2.0, 7.2 + off));
        assert!(half(&samples) < 1.1 * alone, "{off}: {} {alone}", half(&samples));
    }
}

#[test]
fn a_stated_repeatability_replaces_the_assumed_one() {
    let sample = |below: f64, stops: f64| Sample { id: None, below: Stops::new_unchecked(below), stops };
    let ask = |stated: Option<f64>| {
        let mut question = metered(vec![sample(0.0, 9.013), sample(1.0, 8.021)], Some(2.5));
        question.unit.repeat = stated.map(Stops::new_unchecked);
        let answer = calibrate(&question).expect("a calibration");
        let [low, high] = answer.offset_stops_range.expect("a range").ends().map(Stops::get);
        ((high - low) / 2.0, answer.assumptions[0].kind.clone())
    };
    // Two readings on a line have no scatter of their own: at full power the interval is that of one reading.
    let (half, assumption) = ask(Some(0.2));
    assert!(
        (half - 0.2).abs() < 1e-4
            && assumption == AssumptionKind::RepeatStated { plus_minus_stops: Stops::new_unchecked(0.2) },
        "{half} {assumption:?}"
    );
    let (half, assumption) = ask(None);
    assert!((half - 4.303 * 0.06 / 1.96 / 1.201_12).abs() < 1e-4, "{half}");
    assert_eq!(assumption, AssumptionKind::Repeat { plus_minus_stops: Stops::new_unchecked(0.06) });
}
