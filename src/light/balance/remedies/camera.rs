//! Remedies at the camera: aperture, ISO speed, filters on the lens, and exposure time. The first three change flash and
//! ambient light alike.

use crate::light::{
    balance::remedies::Trials,
    error::{Field, Part},
    quantity::{FNumber, kind::Kind},
    remedy::{Change, Edit, NewValue, Sized, Subject, To, nearest},
    set::{
        AmbientAmount, Origin,
        camera::{self, Turn},
        filter::NeutralDensity,
        target::Target,
    },
};

/// The most readings that a change of the ISO speed converts.
const MAX_READINGS: usize = 64;

/// The remedies by the aperture, by the ISO speed, by both if neither does it alone, and by filters on the lens.
pub fn camera(trials: &Trials<'_>) -> Vec<Sized> {
    let (scene, limits) = (&trials.question.scene, &trials.question.limits);
    let rules = trials.question.rules;
    let lens = camera::turns(Kind::FNumber, scene.exposure.f_number.get(), limits, rules);
    let mut iso = camera::turns(Kind::Iso, scene.exposure.iso.get(), limits, rules);
    if metered(trials).count() > MAX_READINGS {
        iso.clear();
    }
    // With more exposure every point needs less light, ambient included.
    let may = |stops: f64| {
        trials.may_be_feasible(|problem| {
            problem.metered_mut().for_each(|point| point.target *= (-stops).exp2());
        })
    };
    let of = |turn: &Turn| match turn.to.kind {
        Kind::Iso => iso_edits(trials, turn),
        _ => aperture_edits(trials, turn),
    };
    let single = |turns: &[Turn]| {
        let candidates = turns.iter().map(|turn| (turn.stops, turn));
        let (stops, turn, error) =
            nearest(candidates, |turn| may(turn.stops).then(|| trials.answer(&of(turn))).flatten())?;
        Some(trials.remedy(stops, None, (vec![turn.change(Subject::Whole)], of(turn)), error))
    };
    let mut remedies: Vec<Sized> = [single(&lens), single(&iso)].into_iter().flatten().collect();
    if remedies.is_empty() {
        let pairs = camera::both(&lens, &iso);
        let pairs = pairs.into_iter().map(|(lens, iso)| (lens.stops + iso.stops, (lens, iso)));
        let edits = |(lens, iso): &(&Turn, &Turn)| [of(lens), of(iso)].concat();
        if let Some((stops, pair, error)) = nearest(pairs, |pair| {
            may(pair.0.stops + pair.1.stops).then(|| trials.answer(&edits(pair))).flatten()
        }) {
            let changes = [pair.0, pair.1].map(|turn| turn.change(Subject::Whole)).to_vec();
            remedies.push(trials.remedy(stops, None, (changes, edits(&pair)), error));
        }
    }
    let filters = filters(trials, None, Part::LensFilters, may);
    remedies.extend(filters);
    remedies
}

/// The remedy by a filter, or by two if none does it alone, of those within the limits. `may` is a quick check of an
/// effect in stops.
pub fn filters(
    trials: &Trials<'_>,
    light: Option<usize>,
    part: Part,
    may: impl Fn(f64) -> bool,
) -> Option<Sized> {
    let rules = trials.question.rules;
    let subject = light.map_or(Subject::Whole, |light| trials.question.scene.subject(light));
    let choices = trials.question.limits.filters(|density| NeutralDensity::new(density, rules));
    choices.into_iter().find_map(|choices| {
        let effect =
            |filters: &Vec<NeutralDensity>| -> f64 { filters.iter().map(|filter| filter.stops.get()).sum() };
        let edits = |filters: &Vec<NeutralDensity>| -> Vec<Edit> {
            filters.iter().map(|filter| Edit::new(part, NewValue::AddFilter(*filter))).collect()
        };
        let candidates = choices.into_iter().map(|filters| (effect(&filters), filters));
        let (stops, filters, error) = nearest(candidates, |filters| {
            may(effect(filters)).then(|| trials.answer(&edits(filters))).flatten()
        })?;
        let change = |filter: &NeutralDensity| Change {
            subject: subject.clone(),
            by_stops: Some(filter.stops),
            to: To::Filter(*filter),
        };
        let changes = filters.iter().map(change).collect();
        Some(trials.remedy(stops, light, (changes, edits(&filters)), error))
    })
}

/// The aperture, and with it the targets that are f-numbers: they move alike.
fn aperture_edits(trials: &Trials<'_>, turn: &Turn) -> Vec<Edit> {
    let scene = &trials.question.scene;
    let targets = scene.points.iter().enumerate().filter_map(|(index, point)| match point.target {
        Some(Target::FNumber(f_number)) => Some((index, f_number)),
        _ => None,
    });
    let targets = targets.map(|(index, target)| {
        let to = moved(trials, target, -turn.stops);
        Edit::new(Part::TargetFNumber(index), NewValue::FNumber(to))
    });
    std::iter::once(turn.edit(Part::FNumber)).chain(targets).collect()
}

/// The ISO speed, and with it what was metered at the old one.
fn iso_edits(trials: &Trials<'_>, turn: &Turn) -> Vec<Edit> {
    let metered = metered(trials)
        .map(|(part, f_number)| Edit::new(part, NewValue::FNumber(moved(trials, f_number, turn.stops))));
    std::iter::once(turn.edit(Part::Iso)).chain(metered).collect()
}

/// An f-number that stands for more light by these stops, as a request can state it.
fn moved(trials: &Trials<'_>, from: FNumber, stops: f64) -> FNumber {
    let value = from.get() * (stops / 2.0).exp2();
    FNumber::new_unchecked(trials.question.rules.sendable(Kind::FNumber, value))
}

/// What was metered at the working ISO speed: readings of lights, and of ambient light.
fn metered<'t>(trials: &'t Trials<'_>) -> impl Iterator<Item = (Part, FNumber)> + 't {
    let mut last = None;
    let readings = trials.question.scene.contributions.iter().filter_map(move |it| match it.origin {
        // A reading for several points is one entry.
        Origin::Reading { f_number, .. } if last.replace(it.entry) != Some(it.entry) => {
            Some((Part::Contribution(it.entry, Some(Field::FNumber)), f_number))
        }
        _ => None,
    });
    readings.chain(metered_ambient(trials))
}

/// Readings of ambient light, which hold for one exposure time and ISO speed.
fn metered_ambient<'t>(trials: &'t Trials<'_>) -> impl Iterator<Item = (Part, FNumber)> + 't {
    let ambient = trials.question.scene.ambient.iter().enumerate();
    ambient.filter_map(|(index, entry)| match entry.amount {
        AmbientAmount::FNumber(f_number) => Some((Part::Ambient(index, Some(Field::FNumber)), f_number)),
        AmbientAmount::Illuminance(_) => None,
    })
}

/// The exposure time, no shorter than the sync time. It changes the ambient light only.
pub fn exposure_time(trials: &Trials<'_>) -> Option<Sized> {
    let scene = &trials.question.scene;
    let time = scene.exposure_time.filter(|_| !scene.ambient.is_empty())?;
    let (limits, rules) = (&trials.question.limits, trials.question.rules);
    let turns = camera::synced_times(time, scene.sync_time, limits, rules);
    let edits = |turn: &Turn| -> Vec<Edit> {
        let metered = metered_ambient(trials)
            .map(|(part, f_number)| Edit::new(part, NewValue::FNumber(moved(trials, f_number, turn.stops))));
        std::iter::once(turn.edit(Part::ExposureTime)).chain(metered).collect()
    };
    let candidates = turns.iter().map(|turn| (turn.stops, turn));
    let (stops, turn, error) = nearest(candidates, |turn| {
        let may = trials.may_be_feasible(|problem| {
            problem.metered_mut().for_each(|point| point.ambient *= turn.stops.exp2());
        });
        may.then(|| trials.answer(&edits(turn))).flatten()
    })?;
    Some(trials.remedy(stops, None, (vec![turn.change(Subject::Whole)], edits(turn)), error))
}
