//! Whether the units of a kit recycle between the frames of a shot.

use crate::light::{
    kit::{
        answer::RoleResult,
        question::{KitQuestion, Role, Shot},
    },
    quantity::Stops,
    unit::{Unit, keeps_up},
};

/// Recycle time of a unit after all its flashes in a frame, s.
pub fn recycle_s(unit: &Unit, setting: Stops, role: &Role) -> Option<f64> {
    unit.recycle_s(setting).map(|one| one * f64::from(role.pops))
}

/// Whether every unit of a shot recycles within the interval; `None` if that is not known.
pub fn keeps_pace(
    question: &KitQuestion,
    shot: &Shot,
    lights: &[RoleResult],
    assignment: &[Option<usize>],
) -> Option<bool> {
    let Some(interval) = shot.interval_s else { return Some(true) };
    all(shot.roles.iter().zip(lights).zip(assignment).filter_map(|((role, light), unit)| {
        let (unit, setting) = (&question.kit[(*unit)?].unit, light.setting.as_ref()?);
        Some(recycle_s(unit, setting.stops_below_full, role).map(|recycle| keeps_up(recycle, interval)))
    }))
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
