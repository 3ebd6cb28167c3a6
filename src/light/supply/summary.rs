//! What the summary of a supply plan says. Its sentences are in `wording::phrases`.

/// The summary for a booking page: its points, in order.
#[derive(Debug, Clone, PartialEq)]
pub struct Summary(pub Vec<Point>);

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
    /// A circuit exceeds its breaker rating.
    Overloaded {
        /// Its name.
        circuit: String,
        /// Its greatest peak current, A; `None` if that is not wholly known.
        charging_a: Option<f64>,
        /// Its breaker rating, A.
        breaker_a: f64,
    },
    /// A circuit may exceed its breaker rating.
    MayOverload {
        /// Its name.
        circuit: String,
        /// Its greatest peak current, A.
        charging_a: f64,
        /// Its breaker rating, A.
        breaker_a: f64,
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
