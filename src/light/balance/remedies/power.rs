//! Remedy: another setting of a fixed light, as the balance would choose it.

use crate::light::{
    balance::{
        remedies::{SizedRemedy, Trials},
        setup::{Control, levels, settings},
    },
    quantity::Stops,
    remedy::{By, Change, Remedy},
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
        detail: format!(
            "Let \"{}\" be turned to {}{}; it is fixed at {}{}.",
            lamp.name,
            lamp.unit.scale.label(to),
            trials.reset_clause(Some(light)),
            lamp.unit.scale.label(fixed),
            if control.may_be_off { " or off" } else { "" }
        ),
    };
    Some((stops.abs(), remedy))
}
