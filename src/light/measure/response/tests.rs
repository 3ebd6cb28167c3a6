//! The coverage of the range of a patch, simulated with synthetic tone curves: those used to tune the constants, others
//! that were looked at meanwhile, and some that were held out.

use crate::light::{
    measure::{
        patches::{self, Patch},
        response::{Frame, ResponseQuestion, fit},
        space::{Encoding, Level, Space},
    },
    quantity::Stops,
    remark::WarningKind,
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

/// A tone curve, from stops to the level.
type Tone = fn(f64) -> f64;

fn srgb(light: f64) -> f64 {
    255.0 * Space::Srgb.encode(light.clamp(0.0, 1.0))
}

fn grey(stops: f64) -> f64 {
    0.18 * stops.exp2()
}

fn logistic(stops: f64, steepness: f64) -> f64 {
    255.0 / (1.0 + (-steepness * stops).exp())
}

/// A filmic curve in its rational form (published, common in rendering).
fn filmic(light: f64) -> f64 {
    light * (2.51 * light + 0.03) / (light * (2.43 * light + 0.59) + 0.14)
}

/// Another filmic curve, with a toe, a straight part and a shoulder.
fn filmic_with_toe(light: f64) -> f64 {
    let tone = |x: f64| (x * (0.15 * x + 0.05) + 0.004) / (x * (0.15 * x + 0.5) + 0.06) - 0.02 / 0.3;
    tone(2.0 * light) / tone(11.2)
}

/// A sigmoid in linear light.
fn sigmoid(light: f64, contrast: f64) -> f64 {
    light.powf(contrast) / (light.powf(contrast) + 0.4_f64.powf(contrast))
}

/// The curves used to tune the constants.
const TUNED: [Tone; 5] = [
    |stops| logistic(stops - 0.3, 0.6),
    |stops| logistic(stops, 0.9),
    |stops| logistic(stops + 0.2, 1.3),
    |stops| srgb(filmic(grey(stops))),
    |stops| srgb(grey(stops)),
];
/// Other curves that were checked during tuning. The last has longer tails than any film or screen: beyond the frames
/// no range of a useful width covers it.
const OTHERS: [Tone; 7] = [
    |stops| srgb(filmic_with_toe(grey(stops + 0.5))),
    |stops| 127.5 * (1.0 + (0.5 * stops).tanh()),
    |stops| srgb(grey(stops) * (1.0 + grey(stops) / 16.0) / (1.0 + grey(stops))),
    |stops| 255.0 * Space::AdobeRgb1998.encode(grey(stops).min(1.0)),
    |stops| srgb(sigmoid(grey(stops), 1.2)),
    |stops| srgb(sigmoid(grey(stops + 0.5), 1.6)),
    |stops| 255.0 * (0.5 + (0.7 * stops).atan() / std::f64::consts::PI),
];
/// Curves that were added only after the constants were fixed.
const UNSEEN: [Tone; 6] = [
    // An asymmetric characteristic curve of a film (Gompertz).
    |stops| 255.0 * (-(-0.55 * (stops + 0.8)).exp()).exp(),
    // An S curve from a sine, on top of the curve of the colour space.
    |stops| {
        let part = srgb(grey(stops)) / 255.0;
        255.0 * (part - 0.08 * (std::f64::consts::TAU * part).sin())
    },
    // An exponential shoulder and straight shadows, as in a print.
    |stops| srgb(1.0 - (-1.6 * grey(stops)).exp()),
    // The curve of a wide colour space without a tone curve.
    |stops| 255.0 * Space::Romm.encode(grey(stops).min(1.0)),
    // A logarithmic curve, as for grading: straight in stops except for its toe.
    |stops| 255.0 * (0.1 * (1.0 + 60.0 * grey(stops)).log2() + 0.05).min(1.0),
    // A sigmoid in linear light, encoded in another colour space.
    |stops| 255.0 * Space::AdobeRgb1998.encode(sigmoid(grey(stops + 0.3), 1.4)),
];
/// Curves of the kinds that rendered files have, with other constants, that no other test has: sigmoids in stops and in
/// light, filmic curves, and the bare space. They were measured once, after all else was fixed.
const HELD_OUT: [(&str, &[Tone]); 4] = [
    (
        "sigmoids in stops",
        &[
            |stops| logistic(stops + 0.4, 0.5),
            |stops| logistic(stops - 0.15, 0.75),
            |stops| logistic(stops - 0.5, 1.05),
            |stops| logistic(stops + 0.1, 1.5),
        ],
    ),
    (
        "sigmoids in light",
        &[|stops| srgb(sigmoid(grey(stops - 0.4), 1.05)), |stops| srgb(sigmoid(grey(stops + 0.2), 1.9))],
    ),
    (
        "filmic",
        &[
            |stops| {
                let light = 0.8 * grey(stops);
                srgb(light * (2.2 * light + 0.05) / (light * (2.1 * light + 0.66) + 0.17))
            },
            |stops| {
                let tone =
                    |x: f64| (x * (0.22 * x + 0.03) + 0.002) / (x * (0.22 * x + 0.3) + 0.06) - 0.01 / 0.3;
                srgb(tone(1.4 * grey(stops)) / tone(8.0))
            },
        ],
    ),
    ("bare space", &[|stops| srgb(grey(stops - 0.25)), |stops| srgb(grey(stops + 0.6))]),
];
const SPACINGS: [f64; 6] = [1.0 / 3.0, 0.5, 2.0 / 3.0, 1.0, 4.0 / 3.0, 2.0];

/// The number of comparisons, and of those whose range contains the true value.
#[derive(Debug, Clone, Copy, Default)]
struct Coverage {
    all: u32,
    held: u32,
}

impl Coverage {
    fn percent(self) -> f64 {
        100.0 * f64::from(self.held) / f64::from(self.all)
    }

    fn plus(self, other: Self) -> Self {
        Self { all: self.all + other.all, held: self.held + other.held }
    }
}

/// Simulates patches within the frames, and up to one and a half stops beyond them, for one curve and one spacing of
/// frames. Returns the coverage of both.
fn simulate(tone: Tone, spacing: f64, seed: u64) -> [Coverage; 2] {
    let mut noise = Noise(seed);
    let mut held = [Coverage::default(); 2];
    let usable = |level: f64| level > 1.0 && level < 254.0;
    for _ in 0..200 {
        let frames = 3 + (noise.uniform() * 5.0) as u32;
        let start = 1.5 * (noise.uniform() - 0.5) - spacing * f64::from(frames - 1) / 2.0;
        let frames: Vec<Frame> = (0..frames)
            .map(|frame| start + spacing * f64::from(frame))
            .map(|stops| Frame { stops, level: Level::Grey(tone(stops) + 0.7 * noise.normal()) })
            .filter(|frame| matches!(frame.level, Level::Grey(level) if usable(level)))
            .collect();
        let (Some(first), Some(last)) = (frames.first().copied(), frames.last().copied()) else { continue };
        let question = ResponseQuestion { encoding: Encoding::default(), frames, between: Vec::new() };
        // Because of noise, frames in a dark toe may not rise.
        let Ok(fitted) = fit(&question) else { continue };
        for (beyond, held) in held.iter_mut().enumerate() {
            let within = |part: f64| first.stops + (last.stops - first.stops) * part;
            let from = within(noise.uniform());
            let far = 1.5 * noise.uniform();
            let to = match (beyond, noise.uniform() < 0.5) {
                (0, _) => within(noise.uniform()),
                (_, true) => first.stops - far,
                (_, false) => last.stops + far,
            };
            let [reference, patch] = [from, to].map(|stops| tone(stops) + 0.7 * noise.normal());
            if !usable(reference) || !usable(patch) {
                continue;
            }
            let answer = patches::compare(&patches::PatchesQuestion {
                encoding: Encoding::default(),
                reference: Level::Grey(reference),
                readings: vec![Patch { id: None, name: "a".to_owned(), level: Level::Grey(patch) }],
                response: Some(fitted.response.clone()),
                tolerance: Stops::new_unchecked(0.1),
                exposure: None,
                step: crate::light::quantity::marks::Step::default(),
            });
            let [low, high] = answer.readings[0].stops_range.ends().map(|end| end.expect("an end").get());
            held.all += 1;
            held.held += u32::from((low..=high).contains(&(to - from)));
        }
    }
    held
}

/// The coverage by curve and spacing, within the frames and beyond them.
fn coverage_by_curve(curves: &[Tone], seed: u64) -> Vec<Vec<[Coverage; 2]>> {
    let by_spacing = |(index, tone): (usize, &Tone)| {
        let seed = seed + 1000 * index as u64;
        SPACINGS.iter().zip(1..).map(|(spacing, more)| simulate(*tone, *spacing, seed + more)).collect()
    };
    curves.iter().enumerate().map(by_spacing).collect()
}

fn percent_of<'h>(all: impl Iterator<Item = &'h [Coverage; 2]>) -> [f64; 2] {
    let whole =
        all.fold([Coverage::default(); 2], |[a, b], [within, beyond]| [a.plus(*within), b.plus(*beyond)]);
    whole.map(Coverage::percent)
}

#[test]
fn ranges_of_patches_contain_the_true_value_between_and_beyond_the_frames() {
    for (name, curves, seed) in
        [("tuned", &TUNED[..], 77), ("others", &OTHERS[..], 4242), ("unseen", &UNSEEN[..], 90_001)]
    {
        let cells = coverage_by_curve(curves, seed);
        // The stated coverage, over all spacings and curves.
        let whole = percent_of(cells.iter().flatten());
        assert!(whole.iter().all(|percent| (93.0..=98.0).contains(percent)), "{name}: {whole:?}");
        // The coverage is sufficient for each spacing and each curve as well.
        for (index, spacing) in SPACINGS.iter().enumerate() {
            let percent = percent_of(cells.iter().map(|curve| &curve[index]));
            assert!(percent[0] > 93.0 && percent[1] > 90.0, "{name}, {spacing} apart: {percent:?}");
        }
        for (index, curve) in cells.iter().enumerate() {
            let percent = percent_of(curve.iter());
            let has_long_tails = curves.len() == OTHERS.len() && index == OTHERS.len() - 1;
            let least = if has_long_tails { 70.0 } else { 93.0 };
            assert!(percent[0] > 93.0 && percent[1] > least, "{name} {index}: {percent:?}");
        }
    }
}

#[test]
fn ranges_hold_on_curves_that_no_constant_was_tuned_on() {
    let cells: Vec<(&str, Vec<Vec<[Coverage; 2]>>)> = (HELD_OUT.iter().zip(1..))
        .map(|((kind, curves), more)| (*kind, coverage_by_curve(curves, 611_953 * more)))
        .collect();
    let all = || cells.iter().flat_map(|(_, cells)| cells);
    let by_kind = cells.iter().map(|(kind, cells)| ((*kind).to_owned(), percent_of(cells.iter().flatten())));
    let by_spacing = SPACINGS.iter().enumerate().map(|(index, spacing)| {
        (format!("{spacing:.2} stops apart"), percent_of(all().map(|curve| &curve[index])))
    });
    for (what, percent) in by_kind.chain(by_spacing) {
        println!("{what}: within, beyond: {percent:.1?}");
        assert!(percent.iter().all(|percent| *percent > 93.0), "{what}: {percent:?}");
    }
    let whole = percent_of(all().flatten());
    println!("all: within, beyond: {whole:.1?}");
    assert!(whole.iter().all(|percent| (93.0..=98.0).contains(percent)), "{whole:?}");
}

#[test]
fn a_range_contains_three_stops_with_frames_two_stops_apart_on_a_sigmoid() {
    // The wrong answer was +3.27 with 3.22 to 3.31, and no warning.
    let tone = |stops: f64| logistic(stops, 0.9);
    let frames = [-4.0, -2.0, 0.0, 2.0, 4.0].map(|stops| Frame { stops, level: Level::Grey(tone(stops)) });
    let question =
        ResponseQuestion { encoding: Encoding::default(), frames: frames.to_vec(), between: Vec::new() };
    let response = fit(&question).expect("a fit").response;
    for from in [-3.0, -1.5, -1.0, 0.0] {
        let answer = patches::compare(&patches::PatchesQuestion {
            encoding: Encoding::default(),
            reference: Level::Grey(tone(from)),
            readings: vec![Patch { id: None, name: "a".to_owned(), level: Level::Grey(tone(from + 3.0)) }],
            response: Some(response.clone()),
            tolerance: Stops::new_unchecked(0.1),
            exposure: None,
            step: crate::light::quantity::marks::Step::default(),
        });
        let [low, high] = answer.readings[0].stops_range.ends().map(|end| end.expect("an end").get());
        assert!(low <= 3.0 && 3.0 <= high, "{from}: {low} to {high}");
        let has_warning = answer.warnings.iter().any(|one| one.kind == WarningKind::WideGapInResponse);
        assert!(has_warning, "{:?}", answer.warnings);
    }
}
