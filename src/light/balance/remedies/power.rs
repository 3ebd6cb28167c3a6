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
    let (fixed_light, control) = (&set.scene.lights[light], set.controls[light]);
    let fixed = control.fixed?;
    // If it may be off, the search has tried that already.
    let settings = settings(&fixed_light.unit, Control { fixed: None, may_be_off: false, ..control });
    let free = levels(&fixed_light.unit, &settings, control.pops);
    let found = trials.solve(|problem| problem.lights[light] = free)?;
    let to = settings[found.choice[light]]?;
    // The set must also be feasible with the light fixed at that setting.
    let held = levels(&fixed_light.unit, &[Some(to)], control.pops);
    if !trials.works(|problem| problem.lights[light] = held) {
        return None;
    }
    let stops = fixed_light.unit.below(fixed) - fixed_light.unit.below(to);
    let remedy = Remedy {
        change: Change::Power,
        by: By::stops(Stops::new_unchecked(stops)),
        action: Action::Turn {
            light: fixed_light.name.clone(),
            to: fixed_light.unit.scale.label(to),
            then: trials.then(Some(light)),
            fixed_at: fixed_light.unit.scale.label(fixed),
            may_be_off: control.may_be_off,
        },
    };
    Some((stops.abs(), remedy))
}
