//! The falloff of a beam away from its axis.
//!
//! Either a model, a power of the cosine with a stated half-power angle, or a measured table.

use std::f64::consts::PI;

use crate::light::{
    quantity::{Estimate, Joules, Steradians},
    unit::coverage::Coverage,
};

/// The intensity of a beam by angle from its axis, relative to the axis.
#[derive(Debug, Clone, PartialEq)]
pub enum Beam {
    /// cos(θ)^n with half intensity at `deg`/2 from the axis and no light backwards. A model (common practice).
    HalfPower {
        /// The full angle between the two directions of half intensity, degrees, under 180.
        deg: f64,
    },
    /// Measured: rows of angle from the axis in degrees, rising from 0, and relative intensity. Linear between rows, no
    /// light beyond the last.
    Table(Vec<[f64; 2]>),
    /// Equally strong in all directions, for a face too, whose light does not fall off with the cosine then.
    Even,
}

impl Beam {
    /// Relative intensity at an angle from the axis in degrees.
    ///
    /// ```
    /// use stopwright::light::set::beam::Beam;
    /// let beam = Beam::HalfPower { deg: 60.0 };
    /// assert!((beam.relative(30.0) - 0.5).abs() < 1e-12);
    /// assert_eq!(beam.relative(90.0), 0.0);
    /// ```
    pub fn relative(&self, off_axis_deg: f64) -> f64 {
        match self {
            Self::Even => 1.0,
            Self::HalfPower { .. } if off_axis_deg >= 90.0 => 0.0,
            Self::HalfPower { deg } => off_axis_deg.to_radians().cos().powf(exponent(*deg)),
            Self::Table(rows) => {
                let after = rows.partition_point(|row| row[0] <= off_axis_deg);
                let axis = rows.first().map_or(1.0, |row| row[1]);
                match (after.checked_sub(1).and_then(|before| rows.get(before)), rows.get(after)) {
                    (Some([from, low]), Some([to, high])) => {
                        (low + (high - low) * (off_axis_deg - from) / (to - from)) / axis
                    }
                    (Some([last, relative]), None) if (off_axis_deg - last).abs() < 1e-9 => relative / axis,
                    _ => 0.0,
                }
            }
        }
    }

    /// Relative intensity by the cosine of the angle from the axis, ready for many angles.
    pub fn by_cosine(&self) -> impl Fn(f64) -> f64 + '_ {
        let power = match self {
            Self::HalfPower { deg } => exponent(*deg),
            Self::Table(_) | Self::Even => 0.0,
        };
        move |cosine: f64| match self {
            Self::HalfPower { .. } => cosine.max(0.0).powf(power),
            Self::Table(_) => self.relative(cosine.clamp(-1.0, 1.0).acos().to_degrees()),
            Self::Even => 1.0,
        }
    }

    /// The integral of the relative intensity over the sphere: 2π/(n+1) for a power of the cosine, a closed form between
    /// the rows of a table (derived). Beam (cd·s) times this is light (lm·s).
    pub fn solid_angle(&self) -> Steradians {
        Steradians::new_unchecked(match self {
            Self::Even => 4.0 * PI,
            Self::HalfPower { deg } => 2.0 * PI / (exponent(*deg) + 1.0),
            Self::Table(rows) => {
                let axis = rows.first().map_or(1.0, |row| row[1]);
                let part = |pair: &[[f64; 2]]| {
                    let [[from, low], [to, high]] = [pair[0], pair[1]];
                    let (from, to) = (from.to_radians(), to.to_radians());
                    let slope = (high - low) / (to - from);
                    // ∫ (a + bθ)·sin θ dθ = -(a + bθ)·cos θ + b·sin θ.
                    let at = |angle: f64, value: f64| -value * angle.cos() + slope * angle.sin();
                    at(to, high) - at(from, low)
                };
                2.0 * PI / axis * rows.windows(2).map(part).sum::<f64>()
            }
        })
    }

    /// The beam, unless it is even: that says nothing about how wide it is.
    pub fn shaped(beam: Option<&Self>) -> Option<&Self> {
        beam.filter(|beam| **beam != Self::Even)
    }

    /// The angle over which it changes much, rad: where it has half of its strength.
    pub fn scale(&self) -> f64 {
        match self {
            Self::Even => PI,
            Self::HalfPower { deg } => (deg / 2.0).to_radians(),
            Self::Table(rows) => {
                let half = rows.first().map_or(0.0, |axis| axis[1] / 2.0);
                rows.iter().find(|row| row[1] < half).or(rows.last()).map_or(PI, |row| row[0]).to_radians()
            }
        }
    }

    /// The full angle between the directions of half intensity, degrees; `None` if it is even.
    ///
    /// ```
    /// use stopwright::light::set::beam::Beam;
    /// let table = Beam::Table(vec![[0.0, 1.0], [20.0, 0.8], [40.0, 0.2]]);
    /// assert!(table.half_power_deg().is_some_and(|deg| (deg - 60.0).abs() < 1e-9));
    /// ```
    pub fn half_power_deg(&self) -> Option<f64> {
        match self {
            Self::Even => None,
            Self::HalfPower { deg } => Some(*deg),
            Self::Table(rows) => {
                let half = rows.first()?[1] / 2.0;
                let crossing = rows.windows(2).find(|pair| pair[1][1] <= half);
                let angle = crossing.map(|pair| {
                    let [[from, high], [to, low]] = [pair[0], pair[1]];
                    if high > low { from + (to - from) * (high - half) / (high - low) } else { from }
                });
                Some(2.0 * angle.unwrap_or(rows.last()?[0]))
            }
        }
    }

    /// Whether it has kinks and perhaps an edge.
    pub const fn is_rough(&self) -> bool {
        matches!(self, Self::Table(_))
    }

    /// The square of the guide number of a unit of known energy with this beam, at full power and ISO 100:
    /// `Q = lm·s · share / Ω` with Ω of the beam.
    pub fn guide_square(&self, energy: Joules, coverage: Option<Coverage>) -> Estimate<f64> {
        crate::light::unit::guide::guide_square(energy, self.share(coverage), self.solid_angle().get())
    }

    /// The part of a lamp's light in a unit of solid angle on the axis.
    pub fn per_steradian(&self, coverage: Option<Coverage>) -> Estimate<f64> {
        self.share(coverage).map(|share| share / self.solid_angle().get())
    }

    /// The share of a lamp's light in the beam: that of `coverage`, or of a cone with the solid angle of this beam.
    fn share(&self, coverage: Option<Coverage>) -> Estimate<f64> {
        let solid_angle = self.solid_angle().get();
        let cone = || Coverage::Cone {
            cone_deg: 2.0 * (1.0 - solid_angle / (2.0 * PI)).clamp(-1.0, 1.0).acos().to_degrees(),
        };
        coverage.unwrap_or_else(cone).share()
    }
}

/// The exponent n for which cos(θ)^n is 1/2 at half the full angle.
fn exponent(half_power_deg: f64) -> f64 {
    0.5_f64.ln() / (half_power_deg / 2.0).to_radians().cos().ln()
}
