//! The light at a point, computed from distance and angles.
//!
//! A beam of Q cd·s gives H = Q·cos(i)/d² (inverse-square and cosine law: CIE e-ILV 17-25-104). With
//! N² = H·S/C (ISO 2720:1974 applied to flash) and GN² = Q·S/C (ISO 1230) that is
//! N² = GN²·(S/100)·cos(i)/d². A face takes the place of cos(i)/d² with its own factor (see
//! [`crate::light::set::face`]), to which boards and the walls of a room add.

use std::f64::consts::PI;

use crate::light::{
    quantity::{
        Estimate, Iso, Metres, Stops,
        half_widths::{LAMP, RATING},
    },
    set::{
        beam::Beam,
        face::{Face, Place},
        modifier::ModifierKind,
    },
    unit::{
        Unit,
        coverage::Coverage,
        guide::estimated_guide_number,
        lamp::{self, Lamp},
    },
};

/// The shape and size of the emitting face of a source.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Source {
    /// A round face.
    Disc {
        /// The diameter.
        diameter: Metres,
    },
    /// A rectangular face.
    Rectangle {
        /// Its width.
        width: Metres,
        /// Its height.
        height: Metres,
    },
}

impl Source {
    /// Its largest side, or its diameter.
    pub fn largest(self) -> Metres {
        match self {
            Self::Disc { diameter } => diameter,
            Self::Rectangle { width, height } => {
                if width > height {
                    width
                } else {
                    height
                }
            }
        }
    }

    /// Light on the axis over that of the inverse-square law, for a uniform Lambertian face turned
    /// to the point: 1/(1+(R/d)²) for a disc; four times the corner view factor for a rectangle
    /// (published: Siegel & Howell, Thermal Radiation Heat Transfer). Within 1 % of 1 at five times
    /// the largest dimension (ANSI/IES LS-1, 9.1.1).
    ///
    /// ```
    /// use stopwright::light::{quantity::Metres, set::placement::Source};
    /// let disc = Source::Disc { diameter: Metres::new_unchecked(1.0) };
    /// assert!((disc.factor(Metres::new_unchecked(1.0)) - 0.8).abs() < 1e-12);
    /// ```
    pub fn factor(self, distance: Metres) -> f64 {
        let d = distance.get();
        match self {
            Self::Disc { diameter } => 1.0 / (1.0 + (diameter.get() / 2.0 / d).powi(2)),
            Self::Rectangle { width, height } => {
                let (a, b) = (width.get() / 2.0 / d, height.get() / 2.0 / d);
                let side = |a: f64, b: f64| {
                    let slant = (1.0 + a * a).sqrt();
                    a / slant * (b / slant).atan()
                };
                let corner = (side(a, b) + side(b, a)) / (2.0 * PI);
                // E = π·L·4F over L·w·h/d².
                4.0 * PI * corner * d * d / (width.get() * height.get())
            }
        }
    }
}

/// A light relative to a point, with beam, modifier and face.
#[derive(Debug, Clone, PartialEq)]
pub struct Placement {
    /// Distance from the light to the point.
    pub distance: Metres,
    /// Angle between the direction of the light and the normal of the point, degrees.
    pub incidence_deg: f64,
    /// Angle between the axis of the light and the direction to the point, degrees.
    pub off_axis_deg: f64,
    /// The falloff of its beam; uniform if `None`.
    pub beam: Option<Beam>,
    /// The effect of its modifier, relative to the unit as rated.
    pub modifier: Estimate<Stops>,
    /// The kind of its modifier, if only the kind is known.
    pub kind: Option<&'static ModifierKind>,
    /// The shape and size of its emitting face; a point if `None`.
    pub source: Option<Source>,
    /// What takes the place of cosine over the square of the distance, 1/m², where positions, boards or a room decide it;
    /// from the distance and the angles if `None`.
    pub factor: Option<Estimate<f64>>,
    /// How sure its distance and its angles are.
    pub sure: Sure,
}

/// What is said of how sure a distance and its angles are, 95 % half-widths.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Sure {
    /// Of the distance.
    pub distance: Option<Metres>,
    /// Of both angles, degrees.
    pub angles_deg: Option<f64>,
}

impl Placement {
    /// A placement on the axis, at a distance, with the point facing the light.
    pub fn at(distance: Metres) -> Self {
        Self {
            distance,
            incidence_deg: 0.0,
            off_axis_deg: 0.0,
            beam: None,
            modifier: Estimate::exact(Stops::ZERO),
            kind: None,
            source: None,
            factor: None,
            sure: Sure::default(),
        }
    }

    /// N² over GN² for this placement at an ISO speed. Zero if the light is behind the plane of the point.
    pub fn transfer(&self, iso: Iso) -> Estimate<f64> {
        let factor = self.factor.unwrap_or_else(|| Estimate::exact(self.by_distance()));
        self.modifier.map(|modifier| iso.get() / 100.0 * modifier.factor()).times(factor)
    }

    /// The factor by distance and angles, 1/m². Light, point, axis and normal are in the level plane; where both angles are
    /// equal, the planes of face and point are parallel.
    pub fn by_distance(&self) -> f64 {
        let d = self.distance.get();
        let beam = self.beam.as_ref();
        if self.source.is_none() {
            // A right angle gives exactly zero, without the rounding error of the cosine.
            let cosine = if self.incidence_deg >= 90.0 { 0.0 } else { self.incidence_deg.to_radians().cos() };
            return cosine * beam.map_or(1.0, |beam| beam.relative(self.off_axis_deg)) / (d * d);
        }
        let level = |angle_deg: f64| {
            let (sine, cosine) = angle_deg.to_radians().sin_cos();
            [sine, cosine, 0.0]
        };
        let place = Place { at: [0.0, d, 0.0], normal: Some(level(self.incidence_deg).map(|part| -part)) };
        Face::new([0.0; 3], level(self.off_axis_deg), self.source, beam).factor(&place, &[])
    }

    /// Its light over that on the axis at a distance, the point facing the light: what moving a metered light from there
    /// does. The modifier was metered.
    pub fn over(&self, distance: Metres, iso: Iso) -> f64 {
        let here = Self { modifier: Estimate::exact(Stops::ZERO), ..self.clone() };
        let there = Self { distance, incidence_deg: 0.0, off_axis_deg: 0.0, factor: None, ..here.clone() };
        here.transfer(iso).typical / there.transfer(iso).typical
    }

    /// The light of a unit at full power with this placement, as N². `None` if the output of the unit is unknown.
    pub fn light(&self, unit: &Unit, iso: Iso) -> Option<Estimate<f64>> {
        Some(beam_at_full(unit, self.beam.as_ref())?.times(self.transfer(iso)))
    }
}

/// The square of the guide number of a unit at full power, including its measured offset: as stated, or estimated from
/// energy and beam or coverage; its ends by what the unit says of how sure its light is, if it does. Of a lamp that of a flash like one second of its light. `None` if neither is possible.
pub fn beam_at_full(unit: &Unit, beam: Option<&Beam>) -> Option<Estimate<f64>> {
    let offset = unit.offset.factor();
    if let Some(lamp) = unit.lamp {
        let light = intensity(lamp, unit, beam)?.times(Estimate::within(1.0, LAMP.value));
        return Some(stated(light.map(|candela| lamp::square_of_a_second(candela) * offset), unit));
    }
    let square = match (unit.guide_number, unit.energy, Beam::shaped(beam), unit.coverage) {
        _ if unit.needs_zoom() => return None,
        (Some(guide), _, _, _) => Estimate::within(guide.get() * guide.get(), RATING.value),
        (None, Some(energy), Some(beam), coverage) => beam.guide_square(energy, coverage),
        (None, Some(energy), None, Some(coverage)) => {
            estimated_guide_number(energy, coverage).map(|guide| guide * guide)
        }
        _ => return None,
    };
    Some(stated(square.map(|square| square * offset), unit))
}

/// The light of a unit with the half-width that the unit states, if it does.
fn stated(light: Estimate<f64>, unit: &Unit) -> Estimate<f64> {
    unit.plus_minus.map_or(light, |stated| Estimate::within(light.typical, stated.get()))
}

/// The intensity of a lamp on its axis at full output, cd, by its beam, or else by the coverage of the unit.
pub fn intensity(lamp: Lamp, unit: &Unit, beam: Option<&Beam>) -> Option<Estimate<f64>> {
    let by_beam = Beam::shaped(beam).map(|beam| beam.per_steradian(unit.coverage));
    lamp.intensity(by_beam.or_else(|| unit.coverage.map(Coverage::per_steradian)))
}
