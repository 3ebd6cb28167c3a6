//! The individual readings of a calibration, relative to full power; used by the drawing.

use crate::light::{
    measure::calibrate::{CalibrateQuestion, Calibration, fit, robust::Line},
    quantity::Stops,
};

/// One reading relative to full power.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// The setting relative to full power, stops; 0 or less.
    pub set: Stops,
    /// The light relative to full power, stops. Full power is the rated light if the rating and the distance are known,
    /// else the light at full power by the line.
    pub measured: Stops,
    /// The difference from a perfect scale that starts at full power, stops.
    pub deviation: Stops,
    /// Whether the reading was left out as an outlier.
    pub is_left_out: bool,
}

/// The readings, and the line fitted to those that were not left out.
#[derive(Debug, Clone)]
pub struct Readings {
    /// The readings, in the order of the request.
    pub each: Vec<Reading>,
    line: Option<Line>,
    /// The light at full power, stops, on the scale of the samples.
    full: f64,
}

impl Readings {
    /// The readings of `question`, with those marked that `answer` leaves out.
    pub fn of(question: &CalibrateQuestion, answer: &Calibration) -> Self {
        let left_out = answer.left_out();
        let samples = question.samples.iter().enumerate().map(|(index, sample)| {
            let is_left_out = left_out.iter().any(|outlier| outlier.index as usize == index);
            ([-sample.below.get(), sample.stops], is_left_out)
        });
        let kept = samples.clone().filter(|(_, is_left_out)| !is_left_out).map(|(sample, _)| sample);
        let fit = fit(&kept.collect::<Vec<_>>());
        let full = question.rated_at_full().or(fit.as_ref().map(|fit| fit.at_full)).unwrap_or_default();
        let each = samples.map(|([set, stops], is_left_out)| Reading {
            set: Stops::new_unchecked(set),
            measured: Stops::new_unchecked(stops - full),
            deviation: Stops::new_unchecked(stops - full - set),
            is_left_out,
        });
        Self { each: each.collect(), line: fit.and_then(|fit| fit.line), full }
    }

    /// The readings that were not left out.
    pub fn kept(&self) -> impl Iterator<Item = &Reading> {
        self.each.iter().filter(|reading| !reading.is_left_out)
    }

    /// The light at a setting by the line, relative to the same full power as the readings; `None` without a line.
    pub fn by_the_line(&self, set: Stops) -> Option<Stops> {
        self.line.map(|line| Stops::new_unchecked(line.at(set.get()) - self.full))
    }
}
