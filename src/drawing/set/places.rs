//! Where each light of a set stands, and which points it lights from there.

use std::collections::HashMap;

use crate::light::set::{Geometry, Known, Scene, geometry::Position};

/// A light at a place. Most have one; a light whose placements say other places has more.
#[derive(Debug, Clone, PartialEq)]
pub struct Standing {
    /// The light, by its index.
    pub lamp: usize,
    /// How many places of it come before this one.
    pub number: usize,
    /// Where it is.
    pub at: Position,
    /// Where it is aimed from there; none where each point is, or where that differs from point to point.
    pub aim: Option<Position>,
    /// The points that it lights from there and whose place is known, by their index.
    pub points: Vec<usize>,
}

/// Every place of every light, as far as they are known.
pub fn of(scene: &Scene) -> Vec<Standing> {
    let told =
        scene.contributions.iter().map(|told| ((told.light.as_str(), told.point.as_str()), &told.known));
    let told: HashMap<_, _> = told.collect();
    let mut all = Vec::new();
    for (lamp, light) in scene.lamps.iter().enumerate() {
        let mut places: Vec<(Standing, Vec<Option<Position>>)> = Vec::new();
        let own = light.position.map(|at| (at, light.outfit.aim));
        if let Some((at, _)) = own {
            places.push((Standing { lamp, number: 0, at, aim: None, points: Vec::new() }, Vec::new()));
        }
        for (spot, point) in scene.spots.iter().enumerate().filter(|(_, spot)| spot.position.is_some()) {
            let from = match told.get(&(light.name.as_str(), point.name.as_str())) {
                Some(Known::Placement { stand: Geometry::Distance { .. }, .. }) => None,
                Some(Known::Placement { stand: Geometry::Position(at), outfit }) => {
                    at.or(light.position).map(|at| (at, outfit.aim.or(light.outfit.aim)))
                }
                Some(Known::Reading { .. }) | None => own,
            };
            let Some((at, aim)) = from else { continue };
            let known = places.iter().position(|(place, _)| place.at == at).unwrap_or_else(|| {
                let place = Standing { lamp, number: places.len(), at, aim: None, points: Vec::new() };
                places.push((place, Vec::new()));
                places.len() - 1
            });
            places[known].0.points.push(spot);
            places[known].1.push(aim);
        }
        all.extend(places.into_iter().map(|(place, aims)| {
            let aim = match aims.split_first() {
                None => light.outfit.aim,
                Some((first, rest)) => first.filter(|_| rest.iter().all(|aim| aim == first)),
            };
            Standing { aim, ..place }
        }));
    }
    all
}
