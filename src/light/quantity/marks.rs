//! The engraved series: the marks printed on lenses, cameras and filters, and their exact values.
//!
//! Marks are rounded values of 2^(k/2), 2^(k/4) (halves) and 2^(k/6) (thirds) for f-numbers (published:
//! ISO 517:2008), of 2^(k/3) and 2^(k/2) for times and ISO speeds. The printed series themselves are
//! common practice; the half-stop ISO marks, 1/12000 s and 1/12500 s are from memory.

use std::sync::LazyLock;

/// The step of a series of marks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Step {
    /// Whole stops.
    Full,
    /// Half stops.
    Half,
    /// Third stops.
    #[default]
    Third,
}

impl Step {
    /// All steps, coarsest first.
    pub const ALL: [Self; 3] = [Self::Full, Self::Half, Self::Third];

    /// The value in a request: `1`, `1/2`, `1/3`.
    pub const fn text(self) -> &'static str {
        match self {
            Self::Full => "1",
            Self::Half => "1/2",
            Self::Third => "1/3",
        }
    }

    /// Steps per stop.
    pub const fn per_stop(self) -> i32 {
        match self {
            Self::Full => 1,
            Self::Half => 2,
            Self::Third => 3,
        }
    }

    /// The series to search for a mark: this one, then thirds, then halves.
    fn search_order(self) -> [Self; 3] {
        [self, Self::Third, Self::Half]
    }
}

/// The kinds of engraved series.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Engraved {
    /// Lens apertures.
    FNumber,
    /// Exposure times.
    ExposureTime,
    /// ISO speeds.
    Iso,
    /// Neutral-density filters by density.
    OpticalDensity,
    /// Neutral-density filters by factor.
    FilterFactor,
}

impl Engraved {
    /// All kinds, in the order of their discriminants.
    pub const ALL: [Self; 5] =
        [Self::FNumber, Self::ExposureTime, Self::Iso, Self::OpticalDensity, Self::FilterFactor];
}

/// One engraved mark.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// The mark in a form that requests accept: `f/5.6`, `1/60 s`, `ISO 160`, `ND 0.9`.
    pub text: String,
    /// The printed number.
    pub printed: f64,
    /// The exact value behind it.
    pub value: f64,
    /// Exposure in stops relative to f/1, 1 s, ISO 100 or no filter.
    pub exposure_stops: f64,
}

const F_THIRDS: &str = "0.7 0.8 0.9 1 1.1 1.2 1.4 1.6 1.8 2 2.2 2.5 2.8 3.2 3.5 4 4.5 5 5.6 6.3 7.1 8 9 10 11 13 14 16 18 20 22 25 29 32 36 40 45 51 57 64 72 81 90 102 114 128";
const F_HALVES: &str =
    "0.7 0.8 1 1.2 1.4 1.7 2 2.4 2.8 3.4 4 4.8 5.6 6.7 8 9.5 11 13 16 19 22 27 32 38 45 54 64 76 90 108 128";
const TIME_THIRDS: &str = "60 50 40 30 25 20 15 13 10 8 6 5 4 3.2 2.5 2 1.6 1.3 1 0.8 0.6 0.5 0.4 0.3 1/4 1/5 1/6 1/8 1/10 1/13 1/15 1/20 1/25 1/30 1/40 1/50 1/60 1/80 1/100 1/125 1/160 1/200 1/250 1/320 1/400 1/500 1/640 1/800 1/1000 1/1250 1/1600 1/2000 1/2500 1/3200 1/4000 1/5000 1/6400 1/8000 1/10000 1/12500 1/16000";
const TIME_HALVES: &str = "60 45 30 20 15 10 8 6 4 3 2 1.5 1 0.7 0.5 0.3 1/4 1/6 1/8 1/10 1/15 1/20 1/30 1/45 1/60 1/90 1/125 1/180 1/250 1/350 1/500 1/750 1/1000 1/1500 1/2000 1/3000 1/4000 1/6000 1/8000 1/12000 1/16000";
const ISO_THIRDS: &str = "6 8 10 12 16 20 25 32 40 50 64 80 100 125 160 200 250 320 400 500 640 800 1000 1250 1600 2000 2500 3200 4000 5000 6400 8000 10000 12800 16000 20000 25600 32000 40000 51200 64000 80000 102400 128000 160000 204800 256000 320000 409600";
const ISO_HALVES: &str = "6 9 12 18 25 35 50 70 100 140 200 280 400 560 800 1100 1600 2200 3200 4500 6400 9000 12800 18000 25600 36000 51200 72000 102400 144000 204800 288000 409600";
const FACTORS: &str = "2 4 8 16 32 64 128 256 500 1000";
/// The darkest density mark, stops.
const DENSITY_STOPS: i32 = 20;

/// Builds a series from its printed numbers: mark `i` is `first + i·direction` steps of exposure
/// from the base.
fn build(kind: Engraved, step: Step) -> Vec<Mark> {
    let printed = |table: &str| -> Vec<String> { table.split(' ').map(str::to_owned).collect() };
    // (printed numbers, steps per stop of that table, exposure of the first mark in steps, direction)
    let (texts, per_stop, first, direction) = match (kind, step) {
        (Engraved::FNumber, Step::Half) => (printed(F_HALVES), 2, 2, -1),
        (Engraved::FNumber, _) => (printed(F_THIRDS), 3, 3, -1),
        (Engraved::ExposureTime, Step::Half) => (printed(TIME_HALVES), 2, 12, -1),
        (Engraved::ExposureTime, _) => (printed(TIME_THIRDS), 3, 18, -1),
        (Engraved::Iso, Step::Half) => (printed(ISO_HALVES), 2, -8, 1),
        (Engraved::Iso, _) => (printed(ISO_THIRDS), 3, -12, 1),
        (Engraved::FilterFactor, _) => (printed(FACTORS), 1, -1, -1),
        (Engraved::OpticalDensity, _) => {
            let per_stop = step.per_stop();
            let texts = (0..=DENSITY_STOPS * per_stop)
                .map(|k| {
                    let density = f64::from(k) * 0.3 / f64::from(per_stop);
                    if step == Step::Half && k % 2 == 1 {
                        format!("{density:.2}")
                    } else {
                        format!("{density:.1}")
                    }
                })
                .collect();
            (texts, per_stop, 0, -1)
        }
    };
    let mut exposure_steps = first - direction;
    let mut series = Vec::with_capacity(texts.len());
    for text in texts {
        exposure_steps += direction;
        if step == Step::Full && exposure_steps % per_stop != 0 {
            continue;
        }
        let exposure_stops = f64::from(exposure_steps) / f64::from(per_stop);
        let printed = match text.split_once('/') {
            Some((over, under)) => {
                over.parse::<f64>().unwrap_or(f64::NAN) / under.parse::<f64>().unwrap_or(f64::NAN)
            }
            None => text.parse().unwrap_or(f64::NAN),
        };
        series.push(Mark {
            text: match kind {
                Engraved::FNumber => format!("f/{text}"),
                Engraved::ExposureTime => format!("{text} s"),
                Engraved::Iso => format!("ISO {text}"),
                Engraved::OpticalDensity => format!("ND {text}"),
                Engraved::FilterFactor => format!("ND{text}"),
            },
            printed,
            value: match kind {
                Engraved::FNumber => (-exposure_stops / 2.0).exp2(),
                Engraved::ExposureTime => exposure_stops.exp2(),
                Engraved::Iso => 100.0 * exposure_stops.exp2(),
                Engraved::OpticalDensity => -exposure_stops * std::f64::consts::LOG10_2 + 0.0,
                Engraved::FilterFactor => (-exposure_stops).exp2(),
            },
            exposure_stops,
        });
    }
    series
}

/// The engraved series of `kind` in `step`. Filter factors exist in whole stops only.
pub fn series(kind: Engraved, step: Step) -> &'static [Mark] {
    static SERIES: LazyLock<Vec<Vec<Mark>>> = LazyLock::new(|| {
        Engraved::ALL.iter().flat_map(|&kind| Step::ALL.iter().map(move |&step| build(kind, step))).collect()
    });
    &SERIES[kind as usize * Step::ALL.len() + step as usize]
}

/// The marks on either side of a value. A series is strictly rising or falling in `key`.
fn neighbours(series: &[Mark], value: f64, key: impl Fn(&Mark) -> f64) -> &[Mark] {
    let rises = series.first().map(&key) < series.last().map(&key);
    let after = series.partition_point(|mark| if rises { key(mark) < value } else { key(mark) > value });
    &series[after.saturating_sub(1)..(after + 1).min(series.len())]
}

/// The mark with this printed number (within 0.1 %): searched in the series of `step`, then in thirds, then in
/// halves.
///
/// ```
/// use stopwright::light::quantity::marks::{Engraved, Step, find_printed};
/// let thirds = find_printed(Engraved::FNumber, Step::Third, 13.0).map(|mark| mark.value);
/// let halves = find_printed(Engraved::FNumber, Step::Half, 13.0).map(|mark| mark.value);
/// assert_eq!(thirds, Some(f64::exp2(11.0 / 3.0)));
/// assert_eq!(halves, Some(f64::exp2(15.0 / 4.0)));
/// ```
pub fn find_printed(kind: Engraved, step: Step, number: f64) -> Option<&'static Mark> {
    step.search_order().into_iter().find_map(|step| {
        neighbours(series(kind, step), number, |mark| mark.printed)
            .iter()
            .filter(|mark| (mark.printed - number).abs() <= 1e-3 * mark.printed)
            .min_by(|a, b| (a.printed - number).abs().total_cmp(&(b.printed - number).abs()))
    })
}

/// The mark nearest to an exposure, the darker one in a tie. `None` if the exposure is one stop or more beyond the ends
/// of the series.
pub fn nearest(kind: Engraved, step: Step, exposure_stops: f64) -> Option<&'static Mark> {
    neighbours(series(kind, step), exposure_stops, |mark| mark.exposure_stops)
        .iter()
        .min_by(|a, b| {
            let off = |mark: &Mark| (mark.exposure_stops - exposure_stops).abs();
            // A tie, up to rounding errors.
            if (off(a) - off(b)).abs() < 1e-9 {
                a.exposure_stops.total_cmp(&b.exposure_stops)
            } else {
                off(a).total_cmp(&off(b))
            }
        })
        .filter(|mark| (mark.exposure_stops - exposure_stops).abs() < 1.0 - 1e-9)
}

/// The APEX value of a mark: Av, Tv or Sv (published: CIPA DC-008, APEX units; that Sv is 5 at ISO 100 is from memory
/// of the same annex). `None` for filters.
pub fn apex(kind: Engraved, mark: &Mark) -> Option<f64> {
    match kind {
        Engraved::FNumber | Engraved::ExposureTime => Some(-mark.exposure_stops),
        Engraved::Iso => Some(mark.exposure_stops + 5.0),
        Engraved::OpticalDensity | Engraved::FilterFactor => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_mark_is_a_rounding_of_its_exact_value() {
        // No printed mark is a quarter of a stop off; a table shifted by one place would be a whole step off.
        for kind in Engraved::ALL {
            for step in Step::ALL {
                for mark in series(kind, step) {
                    let stops = match kind {
                        Engraved::FNumber => 2.0 * (mark.printed / mark.value).log2(),
                        Engraved::OpticalDensity => (mark.printed - mark.value) / std::f64::consts::LOG10_2,
                        _ => (mark.printed / mark.value).log2(),
                    };
                    // The coarsest roundings: 0.3 s for 0.354, f/0.8 for 0.841, ND 6.0 for 6.0206.
                    assert!(stops.abs() < 0.25, "{} is {stops} stops off", mark.text);
                }
            }
        }
    }

    #[test]
    fn no_mark_is_nearer_than_the_nearest() {
        for kind in Engraved::ALL {
            for step in Step::ALL {
                let all = series(kind, step);
                let is_monotonic = |key: fn(&Mark) -> f64| {
                    all.windows(2).all(|pair| key(&pair[0]) < key(&pair[1]))
                        || all.windows(2).all(|pair| key(&pair[0]) > key(&pair[1]))
                };
                assert!(is_monotonic(|mark| mark.printed) && is_monotonic(|mark| mark.exposure_stops));
                for tenths in -300..300 {
                    let wanted = f64::from(tenths) / 10.0;
                    let least =
                        all.iter().map(|mark| (mark.exposure_stops - wanted).abs()).fold(f64::MAX, f64::min);
                    match nearest(kind, step, wanted) {
                        Some(mark) => assert!((mark.exposure_stops - wanted).abs() - least < 1e-9),
                        None => assert!(least > 1.0 - 1e-6),
                    }
                }
            }
        }
    }

    #[test]
    fn each_series_starts_and_ends_at_the_expected_marks() {
        for (kind, step, ends) in [
            (Engraved::FNumber, Step::Third, ["f/0.7", "f/128"]),
            (Engraved::FNumber, Step::Half, ["f/0.7", "f/128"]),
            (Engraved::ExposureTime, Step::Third, ["60 s", "1/16000 s"]),
            (Engraved::ExposureTime, Step::Half, ["60 s", "1/16000 s"]),
            (Engraved::Iso, Step::Third, ["ISO 6", "ISO 409600"]),
            (Engraved::Iso, Step::Half, ["ISO 6", "ISO 409600"]),
        ] {
            let series = series(kind, step);
            let texts = [series.first(), series.last()].map(|mark| mark.map(|mark| mark.text.as_str()));
            assert_eq!(texts, ends.map(Some));
        }
        let last = series(Engraved::FNumber, Step::Half).last().map(|mark| mark.value);
        assert_eq!(last, Some(128.0));
    }
}
