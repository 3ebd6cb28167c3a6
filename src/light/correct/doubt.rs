//! How far each light of a set may be off before it is metered together with the others, from what it was computed from.
//!
//! Half-widths of independent parts add as the root of the sum of squares (JCGM 100:2008, 5.1.2). The defaults are our
//! judgement.

use nalgebra::DMatrix;

use crate::light::{
    correct::prior::{COVERAGE, Doubt},
    quantity::{Stops, constants::REPEATABILITY},
    set::{
        Light, LightMatrix, Meter, Origin, Scene,
        placement::{Placement, beam_at_full},
    },
    uncertainty::half_widths,
};

/// The half-width of a stated guide number or energy, stops.
const RATING: f64 = 0.5;
/// The half-width of a lamp's stated light, stops.
const LAMP: f64 = 0.3;
/// The half-width of a modifier's stated effect, stops.
const MODIFIER: f64 = 0.2;
/// The half-width of a filter, stops.
const FILTER: f64 = 0.1;
/// The half-width of a setting, stops.
const DIAL: f64 = 0.1;
/// The half-width of a distance, m.
const DISTANCE_M: f64 = 0.04;
/// The half-width of an angle of incidence, degrees.
const INCIDENCE_DEG: f64 = 6.0;
/// An angle of incidence beyond this counts as this, degrees: near a right angle there is hardly any light.
const STEEPEST_DEG: f64 = 80.0;
/// The least half-width of what differs from point to point, stops.
const PAIR: f64 = 0.2;

/// The variance of a reading, stops²: of its half-width if it states one, else of the meter's, with its rounding.
pub fn of_reading(own: Option<Stops>, meter: Meter) -> f64 {
    (meter.reading(own) / COVERAGE).powi(2)
}

/// The half-widths of the lights at these settings, and of each light at each point.
pub fn doubts(scene: &Scene, matrix: &LightMatrix, below: &[Option<Stops>]) -> (Vec<Doubt>, DMatrix<f64>) {
    let mut pairs = DMatrix::from_element(scene.lights.len(), scene.points.len(), PAIR);
    for (point, light, placement) in &matrix.placements {
        let pair = &mut pairs[(*light, *point)];
        *pair = pair.max(of_place(placement));
    }
    let all = scene.lights.iter().enumerate().map(|(index, light)| {
        let rated: Vec<&(usize, usize, Placement)> =
            matrix.rated().filter(|(_, of, _)| *of == index).collect();
        let parts = rated.iter().map(|(.., placement)| of_rating(scene, light, placement));
        let parts = parts.reduce(|a, b| std::array::from_fn(|part| f64::max(a[part], b[part])));
        let [rating, modifier, sync, room, filters] = parts.unwrap_or_default();
        let metered = of_readings(scene, index, below[index]);
        let repeat = light.unit.repeat.map_or(REPEATABILITY, Stops::get);
        let Some(metered) = metered else {
            let kind = rated.iter().find_map(|(.., placement)| placement.kind);
            let unit = light.unit.name.as_ref();
            let named = [
                (unit.map(|name| format!("unit {name}")), rating.hypot(sync)),
                (kind.map(|kind| format!("modifier {}", kind.kind.0)), modifier),
                (Some("room".to_owned()), room),
            ];
            let own = named.iter().filter(|(name, _)| name.is_none()).map(|(_, half)| *half);
            let own = own.chain([filters, DIAL]).fold(0.0, f64::hypot);
            let common = named.into_iter().filter_map(|(name, half)| Some((name?, half))).collect();
            return Doubt { own, common, dial: DIAL, repeat };
        };
        // What was metered is known; the rest of a light's points are known by its rating.
        let rating = [rating, modifier, sync, room, filters].into_iter().fold(0.0, f64::hypot);
        for (point, ..) in rated {
            let pair = &mut pairs[(index, *point)];
            *pair = pair.hypot(rating);
        }
        Doubt { own: metered, common: Vec::new(), dial: DIAL, repeat }
    });
    let all = all.collect();
    (all, pairs)
}

/// The half-width of a light from where it is: distance and incidence.
fn of_place(placement: &Placement) -> f64 {
    let by_distance = 2.0 * (1.0 + DISTANCE_M / placement.distance.get()).log2();
    let steepness = placement.incidence_deg.min(STEEPEST_DEG).to_radians().tan();
    by_distance.hypot(steepness * INCIDENCE_DEG.to_radians() * std::f64::consts::LOG2_E)
}

/// The half-widths of what a light is computed from: rating, modifier, high-speed sync, room, filters.
fn of_rating(scene: &Scene, light: &Light, placement: &Placement) -> [f64; 5] {
    let middle = |[low, high]: [f64; 2]| f64::midpoint(low, high);
    let stated = if light.unit.lamp.is_some() { LAMP } else { RATING };
    let rating =
        beam_at_full(&light.unit, placement.beam.as_ref()).map_or(0.0, |beam| middle(half_widths(beam)));
    let modifier = middle(half_widths(placement.modifier.map(Stops::factor)));
    let has_modifier = placement.modifier.typical != Stops::ZERO;
    let sync = light.unit.through(scene.shutter()).map_or(0.0, |through| middle(half_widths(through)));
    [
        if rating > 0.0 { rating } else { stated },
        if has_modifier && modifier <= 0.0 { MODIFIER } else { modifier },
        sync,
        placement.factor.map_or(0.0, |factor| middle(half_widths(factor))),
        FILTER * (light.filters.len() as f64).sqrt(),
    ]
}

/// The half-width of what a light's own readings say of it: of the least sure; `None` without readings.
fn of_readings(scene: &Scene, light: usize, now: Option<Stops>) -> Option<f64> {
    let own = scene.contributions.iter().filter(|contribution| contribution.light == light);
    let halves = own.filter_map(|contribution| match contribution.origin {
        Origin::Reading { below, plus_minus, .. } => {
            let reading = of_reading(plus_minus, scene.meter).sqrt() * COVERAGE;
            // At the same setting its part drops out.
            let dial = if now.is_none_or(|now| (now.get() - below.get()).abs() < 1e-6) { 0.0 } else { DIAL };
            Some(reading.hypot(dial))
        }
        Origin::Placement { .. } => None,
    });
    halves.reduce(f64::max)
}
