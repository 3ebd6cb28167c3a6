//! The results of a choice of settings: settings, points, ratios, clicks, cautions.

use crate::light::{
    balance::{
        Click, Clicks, LightSetting, PointRatio, PointResult,
        search::Solution,
        setup::{PointTarget, Prepared, Set, Target},
    },
    quantity::{Estimate, Number, Stops, nominal::Nominal},
    remark::Remark,
    set::predict::Spread,
};

/// The setting of each light.
pub fn settings(set: &Set, prepared: &Prepared, found: &Solution) -> Vec<LightSetting> {
    set.scene
        .lights
        .iter()
        .zip(&prepared.settings)
        .zip(&found.choice)
        .map(|((light, settings), &index)| LightSetting {
            id: light.id.clone(),
            light: light.name.clone(),
            setting: settings[index].map(|below| light.unit.setting(below)),
            off: settings[index].is_none().then_some(true),
        })
        .collect()
}

/// The light at each point. `has_ratios` is false for the two-light shorthand, whose ratio has a result of its own.
pub fn points(set: &Set, prepared: &Prepared, found: &Solution, has_ratios: bool) -> Vec<PointResult> {
    let light_at = |point: usize| prepared.problem.achieved(&found.choice, &prepared.problem.points[point]);
    let ratio = |point_target: &PointTarget, light: f64| {
        let Target::Ratio { ratio, to } = &point_target.target else { return None };
        let other = light_at(set.scene.point(to)?);
        Some(PointRatio {
            to: to.clone(),
            target: Number::new_unchecked(*ratio),
            achieved: (light > 0.0).then(|| Number::new_unchecked(other / light)),
        })
    };
    let working = set.scene.exposure.f_number.squared();
    set.scene
        .points
        .iter()
        .zip(&prepared.problem.points)
        .zip(&prepared.lit.gain)
        .zip(&set.point_targets)
        .map(|(((asked, point), gain), point_target)| {
            let light_with = |end: fn(&Estimate<f64>) -> f64| {
                let lights = prepared.problem.lights.iter().zip(&found.choice).zip(gain);
                let lights = lights.map(|((levels, &index), gain)| end(gain) * levels.power[index]);
                point.ambient + lights.sum::<f64>()
            };
            let estimate = Estimate {
                low: light_with(|g| g.low),
                typical: light_with(|g| g.typical),
                high: light_with(|g| g.high),
            };
            let light = prepared.problem.achieved(&found.choice, point);
            let error = point.error_stops(light);
            let target = (point.target / working).log2();
            PointResult {
                id: asked.id.clone(),
                name: asked.name.clone(),
                target_stops: Stops::new_unchecked(target),
                achieved_stops: Stops::new_unchecked(target + error),
                error_stops: Stops::new_unchecked(error),
                f_number: (light > 0.0).then(|| Nominal::f_number(set.scene.metered(light), set.step)),
                ratio: ratio(point_target, light).filter(|_| has_ratios),
                uncertainty_stops: Spread::of(estimate),
            }
        })
        .collect()
}

/// The effect of one click up and one click down of each light.
pub fn clicks(set: &Set, prepared: &Prepared, found: &Solution) -> Vec<Clicks> {
    let problem = &prepared.problem;
    let light_at = |choice: &[usize]| -> Vec<f64> {
        problem.points.iter().map(|point| problem.achieved(choice, point)).collect()
    };
    let now = light_at(&found.choice);
    let click = |light: usize, to: Option<usize>| {
        let setting = *prepared.settings[light].get(to?)?;
        let mut choice = found.choice.clone();
        choice[light] = to?;
        let then = light_at(&choice);
        Some(Click {
            label: setting.map(|below| set.scene.lights[light].unit.scale.label(below)),
            change_stops: now
                .iter()
                .zip(then)
                .map(|(&now, then)| {
                    (now > 0.0 && then > 0.0).then(|| Stops::new_unchecked((then / now).log2()))
                })
                .collect(),
        })
    };
    let lights = set.scene.lights.iter().zip(&found.choice).enumerate();
    lights
        .map(|(light, (named, &index))| Clicks {
            light: named.name.clone(),
            up: click(light, index.checked_sub(1)),
            down: click(light, Some(index + 1)),
        })
        .collect()
}

/// The safety cautions for the chosen settings.
pub fn cautions(set: &Set, prepared: &Prepared, found: &Solution) -> Vec<Remark> {
    let below: Vec<Option<Stops>> =
        prepared.settings.iter().zip(&found.choice).map(|(settings, &index)| settings[index]).collect();
    crate::light::set::cautions(&set.scene, &prepared.lit, &below)
}
