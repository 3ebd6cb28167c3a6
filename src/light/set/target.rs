//! What light each point of a set is to get.

use crate::light::{
    error::{InvalidPart, InvalidValue, Part},
    quantity::{FNumber, Stops},
    set::{LightMatrix, Scene, ratio::Side},
};

/// The target light of a point, in the picture: what the lens takes counts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Target {
    /// What would be set on the lens.
    FNumber(FNumber),
    /// Stops relative to the working exposure.
    Stops(Stops),
    /// The point `to` gets `ratio` times the light of this point.
    Ratio {
        /// The ratio, to 1.
        ratio: f64,
        /// The index of the other point.
        to: usize,
    },
}

/// The target light of every point.
pub struct Targets {
    /// Before the lens, as N². A point without a target is to get the working exposure.
    pub light: Vec<f64>,
    /// Whether any lights can make the lighting ratio of the two-light shorthand; true without it.
    pub is_ratio_possible: bool,
}

impl Scene {
    /// The target light of every point. A ratio target follows its chain of points, which must end.
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
                Some(Target::Stops(stops)) => return working * stops.factor() / over,
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
