//! Checks how much ambient light contributes to a flash picture, and how to reduce it.
//!
//! Amounts of light are expressed as N², the square of the f-number that exposes them correctly. For ambient light
//! N² = E·t·S/C (ISO 2720:1974), proportional to the exposure time; for flash N² does not depend on the time.

mod remedies;

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    measure::space::{Encoding, GREY, Level, Space},
    quantity::{
        FNumber, Iso, Lux, Number, Seconds, Stops, bounds, constants::CONSTANT_C, kind::Kind, marks::Step,
        nominal::Nominal, rules::Rules,
    },
    remark::{Warning, WarningKind},
    remedy::{Remedy, To},
    set::limits::Limits,
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
    },
}

/// An exposure with flash, and the ambient light to check.
#[derive(Debug, Clone, PartialEq)]
pub struct AmbientQuestion {
    /// Aperture of the exposure.
    pub f_number: FNumber,
    /// ISO speed of the exposure.
    pub iso: Iso,
    /// Exposure time.
    pub exposure_time: Seconds,
    /// The ambient light.
    pub ambient: Ambient,
    /// The meter reading of the flash alone; if `None`, it is assumed to equal the aperture of the exposure.
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
    /// The longest exposure time that keeps ambient light within the allowed limit, with the longest mark that does so. If that mark would be shorter than the camera's sync time but the sync time is within the limit, the mark is the sync time. Null if there is no such time, or if it is longer than an hour.
    pub longest_exposure_time: Option<Nominal>,
    /// Whether the camera's sync time allows `longest_exposure_time`; null if either is unknown.
    pub sync_allows: Option<bool>,
    /// The exposure time that puts ambient light at `wanted_ambient_stops` relative to the flash; null if that was not requested or is not possible.
    pub exposure_time: Option<Nominal>,
    /// Changes that bring ambient light within the limit. Each changes the ratio of flash to ambient light.
    pub remedies: Vec<Remedy>,
    /// Warnings.
    pub warnings: Vec<Warning>,
}

/// Compares the ambient light with the flash.
pub fn check(question: &AmbientQuestion) -> Check {
    let working = question.f_number.squared();
    let time = question.exposure_time.get();
    let (ambient, flash) = (ambient_light(question), question.flash_light());
    let brightening = question.brightening();
    let clean = question.is_clean();
    let most = flash * (question.allowed.get().exp2() - 1.0);
    let at_ratio = |light: f64| {
        (ambient > 0.0).then(|| time * light / ambient).filter(|&t| bounds::EXPOSURE_TIME.check(t).is_ok())
    };
    let is_shorter = |time: f64| question.sync_time.map(|sync| time < sync.get() * (1.0 - 1e-9));
    let longest = at_ratio(most);
    let sync_allows = longest.and_then(is_shorter).map(|is_shorter| !is_shorter);
    let longest = longest.map(|time| {
        limit_to_sync_time(with_mark_no_brighter(Kind::ExposureTime, time, question.rules.step), question)
    });
    let wanted = question.wanted.and_then(|wanted| at_ratio(flash * wanted.factor()));
    let mut warnings = Vec::new();
    if wanted.and_then(is_shorter) == Some(true) {
        warnings.push(WarningKind::WantedTimeFasterThanSync.into());
    }
    if let Ambient::Patch { level, encoding } = question.ambient {
        warnings.push(WarningKind::LevelWithoutToneCurve.into());
        if encoding.is_clipped(level) {
            warnings.push(WarningKind::AmbientClipped.into());
        }
    }
    if is_shorter(time) == Some(true) {
        warnings.push(WarningKind::FasterThanSync.into());
    }
    // No remedies if the client asked for ambient light to show.
    let remedies = if clean || question.wanted.is_some() { Vec::new() } else { remedies::find(question) };
    let shortens = |remedy: &Remedy| matches!(remedy.changes[0].to, To::ExposureTime(_));
    if question.sync_time.is_none() && remedies.iter().any(shortens) {
        warnings.push(WarningKind::SyncTimeUnknown.into());
    }
    Check {
        ambient_below_flash_stops: (ambient > 0.0).then(|| Stops::new_unchecked((flash / ambient).log2())),
        ambient_share: Number::new_unchecked(ambient / (ambient + flash)),
        brightening_stops: Stops::new_unchecked(brightening),
        clean,
        darkest_level: grey_level(ambient / working),
        allowed_level: grey_level(most / working),
        longest_exposure_time: longest,
        sync_allows,
        exposure_time: wanted.map(|time| {
            limit_to_sync_time(Nominal::new(Kind::ExposureTime, time, question.rules.step), question)
        }),
        remedies,
        warnings,
    }
}

impl AmbientQuestion {
    /// The light of the flash, as N².
    fn flash_light(&self) -> f64 {
        self.flash.unwrap_or(self.f_number).squared()
    }

    /// How much ambient light brightens the picture, stops.
    fn brightening(&self) -> f64 {
        (1.0 + ambient_light(self) / self.flash_light()).log2()
    }

    /// Whether that is within the limit.
    fn is_clean(&self) -> bool {
        self.brightening() <= self.allowed.get() + 1e-9
    }
}

/// The 8-bit sRGB level of an 18 % grey card lit by `light` times the light of a correct exposure.
fn grey_level(light: f64) -> Number {
    Number::new_unchecked(255.0 * Space::Srgb.encode((GREY * light).min(1.0)))
}

/// The ambient light at the time and ISO speed of the exposure, as N².
fn ambient_light(question: &AmbientQuestion) -> f64 {
    let (time, iso) = (question.exposure_time.get(), question.iso.get());
    match question.ambient {
        Ambient::Illuminance(lux) => lux.get() * time * iso / CONSTANT_C,
        Ambient::Reading { f_number, exposure_time, iso: meter_iso } => {
            f_number.squared() * time / exposure_time.get() * iso / meter_iso.get()
        }
        // A correct exposure renders the grey card at 18 %.
        Ambient::Patch { level, encoding } => question.f_number.squared() * encoding.linear(level) / GREY,
    }
}

/// The value with the nearest mark that does not expose brighter.
fn with_mark_no_brighter(kind: Kind, value: f64, step: Step) -> Nominal {
    let nearest = Nominal::new(kind, value, step);
    match nearest.off_by_stops {
        Some(off_by) if off_by.get() > 1e-6 => {
            let darker = kind.value_at(kind.exposure_stops(value) - 1.0 / f64::from(step.per_stop()));
            let mark = Nominal::new(kind, darker, step);
            let between = kind.exposure_stops(darker) - kind.exposure_stops(value);
            let off_by = mark.off_by_stops.map(|off_by| Stops::new_unchecked(off_by.get() + between));
            Nominal { value: nearest.value, off_by_stops: off_by, ..mark }
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
