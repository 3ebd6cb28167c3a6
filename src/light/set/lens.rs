//! What the lens takes from the light, which a hand-held meter does not see.

use crate::light::{
    quantity::{FNumber, Stops},
    set::{
        close_up::CloseUp,
        filter::{self, Filter},
    },
};

/// Lens corrections.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Lens {
    /// How near it is focused; `None` at infinity.
    pub close_up: Option<CloseUp>,
    /// Transmission loss in stops, negative.
    pub transmission: Option<Stops>,
    /// Aperture errors: the engraved mark and its error in stops, positive if brighter.
    pub mark_corrections: Vec<(FNumber, Stops)>,
    /// The filters on it.
    pub filters: Vec<Filter>,
}

impl Lens {
    /// The total correction at an aperture, stops.
    pub fn stops(&self, f_number: FNumber) -> f64 {
        let at_mark = |(mark, _): &&(FNumber, Stops)| (mark.get() / f_number.get() - 1.0).abs() < 1e-3;
        self.close_up.map_or(0.0, CloseUp::stops)
            + self.transmission.map_or(0.0, Stops::get)
            + self.mark_corrections.iter().find(at_mark).map_or(0.0, |(_, stops)| stops.get())
            + filter::stops(&self.filters)
    }
}
