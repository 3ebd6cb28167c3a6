//! The search problem behind a balance: lights on grids of power, points with targets.
//!
//! Achieved light at a point is ambient plus the sum over lights of gain times power; its error is
//! log2(achieved / target) in stops. All light is in one unit, that of N² at the working ISO speed.

/// The darkest error that is told apart, stops; also that of no light at all.
pub const DARKEST_STOPS: f64 = -60.0;
/// Worst errors closer than this are equal, stops.
pub const SAME_WORST: f64 = 1e-9;
/// Sums of squares closer than this are equal, stops².
pub const SAME_SQUARES: f64 = 1e-9;

/// The settings of one light.
#[derive(Debug, Clone, PartialEq)]
pub struct Levels {
    /// Part of full power of each setting, strictly descending; 0 is off.
    pub power: Vec<f64>,
    /// Energy of each setting, J, in proportion to its power.
    pub energy_j: Vec<f64>,
}

/// The settings still open to a light: first (highest power) to last, both included.
pub type Domain = [u16; 2];

impl Levels {
    /// The least and the most power of a domain.
    #[inline]
    pub fn ends(&self, [first, last]: Domain) -> [f64; 2] {
        [self.power[usize::from(last)], self.power[usize::from(first)]]
    }

    /// Energy of full power, J: energy is in proportion to power.
    pub fn energy_at_full(&self) -> f64 {
        if self.power[0] > 0.0 { self.energy_j[0] / self.power[0] } else { 0.0 }
    }
}

/// One metering point.
#[derive(Debug, Clone, PartialEq)]
pub struct Point {
    /// Light that each light gives here at full power.
    pub gain: Vec<f64>,
    /// Light that is there anyway.
    pub ambient: f64,
    /// Light wanted, above 0.
    pub target: f64,
    /// What an error here counts, above 0.
    pub weight: f64,
}

/// Lights and points. Every point has a gain for every light; every light has a setting.
#[derive(Debug, Clone, PartialEq)]
pub struct Problem {
    /// The lights.
    pub lights: Vec<Levels>,
    /// The points.
    pub points: Vec<Point>,
}

/// How good a choice is; less is better, in the order of the fields.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Score {
    /// Worst weighted error, stops.
    pub worst: f64,
    /// Sum of the squared weighted errors.
    pub squares: f64,
    /// Total energy, J.
    pub energy_j: f64,
}

impl Score {
    /// Whether this is better: worst error, then sum of squares, then energy.
    pub fn better_than(&self, other: &Self) -> bool {
        if (self.worst - other.worst).abs() > SAME_WORST {
            return self.worst < other.worst;
        }
        if (self.squares - other.squares).abs() > SAME_SQUARES {
            return self.squares < other.squares;
        }
        self.energy_j < other.energy_j - 1e-9 * other.energy_j.abs()
    }
}

impl Point {
    /// Error of an amount of light, stops.
    pub fn error_stops(&self, light: f64) -> f64 {
        (light / self.target).log2().max(DARKEST_STOPS)
    }

    /// The least and the most light within a weighted error.
    pub fn range(&self, worst: f64) -> [f64; 2] {
        let factor = (worst / self.weight).exp2();
        [self.target / factor, self.target * factor]
    }

    /// The error nearest to none that an interval of light allows, stops.
    pub fn least_error(&self, least: f64, most: f64) -> f64 {
        if most < self.target {
            -self.error_stops(most)
        } else if least > self.target {
            self.error_stops(least)
        } else {
            0.0
        }
    }
}

impl Problem {
    /// Light at a point with every light at its chosen setting.
    pub fn achieved(&self, choice: &[usize], point: &Point) -> f64 {
        let lights = self.lights.iter().zip(&point.gain).zip(choice);
        point.ambient + lights.map(|((levels, gain), &index)| gain * levels.power[index]).sum::<f64>()
    }

    /// How good a choice is.
    pub fn score(&self, choice: &[usize]) -> Score {
        let (mut worst, mut squares) = (0.0_f64, 0.0);
        for point in &self.points {
            let error = point.weight * point.error_stops(self.achieved(choice, point)).abs();
            worst = worst.max(error);
            squares += error * error;
        }
        Score { worst, squares, energy_j: self.energy_j(choice) }
    }

    /// Total energy of a choice, J.
    pub fn energy_j(&self, choice: &[usize]) -> f64 {
        self.lights.iter().zip(choice).map(|(levels, &index)| levels.energy_j[index]).sum()
    }

    /// Worst error without weights, stops.
    pub fn worst_error_stops(&self, choice: &[usize]) -> f64 {
        let errors = self.points.iter().map(|point| point.error_stops(self.achieved(choice, point)).abs());
        errors.fold(0.0, f64::max)
    }
}
