//! What else may explain readings than lights that are a little off: a light that did not fire, a reading that is wrong.
//!
//! Explanations are compared by the evidence of the readings with and without them (Laplace; common in Bayesian model
//! choice). Before the readings a light that did not fire has a chance of 6 % in a round, a wrong reading 1 % each (our
//! judgement). Dial errors of single lights are no explanation: readings cannot tell them with confidence.

use crate::light::correct::{
    posterior::{Metered, Posterior},
    prior::Prior,
};

/// The chance that some light does not fire in a round (our judgement).
const DARK: f64 = 0.06;
/// The chance that a reading is wrong (our judgement).
const WRONG: f64 = 0.01;
/// The standard deviation of a wrong reading, stops: a slip of a whole mark or two.
const WRONG_STOPS: f64 = 1.5;
/// A reading nearer than this to what the others say is not wrong, standard deviations.
const FITS: f64 = 2.5;
/// The least chance with which a light is named.
const NAMED: f64 = 0.25;
/// The most explanations that are taken together.
const MOST: usize = 8;

/// A light that probably did not fire.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Suspect {
    /// The index of the light.
    pub light: usize,
    /// The index of the round.
    pub round: usize,
    /// The chance that it did not.
    pub chance: f64,
    /// Whether what is answered takes it that it did not.
    pub is_taken: bool,
}

/// Readings, explained.
pub struct Explained<'p> {
    /// The posterior of the readings as they are explained.
    pub posterior: Posterior<'p>,
    /// The weight of each reading, 0 to 1.
    pub weights: Vec<f64>,
    /// The lights that probably did not fire, the most probable first.
    pub suspects: Vec<Suspect>,
}

/// One more thing that may explain them.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Explanation {
    Dark { round: usize, light: usize },
    Wrong(usize),
}

impl Explanation {
    /// The readings as this explains them.
    fn applied(self, readings: &[Metered]) -> Vec<Metered> {
        let mut all = readings.to_vec();
        match self {
            Self::Dark { round, light } => {
                all.iter_mut().filter(|it| it.round == round).for_each(|it| it.light[light] = 0.0);
            }
            Self::Wrong(index) => all[index].variance = WRONG_STOPS * WRONG_STOPS,
        }
        all
    }
}

/// Explains readings, of which there is at least one. `None` if one of them cannot be, or if `goes_on` says so.
pub fn explain<'p>(
    prior: &'p Prior,
    readings: &[Metered],
    goes_on: impl Fn() -> bool,
) -> Option<Explained<'p>> {
    let mut now = readings.to_vec();
    let mut posterior = Posterior::new(prior, &now)?;
    let mut suspects: Vec<Suspect> = Vec::new();
    for _ in 0..MOST {
        let mut tried = Vec::new();
        for explanation in possible(&posterior, &now) {
            if !goes_on() {
                return None;
            }
            let explained = explanation.applied(&now);
            if let Some(fit) = Posterior::new(prior, &explained) {
                let before = match explanation {
                    Explanation::Dark { round, .. } => DARK / lights_on(&now, round) as f64,
                    Explanation::Wrong(_) => WRONG,
                };
                let odds = (fit.evidence - posterior.evidence).exp() * before / (1.0 - before);
                tried.push((explanation, odds, explained, fit));
            }
        }
        let all = 1.0 + tried.iter().map(|(_, odds, ..)| odds).sum::<f64>();
        let best = tried.iter().map(|(explanation, odds, ..)| (*explanation, *odds));
        let best = best.max_by(|a, b| a.1.total_cmp(&b.1)).map(|(explanation, _)| explanation);
        let is_accepted = all > 2.0;
        for (explanation, odds, ..) in &tried {
            // Where odds are beyond all numbers, they are as good as certain.
            let chance = if odds.is_finite() { odds / all } else { 1.0 };
            if let Explanation::Dark { round, light } = *explanation
                && is_accepted
                && chance >= NAMED
            {
                suspects.push(Suspect { light, round, chance, is_taken: Some(*explanation) == best });
            }
        }
        match tried.into_iter().find(|(explanation, ..)| is_accepted && Some(*explanation) == best) {
            Some((_, _, explained, fit)) => (now, posterior) = (explained, fit),
            None => break,
        }
    }
    suspects.sort_by(|a, b| b.chance.total_cmp(&a.chance));
    suspects.dedup_by_key(|suspect| (suspect.light, suspect.round));
    let weights = readings.iter().zip(&now).map(|(was, is)| was.variance / is.variance).collect();
    Some(Explained { posterior, weights, suspects })
}

/// What may explain readings better than they are: a light that seems to be much weaker, a reading that does not fit.
fn possible(posterior: &Posterior<'_>, readings: &[Metered]) -> Vec<Explanation> {
    let mut all = Vec::new();
    let lights = posterior.lights();
    for (light, _) in lights.iter().enumerate().filter(|(_, error)| **error < 0.0) {
        let rounds =
            readings.iter().filter(|reading| reading.light[light] > 0.0).map(|reading| reading.round);
        let mut rounds: Vec<usize> = rounds.collect();
        rounds.dedup();
        all.extend(rounds.into_iter().map(|round| Explanation::Dark { round, light }));
    }
    let against = posterior.against_others();
    let wrong = against
        .iter()
        .enumerate()
        .filter(|(index, off)| off.abs() > FITS && readings[*index].variance < WRONG_STOPS * WRONG_STOPS);
    all.extend(wrong.map(|(index, _)| Explanation::Wrong(index)));
    all
}

/// How many lights were on in a round.
fn lights_on(readings: &[Metered], round: usize) -> usize {
    let of_round = || readings.iter().filter(|reading| reading.round == round);
    let lights = of_round().next().map_or(0, |reading| reading.light.len());
    (0..lights).filter(|&light| of_round().any(|reading| reading.light[light] > 0.0)).count().max(1)
}
