//! What else may explain readings than lights that are a little off: a light that did not fire, one that is far off, a
//! reading that is wrong.
//!
//! Explanations are compared by the evidence of the readings with and without them (Laplace; common in Bayesian model
//! choice). Before the readings a light has a chance of 6 % that it did not fire in a round, less in a set of many; that
//! some light is far off (otherwise set, or otherwise built, than was said) has 6 %, a wrong reading half a percent (our
//! judgement). Only a light that did not fire is reported as such: what it is that puts a light far off, readings cannot
//! tell.

use nalgebra::DMatrix;

use crate::light::correct::{
    posterior::{Metered, Posterior},
    prior::Prior,
};

/// The chance that a light does not fire in a round (our judgement).
const DARK: f64 = 0.06;
/// The greatest chance that any of a round's lights does not: with many, each has its part of that.
const ANY_DARK: f64 = 0.25;
/// The chance that some light is far off (our judgement).
const FAR: f64 = 0.06;
/// The standard deviation of a light that is far off, stops.
const FAR_STOPS: f64 = 1.5;
/// A light nearer than this to what was expected is not far off, standard deviations.
const NEAR: f64 = 2.0;
/// The chance that a reading is wrong (our judgement).
const WRONG: f64 = 0.005;
/// The standard deviation of a wrong reading, stops: a slip of a whole mark or two.
const WRONG_STOPS: f64 = 1.5;
/// A reading nearer than this to what the others say is not wrong, standard deviations.
const FITS: f64 = 2.5;
/// A light may be dark where a reading is below what the others say by more than this, standard deviations: with less, the
/// evidence never outweighs what is usual.
const MISSING: f64 = -1.5;
/// A light that gives less than this of a reading is not missed in it.
const LEAST_SHARE: f64 = 0.02;
/// The work for all explanations together, in cubes of the number of readings; at least a few are tried.
const WORK: f64 = 2e7;
const LEAST_TRIED: usize = 8;
/// Lights whose odds of being far off are more than this part of the greatest may be it as well.
const ALIKE: f64 = 0.25;
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
}

/// Readings, explained.
pub struct Explained {
    /// The covariance of the errors of the lights if nothing unusual has happened: what the readings can tell at all.
    pub usual: DMatrix<f64>,
    /// The posterior of the readings as they are explained.
    pub posterior: Posterior,
    /// The weight of each reading, 0 to 1.
    pub weights: Vec<f64>,
    /// The lights that probably did not fire, the most probable first.
    pub suspects: Vec<Suspect>,
}

/// An explanation that was tried, with its odds, the readings as it has them, and their posterior.
type Tried = (Explanation, f64, Vec<Metered>, Posterior);

/// One more thing that may explain them.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Explanation {
    Dark { round: usize, light: usize },
    Far(usize),
    Wrong(usize),
}

impl Explanation {
    /// What is known before and the readings, as this explains them.
    fn applied(self, prior: &Prior, readings: &[Metered]) -> (Prior, Vec<Metered>) {
        let (mut prior, mut all) = (prior.clone(), readings.to_vec());
        match self {
            Self::Dark { round, light } => {
                all.iter_mut().filter(|it| it.round == round).for_each(|it| it.light[light] = 0.0);
            }
            Self::Far(light) => prior.lights[(light, light)] += FAR_STOPS * FAR_STOPS,
            Self::Wrong(index) => all[index].variance += WRONG_STOPS * WRONG_STOPS,
        }
        (prior, all)
    }

    /// Its chance before the readings.
    fn chance(self, readings: &[Metered]) -> f64 {
        match self {
            Self::Dark { round, .. } => DARK.min(ANY_DARK / lights_on(readings, round) as f64),
            Self::Far(_) => FAR / readings.first().map_or(1, |reading| reading.light.len()) as f64,
            Self::Wrong(_) => WRONG,
        }
    }
}

/// Explains readings, of which there is at least one. `None` if one of them cannot be, or if `goes_on` says so.
pub fn explain(prior: &Prior, readings: &[Metered], goes_on: impl Fn() -> bool) -> Option<Explained> {
    let mut now = readings.to_vec();
    let mut posterior = Posterior::new(prior.clone(), &now)?;
    let usual = posterior.covariance();
    let mut suspects: Vec<Suspect> = Vec::new();
    let mut left = LEAST_TRIED.max((WORK / (readings.len() as f64).powi(3)) as usize);
    for _ in 0..MOST {
        let mut tried: Vec<Tried> = Vec::new();
        for explanation in possible(prior, &posterior, &now) {
            if left == 0 {
                break;
            }
            left -= 1;
            if !goes_on() {
                return None;
            }
            let (known, explained) = explanation.applied(&posterior.prior, &now);
            if let Some(fit) = Posterior::beginning_at(posterior.pairs.clone(), known, &explained) {
                let before = explanation.chance(&now);
                let odds = (fit.evidence - posterior.evidence).exp() * before / (1.0 - before);
                // Beyond all numbers it is as good as certain.
                tried.push((explanation, odds.min(f64::MAX / 1e6), explained, fit));
            }
        }
        let all = 1.0 + tried.iter().map(|(_, odds, ..)| odds).sum::<f64>();
        // More probable than not.
        if all <= 2.0 {
            break;
        }
        let named = tried.iter().filter_map(|(explanation, odds, ..)| match *explanation {
            Explanation::Dark { round, light } => Some(Suspect { light, round, chance: odds / all }),
            _ => None,
        });
        suspects.extend(named.filter(|suspect| suspect.chance >= NAMED));
        let most = tried.iter().map(|(_, odds, ..)| *odds).fold(0.0, f64::max);
        let alike = tried.iter().filter(|(_, odds, ..)| *odds >= most * ALIKE);
        let alike: Vec<Explanation> = alike.map(|(explanation, ..)| *explanation).collect();
        let Some((best, _, explained, fit)) = tried.into_iter().max_by(|a, b| a.1.total_cmp(&b.1)) else {
            break;
        };
        (now, posterior) = (explained, fit);
        // Which of several lights it is that is far off is left open.
        if matches!(best, Explanation::Far(_)) {
            let others =
                alike.into_iter().filter(|other| *other != best && matches!(other, Explanation::Far(_)));
            let known = others.fold(posterior.prior.clone(), |known, other| other.applied(&known, &now).0);
            posterior = Posterior::beginning_at(posterior.pairs.clone(), known, &now)?;
        }
    }
    suspects.sort_by(|a, b| b.chance.total_cmp(&a.chance));
    let mut named: Vec<Suspect> = Vec::new();
    for suspect in suspects {
        if !named.iter().any(|it| (it.light, it.round) == (suspect.light, suspect.round)) {
            named.push(suspect);
        }
    }
    let weights = readings.iter().zip(&now).map(|(was, is)| was.variance / is.variance).collect();
    Some(Explained { usual, posterior, weights, suspects: named })
}

/// What may explain readings better than they are, the most promising first: a light that was to give a part of what is
/// missing, a light that seems far off, a reading that does not fit.
fn possible(prior: &Prior, posterior: &Posterior, readings: &[Metered]) -> Vec<Explanation> {
    let against = posterior.against_others();
    let mut all: Vec<(f64, Explanation)> = Vec::new();
    for (index, (reading, off)) in readings.iter().zip(&against).enumerate() {
        if off.abs() > FITS && reading.variance < WRONG_STOPS * WRONG_STOPS {
            all.push((off.abs(), Explanation::Wrong(index)));
        }
        let expected = reading.ambient + reading.light.iter().sum::<f64>();
        for (light, own) in reading.light.iter().enumerate() {
            let missing = -off * own / expected;
            if *off >= MISSING || own / expected < LEAST_SHARE {
                continue;
            }
            let dark = Explanation::Dark { round: reading.round, light };
            match all.iter_mut().find(|(_, explanation)| *explanation == dark) {
                Some((most, _)) => *most = most.max(missing),
                None => all.push((missing, dark)),
            }
        }
    }
    for (light, error) in posterior.lights().iter().enumerate() {
        let usual = prior.lights[(light, light)];
        let off = error.abs() / usual.sqrt();
        if off > NEAR && posterior.prior.lights[(light, light)] <= usual {
            all.push((off, Explanation::Far(light)));
        }
    }
    all.sort_by(|a, b| b.0.total_cmp(&a.0));
    all.into_iter().map(|(_, explanation)| explanation).collect()
}

/// How many lights were on in a round.
fn lights_on(readings: &[Metered], round: usize) -> usize {
    let of_round = || readings.iter().filter(|reading| reading.round == round);
    let lights = of_round().next().map_or(0, |reading| reading.light.len());
    (0..lights).filter(|&light| of_round().any(|reading| reading.light[light] > 0.0)).count().max(1)
}
