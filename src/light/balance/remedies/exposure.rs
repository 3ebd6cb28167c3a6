//! Remedies at the camera: aperture, ISO speed, neutral density and exposure time.

use crate::light::{
    balance::{
        remedies::{SizedRemedy, Trials},
        setup::{Set, Target},
    },
    quantity::{Stops, bounds, kind::Kind},
    remedy::{Action, By, Change, Remedy},
    set::{AmbientAmount, Origin, camera},
};

/// The smallest changes of exposure, darker or brighter, by aperture, ISO speed or neutral density.
pub fn exposure(trials: &Trials<'_>) -> Vec<SizedRemedy> {
    let set = &trials.question.set;
    // With more exposure, every point needs less light, ambient included.
    let works = |stops: f64| {
        trials.works(|problem| problem.points.iter_mut().for_each(|point| point.target *= (-stops).exp2()))
    };
    let then = |_| trials.then(None);
    let reach = (camera::MAX_STOPS, set.step);
    let remedies = camera::remedies(set.scene.exposure, &set.limits, reach, &works, &then);
    let is_metered = set.point_targets.iter().any(|point| matches!(point.target, Target::FNumber(_)));
    let is_read = set.scene.contributions.iter().any(|c| matches!(c.origin, Origin::Reading { .. }))
        || has_metered_ambient(set);
    let sized = |remedy: Remedy| {
        (remedy.by.in_stops().unwrap_or_default().abs(), camera::with_notes(remedy, is_metered, is_read))
    };
    remedies.into_iter().map(sized).collect()
}

/// Whether ambient light was metered: such a reading holds for one exposure time and ISO speed.
pub fn has_metered_ambient(set: &Set) -> bool {
    set.scene.ambient.iter().any(|entry| matches!(entry.amount, AmbientAmount::FNumber(_)))
}

/// The smallest change of exposure time that works. It changes the ambient light only: flash does not depend on it.
pub fn exposure_time(trials: &Trials<'_>) -> Option<SizedRemedy> {
    let set = &trials.question.set;
    let time = set.scene.exposure_time?;
    if set.scene.ambient.is_empty() {
        return None;
    }
    let works = |stops: f64| {
        trials.works(|problem| problem.points.iter_mut().for_each(|point| point.ambient *= stops.exp2()))
    };
    let marks = camera::marks(Kind::ExposureTime, time.get(), camera::MAX_STOPS, set.step);
    let mut marks = marks.into_iter().filter(|mark| bounds::EXPOSURE_TIME.check(mark.value).is_ok());
    let turn = marks.find(|mark| works(mark.stops))?;
    let stops = turn.stops;
    let remedy = Remedy {
        change: Change::ExposureTime,
        by: By::stops(Stops::new_unchecked(stops)),
        action: Action::ExposureTime {
            turn,
            then: trials.then(None),
            has_metered_ambient: has_metered_ambient(set),
        },
    };
    Some((stops.abs(), remedy))
}
