//! What goes with an answer: warnings, cautions, assumptions, remedies.

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    quantity::{Feet, GuideFeet, GuideMetres, Joules, Metres, Number, Stops, units::Units, words::words},
    set::geometry::Position,
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

/// The first of many in a sentence, and how many more there are.
pub fn listed(all: impl ExactSizeIterator<Item = String>, most: usize) -> String {
    let more = all.len().saturating_sub(most);
    let more = (more > 0).then(|| format!("and {more} more"));
    all.take(most).chain(more).collect::<Vec<_>>().join("; ")
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

words! {
    /// What a remedy changes.
    pub enum Change as "RemedyChange" {
        /// The lens.
        Aperture = "aperture",
        /// The ISO speed.
        Iso = "iso",
        /// The time that the shutter is open.
        ExposureTime = "exposure_time",
        /// How far a light stands.
        Distance = "distance",
        /// Flashes in one exposure.
        Pops = "pops",
        /// The power of the lights.
        Power = "power",
        /// A filter on the lens.
        NeutralDensity = "neutral_density",
        /// The lighting ratio.
        Ratio = "ratio",
        /// Another unit.
        Unit = "unit",
        /// The light that is there anyway.
        Ambient = "ambient",
    }
}

/// By how much a remedy changes something: one thing, in one unit or two.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, ToSchema)]
#[schema(as = RemedyAmount)]
pub struct By {
    /// Stops of exposure, or of power.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    stops: Option<Stops>,
    /// Flashes in one exposure.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pops: Option<u32>,
    /// A new distance, m. Where a light's placements state several, the first that the request states; the others change in proportion.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    distance_m: Option<Metres>,
    /// The same in feet; with imperial units only.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    distance_ft: Option<Feet>,
    /// Beside `distance_m`, where the light has a position: its new one, [x, y, z], m. It takes the place of every position that the request states for this light.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<Vec<f64>>, nullable = false, min_items = 3, max_items = 3)]
    position: Option<[Metres; 3]>,
    /// The energy of a unit, J.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    energy_j: Option<Joules>,
    /// The guide number of a unit, m at ISO 100.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    guide_number_m: Option<GuideMetres>,
    /// The same in feet.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    guide_number_ft: Option<GuideFeet>,
    /// A new ratio, to 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    ratio: Option<Number>,
}

impl By {
    /// Stops of exposure, or of power.
    pub fn stops(stops: Stops) -> Self {
        Self { stops: Some(stops), ..Self::default() }
    }

    /// The stops, where it is told in stops.
    pub fn in_stops(&self) -> Option<f64> {
        self.stops.map(Stops::get)
    }

    /// Flashes in one exposure.
    pub fn pops(pops: u32) -> Self {
        Self { pops: Some(pops), ..Self::default() }
    }

    /// The energy of a unit.
    pub fn energy(energy: Joules) -> Self {
        Self { energy_j: Some(energy), ..Self::default() }
    }

    /// A new ratio, to 1.
    pub fn ratio(ratio: Number) -> Self {
        Self { ratio: Some(ratio), ..Self::default() }
    }

    /// A new distance, in feet too with imperial units.
    pub fn distance(distance: Metres, units: Units) -> Self {
        Self { distance_m: Some(distance), distance_ft: units.feet(distance), ..Self::default() }
    }

    /// The same, with the position that a light comes to.
    #[must_use]
    pub fn at(self, position: Position) -> Self {
        Self { position: Some(position.0.map(Metres::new_unchecked)), ..self }
    }

    /// The guide number of a unit, in metres and feet.
    pub fn guide_number(guide: GuideMetres) -> Self {
        Self { guide_number_m: Some(guide), guide_number_ft: Some(GuideFeet::of(guide)), ..Self::default() }
    }
}

/// Something that would make the set-up work.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Remedy {
    /// What to change.
    pub change: Change,
    /// By how much: one of `stops` (of exposure, or of a light's power), `pops`, `distance_m` (the new distance, of several the first; with imperial units `distance_ft` beside it; where the light has a position, its new `position` beside it, and the distance is that from its aim, or from its first point where it has none), `energy_j`, `guide_number_m` with `guide_number_ft`, `ratio`.
    pub by: By,
    /// The same in words.
    pub detail: String,
}
