//! Motion blur of a subject lit by flash.
//!
//! Blur is counted over t0.1, or over the exposure time if that is shorter: the picture does not record anything while the
//! shutter is closed (derived). A focal-plane shutter faster than its sync time is a slit that uncovers the share t/t_sync
//! of the frame at a time (derived; common practice).

use std::f64::consts::{LN_10, SQRT_2};

use serde::Serialize;
use utoipa::ToSchema;

pub use crate::light::measure::duration::{Duration, Shape};
use crate::light::{
    measure::train::{self, Train, TrainQuestion},
    quantity::{Number, Range, Seconds, Stops, marks::Step, words::words},
    remark::{Caution, Percentage, Warning, WarningKind},
    set::Meter,
    unit::shutter::Shutter,
};

words! {
    /// What limits the blur.
    pub enum Bound as "BlurBound" {
        /// The flash: t0.1.
        Flash = "flash",
        /// The shutter: the exposure time is shorter than t0.1.
        Shutter = "shutter",
    }
}

/// A flash and a moving subject, as far as they are known.
#[derive(Debug, Clone, PartialEq)]
pub struct FreezeQuestion {
    /// Time above half of the peak.
    pub t0_5: Option<Seconds>,
    /// Time above a tenth of the peak.
    pub t0_1: Option<Seconds>,
    /// How the flash ends.
    pub shape: Shape,
    /// Speed of the subject across the picture, m/s.
    pub speed_m_s: Option<f64>,
    /// Size of a pixel at the subject, m.
    pub pixel_m: Option<f64>,
    /// The largest blur that still counts as sharp, m at the subject.
    pub allowed_m: Option<f64>,
    /// Labels and durations of other settings.
    pub by_setting: Vec<(String, Duration)>,
    /// The exposure time.
    pub exposure_time: Option<Seconds>,
    /// The shortest time at which the shutter is fully open.
    pub sync_time: Option<Seconds>,
    /// How far ambient light is below the flash.
    pub ambient_below_flash: Option<Stops>,
    /// Flashes that follow each other in one exposure.
    pub train: Option<TrainQuestion>,
    /// The step of the series of marks.
    pub step: Step,
}

/// How sharply a flash freezes a moving subject. What cannot be told from the request is absent.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = MotionFreeze)]
pub struct Freeze {
    /// Time above half of the peak, s; absent if the request does not tell it.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub t0_5_s: Option<Seconds>,
    /// Time above a tenth of the peak, s; absent if the request does not tell it.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub t0_1_s: Option<Seconds>,
    /// What limits the blur: the flash, or the shutter if the exposure time is shorter than t0.1 or alone is known; absent if neither time is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub bounded_by: Option<Bound>,
    /// Sharpness at the requested duration.
    #[serde(flatten)]
    pub sharpness: Sharpness,
    /// The longest t0.1 within the allowed blur, s; absent without a speed or an allowed blur.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub longest_t0_1_s: Option<Seconds>,
    /// Sharpness at other settings, in the order of the request.
    pub by_setting: Vec<SettingSharpness>,
    /// Light lost because the shutter closes before the flash has decayed, stops, positive. The shutter is assumed to be fully open from the peak on. Null without an exposure time or without t0.1, or for a flash that is cut off by a switch.
    pub lost_flash_stops: Option<Stops>,
    /// The share of the frame that the flash lights, 0 to 1: less than 1 with an exposure time shorter than the sync time. Absent without the two.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub frame_share: Option<Number>,
    /// The ghost image of the moving subject by ambient light; null without an exposure time or a speed.
    pub ghost: Option<Ghost>,
    /// The train of flashes; absent if none is asked about. The blur is that of each of its images.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub train: Option<Train>,
    /// Warnings.
    pub warnings: Vec<Warning>,
    /// Safety cautions.
    pub cautions: Vec<Caution>,
}

/// How sharp a moving subject is.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Sharpness {
    /// Blur in the picture over t0.1, or over the exposure time if that is shorter, pixels; absent if the size of a pixel, the speed or the time is unknown.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub blur_px: Option<Number>,
    /// The distance that the subject moves in that time, m; absent if the speed or the time is unknown.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub blur_m: Option<Number>,
    /// Whether the blur is within the allowed blur; absent if one of the two is unknown.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub sharp: Option<bool>,
    /// The fastest subject that would be sharp, m/s; absent if the allowed blur or the time is unknown.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub fastest_subject_m_s: Option<Number>,
}

/// How sharp a moving subject is at one setting.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SettingSharpness {
    /// The setting's label.
    pub setting: String,
    /// Time above half of the peak, s.
    pub t0_5_s: Seconds,
    /// Time above a tenth of the peak, s.
    pub t0_1_s: Seconds,
    /// What limits the blur: the flash, or the shutter if the exposure time is shorter than t0.1.
    pub bounded_by: Bound,
    /// Sharpness at this setting.
    #[serde(flatten)]
    pub sharpness: Sharpness,
}

/// The ghost image of a moving subject by ambient light.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = AmbientGhost)]
pub struct Ghost {
    /// Length of the ghost image in the picture, over the exposure time, pixels; absent if the size of a pixel is unknown.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub length_px: Option<Number>,
    /// The distance that the subject moves in that time, m.
    pub length_m: Number,
    /// The ambient share of the light on the subject, 0 to 1; null if the ambient light is unknown.
    pub share: Option<Number>,
    /// Its 95 % range, with flash and ambient light each as sure as a reading. Absent if the ambient light is unknown.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub share_range: Option<Range<Number>>,
}

impl FreezeQuestion {
    /// Whether enough is known for an answer.
    pub fn has_answer(&self) -> bool {
        let [speed, allowed] = [self.speed_m_s, self.allowed_m].map(|known| known.is_some());
        let [open, synced] = [self.exposure_time, self.sync_time].map(|time| time.is_some());
        self.t0_1.is_some()
            || !self.by_setting.is_empty()
            || (open && (speed || allowed || synced))
            || (speed && allowed)
            || self.train.is_some()
    }

    /// The time that blur is counted over, and what limits it, for a flash of this t0.1: only light that arrives while the
    /// shutter is open forms the picture. `None` if neither time is known.
    fn blur_time(&self, t0_1: Option<Seconds>) -> Option<(Seconds, Bound)> {
        let shutter = self.exposure_time.filter(|time| t0_1.is_none_or(|t0_1| *time < t0_1));
        shutter.map(|time| (time, Bound::Shutter)).or(t0_1.map(|time| (time, Bound::Flash)))
    }

    /// The sharpness if blur is counted over this time.
    fn sharpness(&self, time: Option<Seconds>) -> Sharpness {
        let path = self.speed_m_s.zip(time).map(|(speed, time)| speed * time.get());
        let fastest = self.allowed_m.zip(time).map(|(allowed, time)| allowed / time.get());
        Sharpness {
            blur_px: path.zip(self.pixel_m).map(|(path, pixel)| Number::new_unchecked(path / pixel)),
            blur_m: path.map(Number::new_unchecked),
            sharp: path.zip(self.allowed_m).map(|(path, allowed)| path <= allowed * (1.0 + 1e-9)),
            fastest_subject_m_s: fastest.map(Number::new_unchecked),
        }
    }
}

/// The share of light that is so far below the rest, stops.
fn share(below_stops: f64) -> Number {
    let light = (-below_stops).exp2();
    Number::new_unchecked(light / (1.0 + light))
}

/// How long the light that is left after the peak of a flash lasts: time constants of its decay.
const DECAYS: f64 = 6.0;
/// The points of the curve of a flash.
const POINTS: u32 = 96;

/// The light of the flash from its peak on, as pairs of time, s, and the part of the peak: exponential, as the lost light is
/// counted. Empty if t0.1 is not known, or for a flash that is cut off, whose form is not known.
pub fn decay(question: &FreezeQuestion) -> Vec<[f64; 2]> {
    let Some(t0_1) = question.t0_1.filter(|_| question.shape == Shape::Exponential) else {
        return Vec::new();
    };
    let tau = t0_1.get() / LN_10;
    let time = |point: u32| DECAYS * f64::from(point) / f64::from(POINTS);
    (0..=POINTS).map(time).map(|time| [time * tau, (-time).exp()]).collect()
}

/// Calculates the motion blur.
pub fn freeze(question: &FreezeQuestion) -> Freeze {
    let mut warnings = Vec::new();
    let lost = match (question.exposure_time, question.t0_1, question.shape) {
        (Some(time), Some(t0_1), Shape::Exponential) => {
            // The fraction of the light from the peak to t is 1 - exp(-t/τ), with τ = t0.1/ln 10.
            let tau = t0_1.get() / LN_10;
            Some(Stops::new_unchecked(-(-(-time.get() / tau).exp_m1()).log2()))
        }
        (Some(_), Some(_), Shape::CutOff) => {
            warnings.push(WarningKind::CutOffNotComputed.into());
            None
        }
        _ => None,
    };
    if lost.is_some_and(|lost| lost.get() > 0.1) {
        warnings.push(WarningKind::TailCut.into());
    }
    let frame_share =
        question.exposure_time.zip(question.sync_time).map(|(time, sync)| {
            let shutter = Shutter { time: Some(time), sync_time: Some(sync) };
            let share = shutter.frame_share();
            warnings.extend(share.map(|frame_share| {
                WarningKind::FasterThanSync { frame_share: Percentage(frame_share) }.into()
            }));
            Number::new_unchecked(share.unwrap_or(1.0))
        });
    // The images of a train are as short as its flashes, whatever the exposure time.
    let is_known = question.train.is_none() || question.t0_1.is_some();
    let blur_time = question.blur_time(question.t0_1).filter(|_| is_known);
    let bounded_by = blur_time.map(|(_, bound)| bound);
    if bounded_by == Some(Bound::Shutter) && question.t0_1.is_some() {
        warnings.push(WarningKind::ShutterBoundsBlur.into());
    }
    let ghost = question.exposure_time.zip(question.speed_m_s).map(|(time, speed)| {
        let length = speed * time.get();
        Ghost {
            length_px: question.pixel_m.map(|pixel| Number::new_unchecked(length / pixel)),
            length_m: Number::new_unchecked(length),
            share: question.ambient_below_flash.map(|below| share(below.get())),
            share_range: question.ambient_below_flash.map(|below| {
                // Two readings, independent of each other.
                let half_width = Meter::default().reading(None) * SQRT_2;
                Range::of([half_width, -half_width], |off| share(below.get() + off))
            }),
        }
    });
    let by_setting = question.by_setting.iter().filter_map(|(setting, duration)| {
        let (time, bounded_by) = question.blur_time(Some(duration.t0_1))?;
        Some(SettingSharpness {
            setting: setting.clone(),
            t0_5_s: duration.t0_5,
            t0_1_s: duration.t0_1,
            bounded_by,
            sharpness: question.sharpness(Some(time)),
        })
    });
    let train = question.train.as_ref().map(|asked| train::train(question, asked));
    warnings.extend(train.iter().flat_map(Train::warnings));
    let longest = question.allowed_m.zip(question.speed_m_s).map(|(allowed, speed)| allowed / speed);
    Freeze {
        t0_5_s: question.t0_5,
        t0_1_s: question.t0_1,
        bounded_by,
        sharpness: question.sharpness(blur_time.map(|(time, _)| time)),
        longest_t0_1_s: longest.map(Seconds::new_unchecked),
        by_setting: by_setting.collect(),
        lost_flash_stops: lost,
        frame_share,
        ghost,
        cautions: train.iter().flat_map(Train::cautions).collect(),
        train,
        warnings,
    }
}
