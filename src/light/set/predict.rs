//! What a set gives at its settings, before a light is switched on.
//!
//! Light adds up: N² of the lights and of the ambient light (CIE e-ILV: illuminances add). Luminous
//! exposure is H = N²·C/S (ISO 2720:1974 applied to flash). A lens loses 2·log2(1+m) stops at a
//! magnification m (common practice, pupil ratio 1).

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    error::{FieldError, InvalidValue, Pointer},
    quantity::{
        Estimate, FNumber, LuxSeconds, Number, Stops, constants::CONSTANT_C, marks::Step, nominal::Nominal,
        units::Units,
    },
    remark::{Assumption, Remark},
    set::{self, Scene},
    unit::Setting,
};

/// A light's setting.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lamplight {
    /// Stops below full; none where it is off.
    pub below: Option<Stops>,
    /// Flashes in one exposure: n of them are log2(n) stops more.
    pub pops: u32,
}

/// What the lens does to the light that a meter reads.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Lens {
    /// Size of the image over that of the subject.
    pub magnification: f64,
    /// What the glass lets through, stops; negative.
    pub transmission: Option<Stops>,
    /// Marks at which the aperture is off, and by how many stops it is brighter (+).
    pub mark_corrections: Vec<(FNumber, Stops)>,
}

impl Lens {
    /// What it does at an aperture, stops.
    fn stops(&self, f_number: FNumber) -> f64 {
        let at_mark = |(mark, _): &&(FNumber, Stops)| (mark.get() / f_number.get() - 1.0).abs() < 1e-3;
        -2.0 * (1.0 + self.magnification).log2()
            + self.transmission.map_or(0.0, Stops::get)
            + self.mark_corrections.iter().find(at_mark).map_or(0.0, |(_, stops)| stops.get())
    }
}

/// What is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// Lights, points and light.
    pub scene: Scene,
    /// Each light's setting.
    pub lamplight: Vec<Lamplight>,
    /// The lens.
    pub lens: Lens,
    /// The series of marks.
    pub step: Step,
    /// The units that lengths are drawn in.
    pub units: Units,
}

/// What a set gives at its settings.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Prediction {
    /// The lights' settings, in the order asked.
    pub settings: Vec<PredictedSetting>,
    /// The points, in the order asked or, where none were named, in the order of the placements.
    pub points: Vec<PredictedPoint>,
    /// What the lens does to all points, stops: close-up, transmission, the mark's correction.
    pub lens_stops: Stops,
    /// What the answer rests on.
    pub assumptions: Vec<Assumption>,
    /// What to doubt.
    pub warnings: Vec<Remark>,
    /// What to beware of.
    pub cautions: Vec<Remark>,
}

/// The setting of one light.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PredictedSetting {
    /// The caller's id of the light.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub id: Option<String>,
    /// The light's name.
    pub light: String,
    /// Its setting; null where it is off.
    pub setting: Option<Setting>,
    /// Flashes in one exposure.
    pub pops: u32,
}

/// What one point gets.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PredictedPoint {
    /// The caller's id of the point.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub id: Option<String>,
    /// The point's name.
    pub name: String,
    /// The aperture that a meter reads there; null where no light reaches it.
    pub f_number: Option<Nominal>,
    /// Luminous exposure, lx·s.
    pub luminous_exposure_lx_s: LuxSeconds,
    /// What the picture gets against what the working aperture wants, the lens included, stops; + is too bright; null where no light reaches it.
    pub exposure_error_stops: Option<Stops>,
    /// How far the light may be off, with every assumption at its worst end, stops; null where nothing was estimated.
    pub uncertainty_stops: Option<Spread>,
    /// What each light gives, in the order asked.
    pub contributions: Vec<Share>,
    /// What the ambient light gives; null where none was told.
    pub ambient: Option<AmbientShare>,
}

/// How far an estimate may be off.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
#[schema(as = StopsSpread)]
pub struct Spread {
    /// To the darker side, stops; 0 or less.
    pub low: Stops,
    /// To the brighter side, stops; 0 or more.
    pub high: Stops,
}

impl Spread {
    /// Of an amount of light; none where it is exact or nothing.
    pub fn of(light: Estimate<f64>) -> Option<Self> {
        let stops = |end: f64| Stops::new_unchecked((end / light.typical).log2());
        let estimated = light.typical > 0.0 && light.low > 0.0 && (light.high > light.low * (1.0 + 1e-12));
        estimated.then(|| Self { low: stops(light.low), high: stops(light.high) })
    }
}

/// What one light gives at one point.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = LightShare)]
pub struct Share {
    /// The light's name.
    pub light: String,
    /// Its light alone against what the working aperture wants, stops; null where it gives none.
    pub stops: Option<Stops>,
    /// Its part of the light at the point, percent.
    pub percent: Number,
}

/// What the ambient light gives at one point.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct AmbientShare {
    /// The ambient light alone against what the working aperture wants, stops; null where it is none.
    pub stops: Option<Stops>,
    /// Its part of the light at the point, percent.
    pub percent: Number,
}

/// Predicts. Faults stand where [`Scene::light`] finds them, and at a scene without points.
pub fn predict(question: &Question) -> Result<Prediction, Vec<FieldError>> {
    let scene = &question.scene;
    let mut faults = Vec::new();
    let lit = scene.light(&mut faults);
    if scene.spots.is_empty() {
        let wrong =
            InvalidValue::new("no point is named", "points, or placements or readings that name them");
        faults.push(wrong.at(&Pointer::root().field("points")));
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    let working = scene.exposure.f_number.squared();
    let lens = question.lens.stops(scene.exposure.f_number);
    let power = |(lamp, light): (&set::Light, &Lamplight)| {
        light.below.map_or(0.0, |below| f64::from(light.pops) * lamp.unit.power(below))
    };
    let powers: Vec<f64> = scene.lamps.iter().zip(&question.lamplight).map(power).collect();
    let stops = |light: f64| (light > 0.0).then(|| Stops::new_unchecked((light / working).log2()));
    let mut unlit = Vec::new();
    let points = scene.spots.iter().enumerate().map(|(at, spot)| {
        let ambient = lit.ambient[at];
        let of = |end: fn(&Estimate<f64>) -> f64| {
            ambient + lit.gain[at].iter().zip(&powers).map(|(gain, power)| end(gain) * power).sum::<f64>()
        };
        let light = Estimate { low: of(|g| g.low), typical: of(|g| g.typical), high: of(|g| g.high) };
        let total = light.typical;
        let percent = |part: f64| Number::new_unchecked(if total > 0.0 { 100.0 * part / total } else { 0.0 });
        if total <= 0.0 {
            unlit.push(spot.name.as_str());
        }
        let share = |((lamp, gain), power): ((&set::Light, &Estimate<f64>), &f64)| Share {
            light: lamp.name.clone(),
            stops: stops(gain.typical * power),
            percent: percent(gain.typical * power),
        };
        let told = scene.ambient.iter().any(|entry| entry.point == spot.name);
        PredictedPoint {
            id: spot.id.clone(),
            name: spot.name.clone(),
            f_number: (total > 0.0).then(|| Nominal::f_number(scene.metered(total), question.step)),
            luminous_exposure_lx_s: LuxSeconds::new_unchecked(total * CONSTANT_C / scene.exposure.iso.get()),
            exposure_error_stops: stops(total).map(|stops| Stops::new_unchecked(stops.get() + lens)),
            uncertainty_stops: Spread::of(light),
            contributions: scene.lamps.iter().zip(&lit.gain[at]).zip(&powers).map(share).collect(),
            ambient: told.then(|| AmbientShare { stops: stops(ambient), percent: percent(ambient) }),
        }
    });
    let points = points.collect();
    let mut warnings = Vec::new();
    if !unlit.is_empty() {
        warnings.push(Remark::new("unlit", format!("No light reaches {}.", unlit.join(", "))));
    }
    warnings.extend(set::doubts(scene, &lit, |at| question.lamplight[at].below.is_some()));
    let below: Vec<Option<Stops>> = question.lamplight.iter().map(|lamp| lamp.below).collect();
    let mut cautions = set::cautions(scene, &lit, &below);
    if question.lamplight.iter().any(|lamp| lamp.pops > 3) {
        cautions.extend([Remark::heat(), Remark::photosensitivity()]);
    }
    let setting = |(lamp, light): (&set::Light, &Lamplight)| PredictedSetting {
        id: lamp.id.clone(),
        light: lamp.name.clone(),
        setting: light.below.map(|below| lamp.unit.setting(below)),
        pops: light.pops,
    };
    Ok(Prediction {
        settings: scene.lamps.iter().zip(&question.lamplight).map(setting).collect(),
        points,
        lens_stops: Stops::new_unchecked(lens),
        assumptions: lit.assumptions,
        warnings,
        cautions,
    })
}
