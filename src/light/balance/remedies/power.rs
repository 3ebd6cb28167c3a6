//! Remedy: another setting of a fixed light, as the balance would choose it.

use crate::light::{
    balance::{
        remedies::{SizedRemedy, Trials},
        setup::{Control, levels, settings},
    },
    quantity::Stops,
    remedy::{Action, By, Change, Remedy},
};

/// The setting that the balance chooses for a fixed light.
pub fn power(trials: &Trials<'_>, light: usize) -> Option<SizedRemedy> {
    let question = trials.question;
    let set = &question.set;
    let (lamp, control) = (&set.scene.lights[light], set.controls[light]);
    let fixed = control.fixed?;
    // If it may be off, the search has tried that already.
    let settings = settings(&lamp.unit, Control { fixed: None, may_be_off: false, ..control });
    let free = levels(&lamp.unit, &settings, control.pops);
    let found = trials.solve(|problem| problem.lights[light] = free)?;
    let to = settings[found.choice[light]]?;
    // The set must also be feasible with the light fixed at that setting.
    let held = levels(&lamp.unit, &[Some(to)], control.pops);
    if !trials.works(|problem| problem.lights[light] = held) {
        return None;
    }
    let stops = lamp.unit.below(fixed) - lamp.unit.below(to);
    let remedy = Remedy {
        change: Change::Power,
        by: By::stops(Stops::new_unchecked(stops)),
        action: Action::Turn {
            light: lamp.name.clone(),
            to: lamp.unit.scale.label(to),
            then: trials.then(Some(light)),
            fixed_at: lamp.unit.scale.label(fixed),
            may_be_off: control.may_be_off,
        },
    };
    Some((stops.abs(), remedy))
}
