//! A calibration's readings one by one, for who wants to see them.

use crate::light::{
    measure::calibrate::{Calibration, Question, fit, robust::Line},
    quantity::Stops,
};

/// One reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Its setting against full power, stops; 0 or less.
    pub set: Stops,
    /// Its light against full power, by the rating where that and the distance are known, else by the line of
    /// all readings, stops.
    pub measured: Stops,
    /// Its light against what a true scale from full power would give, stops.
    pub deviation: Stops,
    /// Whether it was left out.
    pub is_left_out: bool,
}

/// The readings, and the line that was laid through those that were not left out.
#[derive(Debug, Clone)]
pub struct Readings {
    /// The readings, in the order asked.
    pub each: Vec<Reading>,
    line: Option<Line>,
    /// Measured stops that stand for full power.
    full: f64,
}

impl Readings {
    /// The readings of a question and its answer.
    pub fn of(question: &Question, answer: &Calibration) -> Self {
        let left_out = answer.left_out();
        let samples = question.samples.iter().enumerate().map(|(index, sample)| {
            let is_left_out = left_out.iter().any(|outlier| outlier.index as usize == index);
            ([-sample.below.get(), sample.stops], is_left_out)
        });
        let kept = samples.clone().filter(|(_, is_left_out)| !is_left_out).map(|(sample, _)| sample);
        let fit = fit(&kept.collect::<Vec<_>>());
        let full = question.rated().or(fit.as_ref().map(|fit| fit.at_full)).unwrap_or_default();
        let each = samples.map(|([set, stops], is_left_out)| Reading {
            set: Stops::new_unchecked(set),
            measured: Stops::new_unchecked(stops - full),
            deviation: Stops::new_unchecked(stops - full - set),
            is_left_out,
        });
        Self { each: each.collect(), line: fit.and_then(|fit| fit.line), full }
    }

    /// Those that were not left out.
    pub fn kept(&self) -> impl Iterator<Item = &Reading> {
        self.each.iter().filter(|reading| !reading.is_left_out)
    }

    /// The light at a setting by the line, against full power as the readings are; none without a line.
    pub fn by_the_line(&self, set: Stops) -> Option<Stops> {
        self.line.map(|line| Stops::new_unchecked(line.at(set.get()) - self.full))
    }
}
