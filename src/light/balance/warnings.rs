//! Warnings of a balance.

use crate::light::{
    assumption::Assumption,
    balance::{
        Balance, BalanceQuestion, PointRatio,
        problem::Problem,
        ratio::{Counting, LightingRatio},
        reduce::reaches_a_point,
        search::Objective,
        setup::{Control, Set},
    },
    quantity::Number,
    remark::{MissedRatio, RatioOf, Remark},
    set::Light,
};

/// The warnings of an answer. `is_possible`: some lights could make the requested ratio, if there is one.
/// `weights_exceed_tolerance`: other settings keep every point within the tolerance, but the weights prefer these.
pub fn warnings(
    question: &BalanceQuestion,
    answer: &Balance,
    is_possible: bool,
    weights_exceed_tolerance: bool,
) -> Vec<Remark> {
    let set = &question.set;
    let is_continuous =
        |(light, control): (&Light, &Control)| light.unit.scale.is_continuous() && control.fixed.is_none();
    let has_continuous = set.scene.lights.iter().zip(&set.controls).any(is_continuous);
    let no_key = |ratio: LightingRatio| matches!(ratio.counting, Counting::Sides) && ratio.value - 1.0 < 1e-9;
    let no_remedy = || Remark::NoSingleRemedy {
        fixed_lights: fixed_lights(question),
        all_tried: answer.remedies_complete,
    };
    let unrated = set.scene.lights.iter().any(|light| light.unit.energy.is_none());
    let least_energy = matches!(question.prefer, Objective::LeastEnergy { .. });
    let has_estimated_beam = answer.assumptions.iter().any(|it| matches!(it, Assumption::GuideNumber { .. }));
    let has_remedies = !answer.remedies.is_empty();
    let within_tolerance = Remark::RemediesWithinTolerance { tolerance: question.tolerance };
    [
        has_remedies.then_some(within_tolerance),
        missed_ratios(question, answer),
        has_continuous.then_some(Remark::ContinuousScale),
        (!answer.optimality.proven).then_some(Remark::NotProven),
        (!answer.feasible && !has_remedies).then(no_remedy),
        question.ratio.is_some_and(no_key).then_some(Remark::NoKeyAtAll),
        (!is_possible).then_some(Remark::NoLightsMakeIt),
        weights_exceed_tolerance.then_some(Remark::WeightsOverTolerance),
        (least_energy && unrated).then_some(Remark::LeastEnergyEstimated),
        has_estimated_beam.then_some(Remark::SetBeamEstimated),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// Lights that reach none of the points, so that their effect is unknown.
pub fn idle_lights(set: &Set, problem: &Problem) -> Option<Remark> {
    let lights = set.scene.lights.iter().enumerate();
    let idle = lights.filter(|(light, _)| !reaches_a_point(problem, *light));
    let lights: Vec<String> = idle.map(|(_, light)| light.name.clone()).collect();
    (!lights.is_empty()).then_some(Remark::LightReachesNoPoint { lights })
}

/// The lights with a fixed setting.
fn fixed_lights(question: &BalanceQuestion) -> Vec<String> {
    let lights = question.set.scene.lights.iter().zip(&question.set.controls);
    lights.filter(|(_, control)| control.fixed.is_some()).map(|(light, _)| light.name.clone()).collect()
}

/// Ratios farther from their target than the tolerance. Each point may still be within it: a ratio adds the errors of
/// two points, and ambient light masks the lights.
fn missed_ratios(question: &BalanceQuestion, answer: &Balance) -> Option<Remark> {
    let asked = answer.ratio.as_ref().map(|pair| match pair.counting {
        Counting::Sides => (RatioOf::Sides, &pair.sides),
        Counting::Lights => (RatioOf::Lights, &pair.lights),
    });
    let asked = asked.and_then(|(of, pair)| Some((of, pair.target?, pair.achieved)));
    let between = answer.points.iter().filter_map(|point| {
        let PointRatio { to, target, achieved } = point.ratio.as_ref()?;
        Some((RatioOf::Points([to.clone(), point.name.clone()]), *target, *achieved))
    });
    let far = asked.into_iter().chain(between).filter(|(_, target, achieved)| {
        achieved.is_none_or(|got| !question.tolerates((got.get() / target.get()).log2()))
    });
    let ratios: Vec<MissedRatio> = far
        .map(|(of, target, achieved)| MissedRatio {
            of,
            target: target.get(),
            achieved: achieved.map(Number::get),
        })
        .collect();
    (!ratios.is_empty()).then_some(Remark::RatioMissed { ratios })
}
