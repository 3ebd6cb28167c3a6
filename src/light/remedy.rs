//! Changes that would make a set-up work.

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    quantity::{Feet, GuideFeet, GuideMetres, Joules, Metres, Number, Stops, units::Units, words::words},
    set::geometry::Position,
};

words! {
    /// The setting that a remedy changes.
    pub enum Change as "RemedyChange" {
        /// The aperture.
        Aperture = "aperture",
        /// The ISO speed.
        Iso = "iso",
        /// The exposure time.
        ExposureTime = "exposure_time",
        /// The distance of a light.
        Distance = "distance",
        /// The number of flashes in one exposure.
        Pops = "pops",
        /// The power of the lights.
        Power = "power",
        /// A filter on the lens.
        NeutralDensity = "neutral_density",
        /// The lighting ratio.
        Ratio = "ratio",
        /// The flash unit: a stronger or a weaker one.
        Unit = "unit",
        /// The ambient light.
        Ambient = "ambient",
    }
}

/// The amount of a remedy: one quantity, in one unit or in two.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, ToSchema)]
#[schema(as = RemedyAmount)]
pub struct By {
    /// Stops of exposure, or of power.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    stops: Option<Stops>,
    /// The number of flashes in one exposure.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pops: Option<u32>,
    /// The new distance, m. If the light's placements have several distances, this is the new value of the first in the request; the others change in proportion.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    distance_m: Option<Metres>,
    /// The new distance, ft. Only with imperial units.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    distance_ft: Option<Feet>,
    /// The new position of the light, [x, y, z], m; given with `distance_m` if the light has a position. It replaces every position in the request for this light.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<Vec<f64>>, nullable = false, min_items = 3, max_items = 3)]
    position: Option<[Metres; 3]>,
    /// The energy of the unit, J.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    energy_j: Option<Joules>,
    /// The guide number of the unit, m at ISO 100.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    guide_number_m: Option<GuideMetres>,
    /// The guide number of the unit, ft at ISO 100.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    guide_number_ft: Option<GuideFeet>,
    /// The new ratio, to 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    ratio: Option<Number>,
}

impl By {
    /// Stops of exposure, or of power.
    pub fn stops(stops: Stops) -> Self {
        Self { stops: Some(stops), ..Self::default() }
    }

    /// The amount in stops, or `None` if it is in another unit.
    pub fn in_stops(&self) -> Option<f64> {
        self.stops.map(Stops::get)
    }

    /// The number of flashes in one exposure.
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

    /// A new distance, also in feet with imperial units.
    pub fn distance(distance: Metres, units: Units) -> Self {
        Self { distance_m: Some(distance), distance_ft: units.feet(distance), ..Self::default() }
    }

    /// Adds the new position of the light.
    #[must_use]
    pub fn at(self, position: Position) -> Self {
        Self { position: Some(position.0.map(Metres::new_unchecked)), ..self }
    }

    /// The guide number of a unit, in metres and in feet.
    pub fn guide_number(guide: GuideMetres) -> Self {
        Self { guide_number_m: Some(guide), guide_number_ft: Some(GuideFeet::of(guide)), ..Self::default() }
    }
}

/// A change that would make the set-up work.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Remedy {
    /// What to change.
    pub change: Change,
    /// The amount, one of: `stops` (of exposure, or of a light's power); `pops`; `distance_m` (the new distance; the first if there are several), with `distance_ft` if units are imperial, and with the new `position` if the light has one: the distance is then measured from its aim, or from its first point if it has no aim; `energy_j`; `guide_number_m` with `guide_number_ft`; `ratio`.
    pub by: By,
    /// The remedy as a sentence.
    pub detail: String,
}
