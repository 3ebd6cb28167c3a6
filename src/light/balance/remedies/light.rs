//! Remedies at one light: another held setting, a filter, more flashes, a stronger unit, and switching it off.

use crate::light::{
    balance::{
        problem::Problem,
        remedies::{Trials, camera},
        setup::settings,
    },
    error::{Field, Part},
    quantity::Stops,
    remedy::{Change, Edit, NewValue, Sized, To, nearest},
    set::{
        Origin,
        control::{Control, LightSetting},
        edit::OFF,
    },
    unit::Unit,
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
    let (scene, variable) = (&trials.question.scene, trials.prepared.variables[light]);
    problem.lights[variable] = trials.prepared.levels(scene, light, &free);
    let found = trials.work.search(&problem, trials.question.prefer);
    let to = free[found.choice[variable]]?;
    let label = unit.scale.label(to);
    let edits = trials.edit_together(light, Field::Setting, &NewValue::Label(label));
    let error = trials.answer(&edits)?;
    let stops = unit.below(from) - unit.below(to);
    let (subject, setting) = scene.control_of(light);
    let to = To::Setting { to: setting(to), held_at: setting(from) };
    let change = Change { subject, by_stops: Some(Stops::new_unchecked(stops)), to };
    Some(trials.remedy(stops, Some(light), (vec![change], edits), error))
}

/// Whether a light was metered: as it was, so that a request cannot say what it would give with a filter or with another
/// unit.
fn is_metered(trials: &Trials<'_>, light: usize) -> bool {
    let mut own = trials.question.scene.contributions.iter().filter(|it| it.light == light);
    own.any(|it| matches!(it.origin, Origin::Reading { .. }))
}

/// A filter on a light that is too strong, or two.
pub fn filter(trials: &Trials<'_>, light: usize) -> Option<Sized> {
    if is_metered(trials, light) {
        return None;
    }
    let may = |stops: f64| {
        trials.may_be_feasible(|problem| trials.regain(problem, light, |_, gain| gain * stops.exp2()))
    };
    camera::filters(trials, Some(light), Part::Light(light, Some(Field::Filters)), may)
}

/// Changes the light of all lights that are set together with one by a factor.
fn brighten(trials: &Trials<'_>, problem: &mut Problem, light: usize, factor: f64) {
    let variable = trials.prepared.variables[light];
    problem.metered_mut().for_each(|point| point.gain[variable] *= factor);
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
    let edits = |pops: u32| trials.edit_together(light, Field::Pops, &NewValue::Count(pops));
    let stops = |pops: u32| (f64::from(pops) / f64::from(own)).log2();
    let candidates = (own + 1..=trials.question.limits.max_pops).filter(|pops| fits(*pops));
    let candidates = candidates.map(|pops| (stops(pops), pops));
    let (stops, pops, error) = nearest(candidates, |pops| {
        let factor = stops(*pops).exp2();
        let may = trials.may_be_feasible(|problem| brighten(trials, problem, light, factor));
        may.then(|| trials.answer(&edits(*pops))).flatten()
    })?;
    let change = Change {
        subject: scene.control_of(light).0,
        by_stops: Some(Stops::new_unchecked(stops)),
        to: To::Pops(pops),
    };
    Some(trials.remedy(stops, Some(light), (vec![change], edits(pops)), error))
}

/// A stronger unit like its own, up to four stops.
pub fn unit(trials: &Trials<'_>, light: usize) -> Option<Sized> {
    const THIRDS: u32 = 12;
    let own = &trials.question.scene.lights[light].unit;
    // What a head gives is a matter of its pack.
    if is_metered(trials, light) || own.head.is_some() {
        return None;
    }
    // By energy, unless it states a guide number only.
    let candidate = |thirds: u32| {
        let unit = own.stronger(f64::from(thirds) / 3.0, own.energy.is_none())?;
        let (to, factor) = match (own.energy, unit.energy, own.guide_number, unit.guide_number) {
            (Some(from), Some(energy), ..) => {
                let like = own.name.clone();
                (To::Energy { energy, like, replaces: true }, energy.get() / from.get())
            }
            (_, _, Some(from), Some(guide)) => {
                (To::Guide { guide, replaces: true }, (guide.get() / from.get()).powi(2))
            }
            _ => return None,
        };
        Some((factor.log2(), (unit, to)))
    };
    let edits = |unit: &Unit| {
        vec![Edit::new(Part::Light(light, Some(Field::Unit)), NewValue::Unit(Box::new(unit.clone())))]
    };
    let sized = (1..=THIRDS).filter_map(candidate).map(|(stops, to)| (stops, (stops, to)));
    let (stops, (_, (unit, to)), error) = nearest(sized, |(stops, (unit, _))| {
        let may = trials.may_be_feasible(|problem| brighten(trials, problem, light, stops.exp2()));
        may.then(|| trials.answer(&edits(unit))).flatten()
    })?;
    let subject = trials.question.scene.subject(light);
    let change = Change { subject, by_stops: Some(Stops::new_unchecked(stops)), to };
    Some(trials.remedy(stops, Some(light), (vec![change], edits(&unit)), error))
}

/// A light that must be on, switched off.
pub fn off(trials: &Trials<'_>, light: usize) -> Option<Sized> {
    let control = trials.question.scene.lights[light].control;
    if control.may_be_off || control.held() == Some(LightSetting::Off) {
        return None;
    }
    let may = trials.may_be_feasible(|problem| brighten(trials, problem, light, 0.0));
    let off = trials.edit_together(light, Field::Setting, &NewValue::Label(OFF.to_owned()));
    let held = trials.edit_together(light, Field::Hold, &NewValue::Flag(true));
    let edits = [off, held].concat();
    let error = may.then(|| trials.answer(&edits)).flatten()?;
    let subject = trials.question.scene.control_of(light).0;
    let change = Change { subject, by_stops: None, to: To::Off };
    Some(trials.remedy(OFF_STOPS, Some(light), (vec![change], edits), error))
}
