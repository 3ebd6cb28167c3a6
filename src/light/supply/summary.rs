//! What the summary of a supply plan says. Its sentences are in `wording::phrases`.

use crate::light::quantity::Estimate;

/// The summary for a booking page: its points, in order.
#[derive(Debug, Clone, PartialEq)]
pub struct Summary(pub Vec<Point>);

/// What a circuit may carry.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limit {
    /// Whether a generator sets it, rather than a breaker.
    pub is_generator: bool,
    /// The current, A.
    pub amperes: f64,
    /// The apparent power, VA.
    pub volt_amperes: f64,
}

/// One point of the summary.
#[derive(Debug, Clone, PartialEq)]
pub enum Point {
    /// Units recycle too slowly for some shots.
    TooFast {
        /// The first of those shots.
        shot: String,
        /// Its slowest unit.
        unit: String,
        /// The recycle time of that unit, s.
        recycle_s: f64,
        /// The requested interval between frames, s.
        between_s: f64,
        /// The number of those shots.
        shots: usize,
    },
    /// Every unit recycles in time.
    InTime,
    /// A head exceeds its duty limit.
    OverDuty {
        /// Its unit.
        unit: String,
        /// Its flashes, as the equivalent number at full power.
        full_flashes: f64,
        /// The time in which it gives them, s.
        in_s: f64,
        /// The most that it may give in that time.
        limit_flashes: f64,
    },
    /// A circuit exceeds its rating.
    Overloaded {
        /// Its name.
        circuit: String,
        /// Its greatest peak current, A; `None` if that is not wholly known.
        charging_a: Option<f64>,
        /// What it may carry.
        limit: Limit,
        /// Whether units are on it.
        has_units: bool,
    },
    /// A circuit may exceed its rating.
    MayOverload {
        /// Its name.
        circuit: String,
        /// Its greatest peak current, A.
        charging_a: f64,
        /// What it may carry.
        limit: Limit,
        /// Whether units are on it.
        has_units: bool,
    },
    /// A circuit carries its load.
    Holds {
        /// Its name.
        circuit: String,
        /// Its greatest peak current, A.
        charging_a: f64,
        /// What it may carry.
        limit: Limit,
        /// What is left of that, A.
        left_a: f64,
    },
    /// The energy that a circuit draws.
    Energy {
        /// Its name.
        circuit: String,
        /// The energy, kWh.
        energy_kwh: Estimate<f64>,
    },
    /// Modelling lamps that are not stated decide whether a circuit holds.
    LampUnknown {
        /// Its name.
        circuit: String,
    },
    /// The peak current of a circuit is not known.
    PeakUnknown {
        /// Its name.
        circuit: String,
    },
    /// Battery units need charges.
    Charges {
        /// Their number.
        needed: u64,
    },
}
