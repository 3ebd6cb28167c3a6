//! Motion blur of a subject lit by flash.
//!
//! t0.5 is the time above half of the peak, t0.1 the time above a tenth (ISO 2827). After the peak a flash decays
//! exponentially, so that t0.1 = t0.5·ln 10/ln 2 (derived). A unit that cuts its flash off with a switch does not, so
//! that both times must be known. Blur is counted over t0.1, or over the exposure time if that is shorter: the picture
//! does not record anything while the shutter is closed (derived).

use std::f64::consts::{LN_2, LN_10};

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    quantity::{Number, Seconds, Stops, words::words},
    remark::{Warning, WarningKind},
};

words! {
    /// How a flash ends.
    pub enum Shape as "FlashShape" {
        /// The light decays exponentially.
        Exponential = "exponential",
        /// A switch cuts the flash off; both times must be known.
        CutOff = "cut_off",
    }
}

words! {
    /// What limits the blur.
    pub enum Bound as "BlurBound" {
        /// The flash: t0.1.
        Flash = "flash",
        /// The shutter: the exposure time is shorter than t0.1.
        Shutter = "shutter",
    }
}

/// The duration of a flash.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Duration {
    /// Time above half of the peak.
    pub t0_5: Seconds,
    /// Time above a tenth of the peak.
    pub t0_1: Seconds,
}

impl Duration {
    /// The duration from the stated times. `None` if no time is given, if only one is given for a flash that is cut
    /// off, or if t0.5 is longer than t0.1.
    pub fn of(t0_5: Option<Seconds>, t0_1: Option<Seconds>, shape: Shape) -> Option<Self> {
        let ratio = LN_10 / LN_2;
        let scaled = |time: Seconds, by: f64| Seconds::new_unchecked(time.get() * by);
        let duration = match (t0_5, t0_1, shape) {
            (Some(t0_5), Some(t0_1), _) => Self { t0_5, t0_1 },
            (Some(t0_5), None, Shape::Exponential) => Self { t0_5, t0_1: scaled(t0_5, ratio) },
            (None, Some(t0_1), Shape::Exponential) => Self { t0_5: scaled(t0_1, 1.0 / ratio), t0_1 },
            _ => return None,
        };
        (duration.t0_5 <= duration.t0_1).then_some(duration)
    }
}

/// A flash and a moving subject.
#[derive(Debug, Clone, PartialEq)]
pub struct FreezeQuestion {
    /// The duration of the flash.
    pub duration: Duration,
    /// How the flash ends.
    pub shape: Shape,
    /// Speed of the subject across the picture, m/s.
    pub speed_m_s: f64,
    /// Size of a pixel at the subject, m.
    pub pixel_m: f64,
    /// The largest blur that still counts as sharp, pixels.
    pub allowed_px: f64,
    /// Labels and durations of other settings.
    pub by_setting: Vec<(String, Duration)>,
    /// The exposure time.
    pub exposure_time: Option<Seconds>,
    /// The shortest time at which the shutter is fully open.
    pub sync_time: Option<Seconds>,
    /// How far ambient light is below the flash.
    pub ambient_below_flash: Option<Stops>,
}

/// How sharply a flash freezes a moving subject.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = MotionFreeze)]
pub struct Freeze {
    /// Sharpness at the requested duration.
    #[serde(flatten)]
    pub sharpness: Sharpness,
    /// Sharpness at other settings, in the order of the request.
    pub by_setting: Vec<SettingSharpness>,
    /// Light lost because the shutter closes before the flash has decayed, stops, positive. The shutter is assumed to be fully open from the peak on. Null without an exposure time or for a flash that is cut off by a switch.
    pub lost_flash_stops: Option<Stops>,
    /// The ghost image of the moving subject by ambient light; null without an exposure time.
    pub ghost: Option<Ghost>,
    /// Warnings.
    pub warnings: Vec<Warning>,
}

/// How sharp a moving subject is.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Sharpness {
    /// Time above half of the peak, s.
    pub t0_5_s: Seconds,
    /// Time above a tenth of the peak, s.
    pub t0_1_s: Seconds,
    /// What limits the blur: the flash, or the shutter if the exposure time is shorter than t0.1.
    pub bounded_by: Bound,
    /// Blur in the picture over t0.1, or over the exposure time if that is shorter, pixels.
    pub blur_px: Number,
    /// The distance that the subject moves in that time, m.
    pub blur_m: Number,
    /// Whether the blur is within the allowed blur.
    pub sharp: bool,
    /// The fastest subject that would be sharp, m/s.
    pub fastest_subject_m_s: Number,
}

/// How sharp a moving subject is at one setting.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SettingSharpness {
    /// The setting's label.
    pub setting: String,
    /// Sharpness at this setting.
    #[serde(flatten)]
    pub sharpness: Sharpness,
}

/// The ghost image of a moving subject by ambient light.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = AmbientGhost)]
pub struct Ghost {
    /// Length of the ghost image in the picture, over the exposure time, pixels.
    pub length_px: Number,
    /// The ambient share of the light on the subject, 0 to 1; null if the ambient light is unknown.
    pub share: Option<Number>,
}

/// Calculates the motion blur.
pub fn freeze(question: &FreezeQuestion) -> Freeze {
    let sharpness = |duration: Duration| {
        let shutter = question.exposure_time.filter(|time| *time < duration.t0_1);
        // Only light that arrives while the shutter is open forms the picture.
        let blur_time = shutter.unwrap_or(duration.t0_1).get();
        let path = question.speed_m_s * blur_time;
        let px = path / question.pixel_m;
        Sharpness {
            t0_5_s: duration.t0_5,
            t0_1_s: duration.t0_1,
            bounded_by: if shutter.is_some() { Bound::Shutter } else { Bound::Flash },
            blur_px: Number::new_unchecked(px),
            blur_m: Number::new_unchecked(path),
            sharp: px <= question.allowed_px * (1.0 + 1e-9),
            fastest_subject_m_s: Number::new_unchecked(question.allowed_px * question.pixel_m / blur_time),
        }
    };
    let mut warnings = Vec::new();
    let lost = match (question.exposure_time, question.shape) {
        (Some(time), Shape::Exponential) => {
            // The fraction of the light from the peak to t is 1 - exp(-t/τ), with τ = t0.1/ln 10.
            let tau = question.duration.t0_1.get() / LN_10;
            Some(Stops::new_unchecked(-(-(-time.get() / tau).exp_m1()).log2()))
        }
        (Some(_), Shape::CutOff) => {
            warnings.push(WarningKind::CutOffNotComputed.into());
            None
        }
        (None, _) => None,
    };
    if lost.is_some_and(|lost| lost.get() > 0.1) {
        warnings.push(WarningKind::TailCut.into());
    }
    if let (Some(time), Some(sync)) = (question.exposure_time, question.sync_time)
        && time.get() < sync.get() * (1.0 - 1e-9)
    {
        warnings.push(WarningKind::FasterThanSync.into());
    }
    let at_requested = sharpness(question.duration);
    if at_requested.bounded_by == Bound::Shutter {
        warnings.push(WarningKind::ShutterBoundsBlur.into());
    }
    let ghost = question.exposure_time.map(|time| Ghost {
        length_px: Number::new_unchecked(question.speed_m_s * time.get() / question.pixel_m),
        share: question.ambient_below_flash.map(|below| {
            let ambient = (-below.get()).exp2();
            Number::new_unchecked(ambient / (1.0 + ambient))
        }),
    });
    let by_setting = question.by_setting.iter().map(|(setting, duration)| SettingSharpness {
        setting: setting.clone(),
        sharpness: sharpness(*duration),
    });
    Freeze {
        sharpness: at_requested,
        by_setting: by_setting.collect(),
        lost_flash_stops: lost,
        ghost,
        warnings,
    }
}
