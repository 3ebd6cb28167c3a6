//! Changes of exposure at the camera, told as remedies: aperture, ISO speed, neutral density.

use std::f64::consts::LOG10_2;

use super::{
    dialled::{Dialled, stops_said},
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

/// The controls that change exposure by so many stops (+ is brighter), within limits. `then` ends each
/// sentence. All three change flash and ambient light alike.
pub fn remedies(stops: f64, from: FlashExposure, limits: &Limits, step: Step, then: &str) -> Vec<Remedy> {
    let said = stops_said(stops);
    let by = By::stops(Stops::computed(stops));
    let brighter = stops > 0.0;
    let mut remedies = Vec::new();
    let f_number = from.f_number.get() * (-stops / 2.0).exp2();
    if limits.takes_f_number(f_number) {
        let verb = if brighter { "Open" } else { "Close" };
        let mark = Dialled::new(Kind::FNumber, f_number, step).said();
        let detail = format!("{verb} the lens {said}, to {mark}{then}. Ambient light changes alike.");
        remedies.push(Remedy { change: Change::Aperture, by, detail });
    }
    let iso = from.iso.get() * stops.exp2();
    if limits.takes_iso(iso) {
        let verb = if brighter { "Raise" } else { "Lower" };
        let mark = Dialled::new(Kind::Iso, iso, step).said();
        let detail = format!("{verb} the ISO speed {said}, to {mark}{then}. Ambient light changes alike.");
        remedies.push(Remedy { change: Change::Iso, by, detail });
    }
    if remedies.is_empty()
        && let Some(both) = together(stops, from, limits, step, then)
    {
        remedies.push(both);
    }
    if !brighter {
        let density = Kind::OpticalDensity.mark_for(-stops * LOG10_2, step).map_or_else(
            || format!("density {}", significant(-stops * LOG10_2)),
            |(mark, _)| mark.into_owned(),
        );
        let detail = format!(
            "Put {said} of neutral density ({density}) on the lens{then}. Ambient light changes alike."
        );
        remedies.push(Remedy { change: Change::NeutralDensity, by, detail });
    }
    remedies
}

/// What a change of the lens means for light that is wanted as an f-number, which a meter reads; adds it to a remedy.
pub fn mind_metered(remedy: &mut Remedy) {
    remedy.detail.push_str(match remedy.change {
        Change::Aperture => " Ask for what is wanted as f-numbers by as much of the aperture.",
        Change::NeutralDensity => {
            " Behind the filter a meter reads what is wanted as f-numbers higher by as much."
        }
        _ => "",
    });
}

/// Aperture as far as it goes, and ISO speed for the rest, where neither can do it alone.
fn together(stops: f64, from: FlashExposure, limits: &Limits, step: Step, then: &str) -> Option<Remedy> {
    let brighter = stops > 0.0;
    let per_stop = f64::from(step.per_stop());
    let sign = if brighter { 1.0 } else { -1.0 };
    let at = |stops: f64| from.f_number.get() * (-stops / 2.0).exp2();
    let steps = (1..(stops.abs() * per_stop).round() as u32).rev();
    let aperture =
        steps.map(|k| sign * f64::from(k) / per_stop).find(|&part| limits.takes_f_number(at(part)))?;
    let rest = stops - aperture;
    let iso = from.iso.get() * rest.exp2();
    limits.takes_iso(iso).then(|| Remedy {
        change: Change::Aperture,
        by: By::stops(Stops::computed(stops)),
        detail: format!(
            "{} the lens {}, to {}, and {} the ISO speed {}, to {}{then}. Ambient light changes alike.",
            if brighter { "Open" } else { "Close" },
            stops_said(aperture),
            Dialled::new(Kind::FNumber, at(aperture), step).said(),
            if brighter { "raise" } else { "lower" },
            stops_said(rest),
            Dialled::new(Kind::Iso, iso, step).said(),
        ),
    })
}
