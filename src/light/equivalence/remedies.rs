//! What would make a candidate do.

use crate::light::{
    equivalence::{Nearest, Placed, Question, nearest},
    quantity::{Joules, Metres, at_least, significant},
    remark::{By, Change, Remedy},
    set::camera,
};

/// How far the camera's controls are turned, stops: all that aperture and ISO speed have together.
const CAMERA_STOPS: i32 = 24;

/// What would do it, where `found` is the best there is: each is solved again before it is named.
pub fn find(question: &Question, candidate: &Placed, wanted_below: f64, found: &Nearest) -> Vec<Remedy> {
    let unit = &candidate.unit;
    let limits = question.limits;
    let after = |change: f64| nearest(unit, wanted_below + change, question.max_pops);
    let works = |change: f64| after(change).feasible;
    // What is to be dialled after a change.
    let then = |change: f64| {
        let Nearest { below, pops, .. } = after(change);
        let set = unit.scale.label(below);
        match pops {
            1 => format!(", and set the unit to {set}"),
            _ => format!(", and fire the unit {pops} times at {set}"),
        }
    };
    let mut remedies = Vec::new();
    let is_weak = found.residual < 0.0;
    if is_weak {
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
    remedies.extend(camera::remedies(question.hold, &limits, (CAMERA_STOPS, question.step), &works, &then));
    // A candidate without a distance stands where the reference does.
    if let Some(distance) = candidate.distance.or(question.reference.distance) {
        let moved = Metres::new_unchecked(distance.get() * (found.residual / 2.0).exp2());
        // As it is told.
        let moved = Metres::new_unchecked(significant(question.units.moved(distance, moved).get()));
        let change = 2.0 * (distance.get() / moved.get()).log2();
        if limits.takes_distance(moved.get()) && works(change) {
            remedies.push(Remedy {
                change: Change::Distance,
                by: By::distance(moved, question.units),
                detail: format!(
                    "Move the light from {} to {}, by the inverse-square law{}.",
                    question.units.said(distance),
                    question.units.said(moved),
                    then(change),
                ),
            });
        }
    }
    if let (true, Some(full)) = (is_weak, unit.energy) {
        let energy = full.get() * (-found.residual).exp2();
        let pops = match found.pops {
            1 => String::new(),
            pops => format!(", fired {pops} times"),
        };
        remedies.push(Remedy {
            change: Change::Unit,
            by: By::energy(Joules::new_unchecked(energy)),
            detail: format!("Use a unit like it of at least {} J{pops}.", at_least(energy)),
        });
    }
    remedies
}
