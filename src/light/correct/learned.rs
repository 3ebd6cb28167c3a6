//! What a round of readings taught of a set, as readings of its lights one by one.
//!
//! A reading of a pair that a placement or positions give too holds for the distance there, as metered on the axis and
//! square to the light, so that the placement gives the corrected light again.

use std::collections::HashMap;

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    error::Entry,
    quantity::{FNumber, Metres, Number, Stops},
    set::{Contribution, LightMatrix, Origin, Scene, placement::Sure},
};

/// A reading of one light alone, as `readings` of a set take it.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct LearnedReading {
    /// The light.
    pub light: String,
    /// The point.
    pub point: String,
    /// The setting.
    pub setting: String,
    /// The f-number that a meter would read.
    #[schema(value_type = f64)]
    pub f_number: Number,
    /// The distance that it holds for, m, if the set has a placement or positions for this light and point.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub distance: Option<Metres>,
    /// Its 95 % half-width, stops.
    pub plus_minus_stops: Stops,
}

/// The set with the light of each pair known from a reading. The light is that of `matrix` times `factor` of point and
/// light; `plus_minus` is its half-width. The readings are at these settings, at full power for a light that is off.
pub fn learn(
    scene: &Scene,
    matrix: &LightMatrix,
    below: &[Option<Stops>],
    factor: impl Fn(usize, usize) -> f64,
    plus_minus: impl Fn(usize, usize) -> Stops,
) -> Scene {
    let mut learned = scene.clone();
    let pairs =
        || (0..scene.points.len()).flat_map(|point| (0..scene.lights.len()).map(move |light| (point, light)));
    let is_lit = |point: usize, light: usize| matrix.gain[point][light].typical > 0.0;
    let lit: Vec<(usize, usize)> = pairs().filter(|&(point, light)| is_lit(point, light)).collect();
    learned.contributions.retain(|contribution| {
        matches!(contribution.origin, Origin::Placement { .. })
            || !is_lit(contribution.point, contribution.light)
    });
    let stated = learned.contributions.len();
    let distances: HashMap<(usize, usize), Metres> =
        matrix.placements.iter().map(|(point, light, at)| ((*point, *light), at.distance)).collect();
    for (index, &(point, light)) in lit.iter().enumerate() {
        let origin = Origin::Reading {
            below: below[light].unwrap_or(Stops::ZERO),
            f_number: FNumber::new_unchecked(8.0),
            distance: distances.get(&(point, light)).copied(),
            sure: Sure::default(),
            plus_minus: Some(plus_minus(point, light)),
        };
        learned.contributions.push(Contribution { light, point, origin, entry: Entry::Reading(index) });
    }
    // Readings come before placements.
    learned.contributions.rotate_left(stated);
    let now = learned.light(&mut Vec::new());
    learned.contributions.retain_mut(|contribution| {
        let (point, light) = (contribution.point, contribution.light);
        let Origin::Reading { f_number, .. } = &mut contribution.origin else { return true };
        let (has, wanted) =
            (now.gain[point][light].typical, matrix.gain[point][light].typical * factor(point, light));
        *f_number = FNumber::new_unchecked(f_number.get() * (wanted / has).sqrt());
        // What only boards send there is no reading of the light itself.
        has > 0.0
    });
    learned
}

/// The readings of a set that was learned, of the lights that were on in some reading.
pub fn readings(learned: &Scene, was_on: impl Fn(usize) -> bool) -> Vec<LearnedReading> {
    let entry = |contribution: &Contribution| match contribution.origin {
        Origin::Reading { below, f_number, distance, plus_minus: Some(plus_minus_stops), .. }
            if was_on(contribution.light) =>
        {
            let light = &learned.lights[contribution.light];
            Some(LearnedReading {
                light: light.name.clone(),
                point: learned.points[contribution.point].name.clone(),
                setting: light.unit.scale.label(below),
                f_number: Number::new_unchecked(f_number.get()),
                distance,
                plus_minus_stops,
            })
        }
        _ => None,
    };
    learned.contributions.iter().filter_map(entry).collect()
}
