//! The balance of a corrected set: as any balance, with ties, clicks and holds, for the points that have a target.

use crate::light::{
    balance::{BalanceQuestion, settle},
    error::{InvalidPart, Part},
    interrupt::Interrupt,
    quantity::Stops,
    set::{Scene, control::LightSetting, target::Target},
};

/// Of lights that readings do not tell apart, one is left as it is if that costs no point more than this, stops (our
/// judgement: a fifth of what a meter shows).
const HARDLY_FELT: f64 = 0.02;
/// The most lights that are tried.
const MAX_TRIES: usize = 8;

/// Balances a corrected set as `question` has it: the settings, stops below full, `None` for off. Lights that readings do
/// not tell apart (`twins`) would trade their light at will; of those, each that may is left where it stands in `last`.
/// `None` if no point has a target.
pub fn rebalance(
    question: &BalanceQuestion,
    corrected: &Scene,
    last: &[Option<Stops>],
    twins: &[usize],
    interrupt: &dyn Interrupt,
) -> Result<Option<Vec<Option<Stops>>>, Vec<InvalidPart>> {
    let kept = kept(corrected);
    if kept.is_empty() {
        return Ok(None);
    }
    let mut question = BalanceQuestion { scene: only(corrected, &kept), ..question.clone() };
    let mut found = settle(&question, interrupt).map_err(|faults| {
        let in_request = |InvalidPart { part, error }| match part {
            Part::Point(index, field) => error.in_part(Part::Point(kept[index], field)),
            Part::TargetPoint(index) => error.in_part(Part::TargetPoint(kept[index])),
            part => error.in_part(part),
        };
        faults.into_iter().map(in_request).collect::<Vec<_>>()
    })?;
    let most = found.worst_weighted_error.get() + HARDLY_FELT;
    for &light in twins.iter().take(MAX_TRIES) {
        let control = &question.scene.lights[light].control;
        let (Some(stands), true) = (last[light], control.is_open()) else { continue };
        if found.below[light] == last[light] || question.scene.lights[light].unit.head.is_some() {
            continue;
        }
        let mut steadier = question.clone();
        let control = &mut steadier.scene.lights[light].control;
        (control.setting, control.hold) = (Some(LightSetting::Below(stands)), true);
        let steadied = settle(&steadier, interrupt).ok();
        if let Some(other) = steadied.filter(|other| other.worst_weighted_error.get() <= most) {
            (question, found) = (steadier, other);
        }
    }
    Ok(Some(found.below))
}

/// The points that have a target, and those that their ratios refer to.
fn kept(scene: &Scene) -> Vec<usize> {
    let mut is_kept: Vec<bool> = scene.points.iter().map(|point| point.target.is_some()).collect();
    for point in &scene.points {
        if let Some(Target::Ratio { to, .. }) = point.target {
            is_kept[to] = true;
        }
    }
    (0..is_kept.len()).filter(|&point| is_kept[point]).collect()
}

/// The set with these points only.
fn only(scene: &Scene, kept: &[usize]) -> Scene {
    if kept.len() == scene.points.len() {
        return scene.clone();
    }
    let mut scene = scene.clone();
    let index = |point: usize| kept.iter().position(|&it| it == point);
    scene.points = kept.iter().map(|&point| scene.points[point].clone()).collect();
    for point in &mut scene.points {
        // The target of a point without one is the working exposure.
        let target = point.target.get_or_insert(Target::Stops(Stops::ZERO));
        if let Target::Ratio { to, .. } = target {
            *to = index(*to).unwrap_or(*to);
        }
    }
    scene.contributions.retain_mut(|contribution| {
        index(contribution.point).map(|point| contribution.point = point).is_some()
    });
    scene.ambient.retain_mut(|ambient| index(ambient.point).map(|point| ambient.point = point).is_some());
    scene
}
