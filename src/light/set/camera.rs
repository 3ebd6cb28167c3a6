//! Remedies at the camera: aperture, ISO speed and neutral density.

use std::{cell::RefCell, collections::HashMap, f64::consts::LOG10_2};

use crate::light::{
    quantity::{Stops, kind::Kind, marks::Step},
    remedy::{Action, By, Change, Controls, Remedy, Then, Turn},
    set::{exposure::FlashExposure, limits::Limits},
};

/// The largest change of exposure to try, stops.
pub const MAX_STOPS: i32 = 8;

/// Changes by whole steps, the smallest first, brighter before darker.
fn changes(most: i32, step: Step) -> impl Iterator<Item = f64> {
    let per_stop = step.per_stop();
    (1..=most * per_stop).flat_map(|k| [k, -k]).map(move |k| f64::from(k) / f64::from(per_stop))
}

/// Remedies by each control of the camera, within the limits and at most `most` stops, each by the smallest change that
/// `works`. Aperture and ISO speed move to marks; neutral density darkens by whole steps. If neither aperture nor ISO
/// speed works alone, both are changed together. `then` says what to set after a change in stops. All three controls
/// change flash and ambient light alike.
pub fn remedies(
    from: FlashExposure,
    limits: &Limits,
    (most, step): (i32, Step),
    works: &dyn Fn(f64) -> bool,
    then: &dyn Fn(f64) -> Then,
) -> Vec<Remedy> {
    // Starting from a mark, the three controls change by the same stops, so results are shared.
    let tried: RefCell<HashMap<i64, bool>> = RefCell::default();
    let works = |stops: f64| {
        let key = (stops / SAME_STOPS).round() as i64;
        let known = tried.borrow().get(&key).copied();
        known.unwrap_or_else(|| {
            let result = works(stops);
            tried.borrow_mut().insert(key, result);
            result
        })
    };
    let remedy = |change: Change, stops: f64, controls: Controls| Remedy {
        change,
        by: By::stops(Stops::new_unchecked(stops)),
        action: Action::Camera {
            controls,
            then: then(stops),
            has_metered_targets: false,
            has_readings: false,
        },
    };
    let mut remedies = Vec::new();
    let lens = marks(Kind::FNumber, from.f_number.get(), most, step);
    let lens = lens.into_iter().find(|lens| limits.allows_f_number(lens.value) && works(lens.stops));
    let speed = marks(Kind::Iso, from.iso.get(), most, step);
    let speed = speed.into_iter().find(|speed| limits.allows_iso(speed.value) && works(speed.stops));
    if lens.is_none()
        && speed.is_none()
        && let Some((lens, iso)) = changes(most, step)
            .find(|stops| works(*stops))
            .and_then(|stops| aperture_and_iso(stops, from, limits, step, &works))
    {
        let both = lens.stops + iso.stops;
        remedies.push(remedy(Change::Aperture, both, Controls::LensAndIso { lens, iso }));
    }
    remedies.extend(lens.map(|turn| remedy(Change::Aperture, turn.stops, Controls::Lens(turn))));
    remedies.extend(speed.map(|turn| remedy(Change::Iso, turn.stops, Controls::Iso(turn))));
    if let Some(stops) = changes(most, step).find(|stops| *stops < 0.0 && works(*stops)) {
        let density = -stops * LOG10_2;
        let mark = Kind::OpticalDensity.mark_for(density, step).map(|(mark, _)| mark);
        remedies.push(remedy(Change::NeutralDensity, stops, Controls::NeutralDensity { density, mark }));
    }
    remedies
}

/// The marks of a control within `most` stops of its setting, the smallest change first, brighter before darker.
pub fn marks(kind: Kind, from: f64, most: i32, step: Step) -> Vec<Turn> {
    let Some((_, off)) = kind.mark_for(from, step) else { return Vec::new() };
    let per_stop = step.per_stop();
    // Marks are one step apart.
    let changes = (-most * per_stop..=most * per_stop).map(|k| off + f64::from(k) / f64::from(per_stop));
    let mut changes: Vec<f64> = changes.filter(|change| change.abs() >= SAME_MARK).collect();
    changes.sort_by_key(|change| ((change.abs() / SAME_STOPS).round() as i64, *change < 0.0));
    changes.into_iter().filter_map(|change| turn_to_mark(kind, from, change, step)).collect()
}

/// Notes in a remedy at the camera what else follows the exposure: targets given as an f-number, and readings.
#[must_use]
pub fn with_notes(remedy: Remedy, is_metered: bool, is_read: bool) -> Remedy {
    let action = match remedy.action {
        Action::Camera { controls, then, .. } => {
            Action::Camera { controls, then, has_metered_targets: is_metered, has_readings: is_read }
        }
        other => other,
    };
    Remedy { action, ..remedy }
}

/// Two changes closer than this count as equal, stops.
const SAME_STOPS: f64 = 1e-6;
/// A mark closer than this to the current setting is that setting, stops: f/11 means 11.31.
const SAME_MARK: f64 = 0.1;

/// A change by `stops` to a mark, or `None` if there is no mark there.
fn turn_to_mark(kind: Kind, from: f64, stops: f64, step: Step) -> Option<Turn> {
    let value = kind.value_at(kind.exposure_stops(from) + stops);
    let (mark, off) = kind.mark_for(value, step)?;
    (off.abs() < SAME_STOPS).then_some(Turn { stops, value, mark })
}

/// Splits a change: as much as possible by the aperture, the rest by ISO speed.
fn aperture_and_iso(
    stops: f64,
    from: FlashExposure,
    limits: &Limits,
    step: Step,
    works: &dyn Fn(f64) -> bool,
) -> Option<(Turn, Turn)> {
    let most = MAX_STOPS.max(stops.abs().ceil() as i32);
    let is_part = |turn: &Turn| turn.stops * stops > 0.0 && turn.stops.abs() < stops.abs() - SAME_STOPS;
    let lens = marks(Kind::FNumber, from.f_number.get(), most, step);
    let lens = lens.into_iter().rev().find(|lens| is_part(lens) && limits.allows_f_number(lens.value))?;
    let speed = marks(Kind::Iso, from.iso.get(), most, step);
    // The smallest change that works together with that aperture.
    let speed = speed.into_iter().find(|speed| {
        speed.stops * stops > 0.0 && limits.allows_iso(speed.value) && works(lens.stops + speed.stops)
    })?;
    Some((lens, speed))
}
