//! Whether the units of a kit recycle between the frames of a shot.

use crate::light::{
    kit::{fired::Fired, question::Shot},
    unit::keeps_up,
};

/// Whether everything that fires in a shot recycles within the interval; `None` if that is not known.
pub fn keeps_pace(shot: &Shot, fired: &[Fired<'_>]) -> Option<bool> {
    let Some(interval) = shot.interval_s else { return Some(true) };
    all(fired.iter().map(|fired| fired.recycle_s.map(|recycle| keeps_up(recycle, interval))))
}

/// Whether all are true; `None` if none is false, but some are not known.
pub fn all(mut answers: impl Iterator<Item = Option<bool>>) -> Option<bool> {
    answers
        .try_fold(Some(true), |all, one| match one {
            // Ends at once.
            Some(false) => Err(()),
            Some(true) => Ok(all),
            None => Ok(None),
        })
        .unwrap_or(Some(false))
}
