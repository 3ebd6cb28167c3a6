//! Changes that would make a set-up work.

use std::borrow::Cow;

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    quantity::{
        Feet, GuideFeet, GuideMetres, Joules, Metres, Number, Stops, nominal::Nominal, units::Units,
        words::words,
    },
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
    pub stops: Option<Stops>,
    /// The number of flashes in one exposure.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub pops: Option<u32>,
    /// The new distance, m. If the light's placements have several distances, this is the new value of the first in the request; the others change in proportion.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub distance_m: Option<Metres>,
    /// The new distance, ft. Only with imperial units.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub distance_ft: Option<Feet>,
    /// The new position of the light, [x, y, z], m; given with `distance_m` if the light has a position. It replaces every position in the request for this light.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<Vec<f64>>, nullable = false, min_items = 3, max_items = 3)]
    pub position: Option<[Metres; 3]>,
    /// The energy of the unit, J.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub energy_j: Option<Joules>,
    /// The guide number of the unit, m at ISO 100.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub guide_number_m: Option<GuideMetres>,
    /// The guide number of the unit, ft at ISO 100.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub guide_number_ft: Option<GuideFeet>,
    /// The new ratio, to 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub ratio: Option<Number>,
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

/// A change that would make the set-up work. Its sentence is in `wording::phrases`.
#[derive(Debug, Clone, PartialEq)]
pub struct Remedy {
    /// What to change.
    pub change: Change,
    /// The amount.
    pub by: By,
    /// How to do it.
    pub action: Action,
}

/// How to follow a remedy, with all that its sentence needs beside the amount.
#[derive(Debug, Clone, PartialEq)]
pub enum Action {
    /// Change flash and ambient light alike at the camera.
    Camera {
        /// The controls to change.
        controls: Controls,
        /// What to set afterwards.
        then: Then,
        /// Whether a target is an f-number, which a meter reads.
        has_metered_targets: bool,
        /// Whether lights were metered.
        has_readings: bool,
    },
    /// Change the exposure time, which changes the ambient light only.
    ExposureTime {
        /// The new exposure time.
        turn: Turn,
        /// What to set afterwards.
        then: Then,
        /// Whether ambient light was metered.
        has_metered_ambient: bool,
    },
    /// Shorten the exposure time to reduce ambient light.
    ShortenTime {
        /// The new exposure time.
        to: Nominal,
        /// Whether the sync time allows it is known.
        is_sync_known: bool,
    },
    /// Take away ambient light.
    ReduceAmbient {
        /// The sync time, if the exposure time is shortened to it first.
        sync_time: Option<Nominal>,
    },
    /// Raise the flash, and reduce all light at the camera by as much.
    RaiseFlash {
        /// The sync time, if the exposure time is shortened to it first.
        sync_time: Option<Nominal>,
        /// The aperture that does it, if the limits allow it.
        f_number: Option<Nominal>,
        /// The ISO speed that does it, if the limits allow it.
        iso: Option<Nominal>,
    },
    /// Ask for another lighting ratio.
    Ratio {
        /// How ratios are counted, as a word of the request.
        counted_by: &'static str,
    },
    /// Turn a fixed light.
    Turn {
        /// The light.
        light: String,
        /// The label of the new setting.
        to: String,
        /// What to set afterwards.
        then: Then,
        /// The label of the setting at which it is fixed.
        fixed_at: String,
        /// Whether it may be off.
        may_be_off: bool,
    },
    /// Fire a light of a set several times.
    Fire {
        /// The light.
        light: String,
        /// What to set afterwards.
        then: Then,
        /// The ambient light that gathers meanwhile, if there is any.
        gathering: Option<Gathering>,
    },
    /// Fire the light of a role several times.
    FireRole {
        /// The role.
        role: String,
    },
    /// Fire a unit several times.
    FireUnit {
        /// The label of its setting.
        at: String,
    },
    /// Move a light along a line.
    MoveInSpace {
        /// The light.
        light: String,
        /// The present distance.
        from: Metres,
        /// The point at which the line starts; its aim if `None`.
        line_from_point: Option<String>,
        /// The units of lengths.
        units: Units,
        /// What to set afterwards.
        then: Then,
    },
    /// Change all distances of a light in proportion.
    MoveByDistances {
        /// The light.
        light: String,
        /// The present first distance.
        from: Metres,
        /// The new distances with their points, the first one first; empty if all are equal.
        distances: Vec<(String, Metres)>,
        /// The units of lengths.
        units: Units,
        /// What to set afterwards.
        then: Then,
    },
    /// Move the light of a role.
    MoveRole {
        /// The role.
        role: String,
        /// The present distance.
        from: Metres,
        /// The units of lengths.
        units: Units,
    },
    /// Move a unit.
    MoveUnit {
        /// The present distance.
        from: Metres,
        /// The units of lengths.
        units: Units,
        /// What to set afterwards.
        then: Then,
    },
    /// Use a stronger unit of the same kind.
    StrongerUnit {
        /// Its flashes in one exposure.
        pops: u32,
    },
    /// Borrow units.
    Borrow {
        /// The units.
        units: Vec<Borrowed>,
    },
}

/// Controls of the camera to change.
#[derive(Debug, Clone, PartialEq)]
pub enum Controls {
    /// The aperture.
    Lens(Turn),
    /// The ISO speed.
    Iso(Turn),
    /// Both.
    LensAndIso {
        /// The aperture.
        lens: Turn,
        /// The ISO speed.
        iso: Turn,
    },
    /// A filter on the lens.
    NeutralDensity {
        /// Its optical density.
        density: f64,
        /// The mark of that density, if there is one.
        mark: Option<Cow<'static, str>>,
    },
}

/// A change of a control to one of its marks.
#[derive(Debug, Clone, PartialEq)]
pub struct Turn {
    /// The change of exposure, stops; + is brighter.
    pub stops: f64,
    /// The exact value behind the mark.
    pub value: f64,
    /// The mark.
    pub mark: Cow<'static, str>,
}

/// What to set after a change.
#[derive(Debug, Clone, PartialEq)]
pub enum Then {
    /// Nothing.
    Nothing,
    /// The lights of a set.
    SetLights,
    /// The units of a kit and their settings.
    ChooseUnits,
    /// A unit.
    SetUnit {
        /// The label of its setting.
        to: String,
        /// Its flashes in one exposure.
        pops: u32,
    },
}

/// Ambient light that gathers between the flashes of one exposure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gathering {
    /// The time from the first flash to the last at full power, s, if the recycle time is known.
    pub open_s: Option<f64>,
    /// Whether that is longer than the exposure time.
    pub is_longer: bool,
    /// Whether ambient light was metered.
    pub is_metered: bool,
}

/// A unit to borrow.
#[derive(Debug, Clone, PartialEq)]
pub struct Borrowed {
    /// The role that it serves.
    pub role: String,
    /// What it must be able to do.
    pub need: Need,
}

/// What a unit to borrow must be able to do.
#[derive(Debug, Clone, PartialEq)]
pub enum Need {
    /// An energy, for a unit of the same kind.
    Energy {
        /// The name of the unit that the role has now.
        like: Option<String>,
        /// The least energy.
        energy: Joules,
    },
    /// A guide number.
    Guide {
        /// The least guide number.
        metres: GuideMetres,
        /// The same in feet.
        feet: GuideFeet,
        /// Whether it adds to the kit rather than replacing a unit that is too weak.
        is_one_more: bool,
    },
}
