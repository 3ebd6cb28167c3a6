//! Checks how much ambient light contributes to a flash picture, and how to reduce it.
//!
//! Amounts of light are expressed as N², the square of the f-number that exposes them correctly. For ambient light
//! N² = E·t·S/C (ISO 2720:1974), proportional to the exposure time; for flash N² does not depend on the time. So a level of
//! ambient light relative to the flash has one exposure time (derived), which is found where none is stated. What the lens
//! takes, it takes from both.

mod remedies;

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    measure::{
        patches::CONTRAST,
        space::{Encoding, GREY, Level, Space},
    },
    quantity::{
        FNumber, Iso, Lux, Number, Seconds, Stops, bounds,
        constants::CONSTANT_C,
        half_widths::{METER_OFFSET, REPEAT},
        kind::Kind,
        marks::{self, Engraved, Step},
        nominal::Nominal,
        rules::Rules,
    },
    remark::{Percentage, Warning, WarningKind},
    remedy::{Remedy, To},
    set::{Meter, lens::Lens, limits::Limits},
    uncertainty::{Cause, UncertainPart, Uncertainty},
    unit::shutter::Shutter,
};

/// A measurement of the ambient light.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Ambient {
    /// Illuminance at the subject.
    Illuminance(Lux),
    /// A reading of a light meter.
    Reading {
        /// The aperture that the meter showed.
        f_number: FNumber,
        /// The exposure time set on the meter.
        exposure_time: Seconds,
        /// The ISO speed set on the meter.
        iso: Iso,
    },
    /// The level of an 18 % grey card in a frame taken at the exposure with the flash off.
    Patch {
        /// The level.
        level: Level,
        /// Its encoding.
        encoding: Encoding,
        /// The exposure time of the frame.
        exposure_time: Seconds,
    },
}

/// An exposure with flash, and the ambient light to check.
#[derive(Debug, Clone, PartialEq)]
pub struct AmbientQuestion {
    /// Aperture of the exposure.
    pub f_number: FNumber,
    /// ISO speed of the exposure.
    pub iso: Iso,
    /// Exposure time; found if `None`.
    pub exposure_time: Option<Seconds>,
    /// What the lens takes from the light.
    pub lens: Lens,
    /// The ambient light.
    pub ambient: Ambient,
    /// How sure that is, if stated: ± stops at 95 %.
    pub plus_minus: Option<Stops>,
    /// The meter reading of the flash alone; if `None`, the flash is assumed to expose correctly.
    pub flash: Option<FNumber>,
    /// The shortest time at which the shutter is fully open.
    pub sync_time: Option<Seconds>,
    /// The allowed brightening of the picture by ambient light.
    pub allowed: Stops,
    /// The desired level of ambient light relative to the flash, if ambient light should show.
    pub wanted: Option<Stops>,
    /// The limits of remedies.
    pub limits: Limits,
    /// How numbers are read and written.
    pub rules: Rules,
}

/// The contribution of ambient light to a flash picture.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = AmbientCheck)]
pub struct Check {
    /// How far ambient light is below the flash, stops; negative if it is brighter than the flash; null if there is no ambient light.
    pub ambient_below_flash_stops: Option<Stops>,
    /// The uncertainty of `ambient_below_flash_stops`; null if there is no ambient light.
    pub uncertainty: Option<Uncertainty>,
    /// The ambient share of the total light, 0 to 1.
    pub ambient_share: Number,
    /// How much brighter the picture is than with the flash alone, stops.
    pub brightening_stops: Stops,
    /// Whether the brightening is within the allowed limit.
    pub clean: bool,
    /// The 8-bit sRGB level of an 18 % grey card in a frame with the flash off, by the sRGB curve without a tone curve.
    pub darkest_level: Number,
    /// The same level if ambient light were exactly at the allowed limit.
    pub allowed_level: Number,
    /// The longest exposure time that keeps ambient light within the allowed limit, with the longest mark that does so. If that mark would be shorter than the camera's sync time but the sync time is within the limit, the mark is the sync time. The mark is null if no mark is short enough. Null if there is no such time, or if it is longer than an hour.
    pub longest_exposure_time: Option<Nominal>,
    /// Whether the camera's sync time allows `longest_exposure_time`; null if either is unknown.
    pub sync_allows: Option<bool>,
    /// The exposure time that puts ambient light at `wanted_ambient_stops` relative to the flash; null if that was not requested or is not possible.
    pub exposure_time: Option<Nominal>,
    /// If the request states no exposure time: the time to set, for which all else is answered. Its mark puts ambient light where it is wanted, or keeps it out, and is never shorter than the sync time. If no mark is short enough to keep it out, this is the shortest one, and `remedies` say what does it. Absent if the time is stated, or if there is no ambient light.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub set_exposure_time: Option<Nominal>,
    /// How much brighter ambient light is than wanted, stops. Absent if none is wanted, or if there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub error_stops: Option<Stops>,
    /// Changes that bring ambient light within the limit; or, where the sync time is too long for what is wanted, to the level that is wanted. Each changes the ratio of flash to ambient light.
    pub remedies: Vec<Remedy>,
    /// Warnings.
    pub warnings: Vec<Warning>,
}

/// Compares the ambient light with the flash.
pub fn check(question: &AmbientQuestion) -> Check {
    let working = question.working_light();
    let time = question.time();
    let (ambient, flash) = (question.ambient_light(), question.flash_light());
    let clean = question.is_clean();
    let longest = question.time_for(question.most());
    let sync_allows =
        longest.map(|time| !question.is_faster_than_sync(time)).filter(|_| question.sync_time.is_some());
    let remedies = match question.wanted {
        // No other remedies if the client asked for ambient light to show.
        Some(_) => remedies::for_wanted(question),
        None if clean => Vec::new(),
        None => remedies::find(question),
    };
    Check {
        ambient_below_flash_stops: (ambient > 0.0).then(|| Stops::new_unchecked((flash / ambient).log2())),
        uncertainty: (ambient > 0.0).then(|| question.uncertainty()).flatten(),
        ambient_share: Number::new_unchecked(ambient / (ambient + flash)),
        brightening_stops: Stops::new_unchecked(question.brightening()),
        clean,
        darkest_level: grey_level(ambient / working),
        allowed_level: grey_level(question.most() / working),
        longest_exposure_time: question.longest(),
        sync_allows,
        exposure_time: question.wanted_time(),
        set_exposure_time: (question.exposure_time.is_none() && ambient > 0.0)
            .then(|| question.time_to_set(time)),
        error_stops: question.error().map(Stops::new_unchecked),
        warnings: warnings(question, &remedies),
        remedies,
    }
}

fn warnings(question: &AmbientQuestion, remedies: &[Remedy]) -> Vec<Warning> {
    let is_found = question.exposure_time.is_none();
    let mut warnings = Vec::new();
    if let Some((time, excess)) = question.too_fast() {
        // A found time is rounded to the sync time where that is near enough.
        let matters = excess > question.tolerance();
        if question.wanted.is_some() && (matters || !is_found) {
            warnings.push(WarningKind::WantedTimeFasterThanSync.into());
        }
        if remedies.is_empty() && (matters || question.wanted.is_none()) {
            let time = Nominal::new(Kind::ExposureTime, time, question.rules.step);
            warnings.push(WarningKind::HighSpeedSyncNeeded { exposure_time: time.label() }.into());
        }
    }
    if let Ambient::Patch { level, encoding, .. } = question.ambient {
        warnings.push(WarningKind::LevelWithoutToneCurve.into());
        if encoding.is_clipped(level) {
            warnings.push(WarningKind::AmbientClipped.into());
        }
    }
    let shutter = Shutter { time: Some(question.time()), sync_time: question.sync_time };
    if let Some(frame_share) = shutter.frame_share() {
        warnings.push(WarningKind::FasterThanSync { frame_share: Percentage(frame_share) }.into());
    }
    let shortens = |remedy: &Remedy| matches!(remedy.changes[0].to, To::ExposureTime(_));
    if question.sync_time.is_none() && (is_found || remedies.iter().any(shortens)) {
        warnings.push(WarningKind::SyncTimeUnknown.into());
    }
    warnings
}

impl AmbientQuestion {
    /// The light that the exposure renders correctly, as N²: more than the aperture's, by what the lens takes.
    fn working_light(&self) -> f64 {
        self.f_number.squared() * (-self.lens.stops(self.f_number)).exp2()
    }

    /// The light of the flash, as N².
    fn flash_light(&self) -> f64 {
        self.flash.map_or_else(|| self.working_light(), FNumber::squared)
    }

    /// What makes the two uncertain against each other. A meter that read both is as far off the camera for one as for the
    /// other; a flash that is taken to expose correctly was not metered.
    fn uncertainty(&self) -> Option<Uncertainty> {
        let reading = Meter::default().reading(self.plus_minus);
        let ambient = match (self.ambient, self.plus_minus) {
            (Ambient::Patch { level, encoding, .. }, None) => {
                // By tone curves of other contrasts, as levels of patches are.
                let stops = (encoding.linear(level) / GREY).log2();
                let [flat, steep] = CONTRAST.map(|contrast| stops / contrast - stops);
                let [low, high] = [-flat.min(steep), flat.max(steep)].map(|half| half.max(0.0));
                // Less ambient light is more below the flash.
                if stops.is_finite() { [high, low] } else { [0.0; 2] }
            }
            _ => [reading; 2],
        };
        let is_metered = !matches!(self.ambient, Ambient::Patch { .. });
        let flash = match self.flash {
            Some(_) => Some((Cause::Reading, Meter::default().reading(None))),
            None if is_metered => Some((Cause::Meter, METER_OFFSET.value)),
            None => None,
        };
        let even = flash.into_iter().chain([(Cause::Repeatability, REPEAT.value)]);
        let even = even.map(|(cause, half_width)| UncertainPart::new(cause, [half_width; 2]));
        Uncertainty::of(even.chain([UncertainPart::new(Cause::Ambient, ambient)]).collect())
    }

    /// The most ambient light within the limit, as N².
    fn most(&self) -> f64 {
        self.flash_light() * (self.allowed.get().exp2() - 1.0)
    }

    /// The most ambient light within the limit, stops against the flash.
    pub fn limit_stops(&self) -> Stops {
        Stops::new_unchecked((self.most() / self.flash_light()).log2())
    }

    /// The ambient light that a time is found for, as N²: what is wanted, or the most within the limit.
    fn target(&self) -> f64 {
        self.wanted.map_or_else(|| self.most(), |wanted| self.flash_light() * wanted.factor())
    }

    /// The ambient light of one second at the ISO speed of the exposure, as N².
    fn ambient_a_second(&self) -> f64 {
        let iso = self.iso.get();
        match self.ambient {
            Ambient::Illuminance(lux) => lux.get() * iso / CONSTANT_C,
            Ambient::Reading { f_number, exposure_time, iso: meter_iso } => {
                f_number.squared() / exposure_time.get() * iso / meter_iso.get()
            }
            // A correct exposure renders the grey card at 18 %.
            Ambient::Patch { level, encoding, exposure_time } => {
                self.working_light() * encoding.linear(level) / GREY / exposure_time.get()
            }
        }
    }

    /// The ambient light of the exposure, as N².
    fn ambient_light(&self) -> f64 {
        self.ambient_a_second() * self.time().get()
    }

    /// How much ambient light brightens the picture, stops.
    fn brightening(&self) -> f64 {
        (1.0 + self.ambient_light() / self.flash_light()).log2()
    }

    /// Whether that is within the limit.
    fn is_clean(&self) -> bool {
        self.brightening() <= self.allowed.get() + 1e-9
    }

    /// How much brighter ambient light is than wanted, stops; `None` if none is wanted, or if there is none.
    fn error(&self) -> Option<f64> {
        let ambient = self.ambient_light();
        let wanted = self.wanted?.get();
        (ambient > 0.0).then(|| (ambient / self.flash_light()).log2() - wanted)
    }

    /// The exposure time with this much ambient light, s; `None` if there is no ambient light, or no such time.
    fn time_for(&self, light: f64) -> Option<f64> {
        let a_second = self.ambient_a_second();
        let time = (a_second > 0.0).then(|| light / a_second)?;
        bounds::EXPOSURE_TIME.check(time).ok()
    }

    /// Whether a time is shorter than the sync time, as far as that is known.
    fn is_faster_than_sync(&self, time: f64) -> bool {
        self.sync_time.is_some_and(|sync| time < sync.get() * (1.0 - 1e-9))
    }

    /// How much longer than this time the sync time is, stops; `None` if that is not known, or if it is not longer.
    fn excess_at_sync(&self, time: f64) -> Option<f64> {
        self.sync_time.filter(|_| self.is_faster_than_sync(time)).map(|sync| (sync.get() / time).log2())
    }

    /// The time that is asked for, s, if it is shorter than the sync time, and how much longer that is, stops.
    fn too_fast(&self) -> Option<(f64, f64)> {
        let is_asked = self.wanted.is_some() || self.exposure_time.is_none();
        let time = self.time_for(self.target()).filter(|_| is_asked)?;
        Some((time, self.excess_at_sync(time)?))
    }

    /// How far ambient light may be from what is wanted, stops: half of the step of the marks.
    pub fn tolerance(&self) -> f64 {
        0.5 / f64::from(self.rules.step.per_stop()) + 1e-6
    }

    /// The longest exposure time that keeps ambient light within the limit.
    fn longest(&self) -> Option<Nominal> {
        let time = self.time_for(self.most())?;
        Some(limit_to_sync_time(with_mark_no_brighter(Kind::ExposureTime, time, self.rules.step), self))
    }

    /// The exposure time for the ambient light that is wanted.
    fn wanted_time(&self) -> Option<Nominal> {
        let time = self.time_for(self.flash_light() * self.wanted?.factor())?;
        Some(limit_to_sync_time(Nominal::new(Kind::ExposureTime, time, self.rules.step), self))
    }

    /// The exposure time: as stated, else the mark of the one that is found, but no shorter than the sync time.
    fn time(&self) -> Seconds {
        self.exposure_time.unwrap_or_else(|| {
            let found = if self.wanted.is_some() { self.wanted_time() } else { self.longest() };
            let found =
                found.map(|time| time.value.get() * time.off_by_stops.map_or(1.0, |off| off.get().exp2()));
            // No ambient light, very little or very much of it: the nearest time that a request accepts. What keeps it
            // out need not be a mark, but what is set is one.
            let bounds::Bounds { least, greatest, .. } = bounds::EXPOSURE_TIME;
            let least = if self.wanted.is_some() { least } else { shortest_mark(self.rules.step) };
            let found = found.unwrap_or_else(|| self.target() / self.ambient_a_second());
            let time = found.clamp(least, greatest);
            Seconds::new_unchecked(self.sync_time.map_or(time, |sync| time.max(sync.get())))
        })
    }

    /// A time that was found, with its mark: that of the sync time is exact.
    fn time_to_set(&self, time: Seconds) -> Nominal {
        match self.sync_time {
            Some(sync) if (time.get() / sync.get() - 1.0).abs() < 1e-9 => {
                Nominal::sync_time(sync, self.rules.step)
            }
            _ => Nominal::new(Kind::ExposureTime, time.get(), self.rules.step),
        }
    }
}

/// The 8-bit sRGB level of an 18 % grey card lit by `light` times the light of a correct exposure.
fn grey_level(light: f64) -> Number {
    Number::new_unchecked(255.0 * Space::Srgb.encode((GREY * light).min(1.0)))
}

/// The shortest exposure time on the series of marks, s.
fn shortest_mark(step: Step) -> f64 {
    marks::series(Engraved::ExposureTime, step).last().map_or(bounds::EXPOSURE_TIME.least, |mark| mark.value)
}

/// The value with the nearest mark that does not expose brighter; without one if there is none.
fn with_mark_no_brighter(kind: Kind, value: f64, step: Step) -> Nominal {
    let nearest = Nominal::new(kind, value, step);
    match nearest.off_by_stops {
        Some(off_by) if off_by.get() > 1e-6 => {
            let darker = kind.value_at(kind.exposure_stops(value) - 1.0 / f64::from(step.per_stop()));
            let mark = Nominal::new(kind, darker, step);
            let between = kind.exposure_stops(darker) - kind.exposure_stops(value);
            let off_by = mark.off_by_stops.map(|off_by| Stops::new_unchecked(off_by.get() + between));
            let is_darker = off_by.is_some_and(|off_by| off_by.get() <= 1e-6);
            Nominal {
                value: nearest.value,
                mark: mark.mark.filter(|_| is_darker),
                off_by_stops: off_by.filter(|_| is_darker),
                ..mark
            }
        }
        _ => nearest,
    }
}

/// Replaces the mark of `time` by the camera's sync time if the mark is shorter than the sync time and the sync time is
/// no longer than `time`. A camera may have a sync time that is not on the series of marks.
fn limit_to_sync_time(time: Nominal, question: &AmbientQuestion) -> Nominal {
    let Some(sync) = question.sync_time else { return time };
    let off = (sync.get() / time.value.get()).log2();
    let is_shorter = |mark: Stops| mark.get() < off - 1e-6;
    if off > 1e-6 || !time.off_by_stops.is_some_and(is_shorter) {
        return time;
    }
    Nominal {
        mark: Some(nominal_sync(sync, question).exact_label().into()),
        off_by_stops: Some(Stops::new_unchecked(off)),
        ..time
    }
}

/// The camera's sync time, with its nearest mark.
fn nominal_sync(sync: Seconds, question: &AmbientQuestion) -> Nominal {
    Nominal::new(Kind::ExposureTime, sync.get(), question.rules.step)
}
