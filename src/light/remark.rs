//! What goes with an answer: warnings, cautions, assumptions, remedies.

use serde::{Serialize, Serializer, ser::SerializeMap};
use utoipa::ToSchema;

use super::{
    quantity::{GuideFeet, GuideMetres, Joules, Metres, Number, Stops},
    units::Units,
};

/// What to doubt in an answer, or what to beware of.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct Remark {
    /// A stable code.
    pub code: &'static str,
    /// The text for a person.
    pub text: String,
}

impl Remark {
    /// A remark.
    pub fn new(code: &'static str, text: impl Into<String>) -> Self {
        Self { code, text: text.into() }
    }

    /// A level that its response does not hold.
    pub fn extrapolated() -> Self {
        Self::new(
            "extrapolated",
            "A level lies beyond the frames that the response was fitted to; beyond them it is taken for a straight line.",
        )
    }

    /// A flash unit's capacitors.
    pub fn stored_charge() -> Self {
        Self::new(
            "stored_charge",
            "A flash unit's capacitors hold a lethal charge, even unplugged. Never open a unit; leave that to a qualified workshop.",
        )
    }

    /// Many pops.
    pub fn heat() -> Self {
        Self::new(
            "heat",
            "Many full-power pops and modelling lamps heat tubes and heads. Keep to the maker's duty limits and keep cloth away from tubes.",
        )
    }

    /// Trains of flashes.
    pub fn photosensitivity() -> Self {
        Self::new(
            "photosensitivity",
            "Trains of flashes can trigger seizures; more than three in a second is the threshold of WCAG 2.x, success criterion 2.3.1. Warn the people on set and keep pops apart.",
        )
    }

    /// A strong flash near a face.
    pub fn eyes() -> Self {
        Self::new(
            "eyes",
            "Keep full-power flash away from eyes at close range, most of all those of infants and animals. IEC 62471 is the standard for lamp safety.",
        )
    }

    /// Several units on one circuit.
    pub fn mains_load() -> Self {
        Self::new(
            "mains_load",
            "Several strong units can overload one circuit when they recycle together. Local code and a licensed electrician decide what a circuit may carry.",
        )
    }
}

/// One assumption behind an estimate.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Assumption {
    /// What was assumed.
    pub name: &'static str,
    /// The value that was taken.
    pub value: String,
    /// Where it comes from, with its grade: published, derived, common practice, from memory, stated by the caller.
    pub source: String,
}

/// By how much a remedy changes something; exactly one is given.
#[derive(Debug, Clone, Copy, PartialEq, ToSchema)]
#[schema(rename_all = "snake_case")]
pub enum By {
    /// Stops of exposure.
    Stops(Stops),
    /// Flashes in one exposure.
    Pops(u32),
    /// A new distance, told in feet too with imperial units.
    Distance(Metres, Units),
    /// The energy of a unit, J.
    EnergyJ(Joules),
    /// The guide number of a unit at ISO 100, told in metres and feet.
    GuideNumber(GuideMetres),
    /// A new ratio, to 1.
    Ratio(Number),
}

impl Serialize for By {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        match self {
            Self::Stops(stops) => map.serialize_entry("stops", stops)?,
            Self::Pops(pops) => map.serialize_entry("pops", pops)?,
            Self::Distance(distance, units) => {
                map.serialize_entry("distance_m", distance)?;
                if let Some(feet) = units.feet(*distance) {
                    map.serialize_entry("distance_ft", &feet)?;
                }
            }
            Self::EnergyJ(energy) => map.serialize_entry("energy_j", energy)?,
            Self::GuideNumber(guide) => {
                map.serialize_entry("guide_number_m", guide)?;
                map.serialize_entry("guide_number_ft", &GuideFeet::of(*guide))?;
            }
            Self::Ratio(ratio) => map.serialize_entry("ratio", ratio)?,
        }
        map.end()
    }
}

/// Something that would make the set-up work.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Remedy {
    /// What to change: `aperture`, `iso`, `exposure_time`, `distance`, `pops`, `power`, `neutral_density`, `ratio`, `unit`, `ambient`.
    pub change: &'static str,
    /// By how much: one of `stops` (of exposure), `pops`, `distance_m` (the new distance; with imperial units `distance_ft` beside it), `energy_j`, `guide_number_m` with `guide_number_ft`, `ratio`.
    pub by: By,
    /// The same in words.
    pub detail: String,
}
