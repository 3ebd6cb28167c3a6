//! How often intervals hold what is true, and how wide they are for it: units of known light, metered with noise.

use super::{super::student, *};

/// A way to calibrate, and what is measured.
#[derive(Debug, Clone, Copy)]
struct Row {
    /// The settings, stops below full.
    below: &'static [f64],
    /// Readings at each.
    repeats: usize,
    /// Standard deviation of readings at one setting, stops.
    scatter: f64,
    /// Standard deviation of settings about the line of a unit's scale, stops. What is true is that line: another
    /// unit of the kind strays elsewhere, about the same one.
    strays: f64,
    /// How far tracking may be from 1.
    tracking: f64,
}

const RUNS: u32 = 600;
/// At least so many of a hundred runs: 95 less 2.7 of the standard error of 600.
const LEAST: f64 = 92.6;

/// Percent of runs whose intervals held what is true, and medians of their half widths.
#[derive(Debug)]
struct Measured {
    offset_held: f64,
    /// None of one setting.
    tracking_held: Option<f64>,
    offset_half: f64,
    tracking_half: Option<f64>,
}

/// A meter shows so many parts of a stop; 0 is all digits.
fn measure(row: Row, shown: f64, seed: u64) -> Measured {
    let mut noise = Noise(seed);
    let (mut offset_held, mut tracking_held) = (0, 0);
    let (mut offset_halves, mut tracking_halves) = (Vec::new(), Vec::new());
    for _ in 0..RUNS {
        let offset = noise.uniform() - 0.5;
        let slope = 1.0 + row.tracking * (2.0 * noise.uniform() - 1.0);
        let mut samples = Vec::new();
        for below in row.below {
            let stray = row.strays * noise.normal();
            for _ in 0..row.repeats {
                // GN 50 at 3.125 m is N = 16.
                let light = 8.0 + offset - slope * below + stray + row.scatter * noise.normal();
                let stops = if shown > 0.0 { (light * shown).round() / shown } else { light };
                samples.push(Sample { below: Stops::computed(*below), stops });
            }
        }
        let answer = calibrate(&metered(samples, Some(3.125))).expect("a calibration");
        let [low, high] = answer.offset_stops_range.expect("a range").map(Stops::get);
        // On marks an interval's end may be what is true, to the last digit of a number.
        let holds = |low: f64, high: f64, value: f64| u32::from((low - 1e-9..=high + 1e-9).contains(&value));
        offset_held += holds(low, high, offset);
        offset_halves.push((high - low) / 2.0);
        if let Some([low, high]) = answer.tracking_range.map(|range| range.map(Stops::get)) {
            tracking_held += holds(low, high, slope);
            tracking_halves.push((high - low) / 2.0);
        }
    }
    let percent = |held: u32| 100.0 * f64::from(held) / f64::from(RUNS);
    Measured {
        offset_held: percent(offset_held),
        tracking_held: (row.below.len() > 1).then(|| percent(tracking_held)),
        offset_half: median(&offset_halves).expect("halves"),
        tracking_half: median(&tracking_halves),
    }
}

/// Half widths that are exact: Student's t by least squares, with the true scatter in place of the measured one;
/// of readings, or of settings where four or more stray more than readings tell.
fn exact(row: Row, scatter: f64) -> [f64; 2] {
    let settings = row.below.len();
    let middle = -row.below.iter().sum::<f64>() / settings as f64;
    let squares: f64 = row.below.iter().map(|below| (below + middle).powi(2)).sum();
    let repeats = row.repeats as f64;
    let wanted = if settings > 1 { 2 } else { 1 };
    let t = |points: usize| student::quantile(points - wanted).expect("a quantile");
    let of_readings = t(settings * row.repeats) * scatter / repeats.sqrt();
    let of_settings = if settings >= 4 {
        t(settings) * (row.strays.powi(2) + scatter.powi(2) / repeats).sqrt()
    } else {
        0.0
    };
    let one = of_readings.max(of_settings);
    if settings == 1 {
        return [one, f64::INFINITY];
    }
    [one * (1.0 / settings as f64 + middle.powi(2) / squares).sqrt(), one / squares.sqrt()]
}

const THREE: &[f64] = &[0.0, 3.0, 6.0];
const FOUR: &[f64] = &[0.0, 2.0, 4.0, 6.0];
const EIGHT: &[f64] = &[0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0];

const fn row(below: &'static [f64], repeats: usize, scatter: f64) -> Row {
    Row { below, repeats, scatter, strays: 0.0, tracking: 0.0 }
}

const ROWS: [Row; 19] = [
    row(THREE, 1, 0.03),
    row(THREE, 1, 0.06),
    row(THREE, 3, 0.01),
    row(THREE, 3, 0.03),
    row(THREE, 3, 0.1),
    row(FOUR, 1, 0.1),
    row(FOUR, 3, 0.03),
    row(FOUR, 5, 0.03),
    row(EIGHT, 1, 0.03),
    row(EIGHT, 1, 0.1),
    row(EIGHT, 3, 0.03),
    row(EIGHT, 5, 0.06),
    row(&[0.0], 2, 0.06),
    row(&[0.0], 3, 0.1),
    row(&[0.0], 5, 0.03),
    row(&[0.0, 4.0], 2, 0.05),
    row(&[0.0, 1.0], 5, 0.03),
    row(&[2.0, 4.0, 6.0], 2, 0.05),
    row(&[3.0, 4.0, 5.0], 3, 0.06),
];

/// Every row, and every row of a scale that strays or is not a true one.
fn rows() -> Vec<Row> {
    let tracks = ROWS.iter().filter(|row| row.below.len() > 1).map(|row| Row { tracking: 0.05, ..*row });
    let strays = [(EIGHT, 3, 0.05, 0.1), (EIGHT, 1, 0.05, 0.1), (FOUR, 3, 0.03, 0.1), (FOUR, 5, 0.03, 0.05)];
    let strays =
        strays.map(|(below, repeats, scatter, strays)| Row { strays, ..row(below, repeats, scatter) });
    ROWS.iter().copied().chain(tracks).chain(strays).collect()
}

#[test]
fn intervals_hold_what_is_true_and_are_no_wider_than_that_takes() {
    for (shown, half_digit) in [(0.0, 0.0), (10.0, 0.05), (3.0, 1.0 / 6.0)] {
        for (seed, row) in rows().into_iter().enumerate() {
            let measured = measure(row, shown, 7919 * seed as u64 + 1);
            let told = || format!("{row:?}, shown {shown}: {measured:?}");
            assert!(measured.offset_held >= LEAST, "{}", told());
            assert!(measured.tracking_held.is_none_or(|held| held >= LEAST), "{}", told());

            // Rounding scatters readings by its step over √12 (textbook), and its half cannot be known at both ends.
            let [offset, tracking] = exact(row, row.scatter.hypot(half_digit / 3.0_f64.sqrt()));
            let [first, last] = [0, row.below.len() - 1].map(|index| row.below[index]);
            let by_digit = if last > first { 2.0 * half_digit / (last - first) } else { 0.0 };
            // Readings on marks are few different ones, and a coarse meter may be taken for one that scatters.
            let wider = if half_digit > 0.0 { 2.1 } else { 1.25 };
            let most = wider * offset + half_digit + first * by_digit;
            assert!(measured.offset_half <= most, "{}, most {most}", told());
            let most = (wider * tracking).max(by_digit);
            assert!(measured.tracking_half.is_none_or(|half| half <= most + 1e-9), "{}, most {most}", told());
        }
    }
}
