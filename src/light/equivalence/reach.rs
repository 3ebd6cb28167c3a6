//! The light that each unit can give, click by click, against the light that is needed: for pictures of an answer.

use crate::light::{
    equivalence::{Equivalence, EquivalenceQuestion, Match},
    quantity::Stops,
    unit::Unit,
};

/// The light of one unit at each of its settings, stops above the light that is needed.
#[derive(Debug, Clone, PartialEq)]
pub struct Reach {
    /// The most and the least light.
    pub ends: [f64; 2],
    /// The labels of the settings there.
    pub labels: [String; 2],
    /// The light at each setting; empty if any power can be set.
    pub clicks: Vec<f64>,
    /// The light at the setting that is used.
    pub used: f64,
}

impl Reach {
    /// `used` is the light at this setting.
    fn new(unit: &Unit, setting: Stops, used: f64) -> Self {
        let light = |below: Stops| used + unit.below(setting) - unit.below(below);
        let ends = unit.ends();
        Self {
            ends: ends.map(light),
            labels: ends.map(|end| unit.scale.label(end)),
            clicks: unit.scale.settings().iter().map(|&below| light(Stops::new_unchecked(below))).collect(),
            used,
        }
    }

    /// The reach of the reference, at its own exposure.
    pub fn of_reference(question: &EquivalenceQuestion) -> Self {
        Self::new(&question.reference.unit, question.setting, -question.needed())
    }

    /// The reach of a candidate, with as many flashes as it fires.
    pub fn of_candidate(question: &EquivalenceQuestion, index: usize, found: &Match) -> Option<Self> {
        let unit = &question.candidates.get(index)?.unit;
        Some(Self::new(unit, found.setting.stops_below_full, found.error_stops.get()))
    }

    /// The reach of the reference, then of all candidates.
    pub fn of_all(question: &EquivalenceQuestion, answer: &Equivalence) -> Vec<Self> {
        let candidates = answer.candidates.iter().enumerate();
        let candidates = candidates.filter_map(|(index, found)| Self::of_candidate(question, index, found));
        std::iter::once(Self::of_reference(question)).chain(candidates).collect()
    }
}
