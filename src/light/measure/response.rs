//! The response of a file, from level to exposure, fitted to bracketed frames of one patch.
//!
//! A rendered file has a tone curve in addition to the curve of its colour space. Bracketed frames show how many stops
//! a change of level means (common practice: a third of a stop on the lens can move a mid grey by some 25 levels of
//! 8 bits).

#[cfg(test)]
mod tests;
mod uncertainty;

pub use self::uncertainty::UncertaintyModel;

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    error::{InvalidPart, InvalidValue, Part},
    measure::{
        curve::Curve,
        open_range::OpenRange,
        space::{Encoding, Level, Space},
    },
    quantity::{Number, Stops},
    remark::{Remark, Warning, WarningKind},
};

/// Levels closer than this count as equal; below, the same for stops.
const LEAST_LEVEL: f64 = 0.01;
const LEAST_STOPS: f64 = 0.001;
/// The curve is a guess between frames farther apart than this, stops (our judgement).
const WIDE_STOPS: f64 = 2.01;

/// One bracketed frame of the patch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    /// The exposure of the frame in stops, relative to a reference common to all frames.
    pub stops: f64,
    /// The level of the patch.
    pub level: Level,
}

/// The response of a file.
#[derive(Debug, Clone, PartialEq)]
pub struct Response {
    /// The encoding of the levels.
    pub encoding: Encoding,
    /// The curve from level to stops.
    pub curve: Curve,
}

impl Response {
    /// The response through points of level and stops. `None` if there are fewer than two, or if level and stops do not
    /// both rise.
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

/// The response of a file: the exposure that each level means. Other calls accept this object unchanged.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = PatchResponse)]
pub struct ResponseObject {
    /// The colour space of the levels.
    space: Space,
    /// Bits of a level, 8 or 16.
    bits: u32,
    /// Points of the curve, in order of rising level.
    points: Vec<ResponsePoint>,
}

/// One point of a response.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = PatchResponsePoint)]
pub struct ResponsePoint {
    /// The level of a neutral grey.
    level: Number,
    /// The exposure relative to the other points, stops.
    stops: Stops,
}

/// Bracketed frames, and the pairs of levels to compare.
#[derive(Debug, Clone, PartialEq)]
pub struct ResponseQuestion {
    /// The encoding of the levels.
    pub encoding: Encoding,
    /// The frames.
    pub frames: Vec<Frame>,
    /// Pairs of levels whose difference in stops was requested.
    pub between: Vec<[f64; 2]>,
}

/// The response of a file, fitted to bracketed frames.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = PatchResponseFit)]
pub struct Fit {
    /// The response of this file. Other calls accept this object unchanged.
    #[schema(value_type = ResponseObject)]
    pub response: Response,
    /// The frames, in the order of the request.
    pub frames: Vec<FrameFit>,
    /// The stops between pairs of levels, in the order of the request.
    pub between: Vec<Between>,
    /// Warnings.
    pub warnings: Vec<Warning>,
}

/// One frame and the slope of the curve at its level.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct FrameFit {
    /// The exposure relative to the first frame, stops.
    pub stops: Stops,
    /// The level of the grey with the same luminance.
    pub level: Number,
    /// The number of levels per stop at this level; null if the exposure on the curve does not change with the level there.
    pub slope_levels_per_stop: Option<Number>,
    /// Whether the frame is at an end of the range of levels and was left out of the fit.
    pub clipped: bool,
}

/// The difference in exposure between two levels.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = StopsBetween)]
pub struct Between {
    /// The first level.
    pub from: Number,
    /// The second level.
    pub to: Number,
    /// The change of exposure from the first level to the second, stops; + is brighter.
    pub stops: Stops,
    /// The 95 % interval of `stops`, from the noise of the levels (0.7 of 255) and the uncertainty of the curve, which is larger between frames that are farther apart, and beyond them; null at an end that is open because a level is clipped.
    pub stops_range: OpenRange,
    /// Whether a level is outside the range of the frames.
    pub extrapolated: bool,
}

/// Fits the response to the frames.
///
/// # Errors
///
/// An error at `/frames` if fewer than two frames of different exposure and level remain.
pub fn fit(question: &ResponseQuestion) -> Result<Fit, InvalidPart> {
    let encoding = question.encoding;
    let first = question.frames.first().map_or(0.0, |frame| frame.stops);
    let mut warnings = Vec::new();
    let mut used: Vec<[f64; 2]> = Vec::new();
    for frame in question.frames.iter().filter(|frame| !encoding.is_clipped(frame.level)) {
        used.push([frame.stops - first, encoding.grey(frame.level)]);
    }
    if used.len() < question.frames.len() {
        warnings.push(Remark::about(Part::Frames, WarningKind::FramesClipped));
    }
    let tenths = |level: f64| (level * 10.0).round() / 10.0;
    warnings.extend(gaps(&used).into_iter().map(|[from, to]| {
        let gap = WarningKind::WideGapBetweenFrames { from_level: tenths(from), to_level: tenths(to) };
        Remark::about(Part::Frames, gap)
    }));
    let (pooled, monotone) = pool(used);
    if !monotone {
        warnings.push(Remark::about(Part::Frames, WarningKind::NotMonotone));
    }
    if pooled.len() < 3 {
        warnings.push(Remark::about(Part::Frames, WarningKind::FewFrames));
    }
    let points = pooled.iter().map(|&[stops, level]| [level, stops]).collect();
    let response = Response::through(encoding, points)
        .ok_or_else(|| InvalidValue::TooFewFrames.in_part(Part::Frames))?;
    let curve = &response.curve;
    let model = UncertaintyModel::from_response(&response);
    let between: Vec<Between> = question
        .between
        .iter()
        .map(|&[from, to]| Between {
            from: Number::new_unchecked(from),
            to: Number::new_unchecked(to),
            stops: Stops::new_unchecked(curve.at(to) - curve.at(from)),
            stops_range: OpenRange::between(
                Level::Grey(from),
                Level::Grey(to),
                encoding,
                model.between(from, to),
            ),
            extrapolated: !curve.holds(from) || !curve.holds(to),
        })
        .collect();
    if between.iter().any(|between| between.extrapolated) {
        warnings.push(Remark::about(Part::Frames, WarningKind::BeyondFrames));
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
    let frames = frames.collect();
    Ok(Fit { response, frames, between, warnings })
}

/// Pairs of neighbouring levels whose frames are so far apart that the curve between them is a guess.
fn gaps(used: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let mut sorted = used.to_vec();
    sorted.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let wide = sorted.windows(2).filter(|pair| pair[1][0] - pair[0][0] > WIDE_STOPS);
    wide.map(|pair| [pair[0][1], pair[1][1]]).collect()
}

/// Sorts the frames by exposure, averages frames of equal exposure, and averages neighbours whose levels do not rise
/// (pool adjacent violators, a textbook method). The flag is true if the levels rose without such averaging.
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
