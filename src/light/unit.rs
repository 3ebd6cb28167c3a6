//! A flash unit: its rating, its coverage and its power scale; and a setting of it in an answer.

use serde::Serialize;
use utoipa::ToSchema;

use super::{
    coverage::Coverage,
    quantity::{GuideMetres, Joules, Number, Stops},
    scale::Scale,
};

/// A flash unit. At least one of `energy` and `guide_number` is known.
#[derive(Debug, Clone, PartialEq)]
pub struct Unit {
    /// What the photographer calls it; names need not be unique.
    pub name: Option<String>,
    /// Energy at full power.
    pub energy: Option<Joules>,
    /// Guide number at full power and ISO 100.
    pub guide_number: Option<GuideMetres>,
    /// How wide its beam is.
    pub coverage: Option<Coverage>,
    /// Its power control.
    pub scale: Scale,
    /// Measured departure of its light from the rating.
    pub offset: Stops,
}

/// A setting of a unit.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Setting {
    /// What to dial.
    pub label: String,
    /// Stops below full power; 0 or more.
    pub stops_below_full: Stops,
    /// Part of full power, above 0 to 1.
    pub fraction: Number,
    /// Rated energy at this setting, J; null where the unit has no rated energy.
    pub energy_j: Option<Joules>,
}

impl Unit {
    /// The setting at so many stops below full, as an answer tells it.
    pub fn setting(&self, below: Stops) -> Setting {
        Setting {
            label: self.scale.label(below),
            stops_below_full: below,
            fraction: Number::computed((-below.get()).exp2()),
            energy_j: self.energy.map(|full| Scale::energy_at(full, below)),
        }
    }

    /// Its name in a sentence.
    pub fn called(&self) -> &str {
        self.name.as_deref().unwrap_or("the unit")
    }
}
