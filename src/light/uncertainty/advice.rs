//! Which measurement would narrow an uncertainty most.

use super::{Uncertainty, budget::Budget};
use crate::light::quantity::half_widths::MEASURED_OFFSET;

/// What is worth no measurement, stops (our judgement).
const SURE_ENOUGH: f64 = 0.25;
/// A measurement is worth it if it leaves at most this part of the uncertainty (our judgement).
const WORTH: f64 = 0.8;

/// What is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measurement {
    /// A light alone, at the point.
    Light(usize),
    /// The meter against the camera.
    Offset,
}

/// The measurement that narrows the widest uncertainty most.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Advice {
    /// What to measure.
    pub measurement: Measurement,
    /// The index of the point that is least sure.
    pub point: usize,
    /// Its longer end now, stops.
    pub now: f64,
    /// The same then.
    pub then: f64,
}

impl Advice {
    /// The two ends, to two decimals.
    pub fn rounded(&self) -> [f64; 2] {
        [self.now, self.then].map(|stops| (stops * 100.0).round() / 100.0)
    }
}

impl Budget {
    /// What to measure next, with readings of this half-width; `None` if all is sure enough, or no single measurement helps.
    pub fn advice(&self, found: &[Option<Uncertainty>], reading: f64) -> Option<Advice> {
        let ends = found.iter().map(|found| found.as_ref().map_or(0.0, Uncertainty::longer_end));
        let (point, now) = ends.enumerate().max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)))?;
        let rough = self.lights_at(point).map(|light| (light, self.rough(point, light, reading)));
        let light = rough.min_by(|a, b| a.1.total_cmp(&b.1)).map(|(light, _)| light);
        let end = |found: Option<Uncertainty>| found.map_or(0.0, |found| found.longer_end());
        let metered = light
            .map(|light| (Measurement::Light(light), end(self.with_reading(point, light, reading).at(0))));
        let offset = MEASURED_OFFSET.value.min(self.whole().half_width);
        let compared = (Measurement::Offset, end(self.with_whole_at(point, offset)));
        let trials = metered.into_iter().chain([compared]);
        let (measurement, then) = trials.min_by(|a, b| a.1.total_cmp(&b.1))?;
        (now > SURE_ENOUGH && then <= WORTH * now).then_some(Advice { measurement, point, now, then })
    }
}
