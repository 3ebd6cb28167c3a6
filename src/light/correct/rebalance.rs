//! The balance of a corrected set: as any balance, with ties, clicks and holds, for the points that have a target.

use crate::light::{
    balance::{BalanceQuestion, balance},
    error::{InvalidPart, Part},
    interrupt::Interrupt,
    quantity::Stops,
    remedy::Edit,
    set::{Scene, target::Target},
};

/// The settings that a balance found.
pub struct Rebalanced {
    /// Stops below full of each light; `None` is off.
    pub below: Vec<Option<Stops>>,
    /// The changes of the request that set them.
    pub edits: Vec<Edit>,
}

/// Balances a corrected set as `question` has it. `None` if no point has a target.
pub fn rebalance(
    question: &BalanceQuestion,
    corrected: &Scene,
    interrupt: &dyn Interrupt,
) -> Result<Option<Rebalanced>, Vec<InvalidPart>> {
    let kept = kept(corrected);
    if kept.is_empty() {
        return Ok(None);
    }
    let question = BalanceQuestion { scene: only(corrected, &kept), ..question.clone() };
    let balanced = balance(&question, interrupt).map_err(|faults| {
        let in_request = |InvalidPart { part, error }| match part {
            Part::Point(index, field) => error.in_part(Part::Point(kept[index], field)),
            Part::TargetPoint(index) => error.in_part(Part::TargetPoint(kept[index])),
            part => error.in_part(part),
        };
        faults.into_iter().map(in_request).collect::<Vec<_>>()
    })?;
    let below = balanced.settings.iter();
    let below = below.map(|light| light.setting.as_ref().map(|setting| setting.stops_below_full)).collect();
    Ok(Some(Rebalanced { below, edits: balanced.patch.edits }))
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
