//! Rounds of readings of a set.

use crate::light::{
    assumption::{Assumption, AssumptionKind},
    balance::BalanceQuestion,
    correct::{posterior::Metered, prior::variance},
    error::{InvalidPart, InvalidValue, Part},
    quantity::{
        FNumber, Stops,
        half_widths::{HalfWidth, READING},
    },
    set::{LightMatrix, Scene},
};

/// A set, and what was metered on it.
#[derive(Debug, Clone, PartialEq)]
pub struct CorrectQuestion {
    /// The set, and how it is balanced.
    pub balance: BalanceQuestion,
    /// The rounds, oldest first.
    pub rounds: Vec<Round>,
}

/// A round of readings at one setting of each light.
#[derive(Debug, Clone, PartialEq)]
pub struct Round {
    /// The setting of each light, stops below full; `None` if it is off.
    pub below: Vec<Option<Stops>>,
    /// The lights whose setting is not stated, which are taken to be at full power.
    pub at_full_power: Vec<usize>,
    /// The readings.
    pub readings: Vec<RoundReading>,
}

/// A reading of several lights together, or of all.
#[derive(Debug, Clone, PartialEq)]
pub struct RoundReading {
    /// The index of the point.
    pub point: usize,
    /// The indexes of the lights that fired; `None` for all.
    pub lights: Option<Vec<usize>>,
    /// The f-number that the meter read.
    pub f_number: FNumber,
    /// Its half-width, if it states one.
    pub plus_minus: Option<Stops>,
}

impl CorrectQuestion {
    /// The setting of each light in the last round, stops below full.
    pub fn last(&self) -> Vec<Option<Stops>> {
        self.rounds.last().map_or_else(Vec::new, |round| round.below.clone())
    }

    /// The lights that are taken to be at full power, because no setting is stated.
    pub fn at_full_power(&self) -> impl Iterator<Item = Assumption> {
        let lights = self.balance.scene.lights.iter().enumerate();
        let is_assumed = |index: usize| self.rounds.iter().any(|round| round.at_full_power.contains(&index));
        lights.filter(move |(index, _)| is_assumed(*index)).map(|(index, light)| {
            let kind = AssumptionKind::FullPower { light: light.name.clone() };
            Assumption::about(Part::Light(index, None), kind)
        })
    }

    /// The row of the table of half-widths that readings have which state none.
    pub fn usual_reading(&self) -> Option<&'static HalfWidth> {
        let mut readings = self.rounds.iter().flat_map(|round| &round.readings);
        let is_usual = self.balance.scene.meter.plus_minus.is_none();
        (is_usual && readings.any(|reading| reading.plus_minus.is_none())).then_some(&READING)
    }

    /// All readings, with the light that was expected. Adds a fault for each of a point without any.
    pub fn metered(&self, matrix: &LightMatrix, faults: &mut Vec<InvalidPart>) -> Vec<Metered> {
        let (scene, last) = (&self.balance.scene, self.last());
        let mut all = Vec::new();
        for (index, round) in self.rounds.iter().enumerate() {
            let redialled: Vec<bool> =
                round.below.iter().zip(&last).map(|(then, last)| then != last).collect();
            for (place, reading) in round.readings.iter().enumerate() {
                let metered = Metered {
                    round: index,
                    point: reading.point,
                    light: expected(scene, matrix, round, reading),
                    redialled: redialled.clone(),
                    ambient: matrix.ambient[reading.point],
                    stops: scene.light_of(reading.f_number).log2(),
                    variance: variance(scene.meter.reading(reading.plus_minus)),
                };
                if metered.expected().is_none() {
                    let point = scene.points[reading.point].name.clone();
                    let error = InvalidValue::UnlitReading { point };
                    faults.push(error.in_part(Part::RoundReading(index, place)));
                }
                all.push(metered);
            }
        }
        all
    }
}

/// The light that each light was expected to give in a reading, as N².
fn expected(scene: &Scene, matrix: &LightMatrix, round: &Round, reading: &RoundReading) -> Vec<f64> {
    let lights = scene.lights.iter().zip(&matrix.gain[reading.point]).zip(&round.below).enumerate();
    lights
        .map(|(index, ((light, gain), below))| {
            let fired = reading.lights.as_ref().is_none_or(|lights| lights.contains(&index));
            below.filter(|_| fired).map_or(0.0, |below| gain.typical * light.unit.power(below))
        })
        .collect()
}
