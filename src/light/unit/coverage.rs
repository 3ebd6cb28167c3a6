//! The width of a beam: its solid angle, and the share of the lamp's light inside it.

use std::f64::consts::PI;

use crate::light::quantity::{
    Estimate, Steradians,
    constants::{FRAME_MM, SHARE_50, SHARE_LONG, SHARE_WIDE},
};

/// The coverage of a flash head.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Coverage {
    /// The field of a lens on a frame.
    FocalLength {
        /// Focal length, mm.
        focal_length_mm: f64,
        /// The sides of the frame, mm.
        frame_mm: [f64; 2],
    },
    /// A rectangular pyramid.
    Angles {
        /// Full horizontal angle, degrees.
        horizontal_deg: f64,
        /// Full vertical angle, degrees.
        vertical_deg: f64,
    },
    /// A cone.
    Cone {
        /// Full angle, degrees.
        cone_deg: f64,
    },
    /// On-axis intensity over that of an isotropic source of equal flux.
    Gain {
        /// The ratio.
        gain: f64,
    },
}

impl Coverage {
    /// The two full angles of the field of a lens: 2·atan(x/2f) (pinhole geometry), degrees.
    pub fn angles_deg(focal_length_mm: f64, frame_mm: [f64; 2]) -> [f64; 2] {
        frame_mm.map(|side| 2.0 * (side / (2.0 * focal_length_mm)).atan().to_degrees())
    }

    /// The solid angle: 4·asin(sin(a/2)·sin(b/2)) of a rectangular pyramid, 2π(1 - cos(a/2)) of a
    /// cone (derived: spherical geometry); 4π/g for a gain, since Q = lm·s·g/4π.
    ///
    /// ```
    /// use stopwright::light::unit::coverage::Coverage;
    /// let cone = Coverage::Cone { cone_deg: 60.0 };
    /// assert!((cone.solid_angle().get() - 0.841787).abs() < 1e-6);
    /// ```
    pub fn solid_angle(self) -> Steradians {
        Steradians::new_unchecked(match self {
            Self::FocalLength { focal_length_mm, frame_mm } => {
                pyramid(Self::angles_deg(focal_length_mm, frame_mm))
            }
            Self::Angles { horizontal_deg, vertical_deg } => pyramid([horizontal_deg, vertical_deg]),
            Self::Cone { cone_deg } => 2.0 * PI * (1.0 - (cone_deg / 2.0).to_radians().cos()),
            Self::Gain { gain } => 4.0 * PI / gain,
        })
    }

    /// The focal length on 36 x 24 mm with the same coverage: frames are scaled by their diagonals, cones and angles are
    /// converted by equal solid angle. `None` for a gain, which includes all the light.
    pub fn focal_length_35_mm(self) -> Option<f64> {
        match self {
            Self::FocalLength { focal_length_mm, frame_mm } => {
                let diagonal = |[w, h]: [f64; 2]| w.hypot(h);
                Some(focal_length_mm * diagonal(FRAME_MM) / diagonal(frame_mm))
            }
            Self::Gain { .. } => None,
            Self::Angles { .. } | Self::Cone { .. } => {
                let target = self.solid_angle().get();
                // The solid angle falls with the focal length, so bisect on its logarithm.
                let (mut short, mut long) = (1e-3_f64, 1e5_f64);
                for _ in 0..80 {
                    let middle = (short * long).sqrt();
                    if pyramid(Self::angles_deg(middle, FRAME_MM)) > target {
                        short = middle;
                    } else {
                        long = middle;
                    }
                }
                Some((short * long).sqrt())
            }
        }
    }

    /// The share of the lamp's light inside the coverage (from memory, rough): by focal length, linear
    /// in ln(focal length) between 35, 50 and 105 mm. For a gain it is all of the light, by definition.
    pub fn share(self) -> Estimate<f64> {
        let Some(focal) = self.focal_length_35_mm() else {
            return Estimate::exact(1.0);
        };
        let between = |a: Estimate<f64>, b: Estimate<f64>, from: f64, to: f64| {
            let part = ((focal / from).ln() / (to / from).ln()).clamp(0.0, 1.0);
            let mix = |a: f64, b: f64| a + (b - a) * part;
            Estimate { low: mix(a.low, b.low), typical: mix(a.typical, b.typical), high: mix(a.high, b.high) }
        };
        if focal <= 50.0 {
            between(SHARE_WIDE, SHARE_50, 35.0, 50.0)
        } else {
            between(SHARE_50, SHARE_LONG, 50.0, 105.0)
        }
    }

    /// The part of the lamp's light in a unit of solid angle inside it, taken as even.
    pub fn per_steradian(self) -> Estimate<f64> {
        self.share().map(|share| share / self.solid_angle().get())
    }
}

/// The solid angle of a rectangular pyramid with these full angles, sr.
fn pyramid(angles_deg: [f64; 2]) -> f64 {
    let [a, b] = angles_deg.map(|angle| (angle / 2.0).to_radians().sin());
    4.0 * (a * b).asin()
}
