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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::light::set::{
        face::{Face, Place},
        vector::unit,
    };

    fn metres(length: f64) -> Metres {
        Metres::new_unchecked(length)
    }

    #[test]
    fn the_walls_send_on_what_an_integrating_sphere_does() {
        // By hand: 4 × 5 × 2.5 m has 85 m²; with a reflectance of 0.5 the lumens over the area, and half and twice that.
        let room = Room { size: [metres(4.0), metres(5.0), metres(2.5)], reflectance: 0.5 };
        let factor = room.factor(PI);
        assert!((factor.typical - PI / 85.0).abs() < 1e-12);
        assert!((factor.low * 2.0 - factor.typical).abs() < 1e-12);
        assert!((factor.high - 2.0 * factor.typical).abs() < 1e-12);
        // All bounces in a closed room take up what the light gives: E·A·(1 - ρ) = Φ·ρ.
        let room = Room { reflectance: 0.8, ..room };
        assert!((room.factor(4.0).typical * 85.0 * 0.2 - 4.0 * 0.8).abs() < 1e-12);
    }

    #[test]
    fn a_face_gives_pi_times_its_intensity_on_the_axis() {
        // The sum of its light over a sphere around it, far away.
        let face = Face::new([0.0; 3], [0.0, 0.0, 1.0], Some(Source::Disc { diameter: metres(0.01) }), None);
        let rings = 2000;
        let sum: f64 = (0..rings)
            .map(|ring| (f64::from(ring) + 0.5) / f64::from(rings))
            .map(|height| {
                let at = [(1.0 - height * height).sqrt(), 0.0, height].map(|part| 100.0 * part);
                let place = Place { at, normal: Some(unit(at.map(|part| -part))) };
                face.factor(&place, &[]) * 2.0 * PI * 1e4 / f64::from(rings)
            })
            .sum();
        assert!((sum / PI - 1.0).abs() < 1e-3, "{sum}");
    }
}
