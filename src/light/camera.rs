//! Changes of exposure at the camera, told as remedies: aperture, ISO speed, neutral density.

use std::{borrow::Cow, f64::consts::LOG10_2, fmt};

use super::{
    dialled::stops_said,
    exposure::FlashExposure,
    kind::Kind,
    limits::Limits,
    marks::Step,
    quantity::{Stops, significant},
    remark::{By, Change, Remedy},
};

/// How far exposure is changed to make something work, stops.
const MOST_STOPS: i32 = 8;

/// Changes of a camera's control, the smallest first, brighter before darker.
pub fn changes(step: Step) -> impl Iterator<Item = f64> {
    let per_stop = step.per_stop();
    (1..=MOST_STOPS * per_stop).flat_map(|k| [k, -k]).map(move |k| f64::from(k) / f64::from(per_stop))
}

/// The controls that change exposure by so many stops (+ is brighter), a whole number of steps, within limits.
/// Aperture and ISO speed go to a mark: from between two marks by less or more than asked, the less if it `works`.
/// `then` ends each sentence, given what is really changed. All three change flash and ambient light alike.
pub fn remedies(
    stops: f64,
    from: FlashExposure,
    limits: &Limits,
    step: Step,
    works: &dyn Fn(f64) -> bool,
    then: &dyn Fn(f64) -> String,
) -> Vec<Remedy> {
    let works = |changed: f64| (changed - stops).abs() < SAME_STOPS || works(changed);
    let brighter = stops > 0.0;
    let mut remedies = Vec::new();
    let (f_number, iso) = (from.f_number.get(), from.iso.get());
    let fits = |lens: &Turn| limits.takes_f_number(lens.value) && works(lens.stops);
    if let Some(lens) = turned(Kind::FNumber, f_number, stops, step, fits) {
        let verb = if brighter { "Open" } else { "Close" };
        let detail = format!("{verb} the lens {lens}{}. Ambient light changes alike.", then(lens.stops));
        remedies.push(Remedy {
            change: Change::Aperture,
            by: By::stops(Stops::computed(lens.stops)),
            detail,
        });
    }
    let fits = |speed: &Turn| limits.takes_iso(speed.value) && works(speed.stops);
    if let Some(speed) = turned(Kind::Iso, iso, stops, step, fits) {
        let verb = if brighter { "Raise" } else { "Lower" };
        let detail =
            format!("{verb} the ISO speed {speed}{}. Ambient light changes alike.", then(speed.stops));
        remedies.push(Remedy { change: Change::Iso, by: By::stops(Stops::computed(speed.stops)), detail });
    }
    if remedies.is_empty()
        && let Some((lens, speed)) = together(stops, from, limits, step, &works)
    {
        let [open, raise] = if brighter { ["Open", "raise"] } else { ["Close", "lower"] };
        let both = lens.stops + speed.stops;
        let detail = format!(
            "{open} the lens {lens}, and {raise} the ISO speed {speed}{}. Ambient light changes alike.",
            then(both)
        );
        remedies.push(Remedy { change: Change::Aperture, by: By::stops(Stops::computed(both)), detail });
    }
    if !brighter {
        let density = Kind::OpticalDensity.mark_for(-stops * LOG10_2, step).map_or_else(
            || format!("density {}", significant(-stops * LOG10_2)),
            |(mark, _)| mark.into_owned(),
        );
        let detail = format!(
            "Put {} of neutral density ({density}) on the lens{}. Ambient light changes alike.",
            stops_said(stops),
            then(stops)
        );
        let by = By::stops(Stops::computed(stops));
        remedies.push(Remedy { change: Change::NeutralDensity, by, detail });
    }
    remedies
}

/// What a change of the lens means for light that is wanted as an f-number, which a meter reads; adds it to a remedy.
pub fn mind_metered(remedy: &mut Remedy) {
    remedy.detail.push_str(match remedy.change {
        Change::Aperture => " Change what is wanted as an f-number by as much, for a meter reads it.",
        Change::NeutralDensity => {
            " Ask for what is wanted as an f-number higher by as much: the meter at the subject has no filter before it."
        }
        _ => "",
    });
}

/// Two changes closer than this are the same, stops.
const SAME_STOPS: f64 = 1e-6;
/// A mark this near to what is set is the mark that is set, stops: f/11 stands for 11.31.
const SAME_MARK: f64 = 0.1;

/// A control turned to one of its marks: `1/3 stop, to f/7.1`.
pub struct Turn {
    /// By how much it changes the exposure, stops.
    pub stops: f64,
    /// What the mark stands for.
    pub value: f64,
    mark: Cow<'static, str>,
}

impl fmt::Display for Turn {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}, to {}", stops_said(self.stops), self.mark)
    }
}

/// A control turned by so many stops, or from between two marks by the less of both that `fits`.
pub fn turned(kind: Kind, from: f64, stops: f64, step: Step, fits: impl Fn(&Turn) -> bool) -> Option<Turn> {
    turns(kind, from, stops, step).into_iter().find(fits)
}

/// The mark that changes exposure by so many stops, or the two on either side, the smaller change first.
fn turns(kind: Kind, from: f64, stops: f64, step: Step) -> Vec<Turn> {
    let set = kind.exposure_stops(from);
    let Some((_, off)) = kind.mark_for(kind.value_at(set + stops), step) else {
        return Vec::new();
    };
    let nearest = stops + off;
    let changes = if off.abs() < SAME_STOPS {
        vec![stops]
    } else {
        // Marks are a step apart.
        let other = nearest - off.signum() / f64::from(step.per_stop());
        if nearest.abs() < other.abs() { vec![nearest, other] } else { vec![other, nearest] }
    };
    let turn = |changed: f64| {
        let value = kind.value_at(set + changed);
        let (mark, off) = kind.mark_for(value, step)?;
        // Beyond the ends of the series there is none.
        let is_there = off.abs() < SAME_STOPS && changed * stops.signum() >= SAME_MARK;
        is_there.then_some(Turn { stops: changed, value, mark })
    };
    changes.into_iter().filter_map(turn).collect()
}

/// Aperture as far as it goes, and ISO speed for the rest, where neither can do it alone.
fn together(
    stops: f64,
    from: FlashExposure,
    limits: &Limits,
    step: Step,
    works: &dyn Fn(f64) -> bool,
) -> Option<(Turn, Turn)> {
    let per_stop = f64::from(step.per_stop());
    let steps = (1..(stops.abs() * per_stop).round() as u32).rev();
    let parts = steps.map(|k| stops.signum() * f64::from(k) / per_stop);
    let lens = parts
        .flat_map(|part| turns(Kind::FNumber, from.f_number.get(), part, step).into_iter().rev())
        .find(|lens| limits.takes_f_number(lens.value) && lens.stops.abs() < stops.abs() - SAME_STOPS)?;
    let fits = |speed: &Turn| limits.takes_iso(speed.value) && works(lens.stops + speed.stops);
    let speed = turned(Kind::Iso, from.iso.get(), stops - lens.stops, step, fits)?;
    Some((lens, speed))
}
