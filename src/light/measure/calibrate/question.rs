//! What a calibration is asked: a unit, and readings of it.

use crate::light::{
    id::Id,
    quantity::{Iso, Metres, Stops},
    set::Meter,
    unit::Unit,
};

/// One reading of the light at a setting.
#[derive(Debug, Clone, PartialEq)]
pub struct Sample {
    /// The client's id for it.
    pub id: Option<Id>,
    /// The setting, stops below full power.
    pub below: Stops,
    /// The light, stops: log2 of N² from a meter, or the exposure of a patch from a response.
    pub stops: f64,
}

/// A unit and the readings to calibrate it with.
#[derive(Debug, Clone, PartialEq)]
pub struct CalibrateQuestion {
    /// The unit as rated.
    pub unit: Unit,
    /// The readings.
    pub samples: Vec<Sample>,
    /// Whether the light was metered (N²). Otherwise it is the light of a patch, known only relative to other readings.
    pub metered: bool,
    /// The distance from the unit to the meter.
    pub distance: Option<Metres>,
    /// How far that distance may be off, if stated: the half-width of its 95 % interval.
    pub distance_within: Option<Metres>,
    /// The ISO speed of the meter.
    pub iso: Iso,
    /// The light in the camera relative to the meter reading, stops; + is more.
    pub meter_offset: Stops,
    /// How sure the meter is.
    pub meter: Meter,
    /// Whether a level is outside the range of its response.
    pub extrapolated: bool,
    /// Whether a reading states no setting, and is taken to be at full power.
    pub at_full_power: bool,
}

impl CalibrateQuestion {
    /// The distance of the meter, if one was used.
    pub fn meter_distance(&self) -> Option<Metres> {
        self.distance.filter(|_| self.metered)
    }

    /// The rated meter reading at full power and this distance, stops (log2 of N²): N² = GN²·(S/100)/d² (ISO 1230).
    pub fn rated_at_full(&self) -> Option<f64> {
        self.meter_distance().zip(self.unit.guide_number).map(|(distance, guide)| {
            let f_number = guide.get() / distance.get();
            (f_number * f_number * self.iso.get() / 100.0).log2() - self.meter_offset.get()
        })
    }
}
