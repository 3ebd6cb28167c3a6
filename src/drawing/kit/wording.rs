//! The text of a kit drawing: labels, lists and the description.

use crate::{
    drawing::{
        canvas::text::{fixed, with_sign},
        kit::bars,
    },
    light::{
        kit::{KitCheck, Missing, Question, RoleResult, ShotResult},
        quantity::{at_least, nominal::format_stops},
        remedy::{Change, Remedy},
    },
    wording::{format::listed, phrases::kit_summary},
};

/// The most lines of a list, and the most remedies of a shot.
const MAX_LINES: usize = 6;
const MAX_REMEDIES: usize = 2;
/// The most lights in the description.
const MAX_DESCRIBED: usize = 40;
/// The most characters in a list of shot names.
const MAX_NAME_CHARS: usize = 400;

/// A light's headroom, shortfall or excess.
pub fn margin(light: &RoleResult) -> String {
    match light.headroom_stops {
        Some(spare) => format!("{} to spare", fixed(spare.get())),
        None if light.unit.is_none() => "no unit left".to_owned(),
        None if light.is_too_strong() => format!("{} too strong", fixed(light.excess_stops.get())),
        None => format!("lacks {}", fixed(light.shortfall_stops.get())),
    }
}

/// The uncertainty of that, or `None` if it has none.
pub fn uncertainty_range(light: &RoleResult) -> Option<String> {
    bars::error_bar(light)
        .map(|[low, high]| format!("{} to {}", with_sign(fixed(low)), with_sign(fixed(high))))
}

/// Whether a shot is reached.
pub fn verdict(shot: &ShotResult) -> String {
    let missed = shot.lights.iter().filter(|light| light.is_missed()).count();
    if missed > 0 {
        return format!("not reached: {missed} of {}", shot.lights.len());
    }
    if shot.is_doubtful() { "reached, perhaps not" } else { "reached" }.to_owned()
}

/// The names of the shots that are not reached, and of those that are perhaps not. Omitted where the summary already
/// says it: if a single shot is concerned, or if none is reached.
pub fn shot_lists(answer: &KitCheck) -> Vec<String> {
    let missed: Vec<&ShotResult> = answer.shots.iter().filter(|shot| !shot.feasible).collect();
    let doubtful: Vec<&ShotResult> = answer.shots.iter().filter(|shot| shot.is_doubtful()).collect();
    let all = answer.shots.len();
    let mut lines = Vec::new();
    if (2..all).contains(&missed.len()) {
        lines.push(format!("Not reached: {}.", names(&missed)));
    }
    if doubtful.len() > 1 {
        let which = if doubtful.len() == all { format!("any of the {all} shots") } else { names(&doubtful) };
        lines.push(format!("Perhaps not reached: {which}."));
    }
    lines
}

/// The names of shots, limited to [`MAX_NAME_CHARS`].
fn names(shots: &[&ShotResult]) -> String {
    let mut used = 0;
    let fit = shots.iter().take_while(|shot| {
        used += shot.name.chars().count() + 2;
        used <= MAX_NAME_CHARS
    });
    let fit = fit.count().max(1);
    listed(shots.iter().map(|shot| shot.name.clone()), fit)
}

/// The first lines of a list, under a heading.
pub struct TextList {
    /// The heading.
    pub heading: &'static str,
    /// The lines that are shown.
    pub lines: Vec<String>,
    /// The number of lines that are not shown.
    pub more: usize,
}

impl TextList {
    /// The worst items by stops.
    fn worst(heading: &'static str, mut all: Vec<(f64, String)>) -> Self {
        all.sort_by(|a, b| b.0.total_cmp(&a.0));
        let more = all.len().saturating_sub(MAX_LINES);
        Self { heading, lines: all.into_iter().take(MAX_LINES).map(|(_, line)| line).collect(), more }
    }
}

/// Lists of missing light, of excess light, of remedies, and of shots without a remedy.
pub fn problem_lists(answer: &KitCheck) -> Vec<TextList> {
    let severity =
        |missing: &Missing| if missing.has_unit { missing.shortfall_stops.get() } else { f64::INFINITY };
    let missing = answer.missing.iter().map(|missing| (severity(missing), missing_line(missing)));
    let lights = answer.shots.iter().flat_map(|shot| shot.lights.iter().map(move |light| (shot, light)));
    let too_strong = lights.filter(|(_, light)| light.is_too_strong()).filter_map(|(shot, light)| {
        let (stops, setting) = (light.excess_stops.get(), light.setting.as_ref()?);
        let line = format!(
            "\"{}\" in \"{}\": {} stops too strong at its least setting, {}.",
            light.role,
            shot.name,
            fixed(stops),
            setting.label
        );
        Some((stops, line))
    });
    let without_remedy: Vec<&ShotResult> =
        answer.shots.iter().filter(|shot| !shot.feasible && shot.remedies.is_empty()).collect();
    // The summary names a single one.
    let without_remedy =
        if without_remedy.len() > 1 { vec![format!("{}.", names(&without_remedy))] } else { Vec::new() };
    vec![
        TextList::worst("What is missing", missing.collect()),
        TextList::worst("What is too strong", too_strong.collect()),
        remedy_list(answer),
        TextList {
            heading: "No single change that would do it was found within the limits",
            lines: without_remedy,
            more: 0,
        },
    ]
}

fn missing_line(missing: &Missing) -> String {
    let short = if missing.has_unit {
        format!("lacks {}", format_stops(missing.shortfall_stops.get()))
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
    let enough = [energy, guide].into_iter().flatten().collect::<Vec<_>>().join(", or ");
    let enough = if enough.is_empty() { enough } else { format!("; {enough} would do") };
    format!("\"{}\" in \"{}\": {short}{enough}.", missing.role, missing.shot)
}

fn remedy_list(answer: &KitCheck) -> TextList {
    let shots = || answer.shots.iter().filter(|shot| !shot.remedies.is_empty());
    // The list of what is missing already says what to borrow.
    let remedy_text = |remedy: &Remedy| match remedy.change {
        Change::Unit => "Borrow what is missing.".to_owned(),
        _ => remedy.detail.clone(),
    };
    let lines = shots().take(MAX_LINES).flat_map(|shot| {
        let remedies = shot.remedies.iter().take(MAX_REMEDIES);
        remedies.map(|remedy| format!("In \"{}\": {}", shot.name, remedy_text(remedy)))
    });
    let lines: Vec<String> = lines.collect();
    let more = shots().map(|shot| shot.remedies.len()).sum::<usize>() - lines.len();
    TextList { heading: "One of these would do it, for each shot", lines, more }
}

/// The description for screen readers. If there are many lights, those that are not reached come first.
pub fn description(question: &Question, answer: &KitCheck) -> String {
    let lights = answer.shots.iter().zip(&question.shots).flat_map(|(result, shot)| {
        let exposure = shot.exposure.said(None, question.step);
        result.lights.iter().map(move |light| (light, light_description(result, light, &exposure)))
    });
    let mut lights: Vec<(&RoleResult, String)> = lights.collect();
    if lights.len() > MAX_DESCRIBED {
        lights.sort_by_key(|(light, _)| !light.is_missed());
    }
    let lights = lights.into_iter().map(|(_, text)| text);
    format!("{} Lights: {}.", kit_summary(&answer.summary), listed(lights, MAX_DESCRIBED))
}

fn light_description(shot: &ShotResult, light: &RoleResult, exposure: &str) -> String {
    let setting = match (&light.unit, &light.setting) {
        (Some(unit), Some(setting)) => format!("{unit} at {}, ", setting.label),
        _ => String::new(),
    };
    let range = uncertainty_range(light).map_or_else(String::new, |range| format!(" ({range})"));
    let perhaps = if light.may_lack().is_some() { ", perhaps not reached" } else { "" };
    let moved = if light.moved { ", moved here" } else { "" };
    format!("{} in {} ({exposure}): {setting}{}{range}{perhaps}{moved}", light.role, shot.name, margin(light))
}
