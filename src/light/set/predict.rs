//! Predicts the exposure at each metering point.
//!
//! Light adds up, so the N² of all lights and of the ambient light are summed (CIE e-ILV: illuminances add). Luminous
//! exposure is H = N²·C/S (ISO 2720:1974 applied to flash). A lens loses 2·log2(1+m) stops at a
//! magnification m (common practice, pupil ratio 1).

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    assumption::Assumption,
    error::{InvalidPart, InvalidValue, Part},
    quantity::{
        Estimate, FNumber, LuxSeconds, Number, Stops, constants::CONSTANT_C, marks::Step, nominal::Nominal,
        units::Units,
    },
    remark::Remark,
    set::{self, Scene},
    unit::Setting,
};

/// The power setting of a light, and its number of flashes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LightSetting {
    /// Stops below full; `None` if the light is off.
    pub below: Option<Stops>,
    /// Flashes in one exposure; n flashes add log2(n) stops.
    pub pops: u32,
}

/// Lens corrections, which a hand-held meter does not see.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Lens {
    /// Magnification: size of the image over size of the subject.
    pub magnification: f64,
    /// Transmission loss in stops, negative.
    pub transmission: Option<Stops>,
    /// Aperture errors: the engraved mark and its error in stops, positive if brighter.
    pub mark_corrections: Vec<(FNumber, Stops)>,
}

impl Lens {
    /// The total correction at an aperture, stops.
    fn stops(&self, f_number: FNumber) -> f64 {
        let at_mark = |(mark, _): &&(FNumber, Stops)| (mark.get() / f_number.get() - 1.0).abs() < 1e-3;
        -2.0 * (1.0 + self.magnification).log2()
            + self.transmission.map_or(0.0, Stops::get)
            + self.mark_corrections.iter().find(at_mark).map_or(0.0, |(_, stops)| stops.get())
    }
}

/// A set of lights with their settings.
#[derive(Debug, Clone, PartialEq)]
pub struct PredictQuestion {
    /// The lights, points and known light.
    pub scene: Scene,
    /// The setting of each light.
    pub settings: Vec<LightSetting>,
    /// Lens corrections.
    pub lens: Lens,
    /// The step of the series of marks.
    pub step: Step,
    /// The units of lengths in the drawing.
    pub units: Units,
}

/// The predicted exposure at each metering point.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Prediction {
    /// The settings of the lights, in the order of the request.
    pub settings: Vec<PredictedSetting>,
    /// The points, in the order of the request; if it lists no points, in the order of the placements.
    pub points: Vec<PredictedPoint>,
    /// The lens correction of all points, stops: close-up, transmission and error of the aperture mark.
    pub lens_stops: Stops,
    /// The assumptions behind the answer.
    pub assumptions: Vec<Assumption>,
    /// Warnings.
    pub warnings: Vec<Remark>,
    /// Safety cautions.
    pub cautions: Vec<Remark>,
}

/// The setting of one light.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PredictedSetting {
    /// The client's id for the light.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub id: Option<String>,
    /// The name of the light.
    pub light: String,
    /// Its setting; null if it is off.
    pub setting: Option<Setting>,
    /// Flashes in one exposure.
    pub pops: u32,
}

/// The predicted exposure at one point.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PredictedPoint {
    /// The client's id for the point.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub id: Option<String>,
    /// The name of the point.
    pub name: String,
    /// The aperture that a meter reads there; null if no light reaches the point.
    pub f_number: Option<Nominal>,
    /// Luminous exposure, lx·s.
    pub luminous_exposure_lx_s: LuxSeconds,
    /// The exposure error of the picture at the working aperture, including the lens, stops; + is too bright; null if no light reaches the point.
    pub exposure_error_stops: Option<Stops>,
    /// The uncertainty of the light, with every assumption at its worst end, stops; null if nothing was estimated.
    pub uncertainty_stops: Option<Spread>,
    /// The share of each light, in the order of the request.
    pub contributions: Vec<Share>,
    /// The share of the ambient light; null if none was given.
    pub ambient: Option<AmbientShare>,
}

/// The uncertainty of an estimate.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
#[schema(as = StopsSpread)]
pub struct Spread {
    /// The darker end relative to the typical value, stops; 0 or less.
    pub low: Stops,
    /// The brighter end relative to the typical value, stops; 0 or more.
    pub high: Stops,
}

impl Spread {
    /// The uncertainty of an amount of light, or `None` if it is exact or zero.
    pub fn of(light: Estimate<f64>) -> Option<Self> {
        let stops = |end: f64| Stops::new_unchecked((end / light.typical).log2());
        let estimated = light.typical > 0.0 && light.low > 0.0 && (light.high > light.low * (1.0 + 1e-12));
        estimated.then(|| Self { low: stops(light.low), high: stops(light.high) })
    }
}

/// The share of one light at one point.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = LightShare)]
pub struct Share {
    /// The name of the light.
    pub light: String,
    /// Its light alone relative to correct exposure at the working aperture, stops; null if it gives none.
    pub stops: Option<Stops>,
    /// Its share of the light at the point, percent.
    pub percent: Number,
}

/// The share of the ambient light at one point.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct AmbientShare {
    /// The ambient light alone relative to correct exposure at the working aperture, stops; null if there is none.
    pub stops: Option<Stops>,
    /// Its share of the light at the point, percent.
    pub percent: Number,
}

/// Predicts the exposure at every point.
///
/// # Errors
///
/// Those of [`Scene::light`], and an error at `/points` if the set has no points.
pub fn predict(question: &PredictQuestion) -> Result<Prediction, Vec<InvalidPart>> {
    let scene = &question.scene;
    let mut faults = Vec::new();
    let matrix = scene.light(&mut faults);
    if scene.points.is_empty() {
        faults.push(InvalidValue::NoPoint.in_part(Part::Points));
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    let working = scene.exposure.f_number.squared();
    let lens = question.lens.stops(scene.exposure.f_number);
    let power = |(light, setting): (&set::Light, &LightSetting)| {
        setting.below.map_or(0.0, |below| f64::from(setting.pops) * light.unit.power(below))
    };
    let powers: Vec<f64> = scene.lights.iter().zip(&question.settings).map(power).collect();
    let stops = |light: f64| (light > 0.0).then(|| Stops::new_unchecked((light / working).log2()));
    let mut unlit = Vec::new();
    let points = scene.points.iter().enumerate().map(|(index, point)| {
        let ambient = matrix.ambient[index];
        let total_light = |end: fn(&Estimate<f64>) -> f64| {
            ambient
                + matrix.gain[index].iter().zip(&powers).map(|(gain, power)| end(gain) * power).sum::<f64>()
        };
        let light = Estimate {
            low: total_light(|g| g.low),
            typical: total_light(|g| g.typical),
            high: total_light(|g| g.high),
        };
        let total = light.typical;
        let percent = |part: f64| Number::new_unchecked(if total > 0.0 { 100.0 * part / total } else { 0.0 });
        if total <= 0.0 {
            unlit.push(point.name.clone());
        }
        let share = |((light, gain), power): ((&set::Light, &Estimate<f64>), &f64)| Share {
            light: light.name.clone(),
            stops: stops(gain.typical * power),
            percent: percent(gain.typical * power),
        };
        let has_ambient = scene.ambient.iter().any(|entry| entry.point == point.name);
        PredictedPoint {
            id: point.id.clone(),
            name: point.name.clone(),
            f_number: (total > 0.0).then(|| Nominal::f_number(scene.metered(total), question.step)),
            luminous_exposure_lx_s: LuxSeconds::new_unchecked(total * CONSTANT_C / scene.exposure.iso.get()),
            exposure_error_stops: stops(total).map(|stops| Stops::new_unchecked(stops.get() + lens)),
            uncertainty_stops: Spread::of(light),
            contributions: scene.lights.iter().zip(&matrix.gain[index]).zip(&powers).map(share).collect(),
            ambient: has_ambient.then(|| AmbientShare { stops: stops(ambient), percent: percent(ambient) }),
        }
    });
    let points = points.collect();
    let mut warnings = Vec::new();
    if !unlit.is_empty() {
        warnings.push(Remark::Unlit { points: unlit });
    }
    warnings.extend(set::warnings(scene, &matrix, |index| question.settings[index].below.is_some()));
    let below: Vec<Option<Stops>> = question.settings.iter().map(|setting| setting.below).collect();
    let mut cautions = set::cautions(scene, &matrix, &below);
    if question.settings.iter().any(|setting| setting.pops > 3) {
        cautions.extend([Remark::Heat, Remark::Photosensitivity]);
    }
    let setting = |(light, setting): (&set::Light, &LightSetting)| PredictedSetting {
        id: light.id.clone(),
        light: light.name.clone(),
        setting: setting.below.map(|below| light.unit.setting(below)),
        pops: setting.pops,
    };
    Ok(Prediction {
        settings: scene.lights.iter().zip(&question.settings).map(setting).collect(),
        points,
        lens_stops: Stops::new_unchecked(lens),
        assumptions: matrix.assumptions,
        warnings,
        cautions,
    })
}
