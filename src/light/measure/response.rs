//! How the levels of a file follow the light: fitted to frames of one patch, bracketed.
//!
//! A rendered file has a tone curve on top of its space's curve. Frames that bracket a change of exposure
//! show what a change of level means (common practice: a third of a stop on the lens can move a mid grey by
//! some 25 levels of 8 bits).

mod certainty;
#[cfg(test)]
mod tests;

pub use self::certainty::Certainty;

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    error::{FieldError, InvalidValue, Pointer},
    measure::{
        curve::Curve,
        space::{Encoding, Level, Space},
    },
    quantity::{Number, Stops},
    remark::Remark,
};

/// Levels closer than this are the same, and so are stops.
const LEAST_LEVEL: f64 = 0.01;
const LEAST_STOPS: f64 = 0.001;
/// Frames farther apart than this leave a curve to guess at, stops (our judgement).
const WIDE_STOPS: f64 = 2.01;

/// One frame of the patch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    /// Its exposure, stops, against whatever all frames are against.
    pub stops: f64,
    /// The level of the patch.
    pub level: Level,
}

/// What levels mean.
#[derive(Debug, Clone, PartialEq)]
pub struct Response {
    /// The levels' encoding.
    pub encoding: Encoding,
    /// Stops by level.
    pub curve: Curve,
}

impl Response {
    /// Through points of level and stops, both rising; none with fewer than two.
    pub fn through(encoding: Encoding, points: Vec<[f64; 2]>) -> Option<Self> {
        let rises = |pair: &[[f64; 2]]| {
            pair[1][0] - pair[0][0] >= LEAST_LEVEL && pair[1][1] - pair[0][1] >= LEAST_STOPS
        };
        points.windows(2).all(rises).then_some(())?;
        Some(Self { encoding, curve: Curve::through(points)? })
    }
}

impl Serialize for Response {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let points = self.curve.points().iter().map(|&[level, stops]| ResponsePoint {
            level: Number::new_unchecked(level),
            stops: Stops::new_unchecked(stops),
        });
        let response =
            ResponseObject { space: self.encoding.space, bits: self.encoding.bits, points: points.collect() };
        response.serialize(serializer)
    }
}

/// What the levels of a file mean; other calls accept it as it stands.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = PatchResponse)]
pub struct ResponseObject {
    /// The space of the levels.
    space: Space,
    /// Bits of a level, 8 or 16.
    bits: u32,
    /// Points of the curve, levels rising.
    points: Vec<ResponsePoint>,
}

/// One point of a response.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = PatchResponsePoint)]
pub struct ResponsePoint {
    /// The level of a grey.
    level: Number,
    /// Its exposure against the other points, stops.
    stops: Stops,
}

/// What is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// The levels' encoding.
    pub encoding: Encoding,
    /// The frames.
    pub frames: Vec<Frame>,
    /// Pairs of levels.
    pub between: Vec<[f64; 2]>,
}

/// What the levels of a file mean, by bracketed frames.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = PatchResponseFit)]
pub struct Fit {
    /// What the levels of this file mean; other calls accept it as it stands.
    #[schema(value_type = ResponseObject)]
    pub response: Response,
    /// The frames, in the order asked.
    pub frames: Vec<FrameFit>,
    /// The stops between pairs of levels, in the order asked.
    pub between: Vec<Between>,
    /// What to doubt.
    pub warnings: Vec<Remark>,
}

/// One frame on the curve.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct FrameFit {
    /// Its exposure against the first frame, stops.
    pub stops: Stops,
    /// Its level, as that of a grey.
    pub level: Number,
    /// How many levels a stop is there; null where the curve stands still.
    pub slope_levels_per_stop: Option<Number>,
    /// Whether it was left out of the fit, at an end of the levels' range.
    pub clipped: bool,
}

/// What lies between two levels.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = StopsBetween)]
pub struct Between {
    /// From this level.
    pub from: Number,
    /// To this level.
    pub to: Number,
    /// The change of exposure, stops; + is brighter.
    pub stops: Stops,
    /// Whether a level lies beyond the frames.
    pub extrapolated: bool,
}

/// Fits. A fault stands at `/frames` where fewer than two of different levels remain.
pub fn fit(question: &Question) -> Result<Fit, FieldError> {
    let encoding = question.encoding;
    let first = question.frames.first().map_or(0.0, |frame| frame.stops);
    let mut warnings = Vec::new();
    let mut used: Vec<[f64; 2]> = Vec::new();
    for frame in question.frames.iter().filter(|frame| !encoding.is_clipped(frame.level)) {
        used.push([frame.stops - first, encoding.grey(frame.level)]);
    }
    if used.len() < question.frames.len() {
        warnings.push(Remark::new(
            "clipped",
            "Frames whose level is at an end of its range were left out: light is no longer told apart there.",
        ));
    }
    let gaps = gaps(&used);
    if !gaps.is_empty() {
        let told = format!(
            "Between the levels {} no frame tells anything for more than two stops: the curve there is a guess. Add frames.",
            gaps.join(", and between ")
        );
        warnings.push(Remark::new("wide_gap", told));
    }
    let (pooled, monotone) = pool(used);
    if !monotone {
        warnings.push(Remark::new(
            "not_monotone",
            "A frame with more exposure is no brighter than one with less: such frames were taken together at their mean. Look for a misfire or a mistyped level.",
        ));
    }
    if pooled.len() < 3 {
        warnings.push(Remark::new(
            "few_frames",
            "Fewer than three frames of different levels: between two the curve is a straight line.",
        ));
    }
    let points = pooled.iter().map(|&[stops, level]| [level, stops]).collect();
    let response = Response::through(encoding, points).ok_or_else(|| {
        InvalidValue::new(
            "fewer than two frames of different exposure and level remain",
            "two or more frames that are not clipped, the brighter with the higher level",
        )
        .at(&Pointer::root().field("frames"))
    })?;
    let curve = &response.curve;
    let between: Vec<Between> = question
        .between
        .iter()
        .map(|&[from, to]| Between {
            from: Number::new_unchecked(from),
            to: Number::new_unchecked(to),
            stops: Stops::new_unchecked(curve.at(to) - curve.at(from)),
            extrapolated: !curve.holds(from) || !curve.holds(to),
        })
        .collect();
    if between.iter().any(|between| between.extrapolated) {
        warnings.push(Remark::new(
            "extrapolated",
            "A level lies beyond the frames; beyond them the curve is taken for a straight line.",
        ));
    }
    let frames = question.frames.iter().map(|frame| {
        let level = encoding.grey(frame.level);
        let slope = curve.slope(level);
        FrameFit {
            stops: Stops::new_unchecked(frame.stops - first),
            level: Number::new_unchecked(level),
            slope_levels_per_stop: (slope > 1e-12).then(|| Number::new_unchecked(1.0 / slope)),
            clipped: encoding.is_clipped(frame.level),
        }
    });
    Ok(Fit { frames: frames.collect(), response, between, warnings })
}

/// Levels between which the frames leave the curve to guess.
fn gaps(used: &[[f64; 2]]) -> Vec<String> {
    let mut sorted = used.to_vec();
    sorted.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let level = |point: &[f64; 2]| (point[1] * 10.0).round() / 10.0;
    let wide = sorted.windows(2).filter(|pair| pair[1][0] - pair[0][0] > WIDE_STOPS);
    wide.map(|pair| format!("{} and {}", level(&pair[0]), level(&pair[1]))).collect()
}

/// Sorted by exposure, equal exposures at their mean, and levels that do not rise taken together (pool of
/// adjacent violators, a textbook method). Whether nothing had to be.
fn pool(mut frames: Vec<[f64; 2]>) -> (Vec<[f64; 2]>, bool) {
    frames.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let mut groups: Vec<([f64; 2], f64)> = Vec::new();
    let mut monotone = true;
    for [stops, level] in frames {
        let mut group = ([stops, level], 1.0);
        while let Some((before, weight)) = groups.last().copied() {
            let same = (group.0[0] - before[0]).abs() < LEAST_STOPS;
            if !same && group.0[1] - before[1] >= LEAST_LEVEL {
                break;
            }
            monotone &= same;
            groups.pop();
            let sum = weight + group.1;
            let mean = |a: f64, b: f64| (a * weight + b * group.1) / sum;
            group = ([mean(before[0], group.0[0]), mean(before[1], group.0[1])], sum);
        }
        groups.push(group);
    }
    (groups.into_iter().map(|(point, _)| point).collect(), monotone)
}
