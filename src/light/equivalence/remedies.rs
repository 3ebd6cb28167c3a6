//! What would make a candidate do.

use super::{Placed, Question, nearest};
use crate::light::{
    camera,
    quantity::{Joules, Metres},
    remark::{By, Change, Remedy},
};

/// What would do it: each is solved again before it is named.
pub fn find(question: &Question, candidate: &Placed, wanted_below: f64) -> Vec<Remedy> {
    let unit = &candidate.unit;
    let limits = question.limits;
    let works = |change: f64| nearest(unit, wanted_below + change, question.max_pops).feasible;
    let mut remedies = Vec::new();
    let weak = wanted_below < 0.0;
    if weak {
        let more = nearest(unit, wanted_below, limits.max_pops);
        if more.feasible {
            remedies.push(Remedy {
                change: Change::Pops,
                by: By::pops(more.pops),
                detail: format!(
                    "Fire {} times in one exposure, at {}.",
                    more.pops,
                    unit.scale.label(more.below)
                ),
            });
        }
    }
    // The fewest whole steps of the camera's controls that make it work.
    let per_stop = f64::from(question.step.per_stop());
    let sign = if weak { 1.0 } else { -1.0 };
    if let Some(steps) = (1..=180).find(|&k| works(sign * f64::from(k) / per_stop)) {
        let stops = sign * f64::from(steps) / per_stop;
        let set = unit.scale.label(nearest(unit, wanted_below + stops, question.max_pops).below);
        let then = format!(", and set the unit to {set}");
        remedies.extend(camera::remedies(stops, question.hold, &limits, question.step, &then));
    }
    if let Some(distance) = candidate.distance {
        let range = unit.scale.range().get();
        let off = if weak { wanted_below } else { wanted_below - range };
        let moved = Metres::computed(distance.get() * (off / 2.0).exp2());
        if limits.takes_distance(moved.get()) && works(-off) {
            remedies.push(Remedy {
                change: Change::Distance,
                by: By::distance(moved, question.units),
                detail: format!(
                    "Move the light from {} to {}, by the inverse-square law.",
                    question.units.said(distance),
                    question.units.said(moved),
                ),
            });
        }
    }
    if let (true, Some(full)) = (weak, unit.energy) {
        let energy = full.get() * (-wanted_below).exp2();
        remedies.push(Remedy {
            change: Change::Unit,
            by: By::energy(Joules::computed(energy)),
            detail: format!("Use a unit like it of at least {energy:.0} J."),
        });
    }
    remedies
}
