//! Turns a photographer's description of a set into the search problem.

use crate::light::{
    balance::problem::{Levels, Point, Problem},
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
    /// Each light's settings, stops below full; `None` is off.
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
}

/// Makes the search problem.
///
/// # Errors
///
/// The faults of [`Scene::light`]; ratios in a circle; a point that no light reaches.
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
    let settings: Vec<_> = scene.lights.iter().map(|light| settings(&light.unit, light.control)).collect();
    let lights = scene.lights.iter().zip(&settings);
    let lights = lights.map(|(light, settings)| levels(&light.unit, settings, light.control.pops)).collect();
    let typical = |gain: &Vec<Estimate<f64>>| gain.iter().map(|gain| gain.typical).collect();
    let points = lit.gain.iter().zip(&lit.ambient).zip(targets).zip(&scene.points);
    let points = points
        .map(|(((gain, &ambient), target), point)| Point {
            gain: typical(gain),
            ambient,
            target,
            sides: point.target_side().into(),
            weight: point.weight,
        })
        .collect();
    Ok(Prepared { problem: Problem { lights, points }, settings, lit, is_ratio_possible })
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

/// Relative power and energy of each setting.
pub fn levels(unit: &Unit, settings: &[Option<Stops>], pops: u32) -> Levels {
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
