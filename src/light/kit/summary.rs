//! What the summary of a kit check says. Its sentences are in `wording::phrases`.

use crate::light::remark::Warning;

/// The summary for a booking page.
#[derive(Debug, Clone, PartialEq)]
pub struct Summary {
    /// Whether the shots can be done, and what decides that.
    pub outcome: Outcome,
    /// The units that were left out, because their light is not known.
    pub left_out: Vec<String>,
    /// The worst warning about recycling and the worst about charges.
    pub mind: Vec<Warning>,
}

/// Whether the shots can be done.
#[derive(Debug, Clone, PartialEq)]
pub enum Outcome {
    /// Every shot can be done.
    Feasible {
        /// The number of shots.
        shots: usize,
        /// The light with the least headroom, in stops.
        tightest: Option<WorstLight>,
        /// The light that may lack most, else the one that may be too strong, if any may.
        doubtful: Option<Doubtful>,
    },
    /// Some shots cannot be done.
    Infeasible {
        /// The number of shots.
        shots: usize,
        /// The number of shots that cannot be done.
        missed: usize,
        /// The worst of the lights for which no unit is left.
        without_unit: Option<WorstLight>,
        /// The weakest of the lights that are too weak.
        too_weak: Option<WorstLight>,
        /// The energy of a unit like the weakest that would do, J; `None` if that alone is not enough.
        enough_energy_j: Option<f64>,
        /// The strongest of the lights that are too strong.
        too_strong: Option<WorstLight>,
        /// Whether that is because its pack is set for other heads.
        is_set_by_pack: bool,
        /// The shots that cannot be done and have no remedy.
        without_remedy: Vec<String>,
    },
}

/// A light that may fall short of its target.
#[derive(Debug, Clone, PartialEq)]
pub enum Doubtful {
    /// It is the tightest light.
    Tightest {
        /// How much it may lack, stops.
        lack_stops: f64,
    },
    /// It is another light, with what it may lack.
    Other(WorstLight),
    /// None may lack anything, but one may be too strong at its least setting.
    TooStrong(WorstLight),
}

/// The worst light of several.
#[derive(Debug, Clone, PartialEq)]
pub struct WorstLight {
    /// Its shot.
    pub shot: String,
    /// Its role.
    pub role: String,
    /// How much it has to spare, lacks or exceeds, stops.
    pub stops: f64,
    /// The number of the other lights.
    pub others: usize,
}
