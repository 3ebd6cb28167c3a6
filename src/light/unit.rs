//! A flash unit: its rating, its coverage and its power scale; and a setting of it in an answer.

pub mod coverage;
mod feeding;
pub mod guide;
mod object;
pub mod scale;

pub use self::{
    feeding::{CHARGING_EFFICIENCY, Draw, Duty, Feeding, POWER_FACTOR, keeps_up},
    object::UnitObject,
};

use std::cmp::Ordering;

use serde::Serialize;
use utoipa::ToSchema;

use self::{coverage::Coverage, scale::Scale};
use crate::light::{
    measure::motion::Duration,
    quantity::{GuideMetres, Joules, Number, Stops},
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
    /// How well its light repeats, where that is stated: a half-width of 95 %.
    pub repeat: Option<Stops>,
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

    /// Where on an endless scale its light is so many stops under full power, the corrections counted. Where they
    /// give that light at several settings, it is the lowest power of those on the scale.
    pub fn setting_for(&self, below: f64) -> f64 {
        let (Some(first), Some(last)) = (self.corrections.first(), self.corrections.last()) else {
            return below;
        };
        // The light is straight between corrected settings; beyond them it falls as the scale says.
        let light = |[setting, stops]: &[f64; 2]| setting - stops;
        let after = (below >= light(last)).then(|| (below + last[1]).max(last[0]));
        let before = (below <= light(first)).then(|| (below + first[1]).min(first[0]));
        let between = || {
            self.corrections.windows(2).rev().find_map(|pair| {
                let [from, to] = pair else { return None };
                // Where the light stays as it is this is no number, and the neighbours have both ends.
                let part = (below - light(from)) / (light(to) - light(from));
                (0.0..=1.0).contains(&part).then(|| from[0] + part * (to[0] - from[0]))
            })
        };
        let range = self.scale.range().get();
        let on_the_scale = after.filter(|&setting| setting <= range).or_else(between);
        on_the_scale.or(before).or(after).unwrap_or(below)
    }

    /// The settings that give most and least light: full and least power, unless corrections say otherwise.
    pub fn ends(&self) -> [Stops; 2] {
        // The light is straight between corrected settings.
        let corners = || {
            let corrected = self.corrections.iter().map(|[setting, _]| *setting);
            [0.0, self.scale.range().get()].into_iter().chain(corrected).map(Stops::new_unchecked)
        };
        let by_light = |a: &Stops, b: &Stops| self.below(*a).total_cmp(&self.below(*b));
        let (most, least) = (corners().min_by(by_light), corners().max_by(by_light));
        [most.unwrap_or(Stops::ZERO), least.unwrap_or(Stops::ZERO)]
    }

    /// The setting whose light is nearest to so many stops under full power; ties go to the darker, and of settings
    /// that give the same to the lower power.
    pub fn nearest(&self, below: f64) -> Stops {
        if self.corrections.is_empty() {
            return self.scale.nearest(Stops::new_unchecked(below));
        }
        let light = |setting: f64| self.below(Stops::new_unchecked(setting));
        let off = |setting: f64| (light(setting) - below).abs();
        if self.scale.is_continuous() {
            let exact = self.setting_for(below);
            if (0.0..=self.scale.range().get()).contains(&exact) {
                return Stops::new_unchecked(exact);
            }
            let [most, least] = self.ends();
            return if off(most.get()) < off(least.get()) { most } else { least };
        }
        // The lowest power first, for it stays where others are as good.
        let nearest = self.scale.settings().iter().rev().copied().min_by(|&a, &b| {
            let is_tie = (off(a) - off(b)).abs() < 1e-9;
            match (is_tie, (light(a) - light(b)).abs() < 1e-9) {
                (true, true) => Ordering::Equal,
                (true, false) => light(b).total_cmp(&light(a)),
                (false, _) => off(a).total_cmp(&off(b)),
            }
        });
        Stops::new_unchecked(nearest.unwrap_or(0.0))
    }

    /// Half the distance of its light to that at the farther neighbour of a setting: how far off a click may leave a
    /// wish. Corrections make clicks uneven.
    pub fn half_click(&self, setting: Stops) -> Stops {
        self.scale.half_click_of(setting, |below| self.below(Stops::new_unchecked(below)))
    }

    /// The setting at so many stops below full, as an answer tells it.
    pub fn setting(&self, below: Stops) -> Setting {
        Setting {
            label: self.scale.label(below),
            stops_below_full: below,
            fraction: Number::new_unchecked((-below.get()).exp2()),
            energy_j: self.energy.map(|full| Scale::energy_at(full, below)),
        }
    }

    /// Its name in a sentence.
    pub fn called(&self) -> &str {
        self.name.as_deref().unwrap_or("the unit")
    }
}

#[cfg(test)]
mod tests;
