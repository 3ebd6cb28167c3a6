//! Assumptions, warnings and safety cautions for the light of a set.

use crate::light::{
    assumption::Assumption,
    quantity::{Joules, Stops, constants::MAINS_LOAD_J, significant},
    remark::Remark,
    set::{Light, LightMatrix, Origin, Scene, beam::Beam, modifier::Modifier, placement::beam_at_full},
};

/// Below this distance at high power the answer carries a caution about eyes, m (our judgement).
const NEAR_M: f64 = 1.0;

/// Beyond this angle from the axis of an aimed light a point is hardly in its beam, degrees (our judgement).
const ASIDE_DEG: f64 = 45.0;

/// The assumptions behind the computed light: estimated beams, kinds of modifier, beam models.
pub fn assumptions(scene: &Scene, matrix: &LightMatrix) -> Vec<Assumption> {
    let mut assumptions: Vec<Assumption> = Vec::new();
    let mut add = |assumption: Assumption| {
        if !assumptions.contains(&assumption) {
            assumptions.push(assumption);
        }
    };
    for (_, light, placement) in &matrix.placements {
        let light = &scene.lights[*light];
        if light.unit.guide_number.is_none()
            && let Some(beam) = beam_at_full(&light.unit, placement.beam.as_ref())
        {
            let guide_number_m = beam.map(|square| significant(square.sqrt()));
            add(Assumption::GuideNumber { light: light.name.clone(), guide_number_m });
        }
        if let Some(Beam::HalfPower { deg }) = placement.beam {
            let half_power_at_deg = significant(deg / 2.0);
            add(Assumption::BeamModel { light: light.name.clone(), half_power_at_deg });
        }
    }
    for contribution in &scene.contributions {
        let light = scene.lights.iter().find(|light| light.name == contribution.light);
        if let (Origin::Placement { optics, .. }, Some(light)) = (&contribution.origin, light)
            && let Some(kind) = optics.modifier.or(light.optics.modifier).and_then(Modifier::kind)
        {
            add(Assumption::ModifierKind { light: Some(light.name.clone()), kind });
        }
    }
    for light in scene.lights.iter().filter(|light| light.position.is_some()) {
        if let Some(kind) = light.optics.modifier.and_then(Modifier::kind) {
            add(Assumption::ModifierKind { light: Some(light.name.clone()), kind });
        }
    }
    assumptions
}

/// The warning about lights that are aimed but have no beam, so that the aim has no effect. `is_on` says whether the light
/// of an index may be on.
pub fn warnings(scene: &Scene, matrix: &LightMatrix, is_on: impl Fn(usize) -> bool) -> Option<Remark> {
    let is_aimed_in_a_placement = |light: &Light| {
        scene.contributions.iter().any(|contribution| {
            contribution.light == light.name
                && matches!(&contribution.origin, Origin::Placement { optics, .. } if optics.aim.is_some())
        })
    };
    let has_points_aside = |index: usize| {
        matrix.placements.iter().any(|(point, light, placement)| {
            *light == index
                && placement.beam.is_none()
                && placement.off_axis_deg > ASIDE_DEG
                && matrix.gain[*point][index].typical > 0.0
        })
    };
    let aimed = scene.lights.iter().enumerate().filter(|(index, light)| {
        is_on(*index)
            && (light.optics.aim.is_some() || is_aimed_in_a_placement(light))
            && has_points_aside(*index)
    });
    let lights: Vec<String> = aimed.map(|(_, light)| light.name.clone()).collect();
    (!lights.is_empty()).then_some(Remark::AimedWithoutBeam { lights })
}

/// Safety cautions for lights at these settings (stops below full; `None` if a light is off).
pub fn cautions(scene: &Scene, matrix: &LightMatrix, below: &[Option<Stops>]) -> Vec<Remark> {
    let mut cautions = Vec::new();
    let energies: Vec<f64> =
        scene.lights.iter().filter_map(|light| light.unit.energy).map(Joules::get).collect();
    if energies.len() > 1 && energies.iter().sum::<f64>() >= MAINS_LOAD_J {
        cautions.push(Remark::MainsLoad);
    }
    let near = matrix.placements.iter().any(|(_, light, placement)| {
        placement.distance.get() < NEAR_M && below[*light].is_some_and(|below| below.get() <= 1.0)
    });
    if near {
        cautions.push(Remark::Eyes);
    }
    cautions
}
