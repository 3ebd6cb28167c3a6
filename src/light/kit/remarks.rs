//! Warnings about recycling and charges, and the summary for a booking page.

use crate::light::{
    kit::{Missing, Question, RoleResult, ShotResult},
    quantity::{GuideMetres, Stops, at_least, significant},
    remark::Remark,
    unit::keeps_up,
};

/// A unit that recycles too slowly, with the shots in which its figures are the same.
struct Slow<'q> {
    unit: &'q str,
    /// Recycle time of all its flashes in a frame, s.
    recycle: f64,
    flashes: u32,
    between: f64,
    shots: Vec<&'q str>,
}

/// Warnings about units that recycle too slowly for the frame interval or need more than one charge; the worst of each
/// kind first.
pub fn supply_warnings(question: &Question, shots: &[ShotResult]) -> Vec<Remark> {
    let mut slow: Vec<Slow<'_>> = Vec::new();
    let mut used = vec![0.0; question.kit.len()];
    for (shot, result) in question.shots.iter().zip(shots) {
        for (role, light) in shot.roles.iter().zip(&result.lights) {
            let index = question.kit.iter().position(|kit| light.unit.as_ref() == Some(&kit.name));
            let (Some(index), Some(setting)) = (index, &light.setting) else { continue };
            let (kit, fraction) = (&question.kit[index], setting.fraction.get());
            used[index] += f64::from(shot.pops) * f64::from(role.pops) * fraction;
            let recycle =
                kit.unit.feeding.recycle_s(setting.stops_below_full).map(|one| one * f64::from(role.pops));
            if let (Some(recycle), Some(between)) = (recycle, shot.seconds_between)
                && !keeps_up(recycle, between)
            {
                let flashes = role.pops;
                let new = Slow { unit: &kit.name, recycle, flashes, between, shots: vec![&shot.name] };
                match slow.iter_mut().find(|slow| slow.is_like(&new)) {
                    Some(slow) => slow.shots.extend(new.shots),
                    None => slow.push(new),
                }
            }
        }
    }
    slow.sort_by(|a, b| (b.recycle / b.between).total_cmp(&(a.recycle / a.between)));
    let slow = slow.iter().map(|slow| slow.warning(question.shots.len()));
    let charges = question.kit.iter().zip(used).filter_map(|(kit, used)| {
        let charges = used / kit.unit.feeding.pops_per_charge?;
        (charges > 1.0).then_some((&kit.name, charges))
    });
    let mut charges: Vec<_> = charges.collect();
    charges.sort_by(|a, b| b.1.total_cmp(&a.1));
    let charges = charges.into_iter().map(|(unit, charges)| {
        // Tenths, rounded up.
        let charges = significant((charges * 10.0 * (1.0 - 1e-9)).ceil() / 10.0);
        let text = format!("{unit} needs {charges} charges for its shots, with nothing in reserve.");
        Remark::new("charge_too_small", text)
    });
    slow.chain(charges).collect()
}

impl Slow<'_> {
    fn is_like(&self, other: &Self) -> bool {
        let alike = |a: f64, b: f64| (a - b).abs() < 1e-9;
        self.unit == other.unit
            && self.flashes == other.flashes
            && alike(self.recycle, other.recycle)
            && alike(self.between, other.between)
    }

    fn warning(&self, all_shots: usize) -> Remark {
        let Self { unit, recycle, flashes, between, shots } = self;
        let from_flashes = if *flashes > 1 { format!(" from {flashes} flashes") } else { String::new() };
        let text = format!(
            "In {} {unit} recycles in {} s{from_flashes}, which is slower than a frame every {} s.",
            shot_names(shots, all_shots),
            at_least(*recycle),
            significant(*between)
        );
        Remark::new("recycle_too_slow", text)
    }
}

/// The names of shots, the first few of many; a phrase if they are all of several.
fn shot_names(shots: &[&str], all_shots: usize) -> String {
    const NAMED: usize = 3;
    if shots.len() == all_shots && all_shots > 1 {
        return every_shot(all_shots);
    }
    let names = shots.iter().take(NAMED).map(|name| format!("\"{name}\""));
    let names = names.collect::<Vec<_>>().join(", ");
    match shots.len().saturating_sub(NAMED) {
        0 => names,
        1 => format!("{names} and one more shot"),
        more => format!("{names} and {more} more shots"),
    }
}

/// A phrase for all shots, with a small first letter.
fn every_shot(shots: usize) -> String {
    match shots {
        1 => "the shot".to_owned(),
        2 => "both shots".to_owned(),
        shots => format!("all {shots} shots"),
    }
}

/// The summary for a booking page. Of the `warnings` it repeats the worst about recycling and the worst about charges.
pub fn summary(shots: &[ShotResult], missing: &[Missing], warnings: &[Remark]) -> String {
    let lead = if shots.iter().all(|shot| shot.feasible) {
        feasible_summary(shots)
    } else {
        infeasible_summary(shots, missing)
    };
    let worst = |code| warnings.iter().find(|remark| remark.code == code).map(|remark| remark.text.as_str());
    let mind: Vec<&str> = ["recycle_too_slow", "charge_too_small"].into_iter().filter_map(worst).collect();
    if mind.is_empty() { lead } else { format!("{lead} Mind: {}", mind.join(" ")) }
}

fn lights(shots: &[ShotResult]) -> impl DoubleEndedIterator<Item = (&str, &RoleResult)> {
    shots.iter().flat_map(|shot| shot.lights.iter().map(move |light| (shot.name.as_str(), light)))
}

/// The item with the greatest `most`; of equal ones the first.
fn worst<T>(all: impl DoubleEndedIterator<Item = T>, most: impl Fn(&T) -> f64) -> Option<T> {
    all.rev().max_by(|a, b| most(a).total_cmp(&most(b)))
}

fn feasible_summary(shots: &[ShotResult]) -> String {
    let phrase = every_shot(shots.len());
    let (first, others) = phrase.split_at(1);
    let lead = format!("{}{others} can be done with this kit.", first.to_uppercase());
    let spare = |light: &RoleResult| light.headroom_stops.map_or(f64::INFINITY, Stops::get);
    let Some((shot, tightest)) = worst(lights(shots), |(_, light)| -spare(light)) else { return lead };
    let has = match spare(tightest) {
        ..0.05 => "nothing to spare".to_owned(),
        stops => format!("{stops:.1} stops to spare"),
    };
    let lead = format!("{lead} The tightest light, {} in \"{shot}\", has {has}", tightest.role);
    let lack = |light: &RoleResult| light.may_lack().unwrap_or_default();
    match worst(lights(shots), |(_, light)| lack(light)).map(|(shot, light)| (shot, light, lack(light))) {
        Some((_, light, lack)) if lack > 0.0 && std::ptr::eq(light, tightest) => {
            format!("{lead}, and may be {lack:.1} stops short.")
        }
        Some((shot, light, lack)) if lack > 0.0 => {
            format!("{lead}. {} in \"{shot}\" may be {lack:.1} stops short.", light.role)
        }
        _ => format!("{lead}."),
    }
}

fn infeasible_summary(shots: &[ShotResult], missing: &[Missing]) -> String {
    let short = shots.iter().filter(|shot| !shot.feasible).count();
    let lead = if shots.len() == 1 {
        "The shot cannot be done as asked.".to_owned()
    } else {
        format!("{short} of {} shots cannot be done as asked.", shots.len())
    };
    let strong = lights(shots).filter(|(_, light)| light.is_too_strong());
    let strong: Vec<_> = strong.map(|(shot, light)| (light.excess_stops.get(), shot, light)).collect();
    // Name a unit to borrow only if that alone is enough.
    let is_enough = missing.len() == 1 && strong.is_empty();
    let sentences =
        [none_left(missing), too_weak(missing, is_enough), too_strong(&strong), without_remedy(shots)];
    [lead].into_iter().chain(sentences.into_iter().flatten()).collect::<Vec<_>>().join(" ")
}

/// A sentence for the number of other lights with the same fault; empty if there are none.
fn more(count: usize, one: &str, several: &str) -> String {
    match count {
        0 => String::new(),
        1 => format!(" One more light {one}."),
        more => format!(" {more} more lights {several}."),
    }
}

fn none_left(missing: &[Missing]) -> Option<String> {
    let left: Vec<&Missing> = missing.iter().filter(|lack| !lack.has_unit).collect();
    let guide = |lack: &&&Missing| lack.guide_number_m.map_or(f64::INFINITY, GuideMetres::get);
    let Missing { shot, role, .. } = worst(left.iter(), guide)?;
    let more = more(left.len() - 1, "has none", "have none");
    Some(format!("In \"{shot}\" no unit is left for {role}.{more}"))
}

fn too_weak(missing: &[Missing], is_enough: bool) -> Option<String> {
    let weak = missing.iter().filter(|lack| lack.has_unit).map(|lack| (lack.shortfall_stops.get(), lack));
    let weak: Vec<_> = weak.collect();
    let (short, Missing { shot, role, energy_j, .. }) = worst(weak.iter(), |(short, _)| *short)?;
    let unit = energy_j.filter(|_| is_enough);
    let unit = unit.map_or_else(String::new, |energy| {
        format!("; a unit like its own of {} J would do", at_least(energy.get()))
    });
    let more = more(weak.len() - 1, "is short", "are short");
    Some(format!("In \"{shot}\" the light of {role} is {short:.1} stops short{unit}.{more}"))
}

fn too_strong(strong: &[(f64, &str, &RoleResult)]) -> Option<String> {
    let (much, shot, light) = worst(strong.iter(), |(much, ..)| *much)?;
    let more = more(strong.len() - 1, "is too strong", "are too strong");
    let role = &light.role;
    Some(format!(
        "In \"{shot}\" the light of {role} is {much:.1} stops too strong at its least setting.{more}"
    ))
}

/// A sentence for the infeasible shots without a remedy; `None` if there are none.
fn without_remedy(shots: &[ShotResult]) -> Option<String> {
    let beyond: Vec<&str> = shots
        .iter()
        .filter(|shot| !shot.feasible && shot.remedies.is_empty())
        .map(|shot| shot.name.as_str())
        .collect();
    let (first, is_only) = (beyond.first()?, shots.len() == 1);
    Some(match beyond.len() {
        _ if is_only => "No single change that would do it was found within the limits.".to_owned(),
        1 => format!("For \"{first}\" no single change that would do it was found within the limits."),
        many => format!("For {many} shots no single change that would do it was found within the limits."),
    })
}
