//! What is said of a kit in words.

use crate::{
    drawing::{
        canvas::text::{fixed, with_sign},
        kit::bars,
    },
    light::{
        kit::{KitCheck, Missing, Question, RoleResult, ShotResult},
        quantity::{at_least, nominal::stops_said},
        remark::{Change, Remedy, listed},
    },
};

/// Lights, shots and remedies that are told.
const TOLD: usize = 6;
const REMEDIES: usize = 2;
/// Lights that are told one by one in the description.
const DESCRIBED: usize = 40;
/// Letters of the names of shots in one list.
const LISTED: usize = 400;

/// What a light has to spare, or how it misses.
pub fn worded(light: &RoleResult) -> String {
    match light.headroom_stops {
        Some(spare) => format!("{} to spare", fixed(spare.get())),
        None if light.unit.is_none() => "no unit left".to_owned(),
        None if light.is_too_strong() => format!("{} too strong", fixed(light.excess_stops.get())),
        None => format!("lacks {}", fixed(light.shortfall_stops.get())),
    }
}

/// From where to where that may be.
pub fn range(light: &RoleResult) -> Option<String> {
    bars::whisker(light).map(|[low, high]| format!("{} to {}", with_sign(fixed(low)), with_sign(fixed(high))))
}

/// Whether a shot is reached.
pub fn verdict(shot: &ShotResult) -> String {
    let missed = shot.lights.iter().filter(|light| light.is_missed()).count();
    if missed > 0 {
        return format!("not reached: {missed} of {}", shot.lights.len());
    }
    if shot.is_doubtful() { "reached, perhaps not" } else { "reached" }.to_owned()
}

/// Which of several shots are not reached, and which perhaps not. The summary names one alone, and tells where none is
/// reached.
pub fn indices(answer: &KitCheck) -> Vec<String> {
    let missed: Vec<&ShotResult> = answer.shots.iter().filter(|shot| !shot.feasible).collect();
    let doubtful: Vec<&ShotResult> = answer.shots.iter().filter(|shot| shot.is_doubtful()).collect();
    let all = answer.shots.len();
    let mut told = Vec::new();
    if (2..all).contains(&missed.len()) {
        told.push(format!("Not reached: {}.", names(&missed)));
    }
    if doubtful.len() > 1 {
        let which = if doubtful.len() == all { format!("any of the {all} shots") } else { names(&doubtful) };
        told.push(format!("Perhaps not reached: {which}."));
    }
    told
}

/// The names of shots, as many as are read.
fn names(shots: &[&ShotResult]) -> String {
    let mut used = 0;
    let fit = shots.iter().take_while(|shot| {
        used += shot.name.chars().count() + 2;
        used <= LISTED
    });
    let fit = fit.count().max(1);
    listed(shots.iter().map(|shot| shot.name.clone()), fit)
}

/// Some lines under a heading, of more that there are.
pub struct Few {
    /// What they tell.
    pub heading: &'static str,
    /// The first of them.
    pub told: Vec<String>,
    /// How many more there are.
    pub more: usize,
}

impl Few {
    /// The worst of all, by stops.
    fn worst(heading: &'static str, mut all: Vec<(f64, String)>) -> Self {
        all.sort_by(|a, b| b.0.total_cmp(&a.0));
        let more = all.len().saturating_sub(TOLD);
        Self { heading, told: all.into_iter().take(TOLD).map(|(_, told)| told).collect(), more }
    }
}

/// What is missing, what is too strong, what would do it, and where nothing would.
pub fn faults(answer: &KitCheck) -> Vec<Few> {
    let lack = |lack: &Missing| if lack.has_unit { lack.shortfall_stops.get() } else { f64::INFINITY };
    let missing = answer.missing.iter().map(|missing| (lack(missing), lacked(missing)));
    let lights = answer.shots.iter().flat_map(|shot| shot.lights.iter().map(move |light| (shot, light)));
    let strong = lights.filter(|(_, light)| light.is_too_strong()).filter_map(|(shot, light)| {
        let (much, setting) = (light.excess_stops.get(), light.setting.as_ref()?);
        let said = format!(
            "\"{}\" in \"{}\": {} stops too strong at its least setting, {}.",
            light.role,
            shot.name,
            fixed(much),
            setting.label
        );
        Some((much, said))
    });
    let beyond: Vec<&ShotResult> =
        answer.shots.iter().filter(|shot| !shot.feasible && shot.remedies.is_empty()).collect();
    // One alone is told by the summary.
    let beyond = if beyond.len() > 1 { vec![format!("{}.", names(&beyond))] } else { Vec::new() };
    vec![
        Few::worst("What is missing", missing.collect()),
        Few::worst("What is too strong", strong.collect()),
        remedied(answer),
        Few {
            heading: "No single change that would do it was found within the limits",
            told: beyond,
            more: 0,
        },
    ]
}

fn lacked(missing: &Missing) -> String {
    let short = if missing.has_unit {
        format!("lacks {}", stops_said(missing.shortfall_stops.get()))
    } else {
        "no unit is left".to_owned()
    };
    let energy = missing.energy_j.map(|energy| format!("a unit of {} J", at_least(energy.get())));
    let guide = missing.guide_number_m.map(|guide| {
        let feet = missing
            .guide_number_ft
            .map_or_else(String::new, |feet| format!(" ({} ft)", at_least(feet.get())));
        format!("guide number {} m{feet}", at_least(guide.get()))
    });
    let would = [energy, guide].into_iter().flatten().collect::<Vec<_>>().join(", or ");
    let would = if would.is_empty() { would } else { format!("; {would} would do") };
    format!("\"{}\" in \"{}\": {short}{would}.", missing.role, missing.shot)
}

fn remedied(answer: &KitCheck) -> Few {
    let shots = || answer.shots.iter().filter(|shot| !shot.remedies.is_empty());
    // What to borrow is told of what is missing.
    let said = |remedy: &Remedy| match remedy.change {
        Change::Unit => "Borrow what is missing.".to_owned(),
        _ => remedy.detail.clone(),
    };
    let told = shots().take(TOLD).flat_map(|shot| {
        let told = shot.remedies.iter().take(REMEDIES);
        told.map(|remedy| format!("In \"{}\": {}", shot.name, said(remedy)))
    });
    let told: Vec<String> = told.collect();
    let more = shots().map(|shot| shot.remedies.len()).sum::<usize>() - told.len();
    Few { heading: "One of these would do it, for each shot", told, more }
}

/// The picture for those who do not see it; of many lights those first that are not reached.
pub fn description(question: &Question, answer: &KitCheck) -> String {
    let lights = answer.shots.iter().zip(&question.shots).flat_map(|(told, shot)| {
        let exposure = shot.exposure.said(None, question.step);
        told.lights.iter().map(move |light| (light, described(told, light, &exposure)))
    });
    let mut lights: Vec<(&RoleResult, String)> = lights.collect();
    if lights.len() > DESCRIBED {
        lights.sort_by_key(|(light, _)| !light.is_missed());
    }
    let lights = lights.into_iter().map(|(_, said)| said);
    format!("{} Lights: {}.", answer.summary, listed(lights, DESCRIBED))
}

fn described(shot: &ShotResult, light: &RoleResult, exposure: &str) -> String {
    let dialled = match (&light.unit, &light.setting) {
        (Some(unit), Some(setting)) => format!("{unit} at {}, ", setting.label),
        _ => String::new(),
    };
    let range = range(light).map_or_else(String::new, |range| format!(" ({range})"));
    let doubt = if light.may_lack().is_some() { ", perhaps not reached" } else { "" };
    let moved = if light.moved { ", moved here" } else { "" };
    format!("{} in {} ({exposure}): {dialled}{}{range}{doubt}{moved}", light.role, shot.name, worded(light))
}
