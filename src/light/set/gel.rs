//! Colour gels: the shift that is wanted, and the gels that make it.
//!
//! Mired = 10⁶/K; a gel shifts by a constant number of mireds (common practice).

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    quantity::{Kelvin, Mired, Stops},
    remark::Remark,
    unit::{Setting, Unit},
};

/// Most gels in one stack.
pub const STACK_MOST: usize = 3;
/// An error that nobody sees, mired: our judgement.
const UNSEEN: f64 = 10.0;

/// A gel.
#[derive(Debug, Clone, PartialEq)]
pub struct Gel {
    /// Its name.
    pub name: String,
    /// Its shift; + is warmer.
    pub mired: f64,
    /// What it takes, stops; 0 or less.
    pub stops: f64,
}

/// What is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// The light as it is.
    pub from: Mired,
    /// The light as it is wanted; none if only a stack is asked for.
    pub to: Option<Mired>,
    /// The gels at hand.
    pub gels: Vec<Gel>,
    /// A stack to work out, by index; none if not asked.
    pub applied: Option<Vec<usize>>,
    /// The light that gets the gel, and its setting, stops below full.
    pub light: Option<(Unit, Stops)>,
}

/// Gels for a colour temperature, and what they cost.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = GelChoice)]
pub struct Gelled {
    /// The shift wanted, mired; + is warmer; null where nothing is wanted.
    pub shift_mired: Option<Mired>,
    /// The best stack of up to three of the gels; fewer gels and then less loss where several are as near; null where nothing is wanted.
    pub stack: Option<Stack>,
    /// The stack asked for; null where none was.
    pub applied: Option<Stack>,
    /// What to doubt.
    pub warnings: Vec<Remark>,
}

/// Gels on top of each other.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = GelStack)]
pub struct Stack {
    /// Their names; none is best without a gel.
    pub gels: Vec<String>,
    /// Their shift together, mired.
    pub shift_mired: Mired,
    /// The light through them, K; null where the sum is beyond any colour temperature.
    pub result_k: Option<Kelvin>,
    /// Result minus wanted, mired; + is too warm; null where nothing is wanted.
    pub error_mired: Option<Mired>,
    /// What they take, stops; 0 or less.
    pub loss_stops: Stops,
    /// The new setting of the light, so that its exposure holds; null without a light.
    pub setting: Option<Setting>,
    /// What it then lacks, stops; null without a light.
    pub shortfall_stops: Option<Stops>,
}

/// Answers.
pub fn gel(question: &Question) -> Gelled {
    let wanted = question.to.map(|to| to.get() - question.from.get());
    let best = wanted.map(|wanted| stack(question, &best(&question.gels, wanted)));
    let mut warnings = Vec::new();
    if best.as_ref().and_then(|best| best.error_mired).is_some_and(|error| error.get().abs() > UNSEEN) {
        warnings.push(Remark::new(
            "visible_error",
            "No stack of these gels comes within 10 mired of the wish: the difference may be seen.",
        ));
    }
    Gelled {
        shift_mired: wanted.map(Mired::new_unchecked),
        stack: best,
        applied: question.applied.as_ref().map(|applied| stack(question, applied)),
        warnings,
    }
}

fn stack(question: &Question, chosen: &[usize]) -> Stack {
    let gels = || chosen.iter().map(|&index| &question.gels[index]);
    let shift: f64 = gels().map(|gel| gel.mired).sum();
    let loss: f64 = gels().map(|gel| gel.stops).sum();
    let result = question.from.get() + shift;
    let fit = question.light.as_ref().map(|(unit, below)| {
        // Less light through the gel, more from the unit.
        let wanted = below.get() + loss;
        let set = unit.nearest(wanted);
        (unit.setting(set), (unit.below(set) - wanted).max(0.0))
    });
    let (setting, shortfall) = fit.unzip();
    Stack {
        gels: gels().map(|gel| gel.name.clone()).collect(),
        shift_mired: Mired::new_unchecked(shift),
        result_k: (result > 0.0).then(|| Kelvin::new_unchecked(1e6 / result)),
        error_mired: question.to.map(|to| Mired::new_unchecked(result - to.get())),
        loss_stops: Stops::new_unchecked(loss),
        setting,
        shortfall_stops: shortfall.map(Stops::new_unchecked),
    }
}

/// The stack nearest to a shift, by looking at every one of up to three gels.
fn best(gels: &[Gel], wanted: f64) -> Vec<usize> {
    let rank = |stack: &[usize]| {
        let shift: f64 = stack.iter().map(|&index| gels[index].mired).sum();
        let loss: f64 = stack.iter().map(|&index| gels[index].stops).sum();
        // Equal but for the last digits is a tie.
        (((shift - wanted).abs() * 1e6).round(), stack.len() as f64, -loss)
    };
    let better = |a: (f64, f64, f64), b: (f64, f64, f64)| {
        a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)).then(a.2.total_cmp(&b.2)).is_lt()
    };
    let mut best = Vec::new();
    let mut best_rank = rank(&best);
    let mut waiting: Vec<Vec<usize>> = vec![Vec::new()];
    while let Some(stack) = waiting.pop() {
        let from = stack.last().map_or(0, |last| last + 1);
        for next in from..gels.len() {
            let mut longer = stack.clone();
            longer.push(next);
            let ranked = rank(&longer);
            if better(ranked, best_rank) {
                (best, best_rank) = (longer.clone(), ranked);
            }
            if longer.len() < STACK_MOST {
                waiting.push(longer);
            }
        }
    }
    best
}
