//! Predicts the exposure at each metering point.
//!
//! Light adds up, so the N² of all lights and of the ambient light are summed (CIE e-ILV: illuminances add). Luminous
//! exposure is H = N²·C/S (ISO 2720:1974 applied to flash).

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    assumption::{Assumption, AssumptionKind},
    error::{InvalidPart, InvalidValue, Part},
    id::Id,
    quantity::{
        Estimate, FNumber, LuxSeconds, Number, Stops, constants::CONSTANT_C, nominal::Nominal, rules::Rules,
    },
    remark::{Caution, CautionKind, Remark, Warning, WarningKind},
    set::{
        self, Light, LightMatrix, Scene,
        packs::PackResult,
        ratio::SIDES,
        target::{Target, TargetSide},
    },
    uncertainty::{Uncertainty, sureness::Sureness},
    unit::Setting,
};

/// A set of lights with their settings.
#[derive(Debug, Clone, PartialEq)]
pub struct PredictQuestion {
    /// The lights, points and known light.
    pub scene: Scene,
    /// The largest error that counts as within the tolerance.
    pub tolerance: Stops,
    /// How numbers are read and written.
    pub rules: Rules,
}

/// The predicted exposure at each metering point.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Prediction {
    /// The settings of the lights, in the order of the request.
    pub settings: Vec<PredictedSetting>,
    /// The packs, in the order of the request; absent if there are none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub packs: Vec<PackResult>,
    /// The points, in the order of the request; if it lists no points, in the order of the placements.
    pub points: Vec<PredictedPoint>,
    /// The ratios between points: from `lit side` to `shadow side` if two points have these names, and those that targets ask for.
    pub ratios: Vec<PredictedRatio>,
    /// The chance that all points together are within the tolerance, 0 to 1: what they have in common is counted once.
    pub chance_within_tolerance: Number,
    /// The lens correction of all points, stops: close-up, transmission, filters and error of the aperture mark.
    pub lens_stops: Stops,
    /// The assumptions behind the answer.
    pub assumptions: Vec<Assumption>,
    /// Warnings.
    pub warnings: Vec<Warning>,
    /// Safety cautions.
    pub cautions: Vec<Caution>,
}

/// The setting of one light.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PredictedSetting {
    /// The name of the light.
    pub light: String,
    /// Its id.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub light_id: Option<Id>,
    /// Its setting; null if it is off.
    pub setting: Option<Setting>,
    /// Flashes in one exposure.
    pub pops: u32,
    /// The colour shift of its filters, mired; + is towards amber. Null if none of them states one.
    pub light_mired: Option<Number>,
    /// The share of the frame that it lights: below 1 for a flash without high-speed sync at an exposure time shorter than the sync time. Null if the times are not stated.
    pub frame_share: Option<Number>,
}

/// The predicted exposure at one point.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PredictedPoint {
    /// The client's id for the point.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub id: Option<Id>,
    /// The name of the point.
    pub name: String,
    /// The aperture that a meter reads there; null if no light reaches the point.
    pub f_number: Option<Nominal>,
    /// What to set on the lens for this light: with the losses of the lens, which a meter does not see, and the meter's offset. With `mark_corrections`, its mark and `off_by_stops` count the mark's own correction, and its value none. Null if no light reaches the point.
    pub set_f_number: Option<Nominal>,
    /// Luminous exposure, lx·s.
    pub luminous_exposure_lx_s: LuxSeconds,
    /// The target, stops relative to the working exposure; 0 if the point has none.
    pub target_stops: Stops,
    /// The side of the target that is wanted: the target itself, at most the target, or at least the target.
    pub target_side: TargetSide,
    /// The light in the picture, stops relative to the working exposure; null if no light reaches the point.
    pub achieved_stops: Option<Stops>,
    /// The light in the picture minus the point's target, or minus the working exposure if it has none, stops; + is too bright; with a one-sided target 0 on the side that is wanted; null if no light reaches the point.
    pub error_stops: Option<Stops>,
    /// The uncertainty of the light in the camera; null if no light reaches the point.
    pub uncertainty: Option<Uncertainty>,
    /// The chance that the error is within the tolerance, 0 to 1.
    pub chance_within_tolerance: Number,
    /// The part of each light, in the order of the request.
    pub contributions: Vec<Share>,
    /// The share of the ambient light; null if none was given.
    pub ambient: Option<AmbientShare>,
}

/// The share of one light at one point.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = LightShare)]
pub struct Share {
    /// The name of the light.
    pub light: String,
    /// Its id.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub light_id: Option<Id>,
    /// Its light alone relative to correct exposure at the working aperture, stops; null if it gives none.
    pub stops: Option<Stops>,
    /// Its share of the light at the point, 0 to 1.
    pub share: Number,
}

/// The share of the ambient light at one point.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct AmbientShare {
    /// The ambient light alone relative to correct exposure at the working aperture, stops; null if there is none.
    pub stops: Option<Stops>,
    /// Its share of the light at the point, 0 to 1.
    pub share: Number,
}

/// Another point's light over this point's.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PredictedRatio {
    /// This point.
    pub point: String,
    /// Its id.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub point_id: Option<Id>,
    /// The other point.
    pub to: String,
    /// Its id.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub to_id: Option<Id>,
    /// The target ratio, to 1; null if none is asked for.
    pub target: Option<Number>,
    /// The ratio that comes out, to 1; null if this point gets no light.
    pub achieved: Option<Number>,
    /// The uncertainty of the ratio, in which cancels what both points have in common; null if one of them gets no light.
    pub uncertainty: Option<Uncertainty>,
}

/// Predicts the exposure at every point.
///
/// # Errors
///
/// Those of [`Scene::light`], [`Scene::check_packs`] and [`Scene::targets`], and an error at `/points` if the set has no points.
pub fn predict(question: &PredictQuestion) -> Result<Prediction, Vec<InvalidPart>> {
    let scene = &question.scene;
    let mut faults = Vec::new();
    let matrix = scene.light(&mut faults);
    let below: Vec<Option<Stops>> = scene.lights.iter().map(|light| light.control.below()).collect();
    scene.check_packs(&below, &mut faults);
    if scene.points.is_empty() {
        faults.push(InvalidValue::NoPoint.in_part(Part::Points));
    }
    let targets = if faults.is_empty() { scene.targets(&matrix, &mut faults).light } else { Vec::new() };
    if !faults.is_empty() {
        return Err(faults);
    }
    let power = |light: &Light| light.control.below().map_or(0.0, |below| light.unit.power(below));
    let powers: Vec<f64> = scene.lights.iter().map(power).collect();
    let light_at: Vec<f64> =
        (0..scene.points.len()).map(|point| total_light(&matrix, point, &powers)).collect();
    let errors: Vec<f64> =
        light_at.iter().zip(&targets).map(|(light, target)| (light / target).log2()).collect();
    let sure = Sureness::of_set(scene, &matrix, &powers, &errors, question.tolerance);
    let points: Vec<PredictedPoint> = (0..scene.points.len())
        .map(|point| {
            let light = (light_at[point], targets[point]);
            predicted_point(question, &matrix, &sure, point, &powers, light)
        })
        .collect();
    let mut warnings = Vec::new();
    let unlit: Vec<usize> = (0..points.len()).filter(|&point| points[point].f_number.is_none()).collect();
    if !unlit.is_empty() {
        let points = unlit.iter().map(|&point| scene.points[point].name.clone()).collect();
        warnings.push(Remark::about(Part::of_points(&unlit), WarningKind::Unlit { points }));
    }
    warnings.extend(scene.unused_packs());
    warnings.extend(set::warnings(scene, &matrix, |index| below[index].is_some()));
    warnings.extend(sure.advice.clone());
    let mut cautions = set::cautions(scene, &matrix, &below);
    if scene.lights.iter().any(|light| light.control.pops > 3) {
        cautions.extend([CautionKind::Heat.into(), CautionKind::Photosensitivity.into()]);
    }
    let setting = |light: &Light| PredictedSetting {
        light: light.name.clone(),
        light_id: light.id.clone(),
        setting: light.control.below().map(|below| light.unit.setting(below)),
        pops: light.control.pops,
        light_mired: light.mired(),
        frame_share: light.frame_share(scene.shutter()),
    };
    let full = scene.lights.iter().enumerate().filter(|(_, light)| light.control.setting.is_none());
    let full = full.map(|(index, light)| {
        let kind = AssumptionKind::FullPower { light: light.name.clone() };
        Assumption::about(Part::Light(index, None), kind)
    });
    Ok(Prediction {
        settings: scene.lights.iter().map(setting).collect(),
        packs: scene.packs_at(&below),
        ratios: ratios(scene, &light_at, &sure),
        points,
        chance_within_tolerance: sure.chance,
        lens_stops: Stops::new_unchecked(scene.lens_stops()),
        assumptions: full.chain(matrix.assumptions).chain(sure.assumptions).collect(),
        warnings,
        cautions,
    })
}

/// The light at a point with every light at a part of its power.
fn total_light(matrix: &LightMatrix, point: usize, powers: &[f64]) -> f64 {
    let lights = matrix.gain[point].iter().zip(powers).map(|(gain, power)| gain.typical * power);
    matrix.ambient[point] + lights.sum::<f64>()
}

fn predicted_point(
    PredictQuestion { scene, rules, .. }: &PredictQuestion,
    matrix: &LightMatrix,
    sure: &Sureness,
    index: usize,
    powers: &[f64],
    (total, target): (f64, f64),
) -> PredictedPoint {
    let point = &scene.points[index];
    let working = scene.exposure.f_number.squared();
    let ambient = matrix.ambient[index];
    let against =
        |light: f64, other: f64| (light > 0.0).then(|| Stops::new_unchecked((light / other).log2()));
    let share = |part: f64| Number::new_unchecked(if total > 0.0 { part / total } else { 0.0 });
    let f_number = |value: FNumber| (total > 0.0).then(|| Nominal::f_number(value, rules.step));
    let contribution = |((light, gain), power): ((&Light, &Estimate<f64>), &f64)| Share {
        light: light.name.clone(),
        light_id: light.id.clone(),
        stops: against(gain.typical * power, working),
        share: share(gain.typical * power),
    };
    let has_ambient = scene.ambient.iter().any(|entry| entry.point == index);
    let in_picture = FNumber::new_unchecked((total * scene.lens.stops_at_any().exp2()).sqrt());
    // The working exposure, as light before the lens like the target.
    let before_lens = working / scene.lens_stops().exp2();
    let target_side = point.target_side();
    PredictedPoint {
        id: point.id.clone(),
        name: point.name.clone(),
        f_number: f_number(scene.metered(total)),
        set_f_number: (total > 0.0).then(|| scene.lens.nominal(in_picture, rules.step)),
        luminous_exposure_lx_s: LuxSeconds::new_unchecked(total * CONSTANT_C / scene.exposure.iso.get()),
        target_stops: Stops::new_unchecked((target / before_lens).log2()),
        target_side,
        achieved_stops: against(total, before_lens),
        error_stops: (total > 0.0).then(|| Stops::new_unchecked(target_side.error((total / target).log2()))),
        uncertainty: sure.points[index].clone(),
        chance_within_tolerance: sure.chances[index],
        contributions: scene.lights.iter().zip(&matrix.gain[index]).zip(powers).map(contribution).collect(),
        ambient: has_ambient
            .then(|| AmbientShare { stops: against(ambient, working), share: share(ambient) }),
    }
}

/// The ratios between points that have the names of a lit and a shadow side, and those that targets ask for.
fn ratios(scene: &Scene, light_at: &[f64], sure: &Sureness) -> Vec<PredictedRatio> {
    let ratio = |point: usize, to: usize, target: Option<f64>| PredictedRatio {
        point: scene.points[point].name.clone(),
        point_id: scene.points[point].id.clone(),
        to: scene.points[to].name.clone(),
        to_id: scene.points[to].id.clone(),
        target: target.map(Number::new_unchecked),
        achieved: (light_at[point] > 0.0).then(|| Number::new_unchecked(light_at[to] / light_at[point])),
        uncertainty: sure.budget.between(to, point),
    };
    let asked = scene.points.iter().enumerate().filter_map(|(index, point)| match point.target {
        Some(Target::Ratio { ratio: target, to }) => Some(ratio(index, to, Some(target))),
        _ => None,
    });
    let asked: Vec<PredictedRatio> = asked.collect();
    let side = |name: &str| scene.points.iter().position(|point| point.name == name);
    let sides = SIDES.map(side);
    match sides {
        [Some(lit), Some(shadow)] if asked.iter().all(|known| known.point != SIDES[1]) => {
            std::iter::once(ratio(shadow, lit, None)).chain(asked).collect()
        }
        _ => asked,
    }
}
