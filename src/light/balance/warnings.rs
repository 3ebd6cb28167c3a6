//! Warnings of a balance.

use crate::light::{
    balance::{
        Balance, PointRatio, Question,
        problem::Problem,
        ratio::{Counting, LightingRatio},
        reduce::reaches_a_point,
        search::Objective,
        setup::{Control, Set},
    },
    quantity::{Stops, nominal::format_stops},
    remark::{Remark, listed},
    set::Light,
};

/// The most missed ratios that are listed one by one.
const MAX_LISTED_RATIOS: usize = 3;
/// The most lights that are listed by name.
const MAX_LISTED_LIGHTS: usize = 8;

/// The warnings of an answer. `is_possible`: some lights could make the requested ratio, if there is one.
/// `weights_exceed_tolerance`: other settings keep every point within the tolerance, but the weights prefer these.
pub fn warnings(
    question: &Question,
    answer: &Balance,
    is_possible: bool,
    weights_exceed_tolerance: bool,
) -> Vec<Remark> {
    let set = &question.set;
    let is_continuous =
        |(lamp, control): (&Light, &Control)| lamp.unit.scale.is_continuous() && control.fixed.is_none();
    let has_continuous = set.scene.lights.iter().zip(&set.controls).any(is_continuous);
    let no_key = |ratio: LightingRatio| matches!(ratio.counting, Counting::Sides) && ratio.value - 1.0 < 1e-9;
    let untried = if answer.remedies_complete { "" } else { "not every one was tried to the end, " };
    let no_remedy = format!(
        "No single change that would do it was found within the limits: {}{untried}the limits may be too tight, or the targets contradict each other. Add a light, flag one off from a point, or relax a target.",
        fixed_clause(question)
    );
    let unrated = set.scene.lights.iter().any(|lamp| lamp.unit.energy.is_none());
    let candidates = [
        (
            has_continuous,
            "continuous_scale",
            "A unit states no scale: it is taken as continuously variable over 8 stops, and searched in hundredths of a stop.",
        ),
        (
            !answer.optimality.proven,
            "not_proven",
            "The time limit ended the search: better settings may exist, but none with a worst error under the lower bound.",
        ),
        (!answer.feasible && answer.remedies.is_empty(), "no_single_remedy", &no_remedy),
        (
            question.ratio.is_some_and(no_key),
            "no_key_at_all",
            "1:1 counted by sides is fill alone. For two equal lights ask for 1:1 counted by lights, which is 2:1 counted by sides.",
        ),
        (
            !is_possible,
            "no_lights_make_it",
            "The ambient light alone gives the lit side what it wants: no lights make the ratio.",
        ),
        (
            weights_exceed_tolerance,
            "weights_over_tolerance",
            "Other settings keep every point within the tolerance; by the weights these are better. Ask for even weights, or for least_energy.",
        ),
        (
            matches!(question.prefer, Objective::LeastEnergy { .. }) && unrated,
            "energy_estimated",
            "A unit states no energy: for the least energy it counts by an estimate from its guide number.",
        ),
        (
            answer.assumptions.iter().any(|assumption| assumption.name == "guide_number_m"),
            "beam_estimated",
            "A beam was estimated from energy and coverage; meter each light alone and send readings for settings to trust.",
        ),
    ];
    let warnings =
        candidates.into_iter().filter(|(holds, ..)| *holds).map(|(_, code, text)| Remark::new(code, text));
    let scope = (!answer.remedies.is_empty()).then(|| remedies_within_tolerance(question.tolerance));
    let missed = missed_ratios(question, answer);
    scope.into_iter().chain(missed).chain(warnings).collect()
}

/// Lights that reach none of the points, so that their effect is unknown.
pub fn idle_lights(set: &Set, problem: &Problem) -> Option<Remark> {
    let lights = set.scene.lights.iter().enumerate();
    let idle: Vec<String> = lights
        .filter(|(light, _)| !reaches_a_point(problem, *light))
        .map(|(_, lamp)| lamp.name.clone())
        .collect();
    (!idle.is_empty()).then(|| {
        Remark::new(
            "light_reaches_no_point",
            format!(
                "Reaches no point: {}. What does not matter here takes as little energy as it may. Add a reading or a placement, or leave it out.",
                listed(idle.into_iter(), MAX_LISTED_LIGHTS)
            ),
        )
    })
}

/// The lights with a fixed setting, as the beginning of a clause; empty if there are none.
fn fixed_clause(question: &Question) -> String {
    let set = &question.set;
    let lights = set.scene.lights.iter().zip(&set.controls);
    let fixed: Vec<&str> =
        lights.filter(|(_, control)| control.fixed.is_some()).map(|(lamp, _)| lamp.name.as_str()).collect();
    match fixed.as_slice() {
        [] => String::new(),
        [one] => format!("{one} is fixed, "),
        several => format!("{} are fixed, ", several.join(", ")),
    }
}

/// States that remedies bring points within the tolerance, and perhaps no closer.
fn remedies_within_tolerance(tolerance: Stops) -> Remark {
    Remark::new(
        "remedies_within_tolerance",
        format!(
            "Each remedy brings every point within {} (the tolerance) of what is then wanted, and perhaps no nearer. A smaller tolerance asks for remedies that come nearer.",
            format_stops(tolerance.get())
        ),
    )
}

/// Ratios farther from their target than the tolerance. Each point may still be within it: a ratio adds the errors of
/// two points, and ambient light masks the lights.
fn missed_ratios(question: &Question, answer: &Balance) -> Option<Remark> {
    let asked = answer.ratio.as_ref().map(|pair| match pair.counting {
        Counting::Sides => ("lit side to shadow side".to_owned(), &pair.sides),
        Counting::Lights => ("key alone to fill alone".to_owned(), &pair.lights),
    });
    let asked = asked.and_then(|(what, pair)| Some((what, pair.target?, pair.achieved)));
    let between = answer.points.iter().filter_map(|point| {
        let PointRatio { to, target, achieved } = point.ratio.as_ref()?;
        Some((format!("{to} to {}", point.name), *target, *achieved))
    });
    let far = asked.into_iter().chain(between).filter(|(_, target, achieved)| {
        achieved.is_none_or(|got| !question.tolerates((got.get() / target.get()).log2()))
    });
    let texts: Vec<String> = far
        .map(|(what, target, achieved)| {
            let got = achieved.map_or_else(|| "nothing".to_owned(), |got| format!("{:.2}:1", got.get()));
            format!("{what} is {got}, not {:.2}:1", target.get())
        })
        .collect();
    (!texts.is_empty()).then(|| {
        let list = listed(texts.into_iter(), MAX_LISTED_RATIOS);
        Remark::new("ratio_missed", format!("Farther off than the tolerance: {list}."))
    })
}
