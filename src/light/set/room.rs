//! The even light off the walls of a room.
//!
//! Of the lumens Φ of a light, walls of reflectance ρ and area A leave E = Φ·ρ/(A·(1 - ρ)) everywhere: the integrating
//! sphere's multiplier less the first pass (from memory of radiometry texts). A real room is no sphere: a factor of two
//! either way.

use std::f64::consts::PI;

use crate::light::{
    quantity::{Estimate, Metres},
    set::{beam::Beam, placement::Source},
    unit::Unit,
};

/// How far the light off the walls may be off, either way (our judgement: real rooms differ from a sphere).
pub const FACTOR: f64 = 2.0;

/// A closed room.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Room {
    /// Its width, its depth and its height.
    pub size: [Metres; 3],
    /// The mean reflectance of its walls, its floor and its ceiling.
    pub reflectance: f64,
}

impl Room {
    /// The factor of a light whose lumens are this many times its intensity, 1/m²: it takes the place of cosine over the
    /// square of the distance.
    pub fn factor(&self, solid_angle_sr: f64) -> Estimate<f64> {
        let [width, depth, height] = self.size.map(Metres::get);
        let area = 2.0 * (width * depth + depth * height + height * width);
        let typical = solid_angle_sr * self.reflectance / (area * (1.0 - self.reflectance));
        Estimate { low: typical / FACTOR, typical, high: typical * FACTOR }
    }
}

/// The lumens of a light over its intensity on the axis, sr: the solid angle of its beam, π of a Lambertian face, or the
/// solid angle of the unit's coverage. `None` if none is known.
pub fn solid_angle_sr(unit: &Unit, source: Option<Source>, beam: Option<&Beam>) -> Option<f64> {
    match (beam, source) {
        (Some(beam @ (Beam::HalfPower { .. } | Beam::Table(_))), _) => Some(beam.solid_angle().get()),
        // ∫ cosθ over the half sphere.
        (None, Some(_)) => Some(PI),
        (Some(Beam::Even), _) | (None, None) => unit.coverage.map(|coverage| coverage.solid_angle().get()),
    }
}
