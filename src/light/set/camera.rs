//! Remedies at the camera: aperture, ISO speed and neutral density.

use std::{borrow::Cow, cell::RefCell, collections::HashMap, f64::consts::LOG10_2, fmt};

use crate::light::{
    quantity::{Stops, kind::Kind, marks::Step, nominal::format_stops, significant},
    remedy::{By, Change, Remedy},
    set::{exposure::FlashExposure, limits::Limits},
};

/// The largest change of exposure to try, stops.
pub const MOST_STOPS: i32 = 8;

/// Changes by whole steps, the smallest first, brighter before darker.
fn changes(most: i32, step: Step) -> impl Iterator<Item = f64> {
    let per_stop = step.per_stop();
    (1..=most * per_stop).flat_map(|k| [k, -k]).map(move |k| f64::from(k) / f64::from(per_stop))
}

/// Remedies by each control of the camera, within the limits and at most `most` stops, each by the smallest change that
/// `works`. Aperture and ISO speed move to marks; neutral density darkens by whole steps. If neither aperture nor ISO
/// speed works alone, both are changed together. `then` ends each sentence, given the change in stops. All three controls
/// change flash and ambient light alike.
pub fn remedies(
    from: FlashExposure,
    limits: &Limits,
    (most, step): (i32, Step),
    works: &dyn Fn(f64) -> bool,
    then: &dyn Fn(f64) -> String,
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
    let mut remedies = Vec::new();
    let lens = marks(Kind::FNumber, from.f_number.get(), most, step);
    let lens = lens.into_iter().find(|lens| limits.allows_f_number(lens.value) && works(lens.stops));
    let speed = marks(Kind::Iso, from.iso.get(), most, step);
    let speed = speed.into_iter().find(|speed| limits.allows_iso(speed.value) && works(speed.stops));
    if lens.is_none()
        && speed.is_none()
        && let Some((lens, speed)) = changes(most, step)
            .find(|stops| works(*stops))
            .and_then(|stops| aperture_and_iso(stops, from, limits, step, &works))
    {
        let both = lens.stops + speed.stops;
        let [open, raise] = by_direction(both, ["Open", "raise"], ["Close", "lower"]);
        let detail = format!(
            "{open} the lens {lens}, and {raise} {ISO_SPEED} {speed}{}. Ambient light changes alike.",
            then(both)
        );
        remedies.push(Remedy { change: Change::Aperture, by: By::stops(Stops::new_unchecked(both)), detail });
    }
    let controls = [
        (Change::Aperture, lens, ["Open", "Close"], "the lens"),
        (Change::Iso, speed, ["Raise", "Lower"], ISO_SPEED),
    ];
    for (change, turn, [brighter, darker], control) in controls {
        if let Some(turn) = turn {
            let verb = by_direction(turn.stops, brighter, darker);
            let detail = format!("{verb} {control} {turn}{}. Ambient light changes alike.", then(turn.stops));
            remedies.push(Remedy { change, by: By::stops(Stops::new_unchecked(turn.stops)), detail });
        }
    }
    if let Some(stops) = changes(most, step).find(|stops| *stops < 0.0 && works(*stops)) {
        let density = Kind::OpticalDensity.mark_for(-stops * LOG10_2, step).map_or_else(
            || format!("density {}", significant(-stops * LOG10_2)),
            |(mark, _)| mark.into_owned(),
        );
        let detail = format!(
            "Put {} of neutral density ({density}) on the lens{}. Ambient light changes alike.",
            format_stops(stops),
            then(stops)
        );
        let by = By::stops(Stops::new_unchecked(stops));
        remedies.push(Remedy { change: Change::NeutralDensity, by, detail });
    }
    remedies
}

/// The first value for a brighter change, the second for a darker one.
fn by_direction<T>(stops: f64, brighter: T, darker: T) -> T {
    if stops > 0.0 { brighter } else { darker }
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

/// Adds to a remedy what a change at the lens means for targets given as an f-number, which a meter reads.
pub fn add_metered_note(remedy: &mut Remedy) {
    remedy.detail.push_str(match remedy.change {
        Change::Aperture => " Change what is wanted as an f-number by as much, for a meter reads it.",
        Change::NeutralDensity => {
            " Ask for what is wanted as an f-number higher by as much: the meter at the subject has no filter before it."
        }
        _ => "",
    });
}

/// Adds to a remedy what a change of ISO speed, alone or with the aperture, means for meter readings.
pub fn add_readings_note(remedy: &mut Remedy) {
    if remedy.detail.contains(ISO_SPEED) {
        remedy.detail.push_str(
            " Readings hold for the ISO speed at which they were taken: meter anew, or move them alike.",
        );
    }
}

/// The name of the control in sentences.
const ISO_SPEED: &str = "the ISO speed";
/// Two changes closer than this count as equal, stops.
const SAME_STOPS: f64 = 1e-6;
/// A mark closer than this to the current setting is that setting, stops: f/11 means 11.31.
const SAME_MARK: f64 = 0.1;

/// A change of a control to one of its marks; displayed as `1/3 stop, to f/7.1`.
pub struct Turn {
    /// The change of exposure, stops; + is brighter.
    pub stops: f64,
    /// The exact value behind the mark.
    pub value: f64,
    mark: Cow<'static, str>,
}

impl fmt::Display for Turn {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}, to {}", format_stops(self.stops), self.mark)
    }
}

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
    let most = MOST_STOPS.max(stops.abs().ceil() as i32);
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
