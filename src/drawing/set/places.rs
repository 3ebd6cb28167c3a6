//! The positions of each light, and the points that it lights from there.

use std::collections::HashMap;

use crate::light::set::{Geometry, MeteringPoint, Origin, Scene, geometry::Position};

/// A light at one of its positions. Most lights have one position; placements may give a light more.
#[derive(Debug, Clone, PartialEq)]
pub struct LightPosition {
    /// The index of the light.
    pub light: usize,
    /// The number of this position among those of the light, from 0.
    pub number: usize,
    pub at: Position,
    /// The aim at this position, or `None` if the light is aimed at each point or the aim differs between points.
    pub aim: Option<Position>,
    /// The indices of the points that it lights from there and whose position is known.
    pub points: Vec<usize>,
}

/// All known positions of all lights.
pub fn light_positions(scene: &Scene) -> Vec<LightPosition> {
    let contributions = scene.contributions.iter().map(|given| ((given.light, given.point), &given.origin));
    let contributions: HashMap<_, _> = contributions.collect();
    let mut all = Vec::new();
    for (index, light) in scene.lights.iter().enumerate() {
        let mut places: Vec<(LightPosition, Vec<Option<Position>>)> = Vec::new();
        let own = light.position.map(|at| (at, light.optics.aim));
        if let Some((at, _)) = own {
            places.push((
                LightPosition { light: index, number: 0, at, aim: None, points: Vec::new() },
                Vec::new(),
            ));
        }
        let has_position = |(_, point): &(usize, &MeteringPoint)| point.position.is_some();
        for (point_index, _) in scene.points.iter().enumerate().filter(has_position) {
            let from = match contributions.get(&(index, point_index)) {
                Some(Origin::Placement { geometry: Geometry::Distance { .. }, .. }) => None,
                Some(Origin::Placement { geometry: Geometry::Position(at), optics }) => {
                    at.or(light.position).map(|at| (at, optics.aim.or(light.optics.aim)))
                }
                Some(Origin::Reading { .. }) | None => own,
            };
            let Some((at, aim)) = from else { continue };
            let known = places.iter().position(|(place, _)| place.at == at).unwrap_or_else(|| {
                let place =
                    LightPosition { light: index, number: places.len(), at, aim: None, points: Vec::new() };
                places.push((place, Vec::new()));
                places.len() - 1
            });
            places[known].0.points.push(point_index);
            places[known].1.push(aim);
        }
        all.extend(places.into_iter().map(|(place, aims)| {
            let aim = match aims.split_first() {
                None => light.optics.aim,
                Some((first, rest)) => first.filter(|_| rest.iter().all(|aim| aim == first)),
            };
            LightPosition { aim, ..place }
        }));
    }
    all
}
