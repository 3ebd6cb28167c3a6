//! Trains of flashes in one exposure: how long the shutter must be open, and what stands still and what moves gets.
//!
//! n flashes are (n - 1) intervals long, from the first to the last; each takes its t0.1, or with a focal-plane shutter the
//! sync time if that is longer, because the shutter is open to the whole frame for that much less (derived). Handbooks
//! count n intervals (common practice), which leaves the last one to spare. What stands still adds up all flashes: log2(n)
//! stops; what moves on between them gets one flash in each of its images (derived). A caution is due above three flashes a
//! second (published: WCAG 2.x, success criterion 2.3.1).

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    error::Part,
    measure::motion::FreezeQuestion,
    quantity::{
        Number, Seconds, Stops,
        kind::Kind,
        marks::{self, Engraved},
        nominal::Nominal,
    },
    remark::{Caution, CautionKind, Remark, Warning, WarningKind},
    supply::{
        flicker::{FLASHES_A_SECOND, is_flicker},
        heat::{self, Heat},
        strongest_in_time,
    },
    unit::{Setting, Unit, keeps_up},
};

/// The slack of a comparison of times, for rounding errors.
const SLACK: f64 = 1e-9;

/// A train of flashes, as far as it is known.
#[derive(Debug, Clone, PartialEq)]
pub struct TrainQuestion {
    /// Its flashes; `None` for as many as the exposure time holds.
    pub pops: Option<u32>,
    /// Time from one flash to the next, s.
    pub interval_s: Option<f64>,
    /// The unit and its setting, stops below full.
    pub unit: Option<(Unit, Stops)>,
}

/// A train of flashes in one exposure.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = FlashTrain)]
pub struct Train {
    /// Its flashes: those of the request, or as many as the exposure time holds.
    pub pops: u32,
    /// Time from one flash to the next, s; absent if the request states none.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub interval_s: Option<Number>,
    /// Flashes a second, Hz; absent likewise.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub hz: Option<Number>,
    /// Time from the first flash to the last, s; absent likewise.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub span_s: Option<Number>,
    /// The shortest exposure time that holds the train: its span, and t0.1 or the sync time for the last flash, whichever is longer of those that are known. Its mark is the shortest that holds it too, null beyond the series. Absent without an interval, or for a single flash if neither is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub needed_exposure_time: Option<Nominal>,
    /// Whether the exposure time holds the train, if the first flash fires as the shutter opens; absent without an exposure time or an interval.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub long_enough: Option<bool>,
    /// The longest interval at which the exposure time holds all flashes, s; absent without an exposure time, or if it is too short at any interval.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub longest_interval_s: Option<Number>,
    /// Flashes in the picture, and so images of what moves on between them: those that the exposure time holds, at least one; all without an exposure time or an interval.
    pub images: u32,
    /// Light on what stands still, against a single flash, stops: that of all flashes in the picture.
    pub still_stops: Stops,
    /// Light of each image of what moves on between the flashes, against a single flash, stops: 0. Where its images overlap they add up.
    pub moving_stops: Stops,
    /// The distance that the subject moves from one image to the next, m; absent without a speed or an interval.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub spacing_m: Option<Number>,
    /// The same in the picture, pixels; absent if the size of a pixel is unknown.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub spacing_px: Option<Number>,
    /// What the train asks of the unit; absent without a unit.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub work: Option<Work>,
}

/// What a train asks of its unit.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = FlashTrainWork)]
pub struct Work {
    /// The setting: that of the request, or full power.
    pub setting: Setting,
    /// The energy of all flashes, in flashes at full power.
    pub full_flashes: Number,
    /// Recycle time at this setting, s; absent if the unit states none.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub recycle_s: Option<Number>,
    /// Whether the unit recycles within the interval; absent if one of the two is unknown.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub keeps_pace: Option<bool>,
    /// If it does not: the strongest setting at which it would; absent if none would.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub setting_that_keeps_pace: Option<Setting>,
    /// Heat load of its head by this train alone; absent without an interval, or if the unit states no duty limit.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub heat: Option<Heat>,
}

/// The times of a train and of the shutter, s.
struct Times {
    interval: f64,
    /// For a single flash, as far as known: t0.1, or the sync time.
    one: Option<f64>,
}

impl Times {
    /// From the first of so many flashes to the last.
    fn span(&self, flashes: u32) -> f64 {
        f64::from(flashes.saturating_sub(1)) * self.interval
    }

    /// Whether an exposure time holds so many flashes. If nothing is known of one flash, the last takes some time all the
    /// same.
    fn holds(&self, time: f64, flashes: u32) -> bool {
        let span = self.span(flashes);
        match self.one {
            Some(one) => span + one <= time * (1.0 + SLACK),
            None => span < time * (1.0 - SLACK),
        }
    }

    /// How many flashes an exposure time holds; the first is in the picture at any time.
    fn held(&self, time: f64) -> u32 {
        let about = ((time - self.one.unwrap_or(0.0)) / self.interval).max(0.0) as u32;
        // Rounding moves it by one at most.
        (about..=about.saturating_add(2)).rev().find(|&flashes| self.holds(time, flashes)).unwrap_or(1).max(1)
    }

    /// The shortest exposure time for so many flashes. Its mark is long enough by its printed number as well as by its exact
    /// value.
    fn needed(&self, flashes: u32, step: marks::Step) -> Option<Nominal> {
        let needed = self.span(flashes) + self.one.unwrap_or(0.0);
        // Of a single flash of unknown duration.
        if needed <= 0.0 {
            return None;
        }
        let mut rising = marks::series(Engraved::ExposureTime, step).iter().rev();
        let mark = rising.find(|mark| self.holds(mark.value.min(mark.printed), flashes));
        let exact = Kind::ExposureTime.exposure_stops(needed);
        Some(Nominal {
            value: Number::new_unchecked(needed),
            mark: mark.map(|mark| mark.text.as_str().into()),
            off_by_stops: mark.map(|mark| Stops::new_unchecked(mark.exposure_stops - exact)),
            meter: None,
            kind: Kind::ExposureTime,
        })
    }
}

/// Answers for the train that is asked about.
pub fn train(question: &FreezeQuestion, asked: &TrainQuestion) -> Train {
    let open = question.exposure_time.map(Seconds::get);
    let one = [question.t0_1, question.sync_time].into_iter().flatten().map(Seconds::get).reduce(f64::max);
    let times = asked.interval_s.map(|interval| Times { interval, one });
    let held = times.as_ref().zip(open).map(|(times, open)| times.held(open));
    let pops = asked.pops.or(held).unwrap_or(1);
    let images = held.map_or(pops, |held| held.min(pops));
    let longest = open.map(|open| (open - one.unwrap_or(0.0)) / f64::from(pops.saturating_sub(1)));
    let spacing = question.speed_m_s.zip(asked.interval_s).map(|(speed, interval)| speed * interval);
    let spacing_px = spacing.zip(question.pixel_m).map(|(spacing, pixel)| spacing / pixel);
    let number = |value: Option<f64>| value.map(Number::new_unchecked);
    Train {
        pops,
        interval_s: number(asked.interval_s),
        hz: number(asked.interval_s.map(f64::recip)),
        span_s: number(times.as_ref().map(|times| times.span(pops))),
        needed_exposure_time: times.as_ref().and_then(|times| times.needed(pops, question.step)),
        long_enough: times.as_ref().zip(open).map(|(times, open)| times.holds(open, pops)),
        longest_interval_s: number(longest.filter(|longest| *longest > 0.0 && longest.is_finite())),
        images,
        still_stops: Stops::new_unchecked(f64::from(images).log2()),
        moving_stops: Stops::ZERO,
        spacing_m: number(spacing),
        spacing_px: number(spacing_px),
        work: asked.unit.as_ref().map(|(unit, below)| work(unit, *below, pops, asked.interval_s)),
    }
}

fn work(unit: &Unit, below: Stops, pops: u32, interval: Option<f64>) -> Work {
    let recycle = unit.feeding.recycle_s(below);
    let keeps_pace =
        recycle.zip(interval).map(|(recycle, interval)| pops == 1 || keeps_up(recycle, interval));
    let slower = interval.filter(|_| keeps_pace == Some(false));
    let strongest = slower
        .and_then(|interval| strongest_in_time(&unit.scale, |below| unit.feeding.recycle_s(below), interval));
    let load = |(duty, interval)| heat::of_train(duty, pops, interval, below);
    Work {
        setting: unit.setting(below),
        full_flashes: Number::new_unchecked(f64::from(pops) * (-below.get()).exp2()),
        recycle_s: recycle.map(Number::new_unchecked),
        keeps_pace,
        setting_that_keeps_pace: strongest.map(|below| unit.setting(below)),
        heat: unit.feeding.duty.zip(interval).map(load),
    }
}

impl Train {
    /// Its heat load, if that exceeds the duty limit.
    fn over_duty(&self) -> Option<&Heat> {
        self.work.as_ref()?.heat.as_ref().filter(|heat| heat.within_duty == Some(false))
    }

    /// What to warn of.
    pub fn warnings(&self) -> Vec<Warning> {
        let (images, pops) = (self.images, self.pops);
        let cut = (images < pops).then(|| WarningKind::TrainCut { images, pops }.into());
        let slow = self.work.as_ref().filter(|work| work.keeps_pace == Some(false));
        let too_fast = slow.and_then(|work| {
            Some(WarningKind::TrainTooFast {
                recycle_s: work.recycle_s?.get(),
                interval_s: self.interval_s?.get(),
                full_flashes: work.full_flashes.get(),
            })
        });
        let over_duty = self.over_duty().map(|heat| WarningKind::TrainOverDuty {
            full_flashes: heat.most_full_flashes.get(),
            in_s: heat.in_s.get(),
            duty_flashes: heat.duty_flashes.get(),
        });
        let of_unit = [too_fast, over_duty].into_iter().flatten();
        cut.into_iter().chain(of_unit.map(|kind| Remark::about(Part::Unit, kind))).collect()
    }

    /// What to caution of.
    pub fn cautions(&self) -> Vec<Caution> {
        // No more than three flashes are never more than three a second.
        let many = f64::from(self.pops) > FLASHES_A_SECOND;
        let flickers = many && self.interval_s.is_none_or(|interval| is_flicker(interval.get()));
        let heat = self.over_duty().map(|_| CautionKind::Heat.into());
        flickers.then(|| CautionKind::Photosensitivity.into()).into_iter().chain(heat).collect()
    }
}

#[cfg(test)]
mod tests {
    use std::f64::consts::LOG2_10;

    use super::*;
    use crate::light::{
        measure::duration::Shape,
        quantity::marks::Step,
        unit::{Duty, Feeding},
    };

    /// A train with an exposure time and a t0.1, s.
    fn of(pops: Option<u32>, interval_s: Option<f64>, open: Option<f64>, t0_1: Option<f64>) -> Train {
        let asked = TrainQuestion { pops, interval_s, unit: None };
        let question = FreezeQuestion {
            t0_5: None,
            t0_1: t0_1.map(Seconds::new_unchecked),
            shape: Shape::Exponential,
            speed_m_s: Some(3.0),
            pixel_m: Some(0.001),
            allowed_m: None,
            by_setting: Vec::new(),
            exposure_time: open.map(Seconds::new_unchecked),
            sync_time: None,
            ambient_below_flash: None,
            train: None,
            step: Step::Third,
        };
        train(&question, &asked)
    }

    fn mark(train: &Train) -> Option<&str> {
        train.needed_exposure_time.as_ref()?.mark.as_deref()
    }

    fn near(value: Option<Number>, expected: f64) -> bool {
        value.is_some_and(|value| (value.get() - expected).abs() < 1e-9)
    }

    #[test]
    fn a_train_by_hand() {
        // Ten flashes at 5 Hz: nine intervals of 0.2 s are 1.8 s, and the next mark is 2 s. log2(10) is 3.32.
        let ten = of(Some(10), Some(0.2), None, None);
        assert!(near(ten.span_s, 1.8) && near(ten.hz, 5.0));
        assert_eq!((mark(&ten), ten.long_enough, ten.images), (Some("2 s"), None, 10));
        assert!((ten.still_stops.get() - LOG2_10).abs() < 1e-9);
        // 3 m/s for 0.2 s, and millimetres for pixels.
        assert!(near(ten.spacing_m, 0.6) && near(ten.spacing_px, 600.0));
        // Eleven span 2 s, at whose end the last would only begin.
        assert_eq!(mark(&of(Some(11), Some(0.2), None, None)), Some("2.5 s"));
        // The mark 0.4 s is 0.397 s: too short for a span of 0.4 s. 0.3 s is 0.315 s on most cameras, not on all.
        assert_eq!(mark(&of(Some(5), Some(0.1), None, Some(0.001))), Some("0.5 s"));
        assert_eq!(mark(&of(Some(4), Some(0.102), None, Some(0.001))), Some("0.4 s"));
        // Beyond a minute there is no mark.
        assert_eq!(mark(&of(Some(100), Some(1.0), None, None)), None);
        // Only the number of flashes.
        let bare = of(Some(4), None, None, None);
        assert_eq!((bare.still_stops.get(), bare.span_s, bare.spacing_m), (2.0, None, None));
    }

    #[test]
    fn an_exposure_time_holds_so_many() {
        let held = |open: f64, t0_1: Option<f64>| {
            let train = of(Some(10), Some(0.2), Some(open), t0_1);
            (train.images, train.long_enough)
        };
        // The sixth flash is at 1 s, the last at 1.8 s.
        assert_eq!(held(1.0, None), (5, Some(false)));
        assert_eq!(held(1.0, Some(0.01)), (5, Some(false)));
        assert_eq!(held(1.01, Some(0.01)), (6, Some(false)));
        assert_eq!(held(1.81, Some(0.01)), (10, Some(true)));
        assert_eq!(held(30.0, Some(0.01)), (10, Some(true)));
        assert_eq!(held(0.001, Some(0.01)), (1, Some(false)));
        // Ten intervals of 0.2 s, as handbooks count, and the longest interval for ten in 1.81 s.
        assert_eq!(of(None, Some(0.2), Some(2.0), None).pops, 10);
        assert!(near(of(Some(10), None, Some(1.81), Some(0.01)).longest_interval_s, 0.2));
        // The mark that is proposed holds the train.
        for pops in 2..200 {
            let train = of(Some(pops), Some(0.07), None, Some(0.002));
            let Some(mark) = mark(&train).and_then(|text| {
                marks::series(Engraved::ExposureTime, Step::Third).iter().find(|mark| mark.text == text)
            }) else {
                continue;
            };
            assert_eq!(of(Some(pops), Some(0.07), Some(mark.value), Some(0.002)).long_enough, Some(true));
        }
    }

    #[test]
    fn the_unit_recycles_and_stays_cool() {
        let duty = Some(Duty { flashes: 5.0, in_s: 10.0 });
        let unit = Unit {
            feeding: Feeding { recycle: vec![[1.0, 2.0]], duty, ..Feeding::default() },
            ..Unit::unknown()
        };
        let below = |stops: f64, interval: f64| work(&unit, Stops::new_unchecked(stops), 20, Some(interval));
        // 2 s at full power are 0.25 s three stops below it, and 0.1 s at 1/20: 4.33 stops, in tenths 4.4.
        let fast = below(3.0, 0.1);
        assert!(near(fast.recycle_s, 0.25) && near(Some(fast.full_flashes), 2.5));
        assert_eq!(fast.keeps_pace, Some(false));
        let strongest = fast.setting_that_keeps_pace.as_ref().map(|setting| setting.stops_below_full.get());
        assert_eq!(strongest, Some(4.4));
        assert_eq!(below(3.0, 0.25).keeps_pace, Some(true));
        // Twenty at 1/8 are 2.5 full flashes, at 1/2 ten; of these 10 s hold all at 0.5 s.
        let within = |work: &Work| work.heat.as_ref().and_then(|heat| heat.within_duty);
        assert_eq!((within(&fast), within(&below(1.0, 0.5))), (Some(true), Some(false)));
    }

    #[test]
    fn more_than_three_a_second_is_cautioned_of() {
        let flickers = |pops, interval| !of(Some(pops), interval, None, None).cautions().is_empty();
        assert!(flickers(4, Some(0.33)) && flickers(10, Some(0.2)) && flickers(4, None));
        // Exactly three a second, and three in all.
        assert!(!flickers(10, Some(1.0 / 3.0)) && !flickers(3, Some(0.1)) && !flickers(10, Some(1.0)));
    }
}
