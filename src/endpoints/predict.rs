//! `/v1/exposure/predict`.

use axum::response::Response;
use utoipa_axum::routes;

use crate::{
    drawing::{self, Picture},
    endpoints::{calculation::Calculation, extract::Body},
    light::{
        error::InvalidPart,
        interrupt::Interrupt,
        quantity::{FNumber, Stops},
        set::{
            Ambient, Light, MeteringPoint, Optics, Scene,
            beam::Beam,
            geometry::{Direction, Position},
            modifier::Modifier,
            placement::Source,
            predict::{self, Lens, LightSetting, PredictQuestion, Prediction},
        },
        unit::Unit,
    },
    request::{
        declare::request,
        field_schema::looks_like,
        fields::{
            Correction, ExposureInput, MagnificationValue, PlacementEntry, Pops, ReadingInput, SettingText,
            contributions,
        },
        place::At,
        reader::{Read, Reader, lists::Item},
        references::{self, MAX_LIGHTS},
        schema::{EntryId, Name},
        value::Value,
    },
    server::{
        problem::{Problem, Refusals},
        state::Routes,
    },
    wording::fault::Fault,
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(predict_exposure))
}

request! {
    /// A light at its setting.
    struct LitLightInput {
        /// Your own id for this entry, returned with its result.
        id: Option<String> as EntryId,
        /// Its name in this request, 1 to 64 characters, unique among them.
        name: String as Name,
        /// The unit.
        unit: Unit,
        /// Its setting; full power if left out. If null, `off` must be stated.
        setting: Option<SettingText>,
        /// Whether it is switched off; false if left out.
        off: Option<bool>,
        /// Flashes per exposure; 1 if left out.
        pops: Option<Pops>,
        /// Its position. With it, the light reaches every point that has a position.
        position: Option<Position>,
        /// The position that it is aimed at; each point in turn if left out.
        aim: Option<Position>,
        /// How its beam falls off away from the axis; an even beam if left out.
        beam: Option<Beam>,
        /// The effect of its modifier relative to the unit's rating: stops, negative if it loses light, or a kind from `/v1/modifiers`.
        modifier_stops: Option<Modifier>,
        /// The face of its modifier. The finite-source factor is then applied as well.
        source: Option<Source>,
    }
    checked by references::define_light(name, unit)
}

struct LitLight(Light, LightSetting);

looks_like!(LitLight as LitLightInput);

impl Read for LitLight {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = LitLightInput::read(value, at, reader)?;
        if matches!(value.get("setting"), Some(Value::Null)) && input.off.is_none() {
            // In an answer, null means a light that is off; in a request, a setting left out means full power.
            return reader.push_fault(&At::Field(at, "setting"), Fault::OffOrFullPower);
        }
        let below = match &input.setting {
            Some(setting) => setting.check(&input.unit, &At::Field(at, "setting"), reader)?,
            None => Stops::ZERO,
        };
        let settings = LightSetting {
            below: (!input.off.unwrap_or(false)).then_some(below),
            pops: input.pops.map_or(1, |pops| pops.0),
        };
        let light = Light {
            id: input.id,
            name: input.name,
            unit: input.unit,
            position: input.position,
            optics: Optics {
                aim: input.aim,
                beam: input.beam,
                modifier: input.modifier_stops,
                source: input.source,
            },
        };
        Some(Self(light, settings))
    }
}

impl Item for LitLight {
    const MAX: usize = MAX_LIGHTS;
    const PLURAL: &'static str = "lights";
}

request! {
    /// A metering point.
    struct SpotInput {
        /// Your own id for this entry, returned with its result.
        id: Option<String> as EntryId,
        /// Its name in this request, 1 to 64 characters, unique among them.
        name: String as Name,
        /// Its position. With it, lights that have a position need no placement for this point.
        position: Option<Position>,
        /// The direction it faces; towards each light in turn if left out.
        normal: Option<Direction>,
    }
    checked by references::define_point(name)
}

impl Item for SpotInput {
    const MAX: usize = 64;
    const PLURAL: &'static str = "points";
}

request! {
    /// Lens corrections, which a hand-held meter does not see.
    struct LensInput {
        /// Image size divided by subject size, 0 to 20; 0 if left out. A close-up loses 2·log2(1+m) stops.
        magnification: Option<MagnificationValue>,
        /// Transmission loss of the glass, stops, negative; 0 if left out.
        transmission_stops: Option<Correction>,
        /// Aperture errors at single marks, such as at the ends of a lens's range. The one at the working aperture is applied, if it is listed.
        mark_corrections: Option<Vec<MarkCorrectionInput>>,
    }
}

request! {
    /// The aperture error at one mark.
    struct MarkCorrectionInput {
        /// The mark.
        f_number: FNumber,
        /// The error, stops: positive if the picture is brighter than the mark says.
        stops: Correction,
    }
}

impl Item for MarkCorrectionInput {
    const MIN: usize = 0;
    const MAX: usize = 64;
    const PLURAL: &'static str = "corrections";
}

request! {
    /// A set of lights and its settings.
    struct PredictRequest {
        /// The working exposure, with its exposure time if there is ambient light.
        exposure: ExposureInput,
        /// The lights.
        lights: Vec<LitLight>,
        /// The metering points. If left out, the points named by readings, placements and ambient light, in the order first named.
        points: Option<Vec<SpotInput>>,
        /// Meter readings, each with one light firing alone.
        readings: Option<Vec<ReadingInput>>,
        /// Light computed from where the lights stand. A light and a point that both have a position need no placement.
        placements: Option<Vec<PlacementEntry>>,
        /// Ambient light at the points.
        ambient: Option<Vec<Ambient>>,
        /// How much more light (+) the camera gets than the meter reads, stops; 0 if left out. Applied to all meter readings.
        meter_offset_stops: Option<Correction>,
        /// Lens corrections.
        lens: Option<LensInput>,
    }
}

impl Read for PredictQuestion {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        PredictRequest::read(value, at, reader)?.check(at, reader)
    }
}

impl Calculation for PredictQuestion {
    type Answer = Prediction;
    const PICTURE: Option<fn(&Self, &Prediction) -> Picture> = Some(|question, answer| {
        drawing::predict(question, answer, &question.scene.light(&mut Vec::new()).placements)
    });

    fn answer(&self, _: &dyn Interrupt) -> Result<Prediction, Vec<InvalidPart>> {
        predict::predict(self)
    }
}

impl PredictRequest {
    fn check(self, at: &At<'_>, reader: &mut Reader) -> Option<PredictQuestion> {
        let (lights, settings): (Vec<_>, Vec<_>) =
            self.lights.into_iter().map(|LitLight(light, settings)| (light, settings)).unzip();
        let contributions = contributions(
            self.readings.unwrap_or_default(),
            self.placements.unwrap_or_default(),
            &lights,
            at,
            reader,
            |_, point, at, reader| match point {
                Some(point) => Some(vec![point.to_owned()]),
                None => reader.push_fault(
                    &At::Field(at, "point"),
                    Fault::Missing { expected: "the name of a point".to_owned() },
                ),
            },
        )?;
        let ambient = self.ambient.unwrap_or_default();
        let points = match self.points {
            Some(points) => points
                .into_iter()
                .map(|point| MeteringPoint {
                    id: point.id,
                    name: point.name,
                    position: point.position,
                    normal: point.normal,
                })
                .collect(),
            None => {
                let mut points: Vec<MeteringPoint> = Vec::new();
                let named = contributions.iter().map(|contribution| &contribution.point);
                for name in named.chain(ambient.iter().map(|entry| &entry.point)) {
                    if !points.iter().any(|point| point.name == *name) {
                        points.push(MeteringPoint {
                            id: None,
                            name: name.clone(),
                            position: None,
                            normal: None,
                        });
                    }
                }
                if points.len() > SpotInput::MAX {
                    return reader.push_fault(
                        &At::Field(at, "placements"),
                        Fault::TooManyPoints { count: points.len(), most: SpotInput::MAX },
                    );
                }
                points
            }
        };
        let corrections_at = At::Field(at, "lens");
        let corrections_at = At::Field(&corrections_at, "mark_corrections");
        let marks = self.lens.iter().filter_map(|lens| lens.mark_corrections.as_ref()).flatten();
        let marks: Vec<f64> = marks.map(|correction| correction.f_number.get()).collect();
        for (index, mark) in marks.iter().enumerate() {
            if marks[..index].iter().any(|before| (before / mark - 1.0).abs() < 1e-3) {
                let at = At::Index(&corrections_at, index);
                reader.push_fault::<()>(&At::Field(&at, "f_number"), Fault::MarkStatedTwice);
            }
        }
        let lens = self.lens.map_or_else(Lens::default, |lens| Lens {
            magnification: lens.magnification.map_or(0.0, |magnification| magnification.0),
            transmission: lens.transmission_stops.map(|stops| stops.0),
            mark_corrections: lens
                .mark_corrections
                .into_iter()
                .flatten()
                .map(|correction| (correction.f_number, correction.stops.0))
                .collect(),
        });
        Some(PredictQuestion {
            scene: Scene {
                exposure: self.exposure.flash(),
                exposure_time: self.exposure.exposure_time,
                lights,
                points,
                contributions,
                ambient,
                meter_offset: self.meter_offset_stops.map_or(Stops::ZERO, |offset| offset.0),
            },
            settings,
            lens,
            step: reader.rules.step,
            units: reader.rules.units,
        })
    }
}

/// Predict exposure
///
/// Predicts the light at each point before a light is switched on: the f-number that a meter would read, the luminous exposure, each light's share, and the error of the picture at the working exposure, with the losses of the lens. Light is known from placements, positions or readings; ambient light is added for the exposure time.
#[utoipa::path(post, path = "/v1/exposure/predict", tag = "ratios", request_body = PredictRequest,
    responses((status = 200, description = "The light at each point", body = Prediction), Refusals))]
async fn predict_exposure(body: Body<PredictQuestion>) -> Result<Response, Problem> {
    body.answer().await
}
