//! The results of a choice of settings: settings, points, ratios, clicks, cautions.

use crate::light::{
    balance::{
        BalanceQuestion, Click, Clicks, LightSetting, PointRatio, PointResult, problem::Point,
        search::Solution, setup::Prepared,
    },
    error::{Field, Part},
    quantity::{Number, Stops, nominal::Nominal},
    remedy::{Edit, NewValue, Patch},
    set::{Light, MeteringPoint, Scene, edit::OFF, target::Target},
    uncertainty::sureness::Sureness,
};

/// The setting of each light.
pub fn settings(scene: &Scene, below: &[Option<Stops>]) -> Vec<LightSetting> {
    let lights = scene.lights.iter().zip(below);
    lights
        .map(|(light, below)| LightSetting {
            light: light.name.clone(),
            light_id: light.id.clone(),
            setting: below.map(|below| light.unit.setting(below)),
            light_mired: light.mired(),
            frame_share: light.frame_share(scene.shutter()),
        })
        .collect()
}

/// How sure the light at each point is.
pub fn sureness(question: &BalanceQuestion, prepared: &Prepared, found: &Solution) -> Sureness {
    let scene = &question.scene;
    let powers: Vec<f64> =
        (0..scene.lights.len()).map(|light| prepared.power(&found.choice, light)).collect();
    let error = |point: &Point| (prepared.problem.achieved(&found.choice, point) / point.target).log2();
    let errors: Vec<f64> = prepared.problem.metered().map(error).collect();
    Sureness::of_set(scene, &prepared.lit, &powers, &errors, question.tolerance)
}

/// The light at each point. The two-light shorthand has a result of its own for its ratio.
pub fn points(
    question: &BalanceQuestion,
    prepared: &Prepared,
    found: &Solution,
    sure: &Sureness,
) -> Vec<PointResult> {
    let BalanceQuestion { scene, rules, .. } = question;
    let light_at = |point: usize| prepared.problem.achieved(&found.choice, &prepared.problem.points[point]);
    let ratio = |point: &MeteringPoint, light: f64| {
        let Some(Target::Ratio { ratio, to }) = point.target.filter(|_| scene.ratio.is_none()) else {
            return None;
        };
        Some(PointRatio {
            to: scene.points[to].name.clone(),
            to_id: scene.points[to].id.clone(),
            target: Number::new_unchecked(ratio),
            achieved: (light > 0.0).then(|| Number::new_unchecked(light_at(to) / light)),
        })
    };
    // Targets are in the picture, light is measured before the lens.
    let working = scene.exposure.f_number.squared() / scene.lens_stops().exp2();
    scene
        .points
        .iter()
        .zip(&prepared.problem.points)
        .enumerate()
        .map(|(index, (asked, point))| {
            let light = prepared.problem.achieved(&found.choice, point);
            let error = point.error_stops(light);
            let missed = if question.tolerates(error) { 0.0 } else { error };
            let target = (point.target / working).log2();
            PointResult {
                id: asked.id.clone(),
                name: asked.name.clone(),
                target_stops: Stops::new_unchecked(target),
                target_side: asked.target_side(),
                achieved_stops: Stops::new_unchecked(target + point.stops_above(light)),
                error_stops: Stops::new_unchecked(error),
                shortfall_stops: Stops::new_unchecked((-missed).max(0.0)),
                excess_stops: Stops::new_unchecked(missed.max(0.0)),
                f_number: (light > 0.0).then(|| Nominal::f_number(scene.metered(light), rules.step)),
                ratio: ratio(asked, light),
                uncertainty: sure.points[index].clone(),
                chance_within_tolerance: sure.chances[index],
            }
        })
        .collect()
}

/// The settings, as a change of the set. Lights without a choice are left as they are.
pub fn patch(scene: &Scene, below: &[Option<Stops>]) -> Patch {
    let lights = scene.lights.iter().enumerate().filter(|(_, light)| light.control.is_open());
    let edit = |(index, light): (usize, &Light)| {
        let label = below[index].map_or_else(|| OFF.to_owned(), |below| light.unit.scale.label(below));
        Edit::new(Part::Light(index, Some(Field::Setting)), NewValue::Label(label))
    };
    lights.map(edit).collect::<Vec<_>>().into()
}

/// The effect of one click up and one click down of each light. That of a light whose pack has one setting is a click of the
/// pack. No click takes more than a pack has.
pub fn clicks(scene: &Scene, prepared: &Prepared, found: &Solution) -> Vec<Clicks> {
    let problem = &prepared.problem;
    let light_at = |choice: &[usize]| -> Vec<f64> {
        problem.metered().map(|point| problem.achieved(choice, point)).collect()
    };
    let now = light_at(&found.choice);
    let click = |light: usize, to: Option<usize>| {
        let variable = prepared.variables[light];
        let setting = *prepared.settings[variable].get(to?)?;
        let mut choice = found.choice.clone();
        choice[variable] = to?;
        if !problem.is_within_limits(&choice) {
            return None;
        }
        let then = light_at(&choice);
        Some(Click {
            label: setting.map(|below| scene.lights[light].unit.scale.label(below)),
            change_stops: now
                .iter()
                .zip(then)
                .map(|(&now, then)| {
                    (now > 0.0 && then > 0.0).then(|| Stops::new_unchecked((then / now).log2()))
                })
                .collect(),
        })
    };
    let lights = scene.lights.iter().enumerate();
    lights
        .map(|(light, named)| {
            let index = found.choice[prepared.variables[light]];
            Clicks {
                light: named.name.clone(),
                light_id: named.id.clone(),
                up: click(light, index.checked_sub(1)),
                down: click(light, Some(index + 1)),
            }
        })
        .collect()
}
