//! The budget of a set of lights: a source for each number that is not exact, with what lights have in common.
//!
//! Units of one name have their rating in common, lights in one kind of modifier its effect; settings and repeatability are
//! each light's own. What depends on where a light stands differs from point to point.

use super::{
    Cause,
    budget::{Budget, Effect, Whole},
    half_widths,
    sources::{Common, Rated, Sources, by_distance, unless},
};
use crate::light::{
    quantity::half_widths::{DISTANCE, READING, REFLECTANCE},
    set::{LightMatrix, Origin, Scene, placement::Placement},
    unit::SAME_POWER,
};

impl Budget {
    /// The budget of a set with every light at a part of its power.
    pub fn of_set(scene: &Scene, matrix: &LightMatrix, powers: &[f64]) -> Self {
        let count = scene.lights.len();
        let share = |point: usize| {
            let light = |light: usize| matrix.gain[point][light].typical * powers[light];
            let each: Vec<f64> = (0..count).map(light).chain([matrix.ambient[point]]).collect();
            let total: f64 = each.iter().sum();
            each.into_iter().map(|part| if total > 0.0 { part / total } else { 0.0 }).collect()
        };
        let shares: Vec<Vec<f64>> = (0..scene.points.len()).map(share).collect();
        let names = scene.lights.iter().map(|light| (light.name.clone(), light.id.clone())).collect();
        let mut sources = Sources::default();
        let is_lit = |point: usize, light: usize| shares[point][light] > 0.0;
        // A reading at the setting that is now used has the setting's part in it.
        let mut has_setting = vec![vec![true; count]; scene.points.len()];
        for contribution in &scene.contributions {
            let (point, light) = (contribution.point, contribution.light);
            if let Origin::Reading { below, plus_minus, .. } = contribution.origin
                && is_lit(point, light)
            {
                let reading = [scene.meter.reading(plus_minus); 2];
                let usual = unless(plus_minus.or(scene.meter.plus_minus), &READING);
                sources.add_pair(Cause::Reading, usual, Effect { point, light, half_widths: reading });
                let then = scene.lights[light].unit.power(below);
                has_setting[point][light] = (then - powers[light]).abs() > SAME_POWER;
                moved(&mut sources, scene, matrix, contribution, (point, light));
            }
        }
        for (index, light) in scene.lights.iter().enumerate() {
            for point in (0..scene.points.len()).filter(|point| is_lit(*point, index)) {
                let own = || Common::Light(index);
                if has_setting[point][index] {
                    sources.setting((point, index), own(), &light.unit, powers[index]);
                }
                sources.repeatability((point, index), &light.unit);
            }
        }
        for (point, light, placement) in matrix.rated().filter(|(point, light, _)| is_lit(*point, *light)) {
            placed(&mut sources, scene, matrix, (*point, *light), placement);
        }
        for entry in scene.ambient.iter().filter(|entry| shares[entry.point][count] > 0.0) {
            let half_widths = [scene.meter.reading(entry.plus_minus); 2];
            let usual = unless(entry.plus_minus.or(scene.meter.plus_minus), &READING);
            sources.add_pair(Cause::Ambient, usual, Effect { point: entry.point, light: count, half_widths });
        }
        for point in (0..shares.len()).filter(|_| !scene.lens.filters.is_empty()) {
            for light in (0..=count).filter(|light| is_lit(point, *light)) {
                sources.lens_filters((point, light), &scene.lens.filters);
            }
        }
        let (half_width, usual) = scene.meter.offset();
        Self::new(names, shares, sources.into_all(), Whole { half_width, usual })
    }
}

/// Adds what is not sure of a metered light that is moved: the two distances, and the angles where it is now.
fn moved(
    sources: &mut Sources<'_>,
    scene: &Scene,
    matrix: &LightMatrix,
    reading: &crate::light::set::Contribution,
    (point, light): (usize, usize),
) {
    let Origin::Reading { distance: Some(from), sure, .. } = &reading.origin else { return };
    if !matrix.moved[point][light] {
        return;
    }
    let is_it = |(at, of, _): &&(usize, usize, Placement)| (*at, *of) == (point, light);
    let Some((.., placement)) = matrix.placements.iter().find(is_it) else { return };
    let there = by_distance(placement.source.or(scene.lights[light].optics.source), *from, *sure);
    // Nearer than thought at the reading is less light now.
    let half_widths = [there[1], there[0]];
    let usual = unless(sure.distance, &DISTANCE);
    sources.add_pair(Cause::Distance, usual, Effect { point, light, half_widths });
    sources.geometry((point, light), placement);
}

/// Adds what is not sure of a light that is computed from the rating of its unit.
fn placed<'s>(
    sources: &mut Sources<'s>,
    scene: &'s Scene,
    matrix: &'s LightMatrix,
    (point, index): (usize, usize),
    placement: &'s Placement,
) {
    let light = &scene.lights[index];
    let is_divided = |pack: usize| scene.packs[pack].is_divided(scene.heads(pack).count());
    let pack = light.unit.head.filter(|head| is_divided(head.pack));
    let rated = Rated {
        unit: &light.unit,
        filters: &light.filters,
        placement,
        shutter: scene.shutter(),
        divided: pack.map(|head| &scene.packs[head.pack]),
    };
    sources.rated((point, index), &rated);
    let mut add = |cause, common, usual, half_widths| {
        sources.add(cause, common, usual, Effect { point, light: index, half_widths });
    };
    if let Some(factor) = placement.factor {
        add(Cause::Room, Common::Index(0), None, half_widths(factor));
        for (board, reflector) in scene.reflectors.iter().enumerate() {
            let share = matrix.by_boards[board][point][index] / factor.typical;
            let half_width = share * REFLECTANCE.or(reflector.plus_minus);
            let usual = unless(reflector.plus_minus, &REFLECTANCE);
            add(Cause::Reflectance, Common::Index(board), usual, [half_width; 2]);
        }
    }
    sources.geometry((point, index), placement);
}
