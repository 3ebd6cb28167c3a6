//! Turns a photographer's description of a set into the search problem.

use crate::light::{
    balance::problem::{Levels, Point, Problem, Sides},
    error::{InvalidPart, InvalidValue, Part},
    quantity::{Estimate, Joules, Stops, constants::FRAME_MM},
    set::{
        LightMatrix, Scene,
        control::{Control, LightSetting},
        ratio::Side,
        target::Targets,
    },
    unit::{Unit, coverage::Coverage, guide::estimated_energy},
};

/// Step size of a unit without clicks, stops: how finely the search divides a continuous control.
pub const CONTINUOUS_CLICK: f64 = 0.01;

/// The search problem, and what it was made from.
#[derive(Debug, Clone)]
pub struct Prepared {
    /// The problem for the search, with typical values of every estimate.
    pub problem: Problem,
    /// The variable of each light: of its own, or that of a pack whose heads are set together.
    pub variables: Vec<usize>,
    /// Each variable's settings, stops below full; `None` is off.
    pub settings: Vec<Vec<Option<Stops>>>,
    /// The light of each light at each point, with its uncertainty.
    pub lit: LightMatrix,
    /// Whether any lights can make the lighting ratio, if the request asks for one.
    pub is_ratio_possible: bool,
}

impl Prepared {
    /// The light on the two sides of a lighting ratio.
    pub fn sides(&self, scene: &Scene) -> [Side; 2] {
        scene.sides(&self.lit)
    }

    /// The lights that are set together with one, itself among them.
    pub fn together(&self, light: usize) -> impl Iterator<Item = usize> {
        self.lights_of(self.variables[light])
    }

    /// The lights of a variable.
    pub fn lights_of(&self, variable: usize) -> impl Iterator<Item = usize> {
        lights_of(&self.variables, variable)
    }

    /// The setting of a light in a choice.
    pub fn setting(&self, choice: &[usize], light: usize) -> Option<Stops> {
        let variable = self.variables[light];
        self.settings[variable][choice[variable]]
    }

    /// The settings of all lights in a choice.
    pub fn below(&self, choice: &[usize]) -> Vec<Option<Stops>> {
        (0..self.variables.len()).map(|light| self.setting(choice, light)).collect()
    }

    /// The part of full power of a light in a choice.
    pub fn power(&self, choice: &[usize], light: usize) -> f64 {
        let variable = self.variables[light];
        self.problem.lights[variable].power[choice[variable]]
    }

    /// The levels of all lights that are set together with one, at these settings.
    pub fn levels(&self, scene: &Scene, light: usize, settings: &[Option<Stops>]) -> Levels {
        levels_of(scene, self.together(light), settings)
    }
}

/// Makes the search problem.
///
/// # Errors
///
/// The faults of [`Scene::light`]; ratios in a circle; a point that no light reaches; a pack whose least settings take more
/// than it has.
pub fn prepare(scene: &Scene) -> Result<Prepared, Vec<InvalidPart>> {
    let mut faults = Vec::new();
    let lit = scene.light(&mut faults);
    let Targets { light: targets, is_ratio_possible } = scene.targets(&lit, &mut faults);
    if !faults.is_empty() {
        return Err(faults);
    }
    for (index, point) in scene.points.iter().enumerate() {
        if lit.ambient[index] <= 0.0 && lit.gain[index].iter().all(|gain| gain.typical <= 0.0) {
            let error = InvalidValue::UnlitPoint { point: point.name.clone() };
            faults.push(error.in_part(Part::Point(index, None)));
        }
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    let variables = variables(scene);
    let count = variables.iter().max().map_or(0, |last| last + 1);
    // Lights that are set together are set alike.
    let settings: Vec<_> = (0..count)
        .filter_map(|variable| lights_of(&variables, variable).next())
        .map(|light| settings(&scene.lights[light].unit, scene.lights[light].control))
        .collect();
    let least: Vec<_> =
        variables.iter().map(|&variable| settings[variable].last().copied().flatten()).collect();
    scene.check_packs(&least, &mut faults);
    if !faults.is_empty() {
        return Err(faults);
    }
    let lights = settings.iter().enumerate();
    let lights = lights
        .map(|(variable, settings)| levels_of(scene, lights_of(&variables, variable), settings))
        .collect();
    let typical = |gain: &Vec<Estimate<f64>>| {
        let mut sums = vec![0.0; count];
        gain.iter().zip(&variables).for_each(|(gain, &variable)| sums[variable] += gain.typical);
        sums
    };
    let points = lit.gain.iter().zip(&lit.ambient).zip(targets).zip(&scene.points);
    let points = points
        .map(|(((gain, &ambient), target), point)| Point {
            gain: typical(gain),
            ambient,
            target,
            sides: Sides::Both,
            weight: point.weight,
        })
        .chain(limits(scene, &variables, count))
        .collect();
    Ok(Prepared { problem: Problem { lights, points }, variables, settings, lit, is_ratio_possible })
}

/// The limits of packs whose outlets are set apart: the energy of one flash.
fn limits(scene: &Scene, variables: &[usize], count: usize) -> impl Iterator<Item = Point> {
    scene.packs.iter().enumerate().filter_map(move |(index, pack)| {
        let target = pack.limit()?;
        let mut gain = vec![0.0; count];
        for head in scene.heads(index) {
            gain[variables[head]] += scene.lights[head].unit.energy.map_or(0.0, Joules::get);
        }
        let is_used = gain.iter().any(|energy| *energy > 0.0);
        is_used.then_some(Point { gain, ambient: 0.0, target, sides: Sides::Limit, weight: 1.0 })
    })
}

/// The variable of each light, in the order of the first light of each.
fn variables(scene: &Scene) -> Vec<usize> {
    let mut of_pack = vec![None; scene.packs.len()];
    let mut count = 0;
    let mut next = || {
        count += 1;
        count - 1
    };
    let variable = |light| match scene.pack_of_setting(light) {
        Some(pack) => *of_pack[pack].get_or_insert_with(&mut next),
        None => next(),
    };
    (0..scene.lights.len()).map(variable).collect()
}

fn lights_of(variables: &[usize], variable: usize) -> impl Iterator<Item = usize> {
    let lights = variables.iter().enumerate();
    lights.filter(move |(_, of)| **of == variable).map(|(light, _)| light)
}

/// The levels of lights that are set together: one power, and the energy of all.
fn levels_of(scene: &Scene, lights: impl Iterator<Item = usize>, settings: &[Option<Stops>]) -> Levels {
    let lights = lights.map(|light| &scene.lights[light]);
    let all = lights.map(|light| levels(&light.unit, settings, light.control.pops));
    let sum = |mut sum: Levels, more: Levels| {
        sum.energy_j.iter_mut().zip(more.energy_j).for_each(|(sum, more)| *sum += more);
        sum
    };
    all.reduce(sum).unwrap_or_default()
}

/// The settings that the search may choose from, full power first, off last.
pub fn settings(unit: &Unit, control: Control) -> Vec<Option<Stops>> {
    let scale = &unit.scale;
    let mut settings: Vec<Option<Stops>> = match control.held() {
        Some(LightSetting::Off) => return vec![None],
        Some(LightSetting::Below(held)) => vec![Some(held)],
        None => {
            let most = control.max_below.map_or(f64::INFINITY, Stops::get) + 1e-9;
            let all: Vec<f64> = if scale.is_continuous() {
                let count = (scale.range().get() / CONTINUOUS_CLICK).round() as usize;
                (0..=count).map(|k| k as f64 * CONTINUOUS_CLICK).collect()
            } else {
                scale.settings().to_vec()
            };
            all.into_iter()
                .filter(|&below| below <= most)
                .map(|below| Some(Stops::new_unchecked(below)))
                .collect()
        }
    };
    // Corrections may swap neighbours, so sort by light, the brightest first. Of settings that give the same light keep
    // the one with the least energy, which is the lowest on the scale.
    let power = |setting: &Option<Stops>| setting.map_or(0.0, |below| unit.power(below));
    let below = |setting: &Option<Stops>| setting.map_or(f64::INFINITY, Stops::get);
    settings.sort_by(|a, b| power(b).total_cmp(&power(a)));
    settings.dedup_by(|next, kept| {
        let is_same = power(next) >= power(kept) * (1.0 - 1e-12);
        if is_same && below(next) > below(kept) {
            *kept = *next;
        }
        is_same
    });
    if control.may_be_off {
        settings.push(None);
    }
    settings
}

/// Relative power and energy of each setting of one light.
fn levels(unit: &Unit, settings: &[Option<Stops>], pops: u32) -> Levels {
    // Stands in for an unknown coverage, only to compare the energy of lights without a rating.
    let usual_coverage = Coverage::FocalLength { focal_length_mm: 35.0, frame_mm: FRAME_MM };
    let full = unit.energy.map(Joules::get).or_else(|| {
        unit.guide_number
            .map(|guide| estimated_energy(guide, unit.coverage.unwrap_or(usual_coverage)).typical)
    });
    let power: Vec<f64> = settings.iter().map(|below| below.map_or(0.0, |below| unit.power(below))).collect();
    // Rated energy follows the setting; corrections change the light only.
    let rated = |below: &Option<Stops>| below.map_or(0.0, |below| (-below.get()).exp2());
    let full = full.unwrap_or(0.0) * f64::from(pops);
    Levels { energy_j: settings.iter().map(|below| full * rated(below)).collect(), power }
}
