//! The search problem behind a balance: lights on grids of power, points with targets.
//!
//! Achieved light at a point is ambient plus the sum over lights of gain times power; its error is
//! log2(achieved / target) in stops, on the sides of the target that count. All light is in one unit, that of N² at the
//! working ISO speed.

/// The error of no light at all, stops; anything darker counts as this.
pub const DARKEST_STOPS: f64 = -60.0;
/// No light is brighter than its target by more than this, stops. It caps what a small weight allows.
const BRIGHTEST_STOPS: f64 = 200.0;
/// Room for rounding at a limit, stops.
const LIMIT_ROOM_STOPS: f64 = 1e-9;
/// The error of a choice above a limit begins here: worse than any error of light, so that it is never chosen if any
/// other choice is within.
const OVER_LIMIT_STOPS: f64 = 1e6;
/// Worst errors closer than this are equal, stops.
pub const SAME_WORST: f64 = 1e-9;
/// Sums of squares closer than this are equal, stops².
pub const SAME_SQUARES: f64 = 1e-9;

/// The settings of one light.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Levels {
    /// Part of full power of each setting, strictly descending; 0 is off.
    pub power: Vec<f64>,
    /// Energy of each setting, J.
    pub energy_j: Vec<f64>,
}

/// A range of a light's settings, first (highest power) to last, both included.
pub type Domain = [u16; 2];

impl Levels {
    /// The least and the most power of a domain.
    #[inline]
    pub fn ends(&self, [first, last]: Domain) -> [f64; 2] {
        [self.power[usize::from(last)], self.power[usize::from(first)]]
    }

    /// The least energy for each unit of power, J.
    pub fn least_energy_per_power(&self) -> f64 {
        let parts = self.power.iter().zip(&self.energy_j).filter(|(power, _)| **power > 0.0);
        let least = parts.map(|(power, energy)| energy / power).fold(f64::INFINITY, f64::min);
        if least.is_finite() { least } else { 0.0 }
    }
}

/// The side of a target on which light is an error.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Sides {
    /// Too dark and too bright.
    #[default]
    Both,
    /// Too bright only: at most the target is wanted.
    AtMost,
    /// Too dark only: at least the target is wanted.
    AtLeast,
    /// No metering point but a hard upper limit: ambient + Σ gain·power ≤ target, in a unit of its own. No choice above it
    /// is an answer, and none within it has an error.
    Limit,
}

/// One metering point, or one limit.
#[derive(Debug, Clone, PartialEq)]
pub struct Point {
    /// Light that each light gives here at full power, 0 or more.
    pub gain: Vec<f64>,
    /// Ambient light.
    pub ambient: f64,
    /// Target light, above 0.
    pub target: f64,
    /// The sides of the target that count.
    pub sides: Sides,
    /// Weight of an error here, above 0. No matter for a limit.
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
    /// Whether this is better: by worst error, then sum of squares, then energy. Worst errors and squares are rounded to
    /// steps of [`SAME_WORST`] and [`SAME_SQUARES`], so that the order has no cycles.
    pub fn better_than(&self, other: &Self) -> bool {
        let steps = |score: &Self| {
            ((score.worst / SAME_WORST).round() as i64, (score.squares / SAME_SQUARES).round() as i64)
        };
        match steps(self).cmp(&steps(other)) {
            std::cmp::Ordering::Less => true,
            std::cmp::Ordering::Equal => self.energy_j < other.energy_j,
            std::cmp::Ordering::Greater => false,
        }
    }
}

impl Point {
    /// Error of an amount of light, stops; 0 on a side that does not count, and at a limit.
    pub fn error_stops(&self, light: f64) -> f64 {
        let stops = self.stops_above(light);
        match self.sides {
            Sides::Both => stops,
            Sides::AtMost => stops.max(0.0),
            Sides::AtLeast => stops.min(0.0),
            Sides::Limit => 0.0,
        }
    }

    /// An amount of light against the target, whichever sides count, stops.
    pub fn stops_above(&self, light: f64) -> f64 {
        (light / self.target).log2().max(DARKEST_STOPS)
    }

    /// Whether this is a limit, not a metering point.
    pub fn is_limit(&self) -> bool {
        self.sides == Sides::Limit
    }

    /// The size of an error in a choice, stops. Above a limit it is beyond all errors of light.
    fn fault_stops(&self, light: f64) -> f64 {
        let stops = self.stops_above(light);
        if self.is_limit() && stops > LIMIT_ROOM_STOPS {
            return OVER_LIMIT_STOPS + stops;
        }
        self.error_stops(light).abs()
    }

    /// The least and the most light within a weighted error.
    pub fn range(&self, worst: f64) -> [f64; 2] {
        let stops = worst / self.weight;
        let brightest = match self.sides {
            Sides::Both | Sides::AtMost => stops.min(BRIGHTEST_STOPS),
            Sides::AtLeast => BRIGHTEST_STOPS,
            // Rounding in the rows stays within the room.
            Sides::Limit => 0.5 * LIMIT_ROOM_STOPS,
        };
        let has_least = matches!(self.sides, Sides::Both | Sides::AtLeast);
        // No light at all counts as the darkest error.
        let least = if has_least && stops < -DARKEST_STOPS - 1e-9 { self.target / stops.exp2() } else { 0.0 };
        [least, self.target * brightest.exp2()]
    }

    /// The part of a range of light that the lights must give, with room for the digits lost if nearly all of it is
    /// ambient.
    pub fn of_lights(&self, [least, most]: [f64; 2]) -> [f64; 2] {
        let room = 1e-14 * self.ambient;
        [least - self.ambient - room, most - self.ambient + room]
    }

    /// The smallest error, in size, within a range of light, stops.
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

    /// Whether a choice is within all limits.
    pub fn is_within_limits(&self, choice: &[usize]) -> bool {
        let is_within = |point: &Point| point.stops_above(self.achieved(choice, point)) <= LIMIT_ROOM_STOPS;
        self.points.iter().filter(|point| point.is_limit()).all(is_within)
    }

    /// How good a choice is.
    pub fn score(&self, choice: &[usize]) -> Score {
        let (mut worst, mut squares) = (0.0_f64, 0.0);
        for point in &self.points {
            let error = point.weight * point.fault_stops(self.achieved(choice, point));
            worst = worst.max(error);
            squares += error * error;
        }
        Score { worst, squares, energy_j: self.energy_j(choice) }
    }

    /// Whether all points weigh the same: then the least worst error is also the least unweighted one.
    pub fn has_even_weights(&self) -> bool {
        let mut weights = self.metered().map(|point| point.weight);
        let first = weights.next();
        weights.all(|weight| first.is_some_and(|first| (weight - first).abs() < 1e-12))
    }

    /// The metering points.
    pub fn metered(&self) -> impl Iterator<Item = &Point> {
        self.points.iter().filter(|point| !point.is_limit())
    }

    /// The metering points, to be changed: what changes light changes no limit.
    pub fn metered_mut(&mut self) -> impl Iterator<Item = &mut Point> {
        self.points.iter_mut().filter(|point| !point.is_limit())
    }

    /// Total energy of a choice, J.
    pub fn energy_j(&self, choice: &[usize]) -> f64 {
        self.lights.iter().zip(choice).map(|(levels, &index)| levels.energy_j[index]).sum()
    }

    /// Worst error without weights, stops.
    pub fn worst_error_stops(&self, choice: &[usize]) -> f64 {
        let errors = self.points.iter().map(|point| point.fault_stops(self.achieved(choice, point)));
        errors.fold(0.0, f64::max)
    }
}
