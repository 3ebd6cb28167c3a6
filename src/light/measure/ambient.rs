//! Whether ambient light stays out of a flash picture, and what keeps it out.
//!
//! N² of a light is what its luminous exposure asks for: of ambient light N² = E·t·S/C (ISO 2720:1974), in
//! proportion to the exposure time; of flash it does not depend on the time.

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    measure::space::{Encoding, GREY, Level, Space},
    quantity::{
        FNumber, Iso, Lux, Number, Seconds, Stops, bounds,
        constants::CONSTANT_C,
        kind::Kind,
        marks::Step,
        nominal::{Nominal, stops_said},
    },
    remark::{By, Change, Remark, Remedy},
    set::limits::Limits,
};

/// The ambient light, as it was measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Ambient {
    /// Illuminance.
    Illuminance(Lux),
    /// A meter's reading.
    Reading {
        /// What it read.
        f_number: FNumber,
        /// At this time.
        exposure_time: Seconds,
        /// At this ISO speed.
        iso: Iso,
    },
    /// The level of an 18 % grey card in a frame at the exposure with the flash off.
    Patch {
        /// The level.
        level: Level,
        /// Its encoding.
        encoding: Encoding,
    },
}

/// What is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// Aperture.
    pub f_number: FNumber,
    /// ISO speed.
    pub iso: Iso,
    /// Exposure time.
    pub exposure_time: Seconds,
    /// The ambient light.
    pub ambient: Ambient,
    /// What a meter reads of the flash alone; the working aperture if not known.
    pub flash: Option<FNumber>,
    /// The shortest time at which the shutter is fully open.
    pub sync_time: Option<Seconds>,
    /// How much brighter ambient light may make the picture.
    pub allowed: Stops,
    /// Where ambient light is wanted, against the flash.
    pub wanted: Option<Stops>,
    /// How far remedies may go.
    pub limits: Limits,
    /// The series of marks.
    pub step: Step,
}

/// How far ambient light stays out of a flash picture.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = AmbientCheck)]
pub struct Check {
    /// How far ambient light is under the flash, stops; negative where it is over it; null where there is none.
    pub ambient_below_flash_stops: Option<Stops>,
    /// Its part of all the light, 0 to 1.
    pub ambient_share: Number,
    /// How much brighter it makes the picture than the flash alone, stops.
    pub brightening_stops: Stops,
    /// Whether that is within what is allowed.
    pub clean: bool,
    /// The 8-bit sRGB level that an 18 % grey card would show in a frame with the flash off, by the curve of sRGB alone.
    pub darkest_patch_level: Number,
    /// The level that it may show there: ambient light just within what is allowed.
    pub allowed_patch_level: Number,
    /// The longest time that keeps ambient light within what is allowed, with the longest mark that does, or the camera's sync time where that mark would be shorter and the sync time does; null where there is none, or beyond an hour.
    pub longest_exposure_time: Option<Nominal>,
    /// Whether the camera's sync time allows `longest_exposure_time`; null where either is not known.
    pub sync_allows: Option<bool>,
    /// The time at which ambient light is as far from the flash as `wanted_ambient_stops`; null where that was not asked or cannot be.
    pub exposure_time: Option<Nominal>,
    /// What would keep it out: each changes the ratio of flash to ambient.
    pub remedies: Vec<Remedy>,
    /// What to doubt.
    pub warnings: Vec<Remark>,
}

/// Checks.
pub fn check(question: &Question) -> Check {
    let working = question.f_number.squared();
    let time = question.exposure_time.get();
    let ambient = light(question);
    let flash = question.flash.unwrap_or(question.f_number).squared();
    let brightening = (1.0 + ambient / flash).log2();
    let clean = brightening <= question.allowed.get() + 1e-9;
    let most = flash * (question.allowed.get().exp2() - 1.0);
    let at_ratio = |light: f64| {
        (ambient > 0.0).then(|| time * light / ambient).filter(|&t| bounds::EXPOSURE_TIME.check(t).is_ok())
    };
    let is_shorter = |time: f64| question.sync_time.map(|sync| time < sync.get() * (1.0 - 1e-9));
    let longest = at_ratio(most);
    let sync_allows = longest.and_then(is_shorter).map(|is_shorter| !is_shorter);
    let longest = longest.map(|time| synced(no_brighter(Kind::ExposureTime, time, question.step), question));
    let wanted = question.wanted.and_then(|wanted| at_ratio(flash * wanted.factor()));
    let mut warnings = Vec::new();
    if wanted.and_then(is_shorter) == Some(true) {
        warnings.push(Remark::new(
            "faster_than_sync",
            "The wanted exposure_time is shorter than the camera's sync time: the shutter would cut into the picture. Close the lens and raise the flash instead.",
        ));
    }
    if let Ambient::Patch { level, encoding } = question.ambient {
        warnings.push(Remark::new(
            "no_tone_curve",
            "The level was read by the curve of its space alone; a file's tone curve makes it rougher.",
        ));
        if encoding.is_clipped(level) {
            warnings.push(Remark::new(
                "clipped",
                "The level is at an end of its range: the ambient light may be less (or more) than taken.",
            ));
        }
    }
    if is_shorter(time) == Some(true) {
        warnings.push(Remark::new(
            "faster_than_sync",
            "The exposure time is shorter than the camera's sync time: the shutter cuts into the flash picture.",
        ));
    }
    // Where ambient light is wanted, none is to be kept out.
    let remedies = if clean || question.wanted.is_some() {
        Vec::new()
    } else {
        remedies(question, ambient, most, longest.as_ref(), sync_allows)
    };
    Check {
        ambient_below_flash_stops: (ambient > 0.0).then(|| Stops::new_unchecked((flash / ambient).log2())),
        ambient_share: Number::new_unchecked(ambient / (ambient + flash)),
        brightening_stops: Stops::new_unchecked(brightening),
        clean,
        darkest_patch_level: grey_level(ambient / working),
        allowed_patch_level: grey_level(most / working),
        longest_exposure_time: longest,
        sync_allows,
        exposure_time: wanted
            .map(|time| synced(Nominal::new(Kind::ExposureTime, time, question.step), question)),
        remedies,
        warnings,
    }
}

/// The 8-bit sRGB level of an 18 % grey card in so much of the light that the exposure wants.
fn grey_level(light: f64) -> Number {
    Number::new_unchecked(255.0 * Space::Srgb.encode((GREY * light).min(1.0)))
}

/// The ambient light at the exposure's time and ISO speed, as N².
fn light(question: &Question) -> f64 {
    let (time, iso) = (question.exposure_time.get(), question.iso.get());
    match question.ambient {
        Ambient::Illuminance(lux) => lux.get() * time * iso / CONSTANT_C,
        Ambient::Reading { f_number, exposure_time, iso: read_at } => {
            f_number.squared() * time / exposure_time.get() * iso / read_at.get()
        }
        // A grey card is rendered at 18 % where the exposure is right.
        Ambient::Patch { level, encoding } => question.f_number.squared() * encoding.linear(level) / GREY,
    }
}

/// A value with the nearest mark that exposes no brighter.
fn no_brighter(kind: Kind, value: f64, step: Step) -> Nominal {
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

/// A time whose mark the shutter can keep up with: the camera's sync time, which it has as well, where the time
/// allows that and the mark would be shorter.
fn synced(time: Nominal, question: &Question) -> Nominal {
    let Some(sync) = question.sync_time else { return time };
    let off = (sync.get() / time.value.get()).log2();
    let is_shorter = |mark: Stops| mark.get() < off - 1e-6;
    if off > 1e-6 || !time.off_by_stops.is_some_and(is_shorter) {
        return time;
    }
    Nominal {
        mark: Some(sync_mark(sync, question).into()),
        off_by_stops: Some(Stops::new_unchecked(off)),
        ..time
    }
}

/// The camera's sync time as its dial has it.
fn sync_mark(sync: Seconds, question: &Question) -> String {
    Nominal::new(Kind::ExposureTime, sync.get(), question.step).exactly_said()
}

fn remedies(
    question: &Question,
    ambient: f64,
    most: f64,
    longest: Option<&Nominal>,
    sync_allows: Option<bool>,
) -> Vec<Remedy> {
    let mut remedies = Vec::new();
    // Where the shutter cannot keep up with what the ambient light wants, as far as it can, and then the rest.
    let (mut first, mut left) = (String::new(), ambient);
    if let (Some(longest), true) = (longest, sync_allows != Some(false)) {
        let off = longest.off_by_stops.map_or(0.0, Stops::get);
        let shorter = (longest.value.get() / question.exposure_time.get()).log2() + off;
        let mark = longest.said();
        let sync = if sync_allows.is_none() { ", if the camera's sync time allows it" } else { "" };
        remedies.push(Remedy {
            change: Change::ExposureTime,
            by: By::stops(Stops::new_unchecked(shorter)),
            detail: format!("Shorten the exposure time to {mark}{sync}. Flash does not change."),
        });
    } else if let Some(sync) = question.sync_time
        && sync.get() < question.exposure_time.get() * (1.0 - 1e-9)
    {
        let mark = sync_mark(sync, question);
        first = format!("Shorten the exposure time to {mark}, the sync time. Then: ");
        left = ambient * sync.get() / question.exposure_time.get();
    }
    let less = (most / left).log2();
    remedies.push(Remedy {
        change: Change::Ambient,
        by: By::stops(Stops::new_unchecked(less)),
        detail: format!(
            "{first}Take away {} of the ambient light: switch off, flag, draw the blinds.",
            stops_said(less)
        ),
    });
    // More flash and as much less of everything.
    let stops = -less;
    let mut together = Vec::new();
    let f_number = question.f_number.get() * (stops / 2.0).exp2();
    if question.limits.takes_f_number(f_number) {
        let mark = no_brighter(Kind::FNumber, f_number, question.step).said();
        together.push(format!("close the lens to {mark}"));
    }
    let iso = question.iso.get() * (-stops).exp2();
    if question.limits.takes_iso(iso) {
        let mark = no_brighter(Kind::Iso, iso, question.step).said();
        together.push(format!("lower the ISO speed to {mark}"));
    }
    together.push(format!("put {} of neutral density on the lens", stops_said(stops)));
    remedies.push(Remedy {
        change: Change::Power,
        by: By::stops(Stops::new_unchecked(stops)),
        detail: format!(
            "{first}Raise the flash {}, and take as much away from flash and ambient light at the camera: {}. Where a mark takes a little more, raise the flash by that.",
            stops_said(stops),
            together.join(", or ")
        ),
    });
    remedies
}
