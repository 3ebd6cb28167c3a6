//! The lists in a kit drawing, each limited to what fits, and the description.

use crate::{
    drawing::kit::bars,
    light::kit::{KitCheck, KitQuestion, Missing, RoleResult, ShotResult},
    wording::{
        format::{self, listed},
        phrases::kit_picture,
    },
};

/// The most lines of a list.
const MAX_LINES: usize = 6;
/// The most remedies of a shot, where few shots need one, and where many do.
const MAX_REMEDIES: [usize; 2] = [2, 1];
/// The most lights in the description.
const MAX_DESCRIBED: usize = 40;
/// The most characters in a list of shot names.
const MAX_NAME_CHARS: usize = 400;

/// The names of the shots that are not reached, and of those that are perhaps not. Omitted where the summary already
/// says it: if a single shot is concerned, or if none is reached.
pub fn shot_lists(answer: &KitCheck) -> Vec<String> {
    let missed: Vec<&ShotResult> = answer.shots.iter().filter(|shot| !shot.feasible).collect();
    let doubtful: Vec<&ShotResult> = answer.shots.iter().filter(|shot| shot.is_doubtful()).collect();
    let all = answer.shots.len();
    let mut lines = Vec::new();
    if (2..all).contains(&missed.len()) {
        lines.push(kit_picture::not_reached(&names(&missed)));
    }
    if doubtful.len() > 1 {
        let which = (doubtful.len() < all).then(|| names(&doubtful));
        lines.push(kit_picture::perhaps_not_reached(which.as_deref(), all));
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

/// The list of missing light.
pub fn missing(answer: &KitCheck) -> TextList {
    let severity =
        |missing: &Missing| if missing.has_unit { missing.shortfall_stops.get() } else { f64::INFINITY };
    let missing =
        answer.missing.iter().map(|missing| (severity(missing), kit_picture::missing_line(missing)));
    TextList::worst(kit_picture::MISSING, missing.collect())
}

/// The lists of remedies, and of shots without one.
pub fn remedies(answer: &KitCheck) -> Vec<TextList> {
    let without_remedy: Vec<&ShotResult> =
        answer.shots.iter().filter(|shot| !shot.feasible && shot.remedies.is_empty()).collect();
    // The summary names a single one.
    let without_remedy = if without_remedy.len() > 1 {
        vec![kit_picture::shots_line(&names(&without_remedy))]
    } else {
        Vec::new()
    };
    vec![remedy_list(answer), TextList { heading: kit_picture::NO_REMEDY, lines: without_remedy, more: 0 }]
}

fn remedy_list(answer: &KitCheck) -> TextList {
    let shots = || answer.shots.iter().filter(|shot| !shot.remedies.is_empty());
    let of_each = MAX_REMEDIES[usize::from(shots().nth(MAX_REMEDIES[0]).is_some())];
    let lines = shots().take(MAX_LINES).flat_map(|shot| {
        let remedies = shot.remedies.iter().take(of_each);
        remedies.map(|remedy| kit_picture::remedy_line(&shot.name, remedy))
    });
    let lines: Vec<String> = lines.collect();
    let more = shots().map(|shot| shot.remedies.len()).sum::<usize>() - lines.len();
    TextList { heading: kit_picture::REMEDIES, lines, more }
}

/// The description for screen readers. If there are many lights, those that are not reached come first.
pub fn description(summary: &str, question: &KitQuestion, answer: &KitCheck) -> String {
    let lights = answer.shots.iter().zip(&question.shots).flat_map(|(result, shot)| {
        let exposure = format::exposure(shot.exposure, None, question.rules.step);
        let line = move |light: &RoleResult| {
            kit_picture::light_line(&result.name, light, &exposure, bars::error_bar(light))
        };
        result.lights.iter().map(move |light| (light, line(light)))
    });
    let mut lights: Vec<(&RoleResult, String)> = lights.collect();
    if lights.len() > MAX_DESCRIBED {
        lights.sort_by_key(|(light, _)| !light.is_missed());
    }
    let lights = lights.into_iter().map(|(_, text)| text);
    kit_picture::description(summary, &listed(lights, MAX_DESCRIBED))
}
