//! Warnings of a balance.

use crate::light::{
    assumption::AssumptionKind,
    balance::{Balance, BalanceQuestion, PointRatio, search::Objective},
    error::Part,
    quantity::Number,
    remark::{Remark, Warning, WarningKind},
    set::{
        Light, LightMatrix, Scene,
        control::LightSetting,
        ratio::{Counting, LightingRatio},
    },
};

/// The warnings of an answer. `is_possible`: some lights could make the requested ratio, if there is one.
/// `weights_exceed_tolerance`: other settings keep every point within the tolerance, but the weights prefer these.
pub fn warnings(
    question: &BalanceQuestion,
    answer: &Balance,
    is_possible: bool,
    weights_exceed_tolerance: bool,
) -> Vec<Warning> {
    let scene = &question.scene;
    let about_lights = |is_so: &dyn Fn(&Light) -> bool, warning: WarningKind| {
        let lights = scene.lights.iter().enumerate().filter(|(_, light)| is_so(light));
        let lights: Vec<usize> = lights.map(|(index, _)| index).collect();
        (!lights.is_empty()).then(|| Remark::about(Part::of_lights(&lights), warning))
    };
    let is_continuous = |light: &Light| light.unit.scale.is_continuous() && light.control.held().is_none();
    let no_key = |ratio: LightingRatio| matches!(ratio.counting, Counting::Sides) && ratio.value - 1.0 < 1e-9;
    let least_energy = matches!(question.prefer, Objective::LeastEnergy { .. });
    let is_unrated = |light: &Light| least_energy && light.unit.energy.is_none() && light.unit.lamp.is_none();
    let is_estimated = |light: &Light| {
        let is_it = |kind: &AssumptionKind| matches!(kind, AssumptionKind::GuideNumber { light: name, .. } if *name == light.name);
        answer.assumptions.iter().any(|assumption| is_it(&assumption.kind))
    };
    let has_remedies = !answer.remedies.is_empty();
    let lacks_remedy = !answer.feasible && !has_remedies;
    let is_fixed = |light: &Light| matches!(light.control.held(), Some(LightSetting::Below(_)));
    let fixed = scene.lights.iter().filter(|light| is_fixed(light)).map(|light| light.name.clone());
    let fixed = WarningKind::LightsFixed { lights: fixed.collect() };
    let about_ratio = |warning| Remark::about(Part::Ratio, warning);
    let mut warnings = Vec::new();
    warnings.extend(missed_ratios(question, answer));
    warnings.extend(about_lights(&is_continuous, WarningKind::ContinuousScale));
    warnings.extend((!answer.optimality.proven).then_some(WarningKind::NotProven.into()));
    if lacks_remedy {
        warnings.push(WarningKind::NoSingleRemedy.into());
        warnings.extend(about_lights(&is_fixed, fixed));
        warnings.extend((!answer.remedies_complete).then_some(WarningKind::RemediesNotTried.into()));
    }
    warnings.extend(scene.ratio.is_some_and(no_key).then(|| about_ratio(WarningKind::NoKeyAtAll)));
    warnings.extend((!is_possible).then(|| about_ratio(WarningKind::NoLightsMakeIt)));
    if weights_exceed_tolerance {
        warnings.push(Remark::about(Part::Points, WarningKind::WeightsOverTolerance));
    }
    warnings.extend(about_lights(&is_unrated, WarningKind::LeastEnergyEstimated));
    warnings.extend(about_lights(&is_estimated, WarningKind::SetBeamEstimated));
    warnings
}

/// Lights that reach none of the points, so that their effect is unknown.
pub fn idle_lights(scene: &Scene, lit: &LightMatrix) -> Option<Warning> {
    let lights = scene.lights.iter().enumerate();
    let idle = lights.filter(|(light, _)| lit.gain.iter().all(|gain| gain[*light].typical <= 0.0));
    let (indexes, lights): (Vec<usize>, Vec<String>) =
        idle.map(|(at, light)| (at, light.name.clone())).unzip();
    let part = Part::of_lights(&indexes);
    (!lights.is_empty()).then_some(Remark::about(part, WarningKind::LightReachesNoPoint { lights }))
}

/// Ratios farther from their target than the tolerance. Each point may still be within it: a ratio adds the errors of
/// two points, and ambient light masks the lights.
fn missed_ratios(question: &BalanceQuestion, answer: &Balance) -> Vec<Warning> {
    let is_missed = |target: Number, achieved: Option<Number>| {
        achieved.is_none_or(|got| !question.tolerates((got.get() / target.get()).log2()))
    };
    let asked = answer.ratio.as_ref().and_then(|ratio| {
        let counting = ratio.counting;
        let pair = match counting {
            Counting::Sides => &ratio.sides,
            Counting::Lights => &ratio.lights,
        };
        let target = pair.target.filter(|target| is_missed(*target, pair.achieved))?.get();
        let achieved = pair.achieved.map(|got| three_digits(got.get()));
        let warning = match (achieved, counting) {
            (None, _) => WarningKind::RatioWithoutFill { target },
            (Some(achieved), Counting::Sides) => WarningKind::SidesRatioMissed { achieved, target },
            (Some(achieved), Counting::Lights) => WarningKind::LightsRatioMissed { achieved, target },
        };
        Some(Remark::about(Part::Ratio, warning))
    });
    let between = answer.points.iter().enumerate().filter_map(|(index, named)| {
        let PointRatio { to, target, achieved, .. } = named.ratio.as_ref()?;
        let (to, point, target, achieved) = is_missed(*target, *achieved)
            .then(|| (to.clone(), named.name.clone(), target.get(), *achieved))?;
        let warning = match achieved {
            None => WarningKind::RatioWithoutLight { to, point, target },
            Some(got) => {
                WarningKind::PointRatioMissed { to, point, achieved: three_digits(got.get()), target }
            }
        };
        Some(Remark::about(Part::Point(index, None), warning))
    });
    asked.into_iter().chain(between).collect()
}

/// An achieved ratio, rounded to three digits: one that is missed differs in them.
fn three_digits(ratio: f64) -> f64 {
    format!("{ratio:.2e}").parse().unwrap_or(ratio)
}
