//! A unit, a flash or a lamp: its rating, coverage and power scale; and a setting of it in an answer.

pub mod coverage;
mod feeding;
pub mod guide;
pub mod lamp;
mod object;
pub mod pack;
pub mod reflectors;
pub mod scale;
pub mod shutter;
pub mod zoom;

pub use self::{
    feeding::{
        CHARGING_EFFICIENCY, DEVICE_POWER_FACTOR, Draw, Duty, Feeding, MODELLING_LAMP_W, POWER_FACTOR,
        keeps_up,
    },
    object::UnitObject,
};

use std::cmp::Ordering;

use serde::Serialize;
use utoipa::ToSchema;

use self::{
    coverage::Coverage,
    lamp::Lamp,
    pack::{Head, Pack},
    scale::{Scale, Style},
    shutter::{HighSpeedSync, Shutter, TimeLacking},
    zoom::Zoom,
};
use crate::light::{
    error::InvalidValue,
    measure::duration::Duration,
    quantity::{
        Estimate, GuideMetres, Joules, Number, Stops, constants::FRAME_MM, half_widths::DIAL, significant,
    },
};

/// A flash unit, or a lamp. A flash has at least one of `energy` and `guide_number`, except in a kit, which may lack both; a
/// lamp has neither.
#[derive(Debug, Clone, PartialEq)]
pub struct Unit {
    /// Its name; names need not be unique.
    pub name: Option<String>,
    /// Energy at full power.
    pub energy: Option<Joules>,
    /// Guide number at full power and ISO 100.
    pub guide_number: Option<GuideMetres>,
    /// The table that its guide number is read from.
    pub zoom: Option<Zoom>,
    /// The light of a lamp; `None` for a flash.
    pub lamp: Option<Lamp>,
    /// High-speed sync, if it has it.
    pub high_speed_sync: Option<HighSpeedSync>,
    /// The width of its beam.
    pub coverage: Option<Coverage>,
    /// Its power scale.
    pub scale: Scale,
    /// Measured difference of its light from the rating; + is brighter.
    pub offset: Stops,
    /// Measured differences at settings, in addition to the offset: rows of stops below full, rising, and stops. Linear
    /// between rows, constant beyond them.
    pub corrections: Vec<[f64; 2]>,
    /// How far its light may be off what is stated of it, if stated: ± stops at 95 %.
    pub plus_minus: Option<Stops>,
    /// How far its light at a setting may be off its scale, if stated: ± stops at 95 %. With `corrections`, at theirs.
    pub dial: Option<Stops>,
    /// Repeatability of its light if stated: ± stops at 95 %.
    pub repeat: Option<Stops>,
    /// Flash durations by label of the setting.
    pub durations: Vec<(String, Duration)>,
    /// Recycling, charges, electrical draw and duty limit.
    pub feeding: Feeding,
    /// Its place on a pack, if it is a head on one: then energy and guide number are those of its part of the pack's energy.
    pub head: Option<Head>,
}

/// A power setting of a unit.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Setting {
    /// The label to dial.
    pub label: String,
    /// Stops below full power; 0 or more.
    pub stops_below_full: Stops,
    /// Fraction of full power; above 0, up to 1.
    pub fraction: Number,
    /// Rated energy at this setting, J; null if the unit has no rated energy.
    pub energy_j: Option<Joules>,
}

/// How near a unit comes to a required light.
#[derive(Debug, Clone, Copy)]
pub struct Fit {
    /// The nearest setting, stops below full.
    pub below: Stops,
    /// The light at it less the required light, stops.
    pub error: f64,
    /// Whether that is within half a click.
    pub is_feasible: bool,
}

/// Settings nearer than this are one, as parts of full power.
pub const SAME_POWER: f64 = 1e-9;
/// Two amounts of light closer than this count as equal, stops.
const SAME_STOPS: f64 = 1e-9;

impl Unit {
    /// A unit of which nothing is known.
    pub fn unknown() -> Self {
        Self {
            name: None,
            energy: None,
            guide_number: None,
            zoom: None,
            lamp: None,
            high_speed_sync: None,
            coverage: None,
            scale: Scale::continuous(),
            offset: Stops::ZERO,
            corrections: Vec::new(),
            plus_minus: None,
            dial: None,
            repeat: None,
            durations: Vec::new(),
            feeding: Feeding::default(),
            head: None,
        }
    }

    /// Whether it states what light it gives.
    pub const fn is_rated(&self) -> bool {
        self.energy.is_some() || self.guide_number.is_some() || self.zoom.is_some() || self.lamp.is_some()
    }

    /// Whether the guide number has still to be read from its table.
    pub fn needs_zoom(&self) -> bool {
        self.zoom.as_ref().is_some_and(|zoom| zoom.at_mm.is_none())
    }

    /// The unit with its head at a focal length, which is its coverage too if it states none. An error beyond its table.
    pub fn zoomed_to(mut self, at_mm: f64) -> Result<Self, InvalidValue> {
        if let Some(zoom) = &mut self.zoom {
            self.guide_number = Some(zoom.guide_number(at_mm)?);
            zoom.at_mm = Some(at_mm);
        }
        let frame = Coverage::FocalLength { focal_length_mm: at_mm, frame_mm: FRAME_MM };
        self.coverage.get_or_insert(frame);
        Ok(self)
    }

    /// What the shutter makes of its light: over that of a second for a lamp, over that through the open shutter for a
    /// flash.
    pub fn through(&self, shutter: Shutter) -> Result<Estimate<f64>, TimeLacking> {
        match (self.lamp, self.high_speed_sync) {
            (Some(_), _) => shutter.of_lamp(),
            (None, Some(sync)) => shutter.of_flash(sync),
            (None, None) => Ok(Estimate::exact(1.0)),
        }
    }

    /// Recycle time after a flash at a setting, s; none for a lamp, which is always on. `None` if it is not known.
    pub fn recycle_s(&self, below: Stops) -> Option<f64> {
        if self.lamp.is_some() { Some(0.0) } else { self.feeding.recycle_s(below) }
    }

    /// Whether its recycle time is to be asked for.
    pub const fn lacks_recycle(&self) -> bool {
        self.lamp.is_none() && self.feeding.recycle.is_empty()
    }

    /// Whether its light follows the exposure time: a lamp's, and that of a flash in high-speed sync.
    pub fn follows_time(&self, shutter: Shutter) -> bool {
        self.lamp.is_some() || (self.high_speed_sync.is_some() && shutter.frame_share().is_some())
    }

    /// The share of the frame that it lights; `None` if the times do not tell.
    pub fn frame_share(&self, shutter: Shutter) -> Option<f64> {
        match shutter.frame_share() {
            Some(share) if self.lamp.is_none() && self.high_speed_sync.is_none() => Some(share),
            None if shutter.time.is_none() || shutter.sync_time.is_none() => self.lamp.map(|_| 1.0),
            _ => Some(1.0),
        }
    }

    /// Whether it is a head on a pack, given by its index.
    pub fn is_on(&self, pack: usize) -> bool {
        self.head.is_some_and(|head| head.pack == pack)
    }

    /// Gives a head its part of its pack's energy, where so many heads are used together, and the guide number that goes
    /// with it: that of the head at the pack's full energy, which falls as the root of the energy (ISO 1230: its square is
    /// in proportion to the light).
    pub fn take_part(&mut self, pack: &Pack, heads: usize) {
        let own = pack.head_energy(self.head.and_then(|head| head.outlet), heads);
        let part = own.get() / pack.energy.get();
        self.energy = Some(own);
        self.guide_number =
            self.guide_number.map(|guide| GuideMetres::new_unchecked(guide.get() * part.sqrt()));
    }

    /// Its light at a setting in stops below full power, including the corrections.
    pub fn below(&self, setting: Stops) -> f64 {
        setting.get() - self.correction(setting.get())
    }

    /// Its light at a setting as a fraction of full power, including the corrections.
    pub fn power(&self, setting: Stops) -> f64 {
        (-self.below(setting)).exp2()
    }

    /// How far its light at a part of full power may be off its scale, as stated; `None` where the usual half-width holds.
    /// Between settings that were calibrated nothing better than that is known.
    pub fn dial_at(&self, power: f64) -> Option<Stops> {
        let is_it = |row: &[f64; 2]| (self.power(Stops::new_unchecked(row[0])) - power).abs() < SAME_POWER;
        let is_known = self.corrections.is_empty() || self.corrections.iter().any(is_it);
        self.dial.filter(|stated| is_known || stated.get() >= DIAL.value)
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

    /// The inverse of [`Self::below`], on a scale without ends: the setting whose light is `below` stops under full power.
    /// If several settings give that light, the one of lowest power on the scale.
    pub fn setting_for(&self, below: f64) -> f64 {
        let (Some(first), Some(last)) = (self.corrections.first(), self.corrections.last()) else {
            return below;
        };
        // The light is linear between corrected settings; beyond them it follows the scale.
        let light = |[setting, stops]: &[f64; 2]| setting - stops;
        let after = (below >= light(last)).then(|| (below + last[1]).max(last[0]));
        let before = (below <= light(first)).then(|| (below + first[1]).min(first[0]));
        let between = || {
            self.corrections.windows(2).rev().find_map(|pair| {
                let [from, to] = pair else { return None };
                // NaN or infinite if the light is constant here; then the neighbouring pairs contain both ends.
                let part = (below - light(from)) / (light(to) - light(from));
                (0.0..=1.0).contains(&part).then(|| from[0] + part * (to[0] - from[0]))
            })
        };
        let range = self.scale.range().get();
        let on_the_scale = after.filter(|&setting| setting <= range).or_else(between);
        on_the_scale.or(before).or(after).unwrap_or(below)
    }

    /// The settings with the most and the least light: full and least power, unless corrections change that.
    pub fn ends(&self) -> [Stops; 2] {
        // The light is linear between corrected settings, so the extremes are at these.
        let corners = || {
            let corrected = self.corrections.iter().map(|[setting, _]| *setting);
            [0.0, self.scale.range().get()].into_iter().chain(corrected).map(Stops::new_unchecked)
        };
        let by_light = |a: &Stops, b: &Stops| self.below(*a).total_cmp(&self.below(*b));
        let (most, least) = (corners().min_by(by_light), corners().max_by(by_light));
        [most.unwrap_or(Stops::ZERO), least.unwrap_or(Stops::ZERO)]
    }

    /// The setting whose light is nearest to `below` stops under full power. Ties go to the darker setting, and between
    /// settings of equal light to the lower power.
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
        // Lowest power first: the first of equal settings is kept.
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

    /// The setting that comes nearest to a required light, in stops below full power.
    pub fn fit(&self, wanted_below: f64) -> Fit {
        let below = self.nearest(wanted_below);
        let error = wanted_below - self.below(below);
        let [most, least] = self.ends().map(|end| self.below(end));
        // Between the most and the least light some setting is always within half its click.
        let is_between = (most..=least).contains(&wanted_below);
        Fit {
            below,
            error,
            is_feasible: is_between || error.abs() <= self.half_click(below).get() + SAME_STOPS,
        }
    }

    /// Half the larger step in light to a neighbouring setting: the largest error that rounding to a click can leave.
    /// Corrections make clicks uneven.
    pub fn half_click(&self, setting: Stops) -> Stops {
        self.scale.half_click_of(setting, |below| self.below(Stops::new_unchecked(below)))
    }

    /// A unit like it with this many times the energy and the light. `None` if that is out of bounds or does not fit its scale.
    pub fn scaled(&self, factor: f64) -> Option<Self> {
        let energy = self.energy.map(|energy| Joules::new(significant(energy.get() * factor)));
        let energy = energy.transpose().ok()?;
        let guide = self.guide_number.map(|guide| GuideMetres::new(significant(guide.get() * factor.sqrt())));
        let scale = match (self.scale.style(), energy) {
            (Style::Joules { least, .. }, Some(full)) => {
                Scale::new(Style::Joules { full: full.get(), least }, self.scale.grid()).ok()?
            }
            _ => self.scale.clone(),
        };
        // A unit like it has its guide number at this zoom.
        Some(Self { energy, guide_number: guide.transpose().ok()?, zoom: None, scale, ..self.clone() })
    }

    /// A unit like it that gives at least so much more light: its energy, or its guide number if that is what is compared,
    /// has two digits and is rounded up. `None` if it cannot be stated, or is a matter of its pack.
    pub fn stronger(&self, stops: f64, by_guide: bool) -> Option<Self> {
        if self.head.is_some() {
            return None;
        }
        let guide = || {
            let own = self.guide_number?.get();
            Some((round_up(own * (stops / 2.0).exp2()) / own).powi(2))
        };
        let energy = || {
            let own = self.energy?.get();
            Some(round_up(own * stops.exp2()) / own)
        };
        let factor = if by_guide { guide().or_else(energy) } else { energy().or_else(guide) };
        self.scaled(factor?)
    }

    /// The setting at `below` stops under full power, for an answer.
    pub fn setting(&self, below: Stops) -> Setting {
        Setting {
            label: self.scale.label(below),
            stops_below_full: below,
            fraction: Number::new_unchecked((-below.get()).exp2()),
            energy_j: self.energy.map(|full| Scale::energy_at(full, below)),
        }
    }
}

/// Rounds up to two significant digits.
fn round_up(value: f64) -> f64 {
    let unit = 10_f64.powi(value.log10().floor() as i32 - 1);
    significant((value / unit - 1e-9).ceil() * unit)
}

/// The most energy of each thing that recycles by itself, J: of a pack that is used, or of a unit that is on none.
pub fn energies<'u>(
    units: impl Iterator<Item = &'u Unit> + Clone,
    packs: &[Pack],
) -> impl Iterator<Item = f64> {
    let own = units.clone().filter(|unit| unit.head.is_none()).filter_map(|unit| unit.energy);
    let packs = packs.iter().enumerate();
    let packs = packs.filter(move |(index, _)| units.clone().any(|unit| unit.is_on(*index)));
    own.chain(packs.map(|(_, pack)| pack.energy)).map(Joules::get)
}

#[cfg(test)]
mod tests;
