//! The budget of a set of lights: a source for each number that is not exact, with what lights have in common.
//!
//! Units of one name have their rating in common, lights in one kind of modifier its effect; settings and repeatability are
//! each light's own. What depends on where a light stands differs from point to point.

use std::collections::HashMap;

use super::{
    Cause,
    budget::{Budget, Effect, Scope, Source, Whole},
    half_widths,
};
use crate::light::{
    quantity::{
        Metres, Stops,
        half_widths::{
            ANGLE, DIAL, DISTANCE, FILTER, HalfWidth, LAMP, MODIFIER, PACK, RATING, READING, REFLECTANCE,
            REPEAT,
        },
    },
    set::{
        Light, LightMatrix, Origin, Scene,
        beam::Beam,
        falloff,
        placement::{Placement, Source as Face, Sure, beam_at_full},
    },
};

/// The most that a distance or an angle is taken to change, stops: an angle may end beyond the beam.
const MOST_STOPS: f64 = 3.0;
/// Settings nearer than this are one, as parts of full power.
const SAME_POWER: f64 = 1e-9;

/// What sources of one cause have in common.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
enum Common<'s> {
    /// Nothing: it is one light's own.
    Light(usize),
    /// The name of a unit, or a kind of modifier.
    Name(&'s str),
    /// It is the same for all lights, as a board or the room is.
    Index(usize),
}

/// The sources as they are found.
#[derive(Default)]
struct Sources<'s> {
    all: Vec<Source>,
    by_cause: HashMap<(Cause, Common<'s>), usize>,
}

impl<'s> Sources<'s> {
    /// Adds an effect to the source of this cause and what it has in common.
    fn add(&mut self, cause: Cause, common: Common<'s>, usual: Option<&'static HalfWidth>, effect: Effect) {
        if effect.is_nothing() {
            return;
        }
        let next = self.all.len();
        let index = *self.by_cause.entry((cause, common)).or_insert(next);
        if index == next {
            self.all.push(Source { cause, scope: Scope::Light, usual, effects: Vec::new() });
        }
        self.all[index].effects.push(effect);
    }

    /// Adds a source of one light at one point.
    fn add_pair(&mut self, cause: Cause, usual: Option<&'static HalfWidth>, effect: Effect) {
        if !effect.is_nothing() {
            self.all.push(Source { cause, scope: Scope::Pair, usual, effects: vec![effect] });
        }
    }
}

/// The row of the table, if nothing is stated in its place.
fn unless<T: Copy>(stated: Option<T>, usual: &'static HalfWidth) -> Option<&'static HalfWidth> {
    stated.is_none().then_some(usual)
}

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
                let mut own = |cause, usual: &'static HalfWidth, stated: Option<Stops>| {
                    let effect = Effect { point, light: index, half_widths: [usual.or(stated); 2] };
                    sources.add(cause, Common::Light(index), unless(stated, usual), effect);
                };
                if has_setting[point][index] {
                    own(Cause::Setting, &DIAL, light.unit.dial_at(powers[index]));
                }
                own(Cause::Repeatability, &REPEAT, light.unit.repeat);
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
        let (half_width, usual) = scene.meter.offset();
        Self::new(names, shares, sources.all, Whole { half_width, usual })
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
    let is_it = |(at, of, _): &&(usize, usize, Placement)| (*at, *of) == (point, light);
    let Some((.., placement)) = matrix.placements.iter().find(is_it).filter(|_| matrix.moved[point][light])
    else {
        return;
    };
    let there = by_distance(placement.source.or(scene.lights[light].optics.source), *from, *sure);
    // Nearer than thought at the reading is less light now.
    let half_widths = [there[1], there[0]];
    let usual = unless(sure.distance, &DISTANCE);
    sources.add_pair(Cause::Distance, usual, Effect { point, light, half_widths });
    geometry(sources, (point, light), placement);
}

/// Adds what is not sure of a light that is computed from the rating of its unit.
fn placed<'s>(
    sources: &mut Sources<'s>,
    scene: &'s Scene,
    matrix: &LightMatrix,
    (point, index): (usize, usize),
    placement: &Placement,
) {
    let light: &Light = &scene.lights[index];
    let unit = &light.unit;
    let own = || Common::Light(index);
    let of_unit = || unit.name.as_deref().map_or_else(own, Common::Name);
    let mut add = |cause, common, usual, half_widths| {
        sources.add(cause, common, usual, Effect { point, light: index, half_widths });
    };
    let rating = beam_at_full(unit, placement.beam.as_ref()).map_or([0.0; 2], half_widths);
    let usual = if unit.lamp.is_some() {
        Some(&LAMP)
    } else {
        // An estimate from energy and coverage is an assumption of its own.
        unit.guide_number.map(|_| &RATING)
    };
    add(Cause::Rating, of_unit(), usual.filter(|_| unit.plus_minus.is_none()), rating);
    let modifier = half_widths(placement.modifier.map(Stops::factor));
    match placement.kind {
        Some(kind) => add(Cause::Modifier, Common::Name(kind.kind.0), None, modifier),
        None => {
            let is_usual = modifier.iter().all(|half_width| (half_width - MODIFIER.value).abs() < 1e-9);
            let usual = is_usual.then_some(&MODIFIER);
            add(Cause::Modifier, own(), usual, modifier);
        }
    }
    let sync = unit.through(scene.shutter()).map_or([0.0; 2], half_widths);
    add(Cause::HighSpeedSync, of_unit(), None, sync);
    let stated = light.filters.iter().all(|filter| filter.plus_minus.is_some());
    let filters = light.filters.iter().map(|filter| FILTER.or(filter.plus_minus).powi(2)).sum::<f64>().sqrt();
    add(Cause::Filter, own(), (!stated).then_some(&FILTER), [filters; 2]);
    if let Some(head) = unit.head.filter(|head| scene.heads(head.pack).nth(1).is_some()) {
        let stated = scene.packs[head.pack].plus_minus;
        add(Cause::Pack, own(), unless(stated, &PACK), [PACK.or(stated); 2]);
    }
    if let Some(factor) = placement.factor {
        add(Cause::Room, Common::Index(0), None, half_widths(factor));
        for (board, reflector) in scene.reflectors.iter().enumerate() {
            let share = matrix.by_boards[board][point][index] / factor.typical;
            let half_width = share * REFLECTANCE.or(reflector.plus_minus);
            let usual = unless(reflector.plus_minus, &REFLECTANCE);
            add(Cause::Reflectance, Common::Index(board), usual, [half_width; 2]);
        }
    }
    geometry(sources, (point, index), placement);
}

/// Adds what is not sure of the distance and the angles of a light at a point.
fn geometry(sources: &mut Sources<'_>, (point, light): (usize, usize), placement: &Placement) {
    let Placement { distance, sure, source, beam, incidence_deg, off_axis_deg, .. } = placement;
    let mut add = |cause, usual, half_widths| {
        sources.add_pair(cause, usual, Effect { point, light, half_widths });
    };
    add(Cause::Distance, unless(sure.distance, &DISTANCE), by_distance(*source, *distance, *sure));
    let off = sure.angles_deg.unwrap_or(ANGLE.value);
    let cosine = |angle_deg: f64| angle_deg.abs().to_radians().cos().max(0.0);
    let incidence = by_angle(*incidence_deg, off, cosine);
    let across = match (Beam::shaped(beam.as_ref()), beam, source) {
        (Some(beam), ..) => by_angle(*off_axis_deg, off, |angle_deg| beam.relative(angle_deg.abs())),
        // A face falls off with the cosine.
        (None, None, Some(_)) => by_angle(*off_axis_deg, off, cosine),
        _ => [0.0; 2],
    };
    let both = [0, 1].map(|side| incidence[side].hypot(across[side]));
    add(Cause::Angle, unless(sure.angles_deg, &ANGLE), both);
}

/// The half-widths of light by that of its distance, stops.
pub fn by_distance(source: Option<Face>, distance: Metres, sure: Sure) -> [f64; 2] {
    let off = sure.distance.map_or(DISTANCE.value, Metres::get);
    let light = |distance: f64| falloff::light(source, distance.max(1e-3));
    let stops = |to: f64| (light(to) / light(distance.get())).log2().clamp(-MOST_STOPS, MOST_STOPS);
    [-stops(distance.get() + off), stops(distance.get() - off)]
}

/// The half-widths of light by that of an angle, stops. Where both ways are darker, it is the darker one.
fn by_angle(angle_deg: f64, off_deg: f64, light: impl Fn(f64) -> f64) -> [f64; 2] {
    let here = light(angle_deg);
    if here <= 0.0 {
        return [0.0; 2];
    }
    let stops = |to: f64| (light(to) / here).log2().clamp(-MOST_STOPS, MOST_STOPS);
    let [one, other] = [stops(angle_deg - off_deg), stops(angle_deg + off_deg)];
    [(-one.min(other)).max(0.0), one.max(other).max(0.0)]
}
