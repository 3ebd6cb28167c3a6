//! Warnings about recycling and charges, and the summary for a booking page.

use crate::light::{
    error::{Part, ShotPart},
    kit::{
        KitQuestion, KitUnit, Missing, RoleResult, ShotResult,
        fired::{Fired, fired},
        summary::{Doubtful, Outcome, Summary, WorstLight},
    },
    quantity::{GuideMetres, Joules, Stops, rounded_up},
    remark::{Percentage, Remark, Warning, WarningKind},
    unit::keeps_up,
};

/// A unit or a pack that recycles too slowly, with the shots in which its figures are the same.
struct Slow<'q> {
    name: &'q str,
    part: Part,
    /// Recycle time of all its flashes in a frame, s.
    recycle: f64,
    flashes: u32,
    between: f64,
    shots: Vec<&'q str>,
}

/// Warnings about units that recycle too slowly for the frame interval or need more than one charge; the worst of each
/// kind first.
pub fn supply_warnings(question: &KitQuestion, shots: &[ShotResult]) -> Vec<Warning> {
    let mut slow: Vec<Slow<'_>> = Vec::new();
    let mut used: Vec<(Fired<'_>, f64)> = Vec::new();
    for (shot, result) in question.shots.iter().zip(shots) {
        for fired in fired(question, shot, &result.lights) {
            if let (Some(recycle), Some(between)) = (fired.recycle_s, shot.interval_s)
                && !keeps_up(recycle, between)
            {
                let Fired { name, part, pops: flashes, .. } = fired;
                let new = Slow { name, part, recycle, flashes, between, shots: vec![&shot.name] };
                match slow.iter_mut().find(|slow| slow.is_like(&new)) {
                    Some(slow) => slow.shots.extend(new.shots),
                    None => slow.push(new),
                }
            }
            let flashes = f64::from(shot.frames) * fired.full_flashes;
            match used.iter_mut().find(|(known, _)| (known.name, known.part) == (fired.name, fired.part)) {
                Some((_, all)) => *all += flashes,
                None => used.push((fired, flashes)),
            }
        }
    }
    slow.sort_by(|a, b| (b.recycle / b.between).total_cmp(&(a.recycle / a.between)));
    let slow = slow.iter().map(Slow::warning);
    // In the order of the kit.
    let place = |fired: &Fired<'_>| question.kit.iter().position(|kit| kit.name == fired.name);
    used.sort_by_key(|(fired, _)| (matches!(fired.part, Part::Pack(_)), place(fired)));
    let charges = used.into_iter().filter_map(|(fired, used)| {
        let charges = used / fired.feeding.flashes_per_charge?;
        (charges > 1.0).then_some((fired, charges))
    });
    let mut charges: Vec<_> = charges.collect();
    charges.sort_by(|a, b| b.1.total_cmp(&a.1));
    let charges = charges.into_iter().map(|(fired, charges)| {
        // Tenths, rounded up.
        let charges = (charges * 10.0 * (1.0 - 1e-9)).ceil() / 10.0;
        Remark::about(fired.part, WarningKind::ChargeTooSmall { unit: fired.name.to_owned(), charges })
    });
    slow.chain(charges).collect()
}

/// The warnings about shots in which a flash does not light the whole frame.
pub fn sync_warnings(question: &KitQuestion, shots: &[ShotResult]) -> Vec<Warning> {
    let shots = question.shots.iter().zip(shots).enumerate();
    shots
        .filter_map(|(index, (shot, result))| {
            let is_used =
                |kit: &&KitUnit| result.lights.iter().any(|light| light.unit.as_ref() == Some(&kit.name));
            let share = |kit: &KitUnit| kit.unit.frame_share(shot.shutter).filter(|share| *share < 1.0);
            let frame_share = question.kit.iter().filter(is_used).find_map(share)?;
            let part = Part::Shot(index, ShotPart::ExposureTime);
            Some(Remark::about(part, WarningKind::FasterThanSync { frame_share: Percentage(frame_share) }))
        })
        .collect()
}

impl Slow<'_> {
    fn is_like(&self, other: &Self) -> bool {
        let alike = |a: f64, b: f64| (a - b).abs() < 1e-9;
        (self.name, self.part) == (other.name, other.part)
            && self.flashes == other.flashes
            && alike(self.recycle, other.recycle)
            && alike(self.between, other.between)
    }

    fn warning(&self) -> Warning {
        let Self { name, part, recycle, flashes, between, shots } = self;
        let warning = WarningKind::RecycleTooSlow {
            unit: (*name).to_owned(),
            recycle_s: rounded_up(*recycle),
            flashes: *flashes,
            interval_s: *between,
            shots: shots.iter().map(|shot| (*shot).to_owned()).collect(),
        };
        Remark::about(*part, warning)
    }
}

/// The summary for a booking page. `left_out` are the units whose light is not known. Of the `warnings` it repeats the worst about recycling and the worst about charges.
pub fn summary(
    shots: &[ShotResult],
    missing: &[Missing],
    warnings: &[Warning],
    left_out: Vec<String>,
) -> Summary {
    let outcome =
        if shots.iter().all(|shot| shot.feasible) { feasible(shots) } else { infeasible(shots, missing) };
    let slow = warnings.iter().find(|remark| matches!(remark.kind, WarningKind::RecycleTooSlow { .. }));
    let small = warnings.iter().find(|remark| matches!(remark.kind, WarningKind::ChargeTooSmall { .. }));
    Summary { outcome, left_out, mind: slow.into_iter().chain(small).cloned().collect() }
}

fn lights(shots: &[ShotResult]) -> impl DoubleEndedIterator<Item = (&str, &RoleResult)> {
    shots.iter().flat_map(|shot| shot.lights.iter().map(move |light| (shot.name.as_str(), light)))
}

/// The item with the greatest `most`; of equal ones the first.
fn worst<T>(all: impl DoubleEndedIterator<Item = T>, most: impl Fn(&T) -> f64) -> Option<T> {
    all.rev().max_by(|a, b| most(a).total_cmp(&most(b)))
}

fn feasible(shots: &[ShotResult]) -> Outcome {
    let spare = |light: &RoleResult| light.headroom_stops.map_or(f64::INFINITY, Stops::get);
    let lack = |light: &RoleResult| light.may_lack().unwrap_or_default();
    let named = |shot: &str, light: &RoleResult, stops: f64| WorstLight {
        shot: shot.to_owned(),
        role: light.role.clone(),
        stops,
        others: 0,
    };
    let tightest = worst(lights(shots), |(_, light)| -spare(light));
    let doubtful = worst(lights(shots), |(_, light)| lack(light)).filter(|(_, light)| lack(light) > 0.0);
    let doubtful = doubtful.map(|(shot, light)| {
        if tightest.is_some_and(|(_, tightest)| std::ptr::eq(light, tightest)) {
            Doubtful::Tightest { lack_stops: lack(light) }
        } else {
            Doubtful::Other(named(shot, light, lack(light)))
        }
    });
    let excess = |light: &RoleResult| light.may_exceed().unwrap_or_default();
    let doubtful = doubtful.or_else(|| {
        let strongest = worst(lights(shots), |(_, light)| excess(light));
        let (shot, light) = strongest.filter(|(_, light)| excess(light) > 0.0)?;
        Some(Doubtful::TooStrong(named(shot, light, excess(light))))
    });
    let tightest = tightest.map(|(shot, light)| named(shot, light, spare(light)));
    Outcome::Feasible { shots: shots.len(), tightest, doubtful }
}

fn infeasible(shots: &[ShotResult], missing: &[Missing]) -> Outcome {
    let named = |shot: &str, role: &str, stops: f64, all: usize| WorstLight {
        shot: shot.to_owned(),
        role: role.to_owned(),
        stops,
        others: all - 1,
    };
    let lacking = |all: &[&Missing], most: &dyn Fn(&Missing) -> f64| {
        let found = worst(all.iter().copied(), |lack| most(lack))?;
        Some((named(&found.shot, &found.role, found.shortfall_stops.get(), all.len()), found.energy_j))
    };
    let (weak, left): (Vec<&Missing>, Vec<&Missing>) = missing.iter().partition(|lack| lack.has_unit);
    let without_unit = lacking(&left, &|lack| lack.guide_number_m.map_or(f64::INFINITY, GuideMetres::get));
    let too_weak = lacking(&weak, &|lack| lack.shortfall_stops.get());
    let strong: Vec<_> = lights(shots).filter(|(_, light)| light.is_too_strong()).collect();
    let strongest = worst(strong.iter(), |(_, light)| light.excess_stops.get());
    // Name a unit to borrow only if that alone is enough.
    let is_enough = missing.len() == 1 && strong.is_empty();
    let beyond = shots.iter().filter(|shot| !shot.feasible && shot.remedies.is_empty());
    Outcome::Infeasible {
        shots: shots.len(),
        missed: shots.iter().filter(|shot| !shot.feasible).count(),
        without_unit: without_unit.map(|(light, _)| light),
        enough_energy_j: too_weak
            .as_ref()
            .filter(|_| is_enough)
            .and_then(|(_, energy)| energy.map(Joules::get)),
        too_weak: too_weak.map(|(light, _)| light),
        is_set_by_pack: strongest.is_some_and(|(_, light)| light.is_set_by_pack()),
        too_strong: strongest
            .map(|(shot, light)| named(shot, &light.role, light.excess_stops.get(), strong.len())),
        without_remedy: beyond.map(|shot| shot.name.clone()).collect(),
    }
}
