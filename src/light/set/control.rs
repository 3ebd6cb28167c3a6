//! How a light is set, and how it may be.

use crate::light::quantity::Stops;

/// The power setting of a light.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LightSetting {
    /// Switched off.
    Off,
    /// Stops below full power.
    Below(Stops),
}

impl LightSetting {
    /// Stops below full power; `None` if the light is off.
    pub const fn below(self) -> Option<Stops> {
        match self {
            Self::Off => None,
            Self::Below(below) => Some(below),
        }
    }
}

/// How a light is set and may be set.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Control {
    /// Where it stands today; `None` if the request does not say.
    pub setting: Option<LightSetting>,
    /// Whether it must stay there.
    pub hold: bool,
    /// Whether it may be switched off.
    pub may_be_off: bool,
    /// The lowest setting allowed, stops below full; `None` if unrestricted.
    pub max_below: Option<Stops>,
    /// Flashes in one exposure; n flashes add log2(n) stops.
    pub pops: u32,
}

impl Control {
    /// The setting that it must keep.
    pub fn held(&self) -> Option<LightSetting> {
        self.setting.filter(|_| self.hold)
    }

    /// Whether there is a choice: another setting, or off.
    pub fn is_open(&self) -> bool {
        match self.held() {
            None => true,
            Some(LightSetting::Off) => false,
            Some(LightSetting::Below(_)) => self.may_be_off,
        }
    }

    /// The setting of a prediction: full power if the request does not say, in stops below full; `None` if it is off.
    pub fn below(&self) -> Option<Stops> {
        self.setting.unwrap_or(LightSetting::Below(Stops::ZERO)).below()
    }
}
