//! How far what a response says of a level may be off, with 95 %.
//!
//! Frames tell a curve at a few places only. Between them three curves are laid through the same frames, each smooth in
//! another measure of the level: the level itself, its logit (in which a logistic tone curve is straight), and the light
//! by the colour space (in which a file without a tone curve is). Where they part, the frames leave the curve open; how
//! well they foresee a frame that is left out (cross-validation, a textbook method) says how far the truth may lie
//! beyond them. Noise of the levels comes on top. Beyond the frames all of it grows with the distance. The constants
//! are set by simulation, on curves of `tests.rs`, and measured there on others that nobody had looked at.

use crate::light::measure::{curve::Curve, response::Response, space::Encoding};

/// Noise of a patch's level in 8 bits, as a standard deviation (common practice: a patch's mean over a frame).
const NOISE: f64 = 0.7;
/// How many levels of noise are 95 % of what the patch and the frames beside it have (1.96·√1.6).
const NOISY: f64 = 2.48;
/// How much of a left-out frame's error is left halfway between frames, which are then half as far apart.
const HALFWAY: f64 = 0.4;
/// How much of the error of an outer frame, left out, is there so far beyond the frames as it lay beyond the others.
const BEYOND: f64 = 0.9;
/// How far beyond the three curves the truth may lie, as a part of how far they are from the one that is told.
const SPREAD: [f64; 2] = [1.25, 1.5];
/// How much noise tilts the curve beyond the frames, over the distance in frames.
const TILT: f64 = 1.8;
/// What is not known of light beyond the frames, as a part of the distance.
const UNKNOWN: f64 = 0.36;
/// What two frames leave open, as a part of their distance.
const OF_TWO: f64 = 0.2;
/// The farthest that errors grow to, in distances of frames.
const FARTHEST: f64 = 4.0;
/// Nearer to the ends of a range than this, as a part of it, levels are not told apart.
const END: f64 = 1e-4;

/// The measures of a level in which curves are smooth.
#[derive(Clone, Copy)]
enum Measure {
    Level,
    Logit,
    Light,
}

const MEASURES: [Measure; 3] = [Measure::Level, Measure::Logit, Measure::Light];

impl Measure {
    fn of(self, level: f64, encoding: Encoding) -> f64 {
        let part = (level / encoding.greatest()).clamp(END, 1.0 - END);
        match self {
            Self::Level => level,
            Self::Logit => (part / (1.0 - part)).ln(),
            Self::Light => encoding.space.decode(part).log2(),
        }
    }
}

/// A response with what is not known of it.
pub struct Certainty<'r> {
    response: &'r Response,
    /// By the measures in which the frames rise; the level's first, by which all is told.
    curves: Vec<(Measure, Curve)>,
    /// How far each frame is from where the others put it, stops.
    errors: Vec<f64>,
}

/// How far a level's stops may be off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Off {
    /// To the dark.
    pub down: f64,
    /// To the bright.
    pub up: f64,
}

impl<'r> Certainty<'r> {
    /// Of a response.
    pub fn of(response: &'r Response) -> Self {
        let points = response.curve.points();
        let encoding = response.encoding;
        let errors = if points.len() > 2 {
            let error = |left_out: usize| {
                let mut others = points.to_vec();
                let [level, stops] = others.remove(left_out);
                let off = laid(&others, encoding);
                let off: Vec<f64> = off
                    .iter()
                    .map(|(measure, curve)| (curve.at(measure.of(level, encoding)) - stops).abs())
                    .collect();
                off.iter().sum::<f64>() / off.len().max(1) as f64
            };
            (0..points.len()).map(error).collect()
        } else {
            vec![OF_TWO * (points[points.len() - 1][1] - points[0][1]); points.len()]
        };
        Self { response, curves: laid(points, encoding), errors }
    }

    /// How far the stops of a level may be off.
    pub fn at(&self, level: f64) -> Off {
        let encoding = self.response.encoding;
        let points = self.response.curve.points();
        let told = self.response.curve.at(level);
        let each = |level: f64| {
            self.curves.iter().map(move |(measure, curve)| curve.at(measure.of(level, encoding)))
        };
        let mean =
            |of: &dyn Fn(f64) -> f64| each(level).map(of).sum::<f64>() / self.curves.len().max(1) as f64;
        let (low, high) =
            each(level).fold((told, told), |(low, high), stops| (low.min(stops), high.max(stops)));
        let noise = NOISY * NOISE * encoding.greatest() / 255.0;
        let mut noise = [-noise, noise].map(|by| {
            let moved = (level + by).clamp(END * encoding.greatest(), encoding.greatest());
            let stops = each(level).zip(each(moved)).map(|(from, to)| (to - from).abs());
            stops.sum::<f64>() / self.curves.len().max(1) as f64
        });
        let last = points.len() - 1;
        let after = points.partition_point(|point| point[0] <= level).clamp(1, last);
        let (before, beyond) = (after - 1, !self.response.curve.holds(level));
        let (mut error, mut unknown) = (0.0, 0.0);
        if beyond {
            let end = if level < points[0][0] { 0 } else { last };
            let gap = points[after][1] - points[before][1];
            let far = mean(&|stops| (stops - points[end][1]).abs());
            noise = noise.map(|noise| noise * (TILT * far / gap).hypot(1.0));
            error += BEYOND * self.errors[end] * (far / gap).min(FARTHEST);
            unknown = UNKNOWN * far;
        } else {
            let part = (level - points[before][0]) / (points[after][0] - points[before][0]);
            let around = f64::midpoint(self.errors[before], self.errors[after]);
            error += HALFWAY * 4.0 * part * (1.0 - part) * around;
        }
        let spread = SPREAD[usize::from(beyond)];
        let off = |apart: f64, noise: f64| (spread * apart).hypot(noise).hypot(error).hypot(unknown);
        Off { down: off(told - low, noise[0]), up: off(high - told, noise[1]) }
    }

    /// The distance of the frames around a level, stops; none beyond them.
    pub fn gap(&self, level: f64) -> Option<f64> {
        let points = self.response.curve.points();
        let pair = points.windows(2).find(|pair| (pair[0][0]..=pair[1][0]).contains(&level))?;
        Some(pair[1][1] - pair[0][1])
    }
}

/// Curves through points of level and stops, by each measure in which the levels rise.
fn laid(points: &[[f64; 2]], encoding: Encoding) -> Vec<(Measure, Curve)> {
    let laid = |measure: Measure| {
        let points = points.iter().map(|&[level, stops]| [measure.of(level, encoding), stops]).collect();
        Some((measure, Curve::through(points)?))
    };
    MEASURES.into_iter().filter_map(laid).collect()
}
