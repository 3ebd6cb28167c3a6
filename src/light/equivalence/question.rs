//! A unit to replace, what is held, and the candidates.

use crate::light::{
    id::Id,
    quantity::{Metres, Stops, rules::Rules, words::words},
    set::{exposure::FlashExposure, filter::Filter, lens::Lens, limits::Limits, modifier::Modifier},
    unit::{Unit, pack::Pack, shutter::Shutter},
};

/// Two amounts of light closer than this count as equal, stops.
pub const SAME_STOPS: f64 = 1e-9;

/// A unit with its distance and modifier.
#[derive(Debug, Clone, PartialEq)]
pub struct Placed {
    /// The client's id for this entry.
    pub id: Option<Id>,
    /// The unit.
    pub unit: Unit,
    /// Its distance from the subject.
    pub distance: Option<Metres>,
    /// How far that may be off, if stated: ± at 95 %.
    pub within: Option<Metres>,
    /// The effect of its modifier, relative to the unit as rated; a candidate has that of the reference if `None`.
    pub modifier: Option<Modifier>,
    /// The filters on it.
    pub filters: Vec<Filter>,
    /// The exposure time and the sync time at which it is used.
    pub shutter: Shutter,
}

impl Placed {
    /// The name of its unit; without one, the text of the entry's id.
    pub fn name(&self) -> Option<String> {
        self.unit.name.clone().or_else(|| self.id.as_ref().map(Id::name))
    }
}

words! {
    /// The quantity that two units are compared by.
    pub enum ComparedBy as "ComparedBy" {
        /// Guide number: the beams on their axes.
        GuideNumber = "guide_number",
        /// Light inside the coverage, lm·s.
        Light = "light",
        /// Rated or estimated energy.
        Energy = "energy",
    }
}

/// A reference unit, the exposure to hold, and the candidates to replace the unit.
#[derive(Debug, Clone, PartialEq)]
pub struct EquivalenceQuestion {
    /// The packs that units are on. Each unit has its part of its pack's energy already.
    pub packs: Vec<Pack>,
    /// Names of packs whose energy a head is taken to have to itself, because it is not stated how many share it.
    pub assumed_alone: Vec<String>,
    /// The unit to replace.
    pub reference: Placed,
    /// Its setting, stops below full power.
    pub setting: Stops,
    /// The exposure at which the reference is correct; the one to hold if `None`.
    pub exposure: Option<FlashExposure>,
    /// The exposure to hold; that of the reference if `None`. Without either the picture is held at whatever it was.
    pub hold: Option<FlashExposure>,
    /// What the lens takes at the exposure to hold, beyond what it took at that of the reference.
    pub lens: Lens,
    /// The units that may replace it.
    pub candidates: Vec<Placed>,
    /// The largest number of flashes in one exposure.
    pub max_pops: u32,
    /// The requested comparison; chosen automatically if `None`.
    pub compare_by: Option<ComparedBy>,
    /// The limits of remedies.
    pub limits: Limits,
    /// How numbers are read and written.
    pub rules: Rules,
}
