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
    /// Magnification: size of the image over size of the subject.
    pub magnification: f64,
    /// Transmission loss in stops, negative.
    pub transmission: Option<Stops>,
    /// Aperture errors: the engraved mark and its error in stops, positive if brighter.
    pub mark_corrections: Vec<(FNumber, Stops)>,
    /// The filters on it.
    pub filters: Vec<Filter>,
}

impl Lens {
    /// The total correction at an aperture, stops. The pupil ratio is taken as 1.
    pub fn stops(&self, f_number: FNumber) -> f64 {
        let at_mark = |(mark, _): &&(FNumber, Stops)| (mark.get() / f_number.get() - 1.0).abs() < 1e-3;
        CloseUp { magnification: self.magnification, pupil_ratio: 1.0 }.stops()
            + self.transmission.map_or(0.0, Stops::get)
            + self.mark_corrections.iter().find(at_mark).map_or(0.0, |(_, stops)| stops.get())
            + filter::stops(&self.filters)
    }
}
