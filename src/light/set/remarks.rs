//! Assumptions, warnings and safety cautions for the light of a set.

use crate::light::{
    assumption::{self, Assumption, AssumptionKind},
    error::Part,
    quantity::{Stops, constants::MAINS_LOAD_J, significant},
    remark::{Caution, CautionKind, Percentage, Remark, Warning, WarningKind},
    set::{
        Geometry, Light, LightMatrix, Origin, Scene,
        beam::Beam,
        filter,
        modifier::{Modifier, ModifierKind},
        placement::{beam_at_full, intensity},
        room,
    },
    unit::{self, Unit, lamp::Lamp, shutter::Shutter, zoom::Zoom},
};

/// Below this distance at high power the answer carries a caution about eyes, m (our judgement).
const NEAR_M: f64 = 1.0;

/// Beyond this angle from the axis of an aimed light a point is hardly in its beam, degrees (our judgement).
const ASIDE_DEG: f64 = 45.0;

/// Lights that differ by more than this look different, mired (our judgement: a little more than the least gels sold).
const MIXED_MIRED: f64 = 20.0;

/// The assumptions behind the computed light: estimated beams, kinds of modifier, beam models.
pub fn assumptions(scene: &Scene, matrix: &LightMatrix) -> Vec<Assumption> {
    let mut assumptions: Vec<Assumption> = Vec::new();
    let mut add_all = |light: usize, kinds: Vec<AssumptionKind>| {
        for kind in kinds {
            let assumption = match kind {
                // The same for all lamps.
                AssumptionKind::ConstantC { .. } => kind.into(),
                kind => Remark::about(Part::Light(light, None), kind),
            };
            assumption::add_new(&mut assumptions, [assumption]);
        }
    };
    let kind_of = |light: &Light, ModifierKind { kind, stops, .. }: &ModifierKind| {
        AssumptionKind::ModifierKindOfLight { light: light.name.clone(), kind: kind.0, effect_stops: *stops }
    };
    for (_, index, placement) in matrix.rated() {
        let light = &scene.lights[*index];
        let beam = placement.beam.as_ref();
        add_all(*index, rating_assumptions(&light.name, &light.unit, beam, scene.shutter()));
    }
    for (_, index, placement) in &matrix.placements {
        let light = &scene.lights[*index];
        if let Some(Beam::HalfPower { deg }) = placement.beam {
            let half_power_at_deg = significant(deg / 2.0);
            add_all(*index, vec![AssumptionKind::BeamModel { light: light.name.clone(), half_power_at_deg }]);
        }
    }
    for contribution in &scene.contributions {
        let (index, light) = (contribution.light, &scene.lights[contribution.light]);
        if let Origin::Placement { optics, .. } = &contribution.origin
            && !matrix.moved[contribution.point][index]
            && let Some(kind) = optics.modifier.or(light.optics.modifier).and_then(Modifier::kind)
        {
            add_all(index, vec![kind_of(light, kind)]);
        }
    }
    for (index, light) in scene.lights.iter().enumerate().filter(|(_, light)| light.position.is_some()) {
        // A modifier that is in all of the light's readings is not assumed.
        let is_metered = matrix.moved.iter().any(|point| point[index]);
        let is_assumed = !is_metered || matrix.rated().any(|(_, of, _)| *of == index);
        if let Some(kind) = light.optics.modifier.and_then(Modifier::kind).filter(|_| is_assumed) {
            add_all(index, vec![kind_of(light, kind)]);
        }
    }
    if scene.room.is_some() && !matrix.placements.is_empty() {
        let factor = room::FACTOR;
        assumptions.push(Remark::about(Part::Room, AssumptionKind::RoomLight { factor }));
    }
    assumptions
}

/// The assumptions behind the light of a unit, as `light`, by its rating.
pub fn rating_assumptions(
    light: &str,
    unit: &Unit,
    beam: Option<&Beam>,
    shutter: Shutter,
) -> Vec<AssumptionKind> {
    let name = || light.to_owned();
    if let Some(lamp) = unit.lamp {
        let estimated = intensity(lamp, unit, beam).filter(|_| matches!(lamp, Lamp::Flux(_)));
        let estimated = estimated.map(|candela| AssumptionKind::LampIntensity {
            light: name(),
            intensity_cd: candela.map(significant),
        });
        return estimated.into_iter().chain([AssumptionKind::constant_c_of_a_lamp()]).collect();
    }
    let guide = match (&unit.zoom, unit.guide_number) {
        (Some(Zoom { at_mm: Some(zoom), .. }), Some(guide)) => Some(AssumptionKind::GuideByZoom {
            light: name(),
            zoom_mm: significant(*zoom),
            guide_number_m: significant(guide.get()),
        }),
        (_, Some(_)) => None,
        (_, None) => beam_at_full(unit, beam).map(|square| AssumptionKind::GuideNumber {
            light: name(),
            guide_number_m: square.map(|square| significant(square.sqrt())),
        }),
    };
    let sync = unit.high_speed_sync.filter(|sync| sync.loss.is_none() && shutter.frame_share().is_some());
    let sync =
        sync.map(|sync| AssumptionKind::HighSpeedSync { light: name(), loss_stops: sync.entry_loss() });
    guide.into_iter().chain(sync).collect()
}

/// The warnings about the light of a set, its boards and its blockers. `is_on` says whether the light of an index may be on.
pub fn warnings(scene: &Scene, matrix: &LightMatrix, is_on: impl Fn(usize) -> bool) -> Vec<Warning> {
    let aimed = aimed_without_beam(scene, matrix, &is_on);
    let lights = aimed.into_iter().chain(faster_than_sync(scene, &is_on)).chain(mixed_colours(scene, &is_on));
    lights.chain(around(scene, matrix, &is_on)).collect()
}

/// The warning about flashes that do not light the whole frame.
fn faster_than_sync(scene: &Scene, is_on: impl Fn(usize) -> bool) -> Option<Warning> {
    let share = |light: &Light| light.unit.frame_share(scene.shutter()).filter(|share| *share < 1.0);
    let mut lights = scene.lights.iter().enumerate().filter(|(index, _)| is_on(*index));
    let frame_share = lights.find_map(|(_, light)| share(light))?;
    Some(Remark::about(
        Part::ExposureTime,
        WarningKind::FasterThanSync { frame_share: Percentage(frame_share) },
    ))
}

/// The warnings about flashes whose filters differ in colour from those of most flashes, and lamps from those of most lamps.
/// The colour of a lamp is not known, so that it is not compared with a flash.
fn mixed_colours(scene: &Scene, is_on: impl Fn(usize) -> bool) -> Vec<Warning> {
    [false, true].into_iter().flat_map(|is_lamp| mixed_among(scene, is_lamp, &is_on)).collect()
}

/// The same among flashes, or among lamps; against the least filtered if there are as many of each.
fn mixed_among(scene: &Scene, is_lamp: bool, is_on: impl Fn(usize) -> bool) -> Vec<Warning> {
    let lights = scene.lights.iter().enumerate();
    let lights = lights.filter(|(index, light)| light.unit.lamp.is_some() == is_lamp && is_on(*index));
    let shifts: Vec<(usize, f64)> =
        lights.map(|(index, light)| (index, filter::mired(&light.filters).unwrap_or(0.0))).collect();
    let differs = |one: f64, other: f64| (one - other).abs() > MIXED_MIRED;
    let alike = |shift: f64| shifts.iter().filter(|(_, other)| !differs(shift, *other)).count();
    let by_use = |(_, a): &&(usize, f64), (_, b): &&(usize, f64)| {
        alike(*a).cmp(&alike(*b)).then(b.abs().total_cmp(&a.abs()))
    };
    let Some(&(base, usual)) = shifts.iter().rev().max_by(by_use) else { return Vec::new() };
    let remark = |(index, shift): (usize, f64), (base, usual): (usize, f64)| {
        let [light, other] = [index, base].map(|index| scene.lights[index].name.clone());
        let difference_mired = significant(shift - usual);
        let kind = WarningKind::MixedColour { light, other, difference_mired };
        Remark::about(Part::Light(index, None), kind)
    };
    let odd: Vec<Warning> = shifts
        .iter()
        .filter(|(_, shift)| differs(*shift, usual))
        .map(|odd| remark(*odd, (base, usual)))
        .collect();
    // Two may differ from each other, though neither from the usual one.
    let by_shift = |a: &&(usize, f64), b: &&(usize, f64)| a.1.total_cmp(&b.1);
    match (shifts.iter().max_by(by_shift), shifts.iter().min_by(by_shift)) {
        (Some(warm), Some(cold)) if odd.is_empty() && differs(warm.1, cold.1) => vec![remark(*warm, *cold)],
        _ => odd,
    }
}

/// Warnings about what is around the lights: boards, the room, blockers.
fn around(scene: &Scene, matrix: &LightMatrix, is_on: impl Fn(usize) -> bool) -> Vec<Warning> {
    let mut warnings = Vec::new();
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
    let has_positions = scene.points.iter().any(|point| point.position.is_some())
        && (scene.lights.iter().any(|light| light.position.is_some())
            || scene.contributions.iter().any(|it| {
                matches!(it.origin, Origin::Placement { geometry: Geometry::Position(Some(_)), .. })
            }));
    if !has_positions && !scene.blockers.is_empty() {
        let blockers = scene.blockers.iter().map(|blocker| blocker.name.clone()).collect();
        warnings.push(Remark::about(Part::Blocker(0), WarningKind::IdleBlockers { blockers }));
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
        unit::energies(scene.lights.iter().map(|light| &light.unit), &scene.packs).collect();
    if energies.len() > 1 && energies.iter().sum::<f64>() >= MAINS_LOAD_J {
        cautions.push(CautionKind::MainsLoad.into());
    }
    let is_near = |light: usize| {
        scene.lights[light].unit.lamp.is_none()
            && below[light].is_some_and(|below| below.get() <= 1.0)
            && matrix.placements.iter().any(|(_, index, it)| *index == light && it.distance.get() < NEAR_M)
    };
    let near: Vec<usize> = (0..scene.lights.len()).filter(|light| is_near(*light)).collect();
    if !near.is_empty() {
        cautions.push(Remark::about(Part::of_lights(&near), CautionKind::Eyes));
    }
    cautions
}
