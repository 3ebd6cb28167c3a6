//! Remedies at one light: another held setting, a filter, more flashes, and switching it off.

use crate::light::{
    balance::{
        remedies::{Trials, camera},
        setup::{levels, settings},
    },
    error::{Field, Part},
    quantity::Stops,
    remedy::{Change, Edit, NewValue, Sized, To, nearest},
    set::{
        Origin,
        control::{Control, LightSetting},
        edit::OFF,
    },
};

/// The size of switching a light off, stops: the last that one tries.
const OFF_STOPS: f64 = 30.0;

/// A light that is held at one setting, at another: the one that the balance would choose.
pub fn setting(trials: &Trials<'_>, light: usize) -> Option<Sized> {
    let held = &trials.question.scene.lights[light];
    let (unit, control) = (&held.unit, held.control);
    let Some(LightSetting::Below(from)) = control.held() else { return None };
    if !trials.work.has_budget() {
        return None;
    }
    // If it may be off, the search has tried that already.
    let free = settings(unit, Control { hold: false, may_be_off: false, ..control });
    let mut problem = trials.prepared.problem.clone();
    problem.lights[light] = levels(unit, &free, control.pops);
    let found = trials.work.search(&problem, trials.question.prefer);
    let to = free[found.choice[light]]?;
    let label = unit.scale.label(to);
    let edits = vec![Edit::new(Part::Light(light, Some(Field::Setting)), NewValue::Label(label))];
    let error = trials.answer(&edits)?;
    let stops = unit.below(from) - unit.below(to);
    let change = Change {
        subject: trials.question.scene.subject(light),
        by_stops: Some(Stops::new_unchecked(stops)),
        to: To::Setting { to: unit.setting(to), held_at: unit.setting(from) },
    };
    Some(trials.remedy(stops, Some(light), (vec![change], edits), error))
}

/// A filter on a light that is too strong, or two. A metered light was metered without it, so that a request cannot say
/// what it would give.
pub fn filter(trials: &Trials<'_>, light: usize) -> Option<Sized> {
    let mut own = trials.question.scene.contributions.iter().filter(|it| it.light == light);
    if own.any(|it| matches!(it.origin, Origin::Reading { .. })) {
        return None;
    }
    let may = |stops: f64| {
        trials.may_be_feasible(|problem| {
            problem.points.iter_mut().for_each(|point| point.gain[light] *= stops.exp2());
        })
    };
    camera::filters(trials, Some(light), Part::Light(light, Some(Field::Filters)), may)
}

/// More flashes in one exposure, up to the limit.
pub fn pops(trials: &Trials<'_>, light: usize) -> Option<Sized> {
    let scene = &trials.question.scene;
    let (unit, own) = (&scene.lights[light].unit, scene.lights[light].control.pops);
    // The shutter must stay open from the first flash to the last: with ambient light that is only known to do no harm if
    // the exposure is as long as that anyway.
    let fits = |pops: u32| match (scene.ambient.is_empty(), scene.exposure_time) {
        (true, _) => true,
        (false, None) => false,
        (false, Some(time)) => unit
            .feeding
            .recycle_s(Stops::ZERO)
            .is_some_and(|recycle| recycle * f64::from(pops - 1) <= time.get()),
    };
    let edits = |pops: u32| vec![Edit::new(Part::Light(light, Some(Field::Pops)), NewValue::Count(pops))];
    let stops = |pops: u32| (f64::from(pops) / f64::from(own)).log2();
    let candidates = (own + 1..=trials.question.limits.max_pops).filter(|pops| fits(*pops));
    let candidates = candidates.map(|pops| (stops(pops), pops));
    let (stops, pops, error) = nearest(candidates, |pops| {
        let may = trials.may_be_feasible(|problem| {
            problem.points.iter_mut().for_each(|point| point.gain[light] *= stops(*pops).exp2());
        });
        may.then(|| trials.answer(&edits(*pops))).flatten()
    })?;
    let change = Change {
        subject: scene.subject(light),
        by_stops: Some(Stops::new_unchecked(stops)),
        to: To::Pops(pops),
    };
    Some(trials.remedy(stops, Some(light), (vec![change], edits(pops)), error))
}

/// A light that must be on, switched off.
pub fn off(trials: &Trials<'_>, light: usize) -> Option<Sized> {
    let control = trials.question.scene.lights[light].control;
    if control.may_be_off || control.held() == Some(LightSetting::Off) {
        return None;
    }
    let may = trials.may_be_feasible(|problem| {
        problem.points.iter_mut().for_each(|point| point.gain[light] = 0.0);
    });
    let part = |field| Part::Light(light, Some(field));
    let edits = vec![
        Edit::new(part(Field::Setting), NewValue::Label(OFF.to_owned())),
        Edit::new(part(Field::Hold), NewValue::Flag(true)),
    ];
    let error = may.then(|| trials.answer(&edits)).flatten()?;
    let change = Change { subject: trials.question.scene.subject(light), by_stops: None, to: To::Off };
    Some(trials.remedy(OFF_STOPS, Some(light), (vec![change], edits), error))
}
