//! A flash unit: its rating, its coverage and its power scale; and a setting of it in an answer.

mod feeding;
mod object;

pub use self::{
    feeding::{CHARGING_EFFICIENCY, Draw, Duty, Feeding, POWER_FACTOR, keeps_up},
    object::UnitObject,
};

use serde::Serialize;
use utoipa::ToSchema;

use super::{
    coverage::Coverage,
    motion::Duration,
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
    /// Measured departures at settings, on top of the offset: stops below full, rising, and stops; straight
    /// between, constant beyond.
    pub corrections: Vec<[f64; 2]>,
    /// Flash durations at settings, by label.
    pub durations: Vec<(String, Duration)>,
    /// How it is fed.
    pub feeding: Feeding,
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
    /// How far under full power its light is at a setting, the corrections counted, stops.
    pub fn below(&self, setting: Stops) -> f64 {
        setting.get() - self.correction(setting.get())
    }

    /// Its part of full power at a setting, the corrections counted.
    pub fn power(&self, setting: Stops) -> f64 {
        (-self.below(setting)).exp2()
    }

    fn correction(&self, below: f64) -> f64 {
        let after = self.corrections.partition_point(|row| row[0] < below);
        match (
            after.checked_sub(1).and_then(|before| self.corrections.get(before)),
            self.corrections.get(after),
        ) {
            (Some([from, low]), Some([to, high])) => low + (high - low) * (below - from) / (to - from),
            (Some([_, end]), None) | (None, Some([_, end])) => *end,
            (None, None) => 0.0,
        }
    }

    /// Where on an endless scale its light would be so many stops under full power, the corrections counted.
    pub fn setting_for(&self, below: f64) -> f64 {
        // Back and forth: corrections change slowly along the scale.
        (0..40).fold(below, |setting, _| below + self.correction(setting))
    }

    /// The setting whose light is nearest to so many stops under full power; ties go to the lower power.
    pub fn nearest(&self, below: f64) -> Stops {
        if self.corrections.is_empty() {
            return self.scale.nearest(Stops::computed(below));
        }
        if self.scale.is_continuous() {
            return Stops::computed(self.setting_for(below).clamp(0.0, self.scale.range().get()));
        }
        let off = |setting: f64| (self.below(Stops::computed(setting)) - below).abs();
        let nearest = self.scale.settings().iter().copied().min_by(|&a, &b| {
            if (off(a) - off(b)).abs() < 1e-9 { b.total_cmp(&a) } else { off(a).total_cmp(&off(b)) }
        });
        Stops::computed(nearest.unwrap_or(0.0))
    }

    /// Half the distance of its light to that at the farther neighbour of a setting: how far off a click may leave a
    /// wish. Corrections make clicks uneven.
    pub fn half_click(&self, setting: Stops) -> Stops {
        self.scale.half_click_of(setting, |below| self.below(Stops::computed(below)))
    }

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
