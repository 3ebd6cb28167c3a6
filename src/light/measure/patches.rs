//! Compares grey patches in frames with a reference: the difference in stops, and the correction that removes it.

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    assumption::{Assumption, AssumptionKind},
    error::Part,
    id::Id,
    measure::{
        open_range::OpenRange,
        response::{Response, UncertaintyModel},
        space::{Encoding, Level},
    },
    quantity::{FNumber, Stops, marks::Step, nominal::Nominal},
    remark::{Remark, Warning, WarningKind},
    set::exposure::FlashExposure,
};

/// Local contrast of common tone curves relative to the curve of the colour space, from flat to steep (common practice,
/// wide on purpose: a third of a stop has been seen to read as more than half a stop).
pub const CONTRAST: [f64; 2] = [0.8, 2.0];
/// The curve is uncertain between frames farther apart than this, stops (our judgement: beyond this the error of the
/// curve outweighs noise).
const WIDE_STOPS: f64 = 1.01;
/// The largest rounding error of a level: half a level.
const ROUNDING: f64 = 0.5;

/// One patch to compare.
#[derive(Debug, Clone, PartialEq)]
pub struct Patch {
    /// The client's id for this entry.
    pub id: Option<Id>,
    /// Its name.
    pub name: String,
    /// Its level.
    pub level: Level,
}

/// The reference, and the patches to compare with it.
#[derive(Debug, Clone, PartialEq)]
pub struct PatchesQuestion {
    /// The encoding of the levels.
    pub encoding: Encoding,
    /// The level that all patches are compared with.
    pub reference: Level,
    /// The patches.
    pub readings: Vec<Patch>,
    /// The fitted response of the file, if known.
    pub response: Option<Response>,
    /// The largest difference that still counts as a match.
    pub tolerance: Stops,
    /// The exposure of the frames.
    pub exposure: Option<FlashExposure>,
    /// The step of the series of marks.
    pub step: Step,
}

/// Patches compared with their reference.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = PatchComparison)]
pub struct Comparison {
    /// The patches, in the order of the request.
    pub readings: Vec<PatchResult>,
    /// Assumptions.
    pub assumptions: Vec<Assumption>,
    /// Warnings.
    pub warnings: Vec<Warning>,
}

/// One patch compared with the reference.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PatchResult {
    /// The client's id for the patch.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub id: Option<Id>,
    /// Its name.
    pub name: String,
    /// Difference from the reference, stops; + is brighter. If the patch is clipped, this is an end of the range.
    pub stops: Stops,
    /// The smallest and largest possible difference, stops; null at an end that is open because a level is clipped. With a `response` it is a 95 % interval that covers the noise of the levels (0.7 of 255) and the uncertainty of the curve; it is wider if the frames are farther apart, and beyond the frames.
    pub stops_range: OpenRange,
    /// Whether a channel of the patch is at an end of its range.
    pub clipped: bool,
    /// Whether the difference is within the tolerance.
    pub matches: bool,
    /// The aperture at which the patch would match; null without an exposure.
    pub f_number: Option<Nominal>,
    /// The change of power that would make the patch match, stops; null without an exposure.
    pub power_change_stops: Option<Stops>,
}

/// Compares each patch with the reference.
pub fn compare(question: &PatchesQuestion) -> Comparison {
    let model = question.response.as_ref().map(UncertaintyModel::from_response);
    let readings =
        question.readings.iter().map(|patch| compare_patch(question, model.as_ref(), patch)).collect();
    let mut assumptions = Vec::new();
    let mut warnings = Vec::new();
    match &question.response {
        None => {
            let [flattest, steepest] = CONTRAST;
            assumptions.push(AssumptionKind::NoToneCurve { flattest, steepest }.into());
        }
        Some(response) => {
            let levels = || {
                let all = question.readings.iter().map(|patch| patch.level).chain([question.reference]);
                all.map(|level| response.encoding.grey(level))
            };
            if levels().any(|level| !response.curve.holds(level)) {
                warnings.push(Remark::about(Part::Response, WarningKind::BeyondResponse));
            }
            let is_wide = |gap: f64| gap > WIDE_STOPS;
            if levels().any(|level| model.as_ref().and_then(|model| model.gap(level)).is_some_and(is_wide)) {
                warnings.push(Remark::about(Part::Response, WarningKind::WideGapInResponse));
            }
            if response.curve.points().len() < 3 {
                warnings.push(Remark::about(Part::Response, WarningKind::FewPointsInResponse));
            }
        }
    }
    if question.encoding.is_clipped(question.reference) {
        warnings.push(Remark::about(Part::ReferenceLevel, WarningKind::ReferenceClipped));
    }
    Comparison { readings, assumptions, warnings }
}

fn compare_patch(question: &PatchesQuestion, model: Option<&UncertaintyModel>, patch: &Patch) -> PatchResult {
    let encoding = question.encoding;
    let (stops, range) = match question.response.as_ref().zip(model) {
        Some((response, model)) => {
            let (from, to) = (encoding.grey(question.reference), encoding.grey(patch.level));
            (response.curve.at(to) - response.curve.at(from), model.between(from, to))
        }
        None => {
            // Levels below half a level count as half a level, so that black has a logarithm.
            let light = |level: Level, by: f64| {
                let grey = (encoding.grey(level) + by).clamp(ROUNDING, encoding.greatest());
                encoding.space.decode(grey / encoding.greatest()).log2()
            };
            let stops = light(patch.level, 0.0) - light(question.reference, 0.0);
            let low = light(patch.level, -ROUNDING) - light(question.reference, ROUNDING);
            let high = light(patch.level, ROUNDING) - light(question.reference, -ROUNDING);
            let ends = CONTRAST.map(|contrast| [low / contrast, high / contrast]);
            let ends = ends.as_flattened();
            let least = ends.iter().copied().fold(f64::INFINITY, f64::min);
            let most = ends.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            (stops, [least, most])
        }
    };
    let exposure = question.exposure;
    PatchResult {
        id: patch.id.clone(),
        name: patch.name.clone(),
        stops: Stops::new_unchecked(stops),
        stops_range: OpenRange::between(question.reference, patch.level, encoding, range),
        clipped: encoding.is_clipped(patch.level),
        matches: !encoding.is_clipped(patch.level)
            && !encoding.is_clipped(question.reference)
            && stops.abs() <= question.tolerance.get() + 1e-9,
        f_number: exposure.map(|exposure| {
            let f_number = exposure.f_number.get() * (stops / 2.0).exp2();
            Nominal::f_number(FNumber::new_unchecked(f_number), question.step)
        }),
        power_change_stops: exposure.map(|_| Stops::new_unchecked(-stops)),
    }
}
