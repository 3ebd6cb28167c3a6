//! Assumptions, warnings and safety cautions for the light of a set.

use crate::light::{
    assumption::{Assumption, AssumptionKind},
    error::Part,
    quantity::{Joules, Stops, constants::MAINS_LOAD_J, significant},
    remark::{Caution, CautionKind, Remark, Warning, WarningKind},
    set::{
        Light, LightMatrix, Origin, Scene,
        beam::Beam,
        modifier::{Modifier, ModifierKind},
        placement::beam_at_full,
        room,
    },
};

/// Below this distance at high power the answer carries a caution about eyes, m (our judgement).
const NEAR_M: f64 = 1.0;

/// Beyond this angle from the axis of an aimed light a point is hardly in its beam, degrees (our judgement).
const ASIDE_DEG: f64 = 45.0;

/// The assumptions behind the computed light: estimated beams, kinds of modifier, beam models.
pub fn assumptions(scene: &Scene, matrix: &LightMatrix) -> Vec<Assumption> {
    let mut assumptions: Vec<Assumption> = Vec::new();
    let mut add = |light: usize, assumption: AssumptionKind| {
        let assumption = Remark::about(Part::Light(light, None), assumption);
        if !assumptions.contains(&assumption) {
            assumptions.push(assumption);
        }
    };
    let kind_of = |light: &Light, ModifierKind { kind, stops, .. }: &ModifierKind| {
        AssumptionKind::ModifierKindOfLight { light: light.name.clone(), kind: kind.0, effect_stops: *stops }
    };
    for (_, index, placement) in &matrix.placements {
        let light = &scene.lights[*index];
        if light.unit.guide_number.is_none()
            && let Some(beam) = beam_at_full(&light.unit, placement.beam.as_ref())
        {
            let guide_number_m = beam.map(|square| significant(square.sqrt()));
            add(*index, AssumptionKind::GuideNumber { light: light.name.clone(), guide_number_m });
        }
        if let Some(Beam::HalfPower { deg }) = placement.beam {
            let half_power_at_deg = significant(deg / 2.0);
            add(*index, AssumptionKind::BeamModel { light: light.name.clone(), half_power_at_deg });
        }
    }
    for contribution in &scene.contributions {
        let (index, light) = (contribution.light, &scene.lights[contribution.light]);
        if let Origin::Placement { optics, .. } = &contribution.origin
            && let Some(kind) = optics.modifier.or(light.optics.modifier).and_then(Modifier::kind)
        {
            add(index, kind_of(light, kind));
        }
    }
    for (index, light) in scene.lights.iter().enumerate().filter(|(_, light)| light.position.is_some()) {
        if let Some(kind) = light.optics.modifier.and_then(Modifier::kind) {
            add(index, kind_of(light, kind));
        }
    }
    if scene.room.is_some() && !matrix.placements.is_empty() {
        let factor = room::FACTOR;
        assumptions.push(Remark::about(Part::Room, AssumptionKind::RoomLight { factor }));
    }
    assumptions
}

/// Warnings about the light of a set, its boards and its blockers. `is_on` says whether the light of an index may be on.
pub fn warnings(scene: &Scene, matrix: &LightMatrix, is_on: impl Fn(usize) -> bool) -> Vec<Warning> {
    let mut warnings: Vec<Warning> = aimed_without_beam(scene, matrix, &is_on).into_iter().collect();
    if !matrix.idle_boards.is_empty() {
        let boards = matrix.idle_boards.iter().map(|&board| scene.reflectors[board].name.clone()).collect();
        let part = Part::of_reflectors(&matrix.idle_boards);
        warnings.push(Remark::about(part, WarningKind::IdleBoards { boards }));
    }
    if scene.room.is_some() {
        let is_unknown = |&index: &usize| {
            is_on(index)
                && matrix.placements.iter().any(|(_, light, it)| {
                    let unit = &scene.lights[index].unit;
                    *light == index && room::solid_angle_sr(unit, it.source, it.beam.as_ref()).is_none()
                })
        };
        let unknown: Vec<usize> = (0..scene.lights.len()).filter(is_unknown).collect();
        if !unknown.is_empty() {
            let lights = unknown.iter().map(|&light| scene.lights[light].name.clone()).collect();
            warnings.push(Remark::about(Part::of_lights(&unknown), WarningKind::LumensUnknown { lights }));
        }
    }
    for (index, blocker) in scene.blockers.iter().enumerate() {
        let lights = scene.lights.iter().map(|light| (&light.name, light.position));
        let points = scene.points.iter().map(|point| (&point.name, point.position));
        let inside = lights.chain(points).filter(|(_, at)| at.is_some_and(|at| blocker.contains(at.0)));
        let inside: Vec<String> = inside.map(|(name, _)| name.clone()).collect();
        if !inside.is_empty() {
            let kind = WarningKind::InsideBlocker { inside, blocker: blocker.name.clone() };
            warnings.push(Remark::about(Part::Blocker(index), kind));
        }
    }
    warnings
}

/// The warning about lights that are aimed but have no beam and no face, so that the aim has no effect.
fn aimed_without_beam(scene: &Scene, matrix: &LightMatrix, is_on: impl Fn(usize) -> bool) -> Option<Warning> {
    let is_aimed_in_a_placement = |light: usize| {
        scene.contributions.iter().any(|contribution| {
            contribution.light == light
                && matches!(&contribution.origin, Origin::Placement { optics, .. } if optics.aim.is_some())
        })
    };
    let has_points_aside = |index: usize| {
        matrix.placements.iter().any(|(point, light, placement)| {
            *light == index
                && placement.beam.is_none()
                && placement.source.is_none()
                && placement.off_axis_deg > ASIDE_DEG
                && matrix.gain[*point][index].typical > 0.0
        })
    };
    let aimed = scene.lights.iter().enumerate().filter(|(index, light)| {
        is_on(*index)
            && (light.optics.aim.is_some() || is_aimed_in_a_placement(*index))
            && has_points_aside(*index)
    });
    let (indexes, lights): (Vec<usize>, Vec<String>) =
        aimed.map(|(index, light)| (index, light.name.clone())).unzip();
    let part = Part::of_lights(&indexes);
    (!lights.is_empty()).then_some(Remark::about(part, WarningKind::AimedWithoutBeam { lights }))
}

/// Safety cautions for lights at these settings (stops below full; `None` if a light is off).
pub fn cautions(scene: &Scene, matrix: &LightMatrix, below: &[Option<Stops>]) -> Vec<Caution> {
    let mut cautions = Vec::new();
    let energies: Vec<f64> =
        scene.lights.iter().filter_map(|light| light.unit.energy).map(Joules::get).collect();
    if energies.len() > 1 && energies.iter().sum::<f64>() >= MAINS_LOAD_J {
        cautions.push(CautionKind::MainsLoad.into());
    }
    let is_near = |light: usize| {
        below[light].is_some_and(|below| below.get() <= 1.0)
            && matrix.placements.iter().any(|(_, index, it)| *index == light && it.distance.get() < NEAR_M)
    };
    let near: Vec<usize> = (0..scene.lights.len()).filter(|light| is_near(*light)).collect();
    if !near.is_empty() {
        cautions.push(Remark::about(Part::of_lights(&near), CautionKind::Eyes));
    }
    cautions
}
