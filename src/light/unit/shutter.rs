//! What the exposure time does to the light of a unit.
//!
//! A lamp's light follows the exposure time (published: ISO 2720:1974, N² = E·t·S/C). A flash fires through the open
//! shutter, so that the time does nothing to it; faster than the sync time, a focal-plane shutter uncovers the frame in a
//! slit, and a flash lights t over sync time of it (derived: the slit runs at the speed that opens the whole frame at the
//! sync time). With high-speed sync the flash burns while the slit runs: it loses 1.5 to 2.3 stops on entering it, and then
//! follows the exposure time (common practice).

use crate::light::{
    error::InvalidValue,
    quantity::{Estimate, Seconds, Stops},
};

/// The loss on entering high-speed sync if it is not stated (common practice).
pub const ENTRY_LOSS: Estimate<Stops> = Estimate {
    low: Stops::new_unchecked(-2.3),
    typical: Stops::new_unchecked(-1.8),
    high: Stops::new_unchecked(-1.5),
};

/// High-speed sync of a flash.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HighSpeedSync {
    /// The loss on entering it, at the sync time, if stated; 0 or less.
    pub loss: Option<Stops>,
    /// How far that may be off, if stated: ± stops at 95 %.
    pub plus_minus: Option<Stops>,
}

impl HighSpeedSync {
    /// The loss on entering it. One that is stated is as sure as the usual one, unless it is said how sure.
    pub fn entry_loss(self) -> Estimate<Stops> {
        let typical = self.loss.unwrap_or(ENTRY_LOSS.typical);
        let own =
            |end: Stops| self.plus_minus.map_or((end.get() - ENTRY_LOSS.typical.get()).abs(), Stops::get);
        let end = |sign: f64, usual: Stops| Stops::new_unchecked(typical.get() + sign * own(usual));
        Estimate { low: end(-1.0, ENTRY_LOSS.low), typical, high: end(1.0, ENTRY_LOSS.high) }
    }
}

/// An exposure time and the sync time of the camera, as far as they are stated.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Shutter {
    /// The exposure time.
    pub time: Option<Seconds>,
    /// The shortest exposure time at which the shutter is fully open.
    pub sync_time: Option<Seconds>,
}

/// A time that is needed and not stated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TimeLacking {
    /// The exposure time, of a lamp.
    ExposureTime,
    /// The sync time, of a flash with high-speed sync.
    SyncTime,
}

impl TimeLacking {
    /// The field of a request that it is.
    pub const fn field(self) -> &'static str {
        match self {
            Self::ExposureTime => "exposure_time",
            Self::SyncTime => "sync_time",
        }
    }
}

impl From<TimeLacking> for InvalidValue {
    fn from(lacking: TimeLacking) -> Self {
        match lacking {
            TimeLacking::ExposureTime => Self::LampWithoutTime,
            TimeLacking::SyncTime => Self::SyncTimeMissing,
        }
    }
}

impl Shutter {
    /// The exposure time over the sync time where it is shorter: the share of the frame that a flash lights. `None` if it
    /// is as long, or if one of the two is not stated.
    pub fn frame_share(self) -> Option<f64> {
        let (time, sync) = self.time.zip(self.sync_time)?;
        // The rounding of marks is no difference.
        let share = time.get() / sync.get();
        (share < 1.0 - 1e-9).then_some(share)
    }

    /// The light of a flash with high-speed sync over what it gives with the shutter open.
    ///
    /// ```
    /// use stopwright::light::{quantity::{Seconds, Stops}, unit::shutter::{HighSpeedSync, Shutter}};
    /// let seconds = |parts: f64| Some(Seconds::new_unchecked(1.0 / parts));
    /// let shutter = Shutter { time: seconds(1024.0), sync_time: seconds(256.0) };
    /// let sync = HighSpeedSync { loss: Some(Stops::new_unchecked(-2.0)), plus_minus: None };
    /// // Two stops on entering, and two for the quarter of the time.
    /// assert_eq!(shutter.of_flash(sync).unwrap().typical, 1.0 / 16.0);
    /// ```
    pub fn of_flash(self, sync: HighSpeedSync) -> Result<Estimate<f64>, TimeLacking> {
        if self.time.is_some() && self.sync_time.is_none() {
            return Err(TimeLacking::SyncTime);
        }
        Ok(self
            .frame_share()
            .map_or(Estimate::exact(1.0), |share| sync.entry_loss().map(|loss| loss.factor() * share)))
    }

    /// The light of a lamp over that of a second.
    pub fn of_lamp(self) -> Result<Estimate<f64>, TimeLacking> {
        self.time.map(|time| Estimate::exact(time.get())).ok_or(TimeLacking::ExposureTime)
    }
}
