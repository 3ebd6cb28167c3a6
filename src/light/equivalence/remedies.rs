//! Remedies for a candidate that is not feasible.

use crate::light::{
    equivalence::{EquivalenceQuestion, Nearest, Placed, nearest},
    quantity::{Joules, Metres, significant},
    remedy::{Action, By, Change, Remedy, Then},
    set::camera,
};

/// The largest change at the camera, stops: the whole range of aperture and ISO speed together.
const CAMERA_STOPS: i32 = 24;

/// Remedies for a candidate whose best setting is `found`. Each is solved again before it is offered.
pub fn find(
    question: &EquivalenceQuestion,
    candidate: &Placed,
    wanted_below: f64,
    found: &Nearest,
) -> Vec<Remedy> {
    let unit = &candidate.unit;
    let limits = question.limits;
    let after = |change: f64| nearest(unit, wanted_below + change, question.max_pops);
    let works = |change: f64| after(change).feasible;
    let then = |change: f64| {
        let Nearest { below, pops, .. } = after(change);
        Then::SetUnit { to: unit.scale.label(below), pops }
    };
    let mut remedies = Vec::new();
    let is_weak = found.residual < 0.0;
    if is_weak {
        let more = nearest(unit, wanted_below, limits.max_pops);
        if more.feasible {
            remedies.push(Remedy {
                change: Change::Pops,
                by: By::pops(more.pops),
                action: Action::FireUnit { at: unit.scale.label(more.below) },
            });
        }
    }
    remedies.extend(camera::remedies(question.hold, &limits, (CAMERA_STOPS, question.step), &works, &then));
    // A candidate without a distance is at the distance of the reference.
    if let Some(distance) = candidate.distance.or(question.reference.distance) {
        let moved = Metres::new_unchecked(distance.get() * (found.residual / 2.0).exp2());
        // Rounded as in the sentence.
        let moved = Metres::new_unchecked(significant(question.units.moved(distance, moved).get()));
        let change = 2.0 * (distance.get() / moved.get()).log2();
        if limits.allows_distance(moved.get()) && works(change) {
            remedies.push(Remedy {
                change: Change::Distance,
                by: By::distance(moved, question.units),
                action: Action::MoveUnit { from: distance, units: question.units, then: then(change) },
            });
        }
    }
    if let (true, Some(full)) = (is_weak, unit.energy) {
        let energy = full.get() * (-found.residual).exp2();
        remedies.push(Remedy {
            change: Change::Unit,
            by: By::energy(Joules::new_unchecked(energy)),
            action: Action::StrongerUnit { pops: found.pops },
        });
    }
    remedies
}
