//! Changes at the camera: aperture, ISO speed and neutral density; and the exposure time.

use crate::light::{
    balance::{
        remedies::{Remedied, Trials},
        setup::{Set, Target},
    },
    quantity::{Stops, bounds, kind::Kind},
    remark::{By, Change, Remedy},
    set::{AmbientAmount, Known, camera},
};

/// The smallest change of exposure, darker or brighter: aperture, ISO speed, neutral density.
pub fn exposure(trials: &Trials<'_>) -> Vec<Remedied> {
    let set = &trials.question.set;
    // Opening the lens, all points need less light, ambient included.
    let works = |stops: f64| {
        trials.works(|problem| problem.points.iter_mut().for_each(|point| point.target *= (-stops).exp2()))
    };
    let then = |_| trials.anew(None).to_owned();
    let reach = (camera::MOST_STOPS, set.step);
    let remedies = camera::remedies(set.scene.exposure, &set.limits, reach, &works, &then);
    let absolute = set.wishes.iter().any(|wish| matches!(wish.target, Target::FNumber(_)));
    let metered = set.scene.contributions.iter().any(|c| matches!(c.known, Known::Reading { .. }))
        || has_metered_ambient(set);
    let told = |mut remedy: Remedy| {
        if absolute {
            camera::mind_metered(&mut remedy);
        }
        if metered {
            camera::mind_readings(&mut remedy);
        }
        (remedy.by.in_stops().unwrap_or_default().abs(), remedy)
    };
    remedies.into_iter().map(told).collect()
}

/// What a change of the exposure time means for ambient light that was metered.
pub const AMBIENT_READINGS: &str = " Readings of ambient light hold for the exposure time at which they were taken: meter anew, or move them alike.";

/// Whether ambient light was metered, which holds for one exposure time and ISO speed.
pub fn has_metered_ambient(set: &Set) -> bool {
    set.scene.ambient.iter().any(|entry| matches!(entry.amount, AmbientAmount::FNumber(_)))
}

/// Shorter or longer, where ambient light is what spoils it: flash does not depend on the time.
pub fn exposure_time(trials: &Trials<'_>) -> Option<Remedied> {
    let set = &trials.question.set;
    let time = set.scene.exposure_time?;
    if set.scene.ambient.is_empty() {
        return None;
    }
    let works = |stops: f64| {
        trials.works(|problem| problem.points.iter_mut().for_each(|point| point.ambient *= stops.exp2()))
    };
    let marks = camera::marks(Kind::ExposureTime, time.get(), camera::MOST_STOPS, set.step);
    let mut marks = marks.into_iter().filter(|turn| bounds::EXPOSURE_TIME.check(turn.value).is_ok());
    let turn = marks.find(|turn| works(turn.stops))?;
    let stops = turn.stops;
    let (change, beware) = if stops < 0.0 {
        ("Shorten", "no shorter than the camera's flash sync time")
    } else {
        ("Lengthen", "mind blur by ambient light")
    };
    let remedy = Remedy {
        change: Change::ExposureTime,
        by: By::stops(Stops::new_unchecked(stops)),
        detail: format!(
            "{change} the exposure time {turn}{}; {beware}. Only ambient light changes.{}",
            trials.anew(None),
            if has_metered_ambient(set) { AMBIENT_READINGS } else { "" }
        ),
    };
    Some((stops.abs(), remedy))
}
