//! Colour gels: the required shift and the stack of gels that comes nearest.
//!
//! Mired = 10⁶/K; a gel shifts by a constant number of mireds (common practice).

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    quantity::{Kelvin, Mired, Stops},
    remark::{Warning, WarningKind},
    unit::{Setting, Unit},
};

/// The largest number of gels in one stack.
pub const MAX_STACK: usize = 3;
/// Errors up to this are invisible, mired (our judgement).
const INVISIBLE: f64 = 10.0;

/// A gel.
#[derive(Debug, Clone, PartialEq)]
pub struct Gel {
    /// Its name.
    pub name: String,
    /// Its shift; + is warmer.
    pub mired: f64,
    /// Its light loss, stops; 0 or less.
    pub stops: f64,
}

/// A light source, a target colour and the available gels.
#[derive(Debug, Clone, PartialEq)]
pub struct GelQuestion {
    /// The colour of the light without gels.
    pub from: Mired,
    /// The target colour; `None` if only a stack is computed.
    pub to: Option<Mired>,
    /// The available gels; none if only the shift is asked for.
    pub gels: Vec<Gel>,
    /// A stack to compute, by index; `None` if not requested.
    pub applied: Option<Vec<usize>>,
    /// The unit behind the gels, and its setting in stops below full.
    pub light: Option<(Unit, Stops)>,
}

/// Gels for a colour temperature, with their light loss.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = GelChoice)]
pub struct Gelled {
    /// The required shift, mired; + is warmer; null without a target.
    pub shift_mired: Option<Mired>,
    /// The best stack of up to three of the gels; if several come equally near, the one with fewer gels, then with less loss; null without a target or without gels.
    pub stack: Option<Stack>,
    /// The requested stack; null if none was requested.
    pub applied: Option<Stack>,
    /// Warnings.
    pub warnings: Vec<Warning>,
}

/// A stack of gels, with its effect on the light.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = GelStack)]
pub struct Stack {
    /// The names of the gels; empty if no gel is best.
    pub gels: Vec<String>,
    /// Their total shift, mired; + is warmer.
    pub shift_mired: Mired,
    /// The colour temperature of the light through them, K; null if the result is no colour temperature.
    pub result_k: Option<Kelvin>,
    /// Result minus target, mired; + is too warm; null without a target.
    pub error_mired: Option<Mired>,
    /// Their total light loss, stops; 0 or less.
    pub loss_stops: Stops,
    /// The new setting of the light that keeps its exposure; null without a light.
    pub setting: Option<Setting>,
    /// The light still missing at that setting, stops; 0 within half a click, and without a light.
    pub shortfall_stops: Stops,
    /// The light in excess at that setting, stops; 0 within half a click, and without a light.
    pub excess_stops: Stops,
}

/// Finds the best stack of gels and computes the requested one.
pub fn gel(question: &GelQuestion) -> Gelled {
    let wanted = question.to.map(|to| to.get() - question.from.get());
    let best = wanted
        .filter(|_| !question.gels.is_empty())
        .map(|wanted| stack(question, &best(&question.gels, wanted)));
    let mut warnings = Vec::new();
    if best.as_ref().and_then(|best| best.error_mired).is_some_and(|error| error.get().abs() > INVISIBLE) {
        warnings.push(WarningKind::VisibleError.into());
    }
    Gelled {
        shift_mired: wanted.map(Mired::new_unchecked),
        stack: best,
        applied: question.applied.as_ref().map(|applied| stack(question, applied)),
        warnings,
    }
}

fn stack(question: &GelQuestion, chosen: &[usize]) -> Stack {
    let gels = || chosen.iter().map(|&index| &question.gels[index]);
    let shift: f64 = gels().map(|gel| gel.mired).sum();
    let loss: f64 = gels().map(|gel| gel.stops).sum();
    let result = question.from.get() + shift;
    let fit = question.light.as_ref().map(|(unit, below)| {
        // The unit makes up for the loss.
        let wanted = below.get() + loss;
        let set = unit.nearest(wanted);
        let error = wanted - unit.below(set);
        let is_met = error.abs() <= unit.half_click(set).get() + 1e-9;
        (unit.setting(set), if is_met { 0.0 } else { error })
    });
    let (setting, missed_by) = fit.unzip();
    let missed_by = missed_by.unwrap_or_default();
    Stack {
        gels: gels().map(|gel| gel.name.clone()).collect(),
        shift_mired: Mired::new_unchecked(shift),
        result_k: (result > 0.0).then(|| Kelvin::new_unchecked(1e6 / result)),
        error_mired: question.to.map(|to| Mired::new_unchecked(result - to.get())),
        loss_stops: Stops::new_unchecked(loss),
        setting,
        shortfall_stops: Stops::new_unchecked((-missed_by).max(0.0)),
        excess_stops: Stops::new_unchecked(missed_by.max(0.0)),
    }
}

/// The stack nearest to a shift, by trying every stack of up to three gels.
fn best(gels: &[Gel], wanted: f64) -> Vec<usize> {
    let rank = |stack: &[usize]| {
        let shift: f64 = stack.iter().map(|&index| gels[index].mired).sum();
        let loss: f64 = stack.iter().map(|&index| gels[index].stops).sum();
        // Rounded, so that rounding errors make no difference.
        (((shift - wanted).abs() * 1e6).round(), stack.len() as f64, -loss)
    };
    let better = |a: (f64, f64, f64), b: (f64, f64, f64)| {
        a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)).then(a.2.total_cmp(&b.2)).is_lt()
    };
    let mut best = Vec::new();
    let mut best_rank = rank(&best);
    let mut queue: Vec<Vec<usize>> = vec![Vec::new()];
    while let Some(stack) = queue.pop() {
        let from = stack.last().map_or(0, |last| last + 1);
        for next in from..gels.len() {
            let mut longer = stack.clone();
            longer.push(next);
            let ranked = rank(&longer);
            if better(ranked, best_rank) {
                (best, best_rank) = (longer.clone(), ranked);
            }
            if longer.len() < MAX_STACK {
                queue.push(longer);
            }
        }
    }
    best
}
