//! The range of a difference between two levels, open where a level is clipped.

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    measure::space::{Encoding, Level},
    quantity::Stops,
};

/// A range that may be open.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct OpenRange {
    /// The lowest value; null if it is open below.
    #[schema(value_type = Option<f64>)]
    pub low: Option<Stops>,
    /// The highest value; null if it is open above.
    #[schema(value_type = Option<f64>)]
    pub high: Option<Stops>,
}

impl OpenRange {
    /// The range of the stops from one level to another. An end is open if a clipped level could mean any amount of light
    /// beyond it.
    pub fn between(from: Level, to: Level, encoding: Encoding, range: [f64; 2]) -> Self {
        let clipping =
            |level: Level| (encoding.is_clipped(level), encoding.grey(level) > encoding.greatest() / 2.0);
        let (from, to) = (clipping(from), clipping(to));
        let (black, white) = ((true, false), (true, true));
        let is_open = [to == black || from == white, to == white || from == black];
        let end = |end: usize| (!is_open[end]).then(|| Stops::new_unchecked(range[end]));
        Self { low: end(0), high: end(1) }
    }

    /// Both ends.
    pub const fn ends(self) -> [Option<Stops>; 2] {
        [self.low, self.high]
    }
}
