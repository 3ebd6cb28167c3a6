//! What light each point of a set is to get.

use crate::light::{
    error::{InvalidPart, InvalidValue, Part},
    quantity::{FNumber, Stops, words::words},
    set::{LightMatrix, Scene, ratio::Side},
};

words! {
    /// The side of a target that is wanted.
    pub enum TargetSide as "TargetSide" {
        /// The target itself; too dark and too bright are errors.
        Both = "both",
        /// The target or less; only too bright is an error.
        AtMost = "at_most",
        /// The target or more; only too dark is an error.
        AtLeast = "at_least",
    }
}

impl TargetSide {
    /// The part of an error that counts, stops.
    pub fn error(self, stops: f64) -> f64 {
        match self {
            Self::Both => stops,
            Self::AtMost => stops.max(0.0),
            Self::AtLeast => stops.min(0.0),
        }
    }

    /// The distances from the target that are within a tolerance, stops; infinite on the side that is free.
    pub const fn within(self, tolerance: f64) -> [f64; 2] {
        match self {
            Self::Both => [-tolerance, tolerance],
            Self::AtMost => [f64::NEG_INFINITY, tolerance],
            Self::AtLeast => [-tolerance, f64::INFINITY],
        }
    }
}

/// The target light of a point, in the picture: what the lens takes counts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Target {
    /// What would be set on the lens.
    FNumber(FNumber),
    /// Stops relative to the working exposure.
    Stops(Stops),
    /// No more than so many stops relative to the working exposure; less is no error.
    AtMost(Stops),
    /// No less than so many stops relative to the working exposure; more is no error.
    AtLeast(Stops),
    /// The point `to` gets `ratio` times the light of this point.
    Ratio {
        /// The ratio, to 1.
        ratio: f64,
        /// The index of the other point.
        to: usize,
    },
}

impl Target {
    /// The side that is wanted.
    pub fn side(self) -> TargetSide {
        match self {
            Self::AtMost(_) => TargetSide::AtMost,
            Self::AtLeast(_) => TargetSide::AtLeast,
            Self::FNumber(_) | Self::Stops(_) | Self::Ratio { .. } => TargetSide::Both,
        }
    }
}

/// The target light of every point.
pub struct Targets {
    /// Before the lens, as N². A point without a target is to get the working exposure.
    pub light: Vec<f64>,
    /// Whether any lights can make the lighting ratio of the two-light shorthand; true without it.
    pub is_ratio_possible: bool,
}

impl Scene {
    /// The target light of every point. A ratio target follows its chain of points, which must end; to a point with a
    /// one-sided target it is a ratio to that bound, and has two sides itself.
    pub fn targets(&self, matrix: &LightMatrix, faults: &mut Vec<InvalidPart>) -> Targets {
        let lens = self.lens_stops().exp2();
        let mut light: Vec<f64> =
            (0..self.points.len()).map(|point| self.target_in_picture(point, faults) / lens).collect();
        let mut is_ratio_possible = true;
        if let Some(ratio) = self.ratio
            && let [lit, shadow] = light.as_mut_slice()
        {
            let target = ratio.shadow(*lit, self.sides(matrix));
            is_ratio_possible = target.is_some();
            *shadow = target.unwrap_or(*lit / ratio.sides());
        }
        Targets { light, is_ratio_possible }
    }

    /// The light of key, fill and ambient light on the two sides of a lighting ratio.
    pub fn sides(&self, matrix: &LightMatrix) -> [Side; 2] {
        let (key, fill) = self.ratio.map_or((0, 0), |ratio| (ratio.key, ratio.fill));
        [0, 1].map(|point| Side {
            key: matrix.gain[point][key].typical,
            fill: matrix.gain[point][fill].typical,
            ambient: matrix.ambient[point],
        })
    }

    fn target_in_picture(&self, start: usize, faults: &mut Vec<InvalidPart>) -> f64 {
        let working = self.exposure.f_number.squared();
        let (mut at, mut over) = (start, 1.0);
        // A chain longer than the list of points runs in a circle.
        for _ in 0..=self.points.len() {
            match self.points[at].target {
                None => return working / over,
                Some(Target::FNumber(f_number)) => return f_number.squared() / over,
                Some(Target::Stops(stops) | Target::AtMost(stops) | Target::AtLeast(stops)) => {
                    return working * stops.factor() / over;
                }
                Some(Target::Ratio { ratio, to }) => {
                    over *= ratio;
                    at = to;
                }
            }
        }
        faults.push(InvalidValue::CircularRatios.in_part(Part::TargetPoint(start)));
        working
    }
}
