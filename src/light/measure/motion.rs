//! How sharp a flash stops a subject.
//!
//! t0.5 is the time above half of the peak, t0.1 above a tenth (ISO 2827). After the peak a flash falls
//! exponentially, so that t0.1 = t0.5·ln 10/ln 2 (derived); a unit that cuts its flash off by a switch does
//! not, and both times must be known. Blur is counted over t0.1, or over the exposure time where that is shorter: what
//! happens while the shutter is closed is not in the picture (derived).

use std::f64::consts::{LN_2, LN_10};

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    quantity::{Millimetres, Number, Seconds, Stops, words::words},
    remark::Remark,
};

words! {
    /// How a flash ends.
    pub enum Shape as "FlashShape" {
        /// It dies away exponentially.
        Exponential = "exponential",
        /// A switch ends it; both times must be known.
        CutOff = "cut_off",
    }
}

words! {
    /// What ends the blur.
    pub enum Bound as "BlurBound" {
        /// The flash: t0.1.
        Flash = "flash",
        /// The shutter: the exposure time is shorter than t0.1.
        Shutter = "shutter",
    }
}

/// A flash's duration.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Duration {
    /// Time above half of the peak.
    pub t0_5: Seconds,
    /// Time above a tenth of the peak.
    pub t0_1: Seconds,
}

impl Duration {
    /// From what is stated; none where a unit that cuts off states only one, or the two are in the wrong
    /// order.
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

/// What is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// The duration.
    pub duration: Duration,
    /// How it ends.
    pub shape: Shape,
    /// Speed of the subject across the picture, m/s.
    pub speed_m_s: f64,
    /// Size of a pixel at the subject, m.
    pub pixel_m: f64,
    /// Blur that is still sharp, pixels.
    pub allowed_px: f64,
    /// Durations at other settings, by label.
    pub by_setting: Vec<(String, Duration)>,
    /// The exposure time.
    pub exposure_time: Option<Seconds>,
    /// How far ambient light is under the flash.
    pub ambient_below_flash: Option<Stops>,
}

/// How sharp a flash stops a subject.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = MotionFreeze)]
pub struct Freeze {
    /// At the duration asked.
    #[serde(flatten)]
    pub sharpness: Sharpness,
    /// The same at other settings, in the order asked.
    pub by_setting: Vec<SettingSharpness>,
    /// What the shutter cuts off the flash's tail if it is fully open from the peak on, stops, positive; null without an exposure time or for a flash that is cut off by a switch.
    pub lost_flash_stops: Option<Stops>,
    /// What the ambient light draws of the moving subject; null without an exposure time.
    pub ghost: Option<Ghost>,
    /// What to doubt.
    pub warnings: Vec<Remark>,
}

/// How sharp a subject is.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Sharpness {
    /// Time above half of the peak, s.
    pub t0_5_s: Seconds,
    /// Time above a tenth of the peak, s.
    pub t0_1_s: Seconds,
    /// What ends the blur: the flash, or the shutter where the exposure time is shorter than t0.1.
    pub bounded_by: Bound,
    /// Blur in the picture over t0.1, or over the exposure time where that is shorter, pixels.
    pub blur_px: Number,
    /// The same at the subject, mm.
    pub blur_mm: Millimetres,
    /// Whether that is within the allowed blur.
    pub sharp: bool,
    /// The fastest subject that is, m/s.
    pub fastest_subject_m_s: Number,
}

/// How sharp a subject is at one setting.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SettingSharpness {
    /// The setting's label.
    pub setting: String,
    /// How sharp.
    #[serde(flatten)]
    pub sharpness: Sharpness,
}

/// What ambient light draws of a moving subject.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = AmbientGhost)]
pub struct Ghost {
    /// Its length in the picture over the exposure time, pixels.
    pub length_px: Number,
    /// Its part of the subject's light, 0 to 1; null where ambient light is not known.
    pub share: Option<Number>,
}

/// Answers.
pub fn freeze(question: &Question) -> Freeze {
    let sharpness = |duration: Duration| {
        let shutter = question.exposure_time.filter(|time| *time < duration.t0_1);
        // The light that draws the subject is that of the flash while the shutter is open.
        let drawn = shutter.unwrap_or(duration.t0_1).get();
        let path = question.speed_m_s * drawn;
        let px = path / question.pixel_m;
        Sharpness {
            t0_5_s: duration.t0_5,
            t0_1_s: duration.t0_1,
            bounded_by: if shutter.is_some() { Bound::Shutter } else { Bound::Flash },
            blur_px: Number::new_unchecked(px),
            blur_mm: Millimetres::new_unchecked(path * 1000.0),
            sharp: px <= question.allowed_px * (1.0 + 1e-9),
            fastest_subject_m_s: Number::new_unchecked(question.allowed_px * question.pixel_m / drawn),
        }
    };
    let mut warnings = Vec::new();
    let lost = match (question.exposure_time, question.shape) {
        (Some(time), Shape::Exponential) => {
            // The light after the peak up to t is 1 - exp(-t/τ), with τ = t0.1/ln 10.
            let tau = question.duration.t0_1.get() / LN_10;
            Some(Stops::new_unchecked(-(-(-time.get() / tau).exp_m1()).log2()))
        }
        (Some(_), Shape::CutOff) => {
            warnings.push(Remark::new(
                "cut_off_not_computed",
                "What a shutter takes from a flash that a switch cuts off is not computed: its course is not exponential.",
            ));
            None
        }
        (None, _) => None,
    };
    if lost.is_some_and(|lost| lost.get() > 0.1) {
        warnings.push(Remark::new(
            "tail_cut",
            "The shutter closes before the flash has died away: less light than metered without it, and that less evenly across the frame.",
        ));
    }
    let at_asked = sharpness(question.duration);
    if at_asked.bounded_by == Bound::Shutter {
        warnings.push(Remark::new(
            "shutter_bounds_blur",
            "The shutter is open for less than t0.1, so that blur is counted over the exposure time. A focal-plane shutter that is faster than its sync time lights a part of the frame only.",
        ));
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
    Freeze { sharpness: at_asked, by_setting: by_setting.collect(), lost_flash_stops: lost, ghost, warnings }
}
